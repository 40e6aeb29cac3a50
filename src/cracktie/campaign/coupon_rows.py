"""Tables of coupon results: one row a specimen, headers with units, problems with line and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from cracktie.campaign.explain import near
from cracktie.campaign.positions import decode
from cracktie.errors import FileTrouble, Problem
from cracktie.units import Quantity, UnitError, factor, parse

TEXTS = ("specimen", "shape", "failure", "mode", "excluded", "note")
COLUMNS: Mapping[str, Mapping[str, str]] = {
    "concretes": {
        "age": "d", "force": "N", "diameter": "mm", "length": "mm", "width": "mm", "depth": "mm", "mass": "g",
        "split_force": "N", "f_c": "MPa", "E_c": "MPa", "f_ct_split": "MPa",
        "pull_off_force": "N", "pull_off": "MPa",
    },
    "bars": {
        "diameter": "mm", "area": "mm2", "yield_force": "N", "max_force": "N", "f_y": "MPa", "f_u": "MPa",
        "E_s": "MPa", "A_gt": "-",
    },
    "frp_systems": {
        "width": "mm", "max_force": "N", "force_per_width": "N/mm", "stiffness_per_width": "N/mm", "f_fu": "MPa",
        "E_f": "MPa", "thickness": "mm", "eps_fu": "-",
    },
    "adhesives": {"f_t": "MPa", "E_a": "MPa", "pull_off_force": "N", "diameter": "mm", "pull_off": "MPa"},
    "anchors_tested": {"force": "N", "age": "d", "f_c": "MPa"},
}  # fmt: skip
"""Columns a table may have for each kind of material, with their internal units."""


@dataclass(frozen=True)
class CouponRow:
    """One specimen: values in internal units (with u where stated), texts, and the line it stands in."""

    file: str
    line: int
    specimen: str
    values: Mapping[str, Quantity]
    texts: Mapping[str, str] = field(default_factory=dict)

    def problem(self, message: str, fix: str = "", *, level: str = "error") -> Problem:
        """A problem of this row."""
        return Problem(level, self.file, f"{self.specimen}: {message}", self.line, fix=fix)


def read_rows(path: Path, name: str, kind: str) -> tuple[list[CouponRow], list[Problem]]:
    """Rows of a CSV table (comma, semicolon or tab; lines that begin with '#' are remarks) and what is wrong with it.

    Raises `FileTrouble` where the file cannot be opened.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileTrouble(f"{name}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    text, problem = decode(data, name)
    if problem is not None:
        return [], [problem]
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip() and line[0] != "#"]
    if len(lines) < 2:
        fix = "write a row of headers such as `specimen, age [d], f_c [MPa]` and a row for each specimen"
        return [], [Problem("error", name, "holds no coupon", fix=fix)]
    delimiter = max(",;\t", key=lines[0][1].count)
    columns, problems = _columns(_cells(lines[0][1], delimiter), name, lines[0][0], kind)
    rows: list[CouponRow] = []
    for number, line in lines[1:] if not problems else ():
        row = _row(_cells(line, delimiter), number, columns, name, problems)
        if row.specimen in [other.specimen for other in rows]:
            problems.append(row.problem("the specimen stands twice", "number the specimens"))
        rows.append(row)
    return rows, problems


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=delimiter, strict=True))]
    except (csv.Error, StopIteration):
        return [cell.strip().strip('"') for cell in line.split(delimiter)]


def _columns(
    headers: list[str], name: str, line: int, kind: str
) -> tuple[dict[int, tuple[str, str, str]], list[Problem]]:
    """Column index -> (word, unit as written, internal unit; both empty for texts)."""
    known, problems = COLUMNS[kind], []
    found: dict[int, tuple[str, str, str]] = {}
    for index, header in enumerate(headers):
        word, _, unit = (part.strip() for part in header.partition("["))
        unit = unit.rstrip("]").strip()
        place = {"line": line, "column": index + 1, "key": header}
        if not header:
            continue
        if word in [taken for taken, _, _ in found.values()]:
            problems.append(Problem("error", name, "the column stands twice", fix="delete one", **place))  # type: ignore[arg-type]
        elif word in TEXTS:
            found[index] = (word, "", "")
        elif word not in known:
            problems.append(Problem("error", name, "unknown column", fix=near(word, [*known, *TEXTS]), **place))  # type: ignore[arg-type]
        else:
            try:
                if unit:
                    factor(unit, known[word])
                found[index] = (word, unit, known[word])
            except UnitError as error:
                problems.append(Problem("error", name, error.message, fix=error.fix, **place))  # type: ignore[arg-type]
    if "specimen" not in [word for word, _, _ in found.values()]:
        problems.append(
            Problem("error", name, "there is no column specimen", line, fix="add one: it names the coupons")
        )
    return found, problems


def _row(
    cells: list[str], line: int, columns: Mapping[int, tuple[str, str, str]], name: str, problems: list[Problem]
) -> CouponRow:
    values: dict[str, Quantity] = {}
    texts: dict[str, str] = {}
    for index, (word, unit, internal) in columns.items():
        cell = cells[index] if index < len(cells) else ""
        if not cell:
            continue
        if not internal:
            texts[word] = cell
            continue
        try:
            value = parse(cell, internal, bare=unit or None)
            if not value > 0.0:
                raise UnitError("a positive number is needed", "correct it, or leave the cell empty")
            values[word] = value
        except UnitError as error:
            problems.append(Problem("error", name, error.message, line, index + 1, word, cell, error.fix))
    surplus = [cell for cell in cells[max(columns, default=0) + 1 :] if cell]
    if surplus:
        message = f"{len(surplus)} more filled cells than headers"
        problems.append(Problem("error", name, message, line, fix="write decimal points, or quote texts with commas"))
    return CouponRow(name, line, texts.get("specimen", f"line {line}"), values, texts)
