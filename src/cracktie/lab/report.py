"""What the import of a log found: blocks of readings, and a report that keeps nothing back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import polars

GAP_FACTOR = 2.5
"""A gap is a time step longer than this many median steps (own choice)."""


@dataclass(frozen=True)
class Question:
    """Something the file does not settle: what is asked, the possible answers, what was done meanwhile.

    `answers` are the lines that answer it in reduction.yaml, in the order of the options.
    """

    kind: str
    text: str
    options: tuple[str, ...]
    meanwhile: str
    answers: tuple[str, ...] = ()

    def __str__(self) -> str:
        how = f"; answer with `{'` or `'.join(self.answers)}`" if self.answers else ""
        return f"{self.text} ({' or '.join(self.options)}?) Until answered: {self.meanwhile}{how}"


@dataclass(frozen=True)
class Lost:
    """Rows of the file that did not enter a block, with the reason; at most 20 line numbers are kept."""

    reason: str
    rows: int
    lines: tuple[int, ...] = ()


@dataclass(frozen=True)
class Gap:
    """A long time step: row index in the block, time before it and its length, both in seconds."""

    row: int
    time: float
    length: float


@dataclass(frozen=True)
class BlockReport:
    """Findings on one block of readings.

    `segments` are (first, last) row indices between backward jumps of time; `saturated` counts, a column,
    rows that stay at the extreme value for three or more rows; `over_range` counts cells with an overload
    word or an overload number; `unreadable` holds samples of cells that are neither number nor missing word;
    `missing` counts cells without a reading, a column; `notes` are sentences on its clock and its channels.
    """

    name: str
    rows: int
    median_step: float | None = None
    gaps: tuple[Gap, ...] = ()
    duplicated_times: int = 0
    segments: tuple[tuple[int, int], ...] = ()
    saturated: Mapping[str, int] = field(default_factory=dict)
    constant: tuple[str, ...] = ()
    empty: tuple[str, ...] = ()
    over_range: Mapping[str, int] = field(default_factory=dict)
    unreadable: Mapping[str, tuple[int, tuple[str, ...]]] = field(default_factory=dict)
    missing: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ImportReport:
    """The whole import: rows read, kept and lost, findings a block, open questions and notes."""

    rows_read: int
    rows_kept: int
    lost: tuple[Lost, ...] = ()
    blocks: tuple[BlockReport, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()

    def lines(self) -> list[str]:
        """The report as plain sentences."""
        out = [f"{self.rows_read} rows read, {self.rows_kept} kept"]
        out += [f"{loss.rows} rows lost: {loss.reason} (lines {_listed(loss.lines)})" for loss in self.lost]
        for block in self.blocks:
            out += _block_lines(block)
        out += [f"question: {question}" for question in self.questions]
        return out + list(self.notes)


@dataclass(frozen=True)
class Block:
    """One table of readings with the same columns throughout.

    `frame` is a polars DataFrame of Float64, nulls where a reading is missing; `units` and `headers` are
    keyed by column name; `first_line` and `last_line` count from 1 in the file (rows of a sheet).
    Columns of time stamps are seconds after the moment in `origins` (absent: time of day or elapsed time).
    """

    name: str
    frame: polars.DataFrame
    units: Mapping[str, str]
    headers: Mapping[str, str]
    first_line: int
    last_line: int
    missing: Mapping[str, int]
    time: str | None = None
    origins: Mapping[str, datetime] = field(default_factory=dict)
    title: tuple[str, ...] = ()
    text_columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    comments: tuple[tuple[int, str], ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the numeric columns."""
        return tuple(self.frame.columns)

    def values(self, column: str) -> Any:
        """A column as a read-only numpy array of float, NaN where missing; LookupError for other names."""
        from cracktie.errors import UnknownName

        if column not in self.frame.columns:
            raise UnknownName(f"block {self.name!r} has no column {column!r}; it has {', '.join(self.columns)}")
        array = self.frame[column].to_numpy().copy()
        array.setflags(write=False)
        return array


@dataclass(frozen=True)
class LogFile:
    """A log as read: where from, how it was understood, its preamble, blocks and report.

    `encoding_how` says how the encoding was decided; `preamble` holds (key, value) pairs, a line without a
    value has an empty one; `simulated` is true when a header line says that a program made the readings.
    """

    path: str
    sha256: str
    encoding: str
    encoding_how: str
    delimiter: str
    decimal: str
    preamble: tuple[tuple[str, str], ...]
    blocks: tuple[Block, ...]
    report: ImportReport
    simulated: bool = False

    def block(self, name: str | int) -> Block:
        """A block by name or by position; `UnknownName` lists the names there are."""
        from cracktie.errors import UnknownName

        if isinstance(name, int) and -len(self.blocks) <= name < len(self.blocks):
            return self.blocks[name]
        for block in self.blocks:
            if block.name == name:
                return block
        raise UnknownName(f"{self.path} has no block {name!r}; it has {', '.join(b.name for b in self.blocks)}")


def _listed(lines: tuple[int, ...]) -> str:
    return ", ".join(str(n) for n in lines[:5]) + (" ..." if len(lines) > 5 else "")


def _block_lines(block: BlockReport) -> list[str]:
    out = [
        f"block {block.name!r}: {block.rows} rows"
        + (f", median step {block.median_step:.4g} s" if block.median_step else "")
    ]
    if block.gaps:
        longest = max(block.gaps, key=lambda gap: gap.length)
        out.append(f"  {len(block.gaps)} gaps, the longest {longest.length:.4g} s after {longest.time:.4g} s")
    if block.duplicated_times:
        out.append(f"  {block.duplicated_times} rows repeat the time stamp before them")
    if len(block.segments) > 1:
        out.append(f"  time runs backwards {len(block.segments) - 1} times: {len(block.segments)} segments")
    out += [f"  {name}: {n} rows at the extreme value, saturated?" for name, n in block.saturated.items()]
    out += [f"  {name}: {n} cells over range" for name, n in block.over_range.items()]
    out += [
        f"  {name}: {n} cells unreadable, e.g. {', '.join(map(repr, sample))}"
        for name, (n, sample) in block.unreadable.items()
    ]
    partly = {name: n for name, n in block.missing.items() if name not in block.empty}
    if partly:
        most = sorted(partly.items(), key=lambda item: -item[1])
        told = ", ".join(f"{name} {n}" for name, n in most[:8])
        out.append(f"  readings missing: {told}" + (f" and {len(most) - 8} more channels" if len(most) > 8 else ""))
    if block.constant:
        out.append(f"  constant: {', '.join(block.constant)}")
    if block.empty:
        out.append(f"  without any reading: {', '.join(block.empty)}")
    return out + [f"  {note}" for note in block.notes]
