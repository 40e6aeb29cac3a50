"""A text as indexed lines, and the quick sorting of lines into blank, text and readings."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.lab.cells import is_missing, is_over
from cracktie.lab.dialect import Dialect, cells, is_comment, is_data

BLANK, TEXT, DATA = 0, 1, 2
_SHORT_RUN = 50
MOST_RUNS = 50_000
"""Most stretches of rows with something else between them: beyond, a file is no log."""

_LUT = np.zeros(256, dtype=np.uint8)
_LUT[33:] = 4
_LUT[48:58] = 1
_LUT[65:91] = 2
_LUT[97:123] = 2
_LUT[128:] = 2
_LUT[[69, 101]] = 4  # the E of 1.5E-3 says nothing


class TooManyRuns(ValueError):
    """Rows of readings and other lines alternate more often than in any log."""


@dataclass(frozen=True)
class Lines:
    """UTF-8 bytes with the first and last byte of each line (line end excluded)."""

    data: bytes
    starts: Any
    ends: Any
    closed: bool

    def __len__(self) -> int:
        return len(self.starts)

    def text(self, i: int) -> str:
        """Line `i` (from 0) as text."""
        return self.data[self.starts[i] : self.ends[i]].decode("utf-8")


def index_lines(text: str) -> Lines:
    """Find the lines of a text whose line ends are LF."""
    data = text.encode("utf-8", "replace")
    array = np.frombuffer(data, dtype=np.uint8)
    breaks = np.flatnonzero(array == 10)
    closed = bool(len(data)) and data.endswith(b"\n")
    starts = np.concatenate(([0], breaks + 1))
    ends = np.concatenate((breaks, [len(data)]))
    if closed:
        starts, ends = starts[:-1], ends[:-1]
    return Lines(data, starts, ends, closed)


def sample_lines(lines: Lines, count: int = 240) -> list[str]:
    """The first 60 lines and others spread evenly over the file, at most 4 000 characters each."""
    chosen = np.unique(
        np.concatenate((np.arange(min(60, len(lines))), np.linspace(0, len(lines) - 1, count).astype(int)))
    )
    return [lines.text(int(i))[:4000] for i in chosen]


def widths(lines: Lines, delimiter: str) -> Any:
    """Number of cells of every line (delimiters plus one; words for the blank delimiter)."""
    if delimiter == " ":
        return np.array(
            [len(lines.data[s:e].split()) for s, e in zip(lines.starts, lines.ends, strict=True)], dtype=np.int64
        )
    array = np.frombuffer(lines.data, dtype=np.uint8)
    out = _count(lines, array == ord(delimiter)) + 1
    if b'"' in lines.data:
        for i in np.flatnonzero(_count(lines, array == ord('"'))):
            out[i] = len(cells(lines.text(int(i)), delimiter))
    return out


def kinds(lines: Lines, dialect: Dialect, width: Any) -> Any:
    """BLANK, TEXT or DATA for every line; `width` is the number of cells of each line.

    Lines of digits without letters are readings; lines in which letters are rare are taken for readings when
    they stand in a long run; all others are looked at cell by cell.
    """
    array = np.frombuffer(lines.data, dtype=np.uint8)
    if array.size == 0:
        return np.zeros(len(lines), dtype=np.int8)
    classes = _LUT[array]
    flags = _any(lines, classes)
    digit, letter = (flags & 1) > 0, (flags & 2) > 0
    letters = _count(lines, classes == 2) if letter.any() else np.zeros(len(lines), dtype=np.int64)
    length = lines.ends - lines.starts
    sparse = digit & (length - letters - width + 1 >= 2 * letters)
    out = np.where(flags == 0, BLANK, TEXT).astype(np.int8)
    out[sparse] = DATA
    for i in np.flatnonzero((flags > 0) & ~sparse):
        out[i] = _slow(lines.text(int(i)), dialect.delimiter, dialect.decimal)
    first = array[np.minimum(lines.starts, array.size - 1)]
    for i in np.flatnonzero((out == DATA) & np.isin(first, [ord(c) for c in "#%/'!"])):
        if is_comment(lines.text(int(i))):
            out[i] = TEXT
    _check_short_runs(lines, out, dialect)
    return out


@functools.lru_cache(maxsize=1 << 12)
def _slow(line: str, delimiter: str, decimal: str) -> int:
    if is_comment(line):
        return TEXT
    row = cells(line, delimiter)
    if not any(row):
        return BLANK
    if len(row) > 1 and all(is_missing(cell) or is_over(cell) for cell in row):
        return DATA
    return DATA if is_data(row, decimal) else TEXT


def _check_short_runs(lines: Lines, out: Any, dialect: Dialect) -> None:
    if np.count_nonzero(np.diff(out == DATA)) > 2 * MOST_RUNS:
        raise TooManyRuns
    for first, last in runs(out == DATA):
        if last - first < _SHORT_RUN:
            for i in range(first, last + 1):
                out[i] = _slow(lines.text(i), dialect.delimiter, dialect.decimal)


def runs(mask: Any) -> list[tuple[int, int]]:
    """First and last index of every unbroken run of true values."""
    edges = np.diff(np.concatenate(([0], np.asarray(mask, dtype=np.int8), [0])))
    return [(int(a), int(b) - 1) for a, b in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)]


def _any(lines: Lines, classes: Any) -> Any:
    flags = np.zeros(len(lines), dtype=np.uint8)
    filled = lines.ends > lines.starts
    if filled.any():
        # each slice runs to the next filled line and so takes in line feeds only, which have no class
        flags[filled] = np.bitwise_or.reduceat(classes, lines.starts[filled])
    return flags


def _count(lines: Lines, mask: Any) -> Any:
    where = np.flatnonzero(mask)
    return np.searchsorted(where, lines.ends) - np.searchsorted(where, lines.starts)
