"""The neutral blocks a report is made of; HTML and PDF render the same blocks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cracktie.trace import CalculationSheet

HEAD_WIDTH = 11
"""Letters a line in the head of a column of numbers holds, so that the column is as narrow as its numbers allow."""


@dataclass(frozen=True)
class Heading:
    """A section heading; level 1 opens a chapter."""

    text: str
    level: int = 1
    anchor: str = ""


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """Sentences of a list; `box` frames them under a bold title."""

    items: tuple[str, ...]
    title: str = ""
    box: bool = False


@dataclass(frozen=True)
class Note:
    """A boxed remark: `caution`, `simulated` or `note`."""

    text: str
    kind: str = "note"


@dataclass(frozen=True)
class Contents:
    """Where a paged report lists its chapters."""


@dataclass(frozen=True)
class Column:
    """A table column: title, unit and alignment ('left' or 'right'). `symbol` is a glossary name to typeset.

    `prose` marks cells that hold sentences: they may break, and symbols in them are typeset.
    """

    title: str
    unit: str = ""
    align: str = "right"
    symbol: str = ""
    prose: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """The title broken into short lines over a column of numbers."""
        if self.align == "left":
            return (self.title,)
        lines: list[str] = []
        for word in self.title.split(" "):
            if lines and len(lines[-1]) + 1 + len(word) <= HEAD_WIDTH:
                lines[-1] += f" {word}"
            else:
                lines.append(word)
        return tuple(lines)


@dataclass(frozen=True)
class Table:
    """A table with its caption and footnotes; `number` is given by `numbered`."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    footnotes: tuple[str, ...] = ()
    number: int = 0


@dataclass(frozen=True)
class Figure:
    """A picture as SVG text. `width` is in per cent of the text width, `alt` says what it shows."""

    svg: str
    caption: str
    alt: str
    width: int = 100
    number: int = 0


@dataclass(frozen=True)
class SheetBlock:
    """A calculation sheet with the origin of its inputs."""

    sheet: CalculationSheet
    sources: Mapping[str, str]
    citation: str
    system: str


Block = Heading | Text | Points | Note | Contents | Table | Figure | SheetBlock


@dataclass(frozen=True)
class Document:
    """A report: title, subtitle, blocks."""

    title: str
    subtitle: str
    blocks: tuple[Block, ...]
    simulated: bool = False
    language: str = "en"
    meta: Mapping[str, str] = field(default_factory=dict)


def numbered(blocks: Iterable[Block]) -> Iterator[Block]:
    """The blocks with tables and figures counted from 1, each kind on its own."""
    count = {Table: 0, Figure: 0}
    for block in blocks:
        if isinstance(block, (Table, Figure)):
            count[type(block)] += 1
            yield replace(block, number=count[type(block)])
        else:
            yield block
