"""YAML text -> a tree of nodes that know their raw scalar, line, column and dotted path. Nothing is converted.

Ids such as `012`, `1E2` or `2026-03-02` and words such as `no` therefore stay the text the file holds.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cracktie.errors import FileTrouble, Problem

BIGGEST_FILE = 20_000_000
"""Bytes; a file of words and numbers written by people stays far below."""
MOST_NODES = 100_000
DEEPEST = 60
LONGEST_SHOWN = 120
"""Characters of a value that a message shows."""
_NULLS = {"", "~", "null", "Null", "NULL"}
_SPLIT_COMMA = re.compile(r"^\d+(\s*[A-Za-z%/].*)?$")
_NO_SPACE = re.compile(r"^([A-Za-z_]\w*):(\S.*)?$")
_WHOLE = re.compile(r"^[+-]?\d+$")

Path_ = tuple[Any, ...]


@dataclass(eq=False)
class Node:
    """A scalar (`text`), a mapping (`items`) or a list (`parts`) at its place in a file (counted from 1).

    `path` is where the file itself holds it (entries of a list counted from 1); an heir may see it elsewhere.
    """

    file: str
    line: int
    column: int
    path: tuple[str, ...] = ()
    text: str | None = None
    plain: bool = False
    items: dict[str, Node] | None = None
    parts: list[Node] | None = None
    key_place: tuple[int, int] | None = None

    @property
    def empty(self) -> bool:
        """Nothing stands after the key."""
        return self.plain and self.text == ""

    @property
    def null(self) -> bool:
        """Empty, `~` or `null`, unquoted."""
        return self.plain and self.text in _NULLS

    @property
    def removes(self) -> bool:
        """The unquoted word `none`: an inherited key is taken away."""
        return self.plain and self.text == "none"

    def raw(self) -> Any:
        """Plain mappings, lists and texts; null is None."""
        if self.items is not None:
            return {key: node.raw() for key, node in self.items.items()}
        if self.parts is not None:
            return [node.raw() for node in self.parts]
        return None if self.null else self.text

    def get(self, *keys: Any) -> Node | None:
        """The node below some keys; None where there is none. Entries of a list: ints from 0, texts from '1'."""
        here: Node | None = self
        for key in keys:
            if here is None:
                return None
            if here.items is not None:
                here = here.items.get(key)
            elif here.parts is not None and str(key).isdecimal():
                index = key if isinstance(key, int) else int(key[:9]) - 1
                here = here.parts[index] if 0 <= index < len(here.parts) else None
            else:
                return None
        return here

    def nearest(self, keys: Path_) -> tuple[Node, int]:
        """The deepest existing node on the way to `keys`, and how many keys lead to it."""
        here: Node = self
        for used, key in enumerate(keys):
            below = here.get(key)
            if below is None:
                return here, used
            here = below
        return here, len(keys)

    def match(self, pattern: tuple[str, ...]) -> Iterator[Node]:
        """All nodes on a path in which '*' stands for any key or list index."""
        if not pattern:
            yield self
            return
        head, rest = pattern[0], pattern[1:]
        if head != "*":
            below = self.get(head)
            if below is not None:
                yield from below.match(rest)
            return
        for node in list((self.items or {}).values()) + (self.parts or []):
            yield from node.match(rest)

    def problem(self, message: str, fix: str = "", *, below: Path_ = (), level: str = "error") -> Problem:
        """A problem of this node's value, or (`below`) of a key that is missing below it."""
        line, column = self.line, self.column
        if self.text is None and self.key_place is not None:
            line, column = self.key_place
        value = None if below or self.empty or not self.path else self.text
        if value is not None and len(value) > LONGEST_SHOWN:
            value = value[: LONGEST_SHOWN - 4] + " ..."
        return Problem(level, self.file, message, line, column, _dotted((*self.path, *below)), value, fix)

    def key_problem(self, message: str, fix: str = "", *, level: str = "error") -> Problem:
        """A problem of the key that stands before this node."""
        line, column = self.key_place or (self.line, self.column)
        return Problem(level, self.file, message, line, column, _dotted(self.path), None, fix)


def _dotted(path: Path_) -> str:
    """A path as messages show it; characters that would disturb a terminal are escaped."""
    return ".".join(text if text.isprintable() else ascii(text)[1:-1] for text in map(str, path))


@dataclass(frozen=True)
class Document:
    """One file: its tree (None if it holds nothing), its problems and the SHA-256 of its bytes.

    `no_mapping` says that the tree was dropped because it is a list or a single word.
    """

    name: str
    root: Node | None
    problems: tuple[Problem, ...]
    sha256: str
    no_mapping: bool = False


