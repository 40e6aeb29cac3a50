"""Cut the lines of a log into preamble, headers and tables."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.lab.cells import is_missing, number, readable
from cracktie.lab.dialect import Dialect, cells, is_comment
from cracktie.lab.headers import is_unit, is_unit_row
from cracktie.lab.lines import BLANK, DATA, TEXT, Lines, kinds, runs, widths

_MIN_OWN_TABLE = 5
_MOST_LABELLED = 10
SIMULATED = "simulated by cracktie"


@dataclass
class Table:
    """Line indices of one table with its header, unit row, title and the remarks between its rows."""

    parts: list[Any]
    width: int
    header: tuple[str, ...] | None = None
    units: tuple[str, ...] | None = None
    title: tuple[str, ...] = ()
    above: list[tuple[int, str]] = field(default_factory=list)
    comments: list[tuple[int, str]] = field(default_factory=list)
    repeats: int = 0

    @property
    def rows(self) -> Any:
        """Line indices of all rows, ascending."""
        return self.parts[0] if len(self.parts) == 1 else np.concatenate(self.parts)


def segment(lines: Lines, dialect: Dialect) -> tuple[list[str], list[Table], Any]:
    """Preamble lines, tables in the order of the file, and the number of cells of each line."""
    width = widths(lines, dialect.delimiter)
    kind = kinds(lines, dialect, width)
    _serial_number_headers(lines, kind, dialect)
    _labelled_ends(lines, kind, dialect)
    tables: list[Table] = []
    preamble: list[str] = []
    end = -1
    for first, last in _stretches(kind, width):
        between = [i for i in range(end + 1, first) if kind[i] == TEXT] if first - end > 1 else []
        rows = np.flatnonzero(kind[first : last + 1] == DATA) + first
        texts = [(i, lines.text(i)) for i in between]
        table = Table([rows], _modal(width[rows]))
        _heads(table, texts, dialect, kind, first)
        _widen(table, width[rows])
        if tables and _continues(tables[-1], table, texts, dialect):
            _join(tables[-1], table)
        else:
            if not tables:
                preamble = [text for _, text in table.above]
            tables.append(table)
        end = last
    if tables:
        tables[-1].comments += [(i + 1, lines.text(i)) for i in range(end + 1, len(lines)) if kind[i] == TEXT]
    else:
        preamble = [lines.text(int(i)) for i in np.flatnonzero(kind == TEXT)[:1000]]
    return preamble, _drop_accidents(tables, preamble, lines), width


def _stretches(kind: Any, width: Any) -> list[tuple[int, int]]:
    """Runs of readings, cut where the number of cells changes for good."""
    out: list[tuple[int, int]] = []
    for first, last in runs(kind == DATA):
        count = width[first : last + 1]
        if count[0] == count[-1] and (count == count[0]).all():
            out.append((first, last))
            continue
        edges = np.concatenate(([0], np.flatnonzero(np.diff(count)) + 1, [len(count)]))
        long = [(int(a), int(b)) for a, b in itertools.pairwise(edges) if b - a >= _MIN_OWN_TABLE]
        cuts = (
            [first]
            + [first + a for (_, _), (a, _) in itertools.pairwise(long) if count[a] != count[_before(long, a)]]
            + [last + 1]
        )
        out += [(a, b - 1) for a, b in itertools.pairwise(cuts) if b > a]
    return out


def _before(long: list[tuple[int, int]], start: int) -> int:
    return max(a for a, _ in long if a < start)


def _serial_number_headers(lines: Lines, kind: Any, dialect: Dialect) -> None:
    """Headers made mostly of numbers are not readings.

    That is a lone line of numbers right above a unit row (serial numbers of transducers), and a first row with
    text where the row below has numbers, unless a header stands above it.
    """
    for first, last in runs(kind == DATA):
        if last > first and (first == 0 or kind[first - 1] != TEXT) and _text_over_numbers(lines, first, dialect):
            kind[first] = TEXT
        if (
            first == last
            and first + 2 < len(lines)
            and kind[first + 1] == TEXT
            and kind[first + 2] == DATA
            and is_unit_row(cells(lines.text(first + 1), dialect.delimiter))
        ):
            kind[first] = TEXT


def _labelled_ends(lines: Lines, kind: Any, dialect: Dialect) -> None:
    """Rows at the end of a run that begin with a word (`Max;43.5;2.9`), under rows with a number there, are remarks."""
    above = False
    for first, last in runs(kind == DATA):
        row = last
        while row >= first and last - row < _MOST_LABELLED and _begins_with_word(lines.text(row)[:1000], dialect):
            row -= 1
        by_number = row >= first and not _begins_with_word(lines.text(row)[:1000], dialect)
        if by_number or (above and row < first):
            kind[row + 1 : last + 1] = TEXT
        above |= by_number


def _begins_with_word(line: str, dialect: Dialect) -> bool:
    cell = next(iter(cells(line, dialect.delimiter)), "")
    return bool(cell) and not readable(cell, dialect.decimal)


def _text_over_numbers(lines: Lines, row: int, dialect: Dialect) -> bool:
    upper, lower = (cells(lines.text(i)[:100_000], dialect.delimiter) for i in (row, row + 1))
    return len(upper) == len(lower) and any(
        a and not readable(a, dialect.decimal) and number(b, dialect.decimal) is not None
        for a, b in zip(upper, lower, strict=True)
    )


def _heads(table: Table, texts: list[tuple[int, str]], dialect: Dialect, kind: Any, first: int) -> None:
    """Take unit row and header off the end of the text lines above a table; the rest is its title."""
    rest = list(texts)
    near = first - 1 if first > 0 and kind[first - 1] != BLANK else first - 2
    if rest and rest[-1][0] == near:
        row = _header_cells(rest[-1][1], dialect)
        if is_unit_row(row) and len(row) <= table.width + 1:
            above = _header_cells(rest[-2][1], dialect) if len(rest) > 1 and rest[-2][0] == near - 1 else []
            named = bool(above) and _looks_like_header(above, table.width, dialect)
            if named or (_telling(row) and not _has_brackets(row)):
                table.units = tuple(row)
                rest.pop()
        if rest and rest[-1][0] >= near - 1:
            row = _header_cells(rest[-1][1], dialect)
            if _looks_like_header(row, table.width, dialect) or (table.units is not None and len(row) > 1):
                table.header = tuple(row)
                rest.pop()
    if table.header is None and table.units is not None:
        table.header = table.units
    table.above = rest
    table.title = tuple(text for _, text in rest[_last_group(rest) :])


def _widen(table: Table, count: Any) -> None:
    """A header with more names than most rows have cells counts where some row fills it."""
    named = len(table.header) if table.header is not None else 0
    while named > table.width and table.header is not None and not table.header[named - 1]:
        named -= 1
    if named > table.width and (count == named).any():
        table.width = named


def _last_group(texts: list[tuple[int, str]]) -> int:
    """Where the last run of neighbouring lines begins."""
    at = len(texts) - 1
    while at > 0 and texts[at - 1][0] == texts[at][0] - 1:
        at -= 1
    return max(at, 0)


def _telling(row: list[str]) -> bool:
    """True when a row holds a unit of more than one letter: `t; d` alone are names, `s; kN` are units."""
    return any(is_unit(cell) and len(cell.strip("[](){} ")) > 1 for cell in row)


def _has_brackets(row: list[str]) -> bool:
    """True for a header whose cells are name and unit together, such as `load [kN]`."""
    filled = [cell for cell in row if cell]
    return any(cell.rstrip().endswith(("]", ")")) and not cell.lstrip().startswith(("[", "(")) for cell in filled)


def _header_cells(line: str, dialect: Dialect) -> list[str]:
    bare = line.strip().lstrip("#%!'").strip() if is_comment(line) else line
    return cells(bare, dialect.delimiter)


def _looks_like_header(row: list[str], width: int, dialect: Dialect) -> bool:
    filled = [cell for cell in row if cell]
    if not filled or SIMULATED in " ".join(row).lower() or filled[0].endswith(":"):
        return False
    if len(filled) < max(1, 0.5 * width) or len(row) > width + 2:
        return False
    numeric = sum(readable(cell, dialect.decimal) and not is_missing(cell) for cell in filled)
    if len(filled) == len(row) == width >= 3 and not readable(filled[0], dialect.decimal):
        return numeric < len(filled)  # channels may be called by their numbers
    return numeric < 0.5 * len(filled) and not (len(filled) == 1 and ":" in filled[0])


def _continues(old: Table, new: Table, texts: list[tuple[int, str]], dialect: Dialect) -> bool:
    if old.width != new.width:
        return False
    if new.header is None and new.units is None:
        return all(
            len([c for c in cells(t, dialect.delimiter) if c]) < max(2, 0.5 * old.width) or is_comment(t)
            for _, t in texts
        )
    return new.header == old.header and new.units in (old.units, None)


def _join(old: Table, new: Table) -> None:
    old.parts += new.parts
    old.repeats += new.header is not None
    old.comments += [(i + 1, text) for i, text in new.above]


def _drop_accidents(tables: list[Table], preamble: list[str], lines: Lines) -> list[Table]:
    """Few rows of numbers without a header, above a table with more rows, belong to the preamble."""
    kept = list(tables)
    while (
        len(kept) > 1
        and len(kept[0].rows) < _MIN_OWN_TABLE
        and kept[0].header is None
        and (len(kept[1].rows) > len(kept[0].rows))
        and (kept[1].header is not None or kept[1].width > kept[0].width == 1)
    ):
        lone = kept.pop(0)
        preamble += [lines.text(int(i)) for i in lone.rows] + [text for _, text in kept[0].above]
    return kept


def _modal(count: Any) -> int:
    if len(count) and (count == count[0]).all():
        return int(count[0])
    return Counter(count.tolist()).most_common(1)[0][0]
