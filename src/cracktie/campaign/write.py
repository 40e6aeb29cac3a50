"""The only writer of campaign files: a file is replaced whole or not at all, and comments survive edits."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import tempfile
import time
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from cracktie.campaign.positions import Node, decode, parse_text
from cracktie.errors import FileTrouble, InputRefused

LEFT_OVER = 3600.0
"""Age in s from which a temporary file belongs to nobody any more."""
_TEMPORARY = re.compile(r"[a-z0-9_]{8}\.tmp")
REMOVE = object()
"""Value of `edit_yaml` that deletes a key."""

_TODO = {
    errno.ENOSPC: ("the disk is full", "free some space and repeat"),
    getattr(errno, "EDQUOT", -1): ("the disk quota is used up", "free some space and repeat"),
    errno.EROFS: ("the disk is read-only", "choose another folder"),
    errno.ENOENT: ("the folder does not exist", "make it, or choose another one"),
    errno.ENOTDIR: ("its folder is a file", "choose another name"),
    errno.EISDIR: ("a folder has this name", "choose another name"),
    errno.ENAMETOOLONG: ("the name is too long", "choose a shorter one"),
}
_LOCKED = ("it is locked or you may not write there", "close it in other programs, check the rights of file and folder")


def write_text(path: str | Path, text: str) -> None:
    """Write UTF-8 text (line ends as they are) so that either the old or the new file is there, never a part.

    Raises `FileTrouble` with what to do; the old file is then unchanged.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: str | Path, data: bytes) -> None:
    """As `write_text`, for bytes."""
    target = Path(os.path.realpath(path))  # a link stays a link
    temporary: str | None = None
    try:
        if target.is_dir():
            raise IsADirectoryError(errno.EISDIR, "is a folder")
        handle, temporary = tempfile.mkstemp(prefix=_prefix(target), suffix=".tmp", dir=target.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, _mode(target))
        os.replace(temporary, target)
        temporary = None
        _settle(target.parent)
        _sweep(target)
    except OSError as error:
        what, todo = _TODO.get(error.errno or 0, _LOCKED)
        raise FileTrouble(f"{path}: cannot be written, {what}; {todo} (the old file is unchanged)") from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def _prefix(target: Path) -> str:
    return f".{target.name[:80]}."


def _sweep(target: Path) -> None:
    """Remove what a killed process left beside this file: temporary files of its own older than `LEFT_OVER`."""
    with contextlib.suppress(OSError):
        for path in target.parent.iterdir():
            ours = path.name.startswith(_prefix(target)) and _TEMPORARY.fullmatch(path.name[len(_prefix(target)) :])
            if ours and time.time() - path.stat().st_mtime > LEFT_OVER:
                path.unlink()