def load(path: Path, name: str | None = None) -> Document:
    """Read a YAML file; what stops it becomes a problem with its place, never another exception.

    Raises `FileTrouble` when the operating system does not hand over the file.
    """
    shown = name or path.name
    try:
        if path.stat().st_size > BIGGEST_FILE:
            size = path.stat().st_size / 1e6
            found = Problem("error", shown, f"the file is {size:.0f} MB large", fix="raw logs belong into logs/")
            return Document(shown, None, (found,), "")
        data = path.read_bytes()
    except OSError as error:
        raise FileTrouble(f"{shown}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    text, problem = decode(data, shown)
    digest = hashlib.sha256(data).hexdigest()
    if problem is not None:
        return Document(shown, None, (problem,), digest)
    root, problems = parse_text(text, shown)
    return Document(shown, root, tuple(problems), digest)


def decode(data: bytes, name: str) -> tuple[str, Problem | None]:
    """Text of UTF-8 bytes (a byte order mark is dropped), or the problem."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "", Problem("error", name, "the file is saved as UTF-16", fix="save it as UTF-8")
    nul = data.find(b"\0")
    if nul >= 0:
        line = data.count(b"\n", 0, nul) + 1
        message = "the file holds a NUL byte, so it is no text file (a damaged or binary file?)"
        return "", Problem("error", name, message, line, fix="restore it, or write it again in a text editor")
    try:
        return data.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - data.rfind(b"\n", 0, error.start)
        message = f"the byte 0x{data[error.start]:02X} is no UTF-8"
        return "", Problem("error", name, message, line, column, fix="save the file as UTF-8")


def parse_text(text: str, name: str) -> tuple[Node | None, list[Problem]]:
    """The tree of a YAML text and the problems found; None where nothing can be used."""
    from ruamel.yaml import YAML

    if _bracket_depth(text) > 2 * DEEPEST:
        return None, [Problem("error", name, "brackets are nested too deeply", fix="close what was opened")]
    try:
        composed = YAML(typ="safe", pure=True).compose(text)
        if composed is None:
            return None, []
        builder = _Builder(name)
        return builder.build(composed, (), 0), builder.problems
    except _TooMuch as error:
        return None, [Problem("error", name, str(error), fix="write the entries out plainly")]
    except RecursionError:
        return None, [Problem("error", name, "brackets are nested too deeply", fix="close what was opened")]
    except Exception as error:  # the parser's own family, plus slips inside it on odd texts
        return None, [_syntax(error, name, text)]


class _TooMuch(Exception):
    pass


def _bracket_depth(text: str) -> int:
    """Deepest nesting of brackets (quotes not regarded); the parser takes seconds for thousands of them."""
    depth = deepest = 0
    for found in re.finditer(r"[\[{\]}]", text):
        depth = depth + 1 if found[0] in "[{" else max(depth - 1, 0)
        deepest = max(deepest, depth)
    return deepest


_SAYINGS = (
    ("cannot start any token", "'\\t'", "a tab stands where spaces are needed", "indent with spaces"),
    ("cannot start any token", "", "this character cannot begin a value", "put the text in quotes"),
    ("mapping values are not allowed", "", "a second ': ' in one line", "put the text in quotes, or start a new line"),
    ("undefined alias", "", "'*' begins a reference to nothing", "put the text in quotes"),
    ("expected a single document", "", "", ""),
    ("another document", "", "a second '---' starts another document", "keep one document a file"),
    ("expected <block end>", "", "the indentation does not fit the lines above", "align it with its neighbours"),
    ("expected ',' or '}'", "", "a '{' is not closed, or a comma is missing", "close it with '}'"),
    ("expected ',' or ']'", "", "a '[' is not closed, or a comma is missing", "close it with ']'"),
    ("expected the node content", "", "a value is missing here, or a bracket is not closed", "complete the line"),
    ("unexpected end of stream", "", "a quotation mark is not closed", "close it"),
    ("could not find expected ':'", "", "a ':' is missing after the key", "write `key: value`"),
)


def _syntax(error: Exception, name: str, text: str) -> Problem:
    """A parser's exception in our words, with its place."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else (None, None)
    saying = str(getattr(error, "problem", None) or "")
    if mark is None and isinstance(getattr(error, "position", None), int):
        place = int(error.position)  # type: ignore[attr-defined]
        line = text.count("\n", 0, place) + 1
        column = place - text.rfind("\n", 0, place)
        code = getattr(error, "character", 0)
        code = ord(code) if isinstance(code, str) else int(code)
        return Problem("error", name, f"the control character U+{code:04X}", line, column, fix="delete it")
    for part, also, message, fix in _SAYINGS:
        if part in saying and also in saying and message:
            return Problem("error", name, message, line, column, fix=fix)
    return Problem("error", name, f"no valid YAML ({saying or type(error).__name__})", line, column)


class _Builder:
    """Turns composed YAML nodes into ours, collecting problems."""

    def __init__(self, name: str):
        self.name = name
        self.problems: list[Problem] = []
        self.count = 0

    def build(self, node: Any, path: tuple[str, ...], depth: int) -> Node:
        self.count += 1
        if self.count > MOST_NODES:
            raise _TooMuch("the references (&, *) of this file unfold to too many entries")
        if depth > DEEPEST:
            raise _TooMuch("the entries are nested too deeply, or refer to themselves")
        mark = node.start_mark
        made = Node(self.name, mark.line + 1, mark.column + 1, path)
        kind = type(node).__name__
        if str(node.tag or "").startswith("!"):
            self.problems.append(made.problem(f"the YAML tag {node.tag} has no meaning here", "delete it"))
        if kind == "ScalarNode":
            made.text, made.plain = str(node.value), node.style is None
        elif kind == "SequenceNode":
            made.parts = [self.build(n, (*path, str(i)), depth + 1) for i, n in enumerate(node.value, 1)]
        else:
            self._mapping(made, node, depth)
        return made

    def _mapping(self, made: Node, node: Any, depth: int) -> None:
        made.items = {}
        merged: dict[str, Node] = {}
        previous: tuple[str, Any] | None = None
        for key_node, value_node in node.value:
            place = (key_node.start_mark.line + 1, key_node.start_mark.column + 1)
            if type(key_node).__name__ != "ScalarNode":
                found = Problem("error", self.name, "a key must be a word", *place, fix="write `key: value`")
                self.problems.append(found)
                continue
            key = str(key_node.value)
            if key == "<<" and key_node.style is None:
                merged |= self._merge(value_node, made, depth)
                continue
            if self._split_comma(made, previous, key, value_node, place):
                continue
            if self._no_space(made, key, value_node, place):
                continue
            if key in made.items:
                first = (made.items[key].key_place or (0, 0))[0]
                found = Problem(
                    "error", self.name, f"the key stands twice, first in line {first}", *place,
                    key=_dotted((*made.path, key)), fix="keep one of them",
                )  # fmt: skip
                self.problems.append(found)
                continue
            below = made.items[key] = self.build(value_node, (*made.path, key), depth + 1)
            below.key_place = place
            if below.empty:  # the parser puts an empty value at the next token
                below.line, below.column = place
            previous = (key, value_node)
        for key, value in merged.items():
            made.items.setdefault(key, value)

    def _merge(self, value_node: Any, made: Node, depth: int) -> dict[str, Node]:
        sources = value_node.value if type(value_node).__name__ == "SequenceNode" else [value_node]
        found: dict[str, Node] = {}
        for source in sources:
            node = self.build(source, made.path, depth + 1)
            if node.items is None:
                self.problems.append(node.problem("'<<' takes a mapping", "refer to one with *name"))
            for key, value in (node.items or {}).items():
                found.setdefault(key, value)
        return found

    def _split_comma(
        self, made: Node, previous: tuple[str, Any] | None, key: str, value_node: Any, place: tuple[int, int]
    ) -> bool:
        """A decimal comma inside {...} has cut `0,167 mm` into a value 0 and a key '167 mm'."""
        if previous is None or type(value_node).__name__ != "ScalarNode" or value_node.value != "":
            return False
        before, number = previous
        if type(number).__name__ != "ScalarNode" or not (_SPLIT_COMMA.match(key) and _WHOLE.match(str(number.value))):
            return False
        assert made.items is not None
        line, column = number.start_mark.line + 1, number.start_mark.column + 1
        given = f"{number.value},{key}"
        key_path, fix = _dotted((*made.path, before)), f"write '{number.value}.{key}'"
        message = "a decimal comma is not read"
        self.problems.append(Problem("error", self.name, message, line, column, key_path, given, fix))
        made.items.pop(before, None)
        made.items[before] = Node(self.name, line, column, (*made.path, before), text=f"{number.value}.{key}")
        return True

    def _no_space(self, made: Node, key: str, value_node: Any, place: tuple[int, int]) -> bool:
        """`{width:60 mm}` is one key without a value, because the space after ':' is missing."""
        match = _NO_SPACE.match(key) if type(value_node).__name__ == "ScalarNode" else None
        if match is None or value_node.value != "" or made.items is None:
            return False
        name, value = match.groups()
        here = (*made.path, name)
        message, fix = "a space is missing after ':'", f"write `{name}: {value or '...'}`"
        self.problems.append(Problem("error", self.name, message, *place, _dotted(here), None, fix))
        made.items.setdefault(name, Node(self.name, *place, here, text=value or "", plain=not value, key_place=place))
        return True
