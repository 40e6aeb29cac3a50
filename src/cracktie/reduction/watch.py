"""Follow a test while its logger still writes: what has come so far, and in words when rows stop.

The log is only read. A logger may hold it open, write in blocks and cut a row anywhere, even within a number; so what
is reduced is a copy of its whole lines, which grows with it. The loop asks for the size of the file, reduces what there
is when it has grown, and tells what is new.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from cracktie.campaign.schema import Campaign
from cracktie.errors import CracktieError, UnknownName
from cracktie.reduced import TestResult
from cracktie.reduction.notes import NoteTaker
from cracktie.units import shown

QUIET_FACTOR = 3.0
"""Silence longer than this many times the longest wait so far counts as a stop of the rows."""
QUIET_LEAST = 5.0
"""Seconds of silence below which nothing is said."""
REST = 4.0
"""Least wait between two looks over the time the last one took, so that a long log does not eat the machine."""
TAIL = 512
"""Bytes before the end that tell whether a file was only added to."""


@dataclass
class _Seen:
    """What the loop knows of the file and has told already; `copied` bytes of whole lines stand in the copy."""

    copy: Path
    size: int = 0
    inode: int = 0
    tail: bytes = b""
    copied: int = 0
    rows: int = 0
    changed: float = 0.0
    longest: float = 0.0
    silent: bool = False
    missing: bool = False
    trouble: str = ""
    told: set[str] = field(default_factory=set)
    others: dict[str, int] = field(default_factory=dict)


def watch(
    campaign: Campaign,
    name: str,
    *,
    every: float = 2.0,
    sleep: Callable[[float], None] = time.sleep,
    clock: Callable[[], float] = time.monotonic,
    notes: NoteTaker | None = None,
) -> Iterator[str]:
    """Lines about a test while its first log grows, without end: the caller stops. One look each `every` seconds.

    `notes` takes what is noted on the way. Raises `UnknownName` for a test without a log.
    """
    if name not in campaign.tests or not campaign.tests[name].logs or campaign.folder is None:
        with_logs = [n for n, t in campaign.tests.items() if t.logs]
        raise UnknownName(f"no test {name!r} with a log to follow; there are {', '.join(with_logs) or 'none'}")
    log = campaign.tests[name].logs[0]
    path = campaign.folder / log
    with tempfile.TemporaryDirectory(prefix="cracktie-watch-") as folder:
        copied = replace(campaign, folder=_mirror(campaign.folder, log, Path(folder)))
        seen = _Seen(Path(folder) / log, changed=clock(), others=_sizes(path))
        yield f"following {log}; stop with Ctrl-C"
        first = True  # the first look loads libraries, which is no measure of the next
        while True:
            begun = clock()
            yield from _look(copied, name, path, seen, begun, notes)
            sleep(max(every, 0.0 if first else REST * (clock() - begun)))
            first = not seen.rows


def _mirror(source: Path, log: str, target: Path) -> Path:
    """A folder with everything of another one by links, but for one file, which is left out."""
    parts = Path(log).parts
    for depth in range(len(parts)):
        here, there = source.joinpath(*parts[:depth]), target.joinpath(*parts[:depth])
        there.mkdir(exist_ok=True)
        for item in here.iterdir() if here.is_dir() else ():
            if item.name == parts[depth] or (depth == 0 and item.name == "out"):
                continue
            try:
                (there / item.name).symlink_to(item.resolve(), target_is_directory=item.is_dir())
            except OSError:  # links need rights on some systems
                (shutil.copytree if item.is_dir() else shutil.copy2)(item, there / item.name)
    return target


def _look(campaign: Campaign, name: str, path: Path, seen: _Seen, now: float, notes: NoteTaker | None) -> Iterator[str]:
    try:
        with path.open("rb") as stream:
            state = os.fstat(stream.fileno())
            stream.seek(max(seen.size - TAIL, 0))
            tail = stream.read(min(seen.size, TAIL))
    except OSError as error:
        if not seen.missing:
            gone = isinstance(error, FileNotFoundError)
            yield f"{path.name} {'is not there' if gone else f'cannot be read ({error.strerror})'}: waiting for it"
        seen.missing = True
        return
    seen.missing = False
    if seen.inode and (state.st_ino != seen.inode or state.st_size < seen.size or tail != seen.tail):
        yield _begun_anew(path, seen, state.st_ino)
        seen.rows, seen.size, seen.copied, seen.told = 0, 0, 0, set()
        seen.copy.unlink(missing_ok=True)
    seen.inode = state.st_ino
    if state.st_size == seen.size:
        yield from _silence(path, seen, now)
        return
    if seen.silent:
        yield f"rows come again after {now - seen.changed:.0f} s"
    elif seen.rows:
        seen.longest = max(seen.longest, now - seen.changed)
    seen.changed, seen.silent = now, False
    before = seen.copied
    _copy_whole_lines(path, seen, state.st_size)
    if seen.copied > before:
        yield from _progress(campaign, name, seen, notes)


def _begun_anew(path: Path, seen: _Seen, inode: int) -> str:
    old = next((n for n, p in _beside(path) if p.stat().st_ino == seen.inode), None) if inode != seen.inode else None
    where = f"; what came before is in {old} now" if old else ""
    how = "rolled over" if inode != seen.inode else "cut short or written over"
    return (
        f"{path.name} was begun anew ({how}) after {seen.rows} rows{where}; results from here on hold the new part "
        "only. After the test list both parts under logs: of this test"
    )


def _copy_whole_lines(path: Path, seen: _Seen, size: int) -> None:
    """Add to the copy what has come, up to the last line end; a half line waits."""
    try:
        with path.open("rb") as source:
            wide = source.read(2) == b"\xff\xfe"  # UTF-16: a line end is two bytes
            source.seek(seen.copied)
            with seen.copy.open("ab") as target:
                target.truncate(seen.copied)
                rest = b""
                while seen.copied + len(rest) < size:
                    piece = source.read(min(1 << 24, size - seen.copied - len(rest)))
                    if not piece:
                        break
                    rest += piece
                    end = rest.rfind(b"\n\0" if wide else b"\n") + (2 if wide else 1)
                    if end > (1 if wide else 0):
                        target.write(rest[:end])
                        seen.copied += end
                        rest = rest[end:]
            source.seek(max(size - TAIL, 0))
            seen.tail, seen.size = source.read(min(size, TAIL)), size
    except OSError:
        return  # gone in between: the next look tells


def _silence(path: Path, seen: _Seen, now: float) -> Iterator[str]:
    quiet = now - seen.changed
    if seen.silent or quiet < max(QUIET_LEAST, QUIET_FACTOR * seen.longest):
        return
    seen.silent = True
    usual = f"; before, rows came at least every {seen.longest:.0f} s" if seen.longest else ""
    yield f"no new rows for {quiet:.0f} s{usual}: the logger stopped, waits, or lost its connection"
    grown = [other for other, size in _sizes(path).items() if size > seen.others.get(other, 0)]
    if grown:
        yield f"another file grows: {', '.join(grown)}; the logger may have gone on there"


def _progress(campaign: Campaign, name: str, seen: _Seen, notes: NoteTaker | None) -> Iterator[str]:
    from cracktie.reduction import reduce_test

    try:
        test = reduce_test(campaign, name)
    except (CracktieError, ValueError, IndexError) as error:
        text = str(error).splitlines()[0]
        words = re.sub(r"[\d.]+", "", text)  # the same trouble at more rows is no news
        if words != seen.trouble:
            yield f"not yet: {text}"
        seen.trouble = words
        return
    seen.trouble = ""
    rows = test.logs[0].rows
    if notes is not None:
        notes.rows = rows
    yield _state(campaign, test, rows, rows - seen.rows)
    seen.rows = rows
    for mark in test.marks:
        key = f"{mark.kind} {mark.time:.1f}"
        if mark.kind != "V_max" and mark.status != "rejected" and key not in seen.told:
            seen.told.add(key)
            yield f"   {mark.kind} at {mark.time:.1f} s: {mark.method}; {mark.evidence}"
    for note in test.notes:
        if "lost at" in note and note not in seen.told:
            seen.told.add(note)
            yield f"   {note}"


def _state(campaign: Campaign, test: TestResult, rows: int, new: int) -> str:
    system = campaign.head.shown_units
    V, unit = shown(test.value("V_max") or 0.0, "N", system)
    parts = [f"{rows} rows ({new} new)", f"largest V so far {V:.1f} {unit}"]
    for key, label in (("delta_V_max", "deflection there"), ("eps_f_max", "largest strip strain")):
        value = test.value(key)
        if value is not None:
            parts.append(f"{label} {value:.2f} mm" if key.startswith("delta") else f"{label} {1e6 * value:.0f} um/m")
    return ", ".join(parts)


def _beside(path: Path) -> Iterator[tuple[str, Path]]:
    """The other files beside a log."""
    try:
        yield from ((p.name, p) for p in sorted(path.parent.iterdir()) if p.is_file() and p.name != path.name)
    except OSError:
        return


def _sizes(path: Path) -> dict[str, int]:
    """Sizes of the other files beside a log."""
    return {name: p.stat().st_size for name, p in _beside(path)}