def _mode(target: Path) -> int:
    """Access rights of the file that is replaced, or those of any new file."""
    with contextlib.suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _settle(folder: Path) -> None:
    """Make the new name last a power cut; some systems cannot open folders, and need not."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def edit_yaml(path: str | Path, changes: Mapping[tuple[str, ...], Any]) -> str:
    """Set keys of a YAML file (made if missing) and leave all else, comments included, as it is; returns the text.

    A key is given by its path, for example `('tests', 'T1', 'outcome')`, an item of a list by its number from 0 as a
    text; mappings on the way are made where missing; the value `REMOVE` deletes. Raises `InputRefused` for a file that
    cannot be read, `FileTrouble` for one that cannot be written, or edited without changing another value.
    """
    path = Path(path)
    text, mark = _current(path)
    wanted = _wanted(text, path.name, changes)
    edited = _edit(text, changes)
    root, problems = parse_text(edited, path.name)
    found = root.raw() if root is not None else None
    if problems or (found or {}) != wanted:
        raise FileTrouble(f"{path}: this file cannot be changed without touching other values; edit it by hand")
    if "\r\n" in text:
        edited = edited.replace("\r\n", "\n").replace("\n", "\r\n")
    write_text(path, mark + edited)
    return edited


def dump_yaml(content: Mapping[str, Any], heading: str = "") -> str:
    """YAML text of plain mappings, lists and texts below an optional heading of comment lines."""
    return heading + _edit("", {(key,): value for key, value in content.items()})


def _current(path: Path) -> tuple[str, str]:
    """Text of a file without its byte order mark, and the mark."""
    if not path.exists():
        return "", ""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileTrouble(f"{path}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    text, problem = decode(data, path.name)
    if problem is not None:
        raise InputRefused(problem)
    return text, "\ufeff" if data.startswith(b"\xef\xbb\xbf") else ""


def _wanted(text: str, name: str, changes: Mapping[tuple[str, ...], Any]) -> dict[str, Any]:
    """The plain content the file shall have afterwards."""
    root, problems = parse_text(text, name)
    if problems:
        raise InputRefused(problems)
    if root is not None and root.items is None:
        raise InputRefused(root.problem("the file must hold `key: value` lines", ""))
    content: dict[str, Any] = root.raw() if isinstance(root, Node) else {}
    for keys, value in changes.items():
        _set(content, keys, REMOVE if value is REMOVE else _texts(value))
    return content


def _texts(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(k): _texts(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_texts(v) for v in value]
    if isinstance(value, bool):
        return "true" if value else "false"
    return None if value is None else str(value)


def _set(content: Any, keys: tuple[str, ...], value: Any) -> None:
    for key in keys[:-1]:
        if isinstance(content, list):
            content = content[int(key)]
            continue
        if content.get(key) is None:
            if value is REMOVE:
                return
            content[key] = {}
        content = content[key]
        if not isinstance(content, (dict, list)):
            raise FileTrouble(f"{'.'.join(keys)}: {key} is no mapping, so nothing can be set below it; edit it by hand")
    if value is REMOVE:
        content.pop(keys[-1], None)
    else:
        content[keys[-1]] = value


def _edit(text: str, changes: Mapping[tuple[str, ...], Any]) -> str:
    import io

    from ruamel.yaml.comments import CommentedMap

    text = text.replace("\r\n", "\n")
    if not any(line.strip() and not line.lstrip().startswith("#") for line in text.splitlines()):
        text, kept = "", text  # comments alone: the parser would drop them
    else:
        kept = ""
    yaml = _round_trip(text)
    content = yaml.load(text)
    if content is None:
        content = CommentedMap()
    for keys, value in changes.items():
        _set(content, keys, REMOVE if value is REMOVE else _texts(value))
    stream = io.StringIO()
    yaml.dump(content, stream)
    return kept + stream.getvalue()


def _round_trip(text: str) -> Any:
    """A parser and writer that keeps comments, quotes, the text of every scalar and the indentation of `text`."""
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt", pure=True)
    yaml.Resolver = _text_resolver()
    yaml.preserve_quotes = True
    yaml.width = 100_000
    dash = re.search(r"^( *)[^\s#-][^\n]*:[ \t]*\n( *)- ", text, re.MULTILINE)
    offset = max(len(dash[2]) - len(dash[1]), 0) if dash else 2
    inner = re.search(r"^[^\s#-][^\n]*:[ \t]*\n(?: *#[^\n]*\n)*( +)[^\s#-]", text, re.MULTILINE)
    yaml.indent(mapping=len(inner[1]) if inner else 2, sequence=offset + 2, offset=offset)
    return yaml


@lru_cache(maxsize=1)
def _text_resolver() -> Any:
    """Takes every plain scalar but null for a text, so that `012` or a date is written back as it was."""
    from ruamel.yaml.resolver import VersionedResolver

    null = [("tag:yaml.org,2002:null", re.compile(r"^(?:~|null|Null|NULL|)$"))]
    merge = [("tag:yaml.org,2002:merge", re.compile(r"^<<$"))]

    class TextResolver(VersionedResolver):  # type: ignore[misc, unused-ignore]
        @property
        def versioned_resolver(self) -> Any:
            return {"": list(null), "~": list(null), "n": list(null), "N": list(null), "<": list(merge)}

    return TextResolver
