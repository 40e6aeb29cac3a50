"""Strain profiles over a line: exports of optical systems and distributed fibre-optic strain, as a table of text."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.errors import FileTrouble, InputRefused, ModelInputError, Problem
from cracktie.units import UnitError, factor

_NUMBER = re.compile(r"(-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*[\[(]?\s*([A-Za-z]*)\s*[\])]?\s*$")
_TIME = ("time", "t", "seconds")
_PLACE = ("position", "distance", "length", "place", "s", "x", "z")
_MISSING = ("", "nan", "na", "n/a", "-", "--")


@dataclass(frozen=True)
class Profile:
    """Strain (ratio) at `time` s (n) by `position` mm (m, ascending): an array of n x m, NaN where missing."""

    time: Any
    position: Any
    strain: Any

    def at(self, time: float) -> tuple[Any, float]:
        """Strains of the reading nearest to a time, and that reading's own time; `ModelInputError` outside the record.

        Half a median step beyond the first and last reading still counts as inside.
        """
        step = float(np.median(np.diff(self.time))) if len(self.time) > 1 else 0.0
        if not self.time[0] - step / 2 <= time <= self.time[-1] + step / 2:
            raise ModelInputError(
                f"{time:.1f} s lies outside the profile's record ({self.time[0]:.1f} to {self.time[-1]:.1f} s)"
            )
        row = int(np.argmin(np.abs(self.time - time)))
        return self.strain[row], float(self.time[row])


def read_profile(path: Path, name: str, unit: str) -> Profile:
    """A table with one row a time and one column a place, or one row a place and one column a time.

    The first header cell says which: `time [s]` or `position [mm]`; every other header ends with its place or time and
    the unit (`gauge 3 @ 40 mm`, `12.5 s`). `unit` is that of the strains. Lines that begin with '#' are remarks. Raises
    `InputRefused` with what is wrong and where, `FileTrouble` where the file cannot be read.
    """
    rows = _rows(path, name)
    if len(rows) < 2:
        raise InputRefused(Problem("error", name, "holds no profile", fix="write a row of headers and rows of strains"))
    line, head = rows[0]
    problems: list[Problem] = []
    word, _, first_unit = (part.strip(" ])") for part in re.sub(r"[(\[]", "[", head[0]).partition("["))
    by_time = word.lower() in _TIME
    if not by_time and word.lower() not in _PLACE:
        fix = "begin the headers with `time [s]` (one row a time) or `position [mm]` (one row a place)"
        raise InputRefused(
            Problem("error", name, "the first column is neither a time nor a place", line, 1, word, fix=fix)
        )
    down, across = ("s", "mm") if by_time else ("mm", "s")
    try:
        scale, strain_scale = factor(first_unit or down, down), factor(unit, "-")
    except UnitError as error:
        raise InputRefused(Problem("error", name, error.message, line, 1, head[0], fix=error.fix)) from None
    columns = [_ending(cell, across, name, line, i, problems) for i, cell in enumerate(head[1:], start=2)]
    numbers = np.full((len(rows) - 1, len(head)), np.nan)
    for i, (number, cells) in enumerate(rows[1:]):
        if len(cells) != len(head):
            fix = "write decimal points, and one cell a column"
            problems.append(Problem("error", name, f"{len(cells)} cells for {len(head)} headers", number, fix=fix))
            continue
        numbers[i] = [_cell(cell, name, number, k, problems) for k, cell in enumerate(cells, start=1)]
    if problems:
        raise InputRefused(problems[:20])
    first, body = numbers[:, 0] * scale, numbers[:, 1:] * strain_scale
    if by_time:
        return _ordered(first, np.array(columns), body, name)
    return _ordered(np.array(columns), first, body.T, name)


def _rows(path: Path, name: str) -> list[tuple[int, list[str]]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputRefused(Problem("error", name, "is no UTF-8 text", fix="export it as CSV in UTF-8")) from None
    except OSError as error:
        raise FileTrouble(f"{name}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    lines = [(n, t) for n, t in enumerate(text.splitlines(), start=1) if t.strip() and not t.startswith("#")]
    mark = max("\t;,", key=lines[0][1].count) if lines else ","
    return [(n, [c.strip() for c in next(csv.reader([t.replace("\0", "")], delimiter=mark))]) for n, t in lines]


def _ending(cell: str, internal: str, name: str, line: int, column: int, problems: list[Problem]) -> float:
    """Number with its unit at the end of a header, in the internal unit."""
    found = _NUMBER.search(cell)
    what = "place" if internal == "mm" else "time"
    if found is None or not found[2]:
        fix = f"end every header with its {what} and unit, for example `40 {internal}`"
        problems.append(Problem("error", name, f"the header names no {what}", line, column, value=cell, fix=fix))
        return math.nan
    try:
        return float(found[1]) * factor(found[2], internal)
    except UnitError as error:
        problems.append(Problem("error", name, error.message, line, column, value=cell, fix=error.fix))
        return math.nan


def _cell(cell: str, name: str, line: int, column: int, problems: list[Problem]) -> float:
    if cell.lower() in _MISSING and column > 1:
        return math.nan
    try:
        return float(cell)
    except ValueError:
        fix = "write a number with a decimal point, or leave the cell empty"
        problems.append(Problem("error", name, "is no number", line, column, value=cell, fix=fix))
        return math.nan


def _ordered(time: Any, position: Any, strain: Any, name: str) -> Profile:
    """Ascending in both; the same time or place twice is refused."""
    rows, columns = np.argsort(time), np.argsort(position)
    for what, values in (("time", time[rows]), ("place", position[columns])):
        twice = np.flatnonzero(np.diff(values) <= 0.0)
        if twice.size or not np.isfinite(values).all():
            at = f"{values[twice[0]]:g}" if twice.size else "a missing one"
            raise InputRefused(Problem("error", name, f"the {what} {at} stands twice", fix="export each only once"))
    return Profile(time[rows], position[columns], strain[np.ix_(rows, columns)])
