"""Tables of coupon results, text or spreadsheet: one row a specimen, headers with units, problems with their place."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cracktie.campaign.explain import near
from cracktie.campaign.positions import decode
from cracktie.errors import FileTrouble, InputRefused, Problem
from cracktie.units import Quantity, UnitError, factor, parse

TEXTS = ("specimen", "shape", "failure", "mode", "loading", "tested", "excluded", "note")
LEAST, MOST = 1e-9, 1e12
"""Bounds of every value in internal units; beyond them arithmetic itself fails."""
SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".ods")
COLUMNS: Mapping[str, Mapping[str, str]] = {
    "concretes": {
        "age": "d", "force": "N", "diameter": "mm", "length": "mm", "width": "mm", "depth": "mm", "mass": "g",
        "split_force": "N", "flexural_force": "N", "span": "mm", "f_c": "MPa", "E_c": "MPa", "f_ct": "MPa",
        "f_ct_split": "MPa", "f_ct_fl": "MPa", "pull_off_force": "N", "pull_off": "MPa",
    },
    "bars": {
        "diameter": "mm", "area": "mm2", "mass": "g", "length": "mm", "yield_force": "N", "max_force": "N",
        "f_y": "MPa", "f_u": "MPa", "R_eH": "MPa", "R_eL": "MPa", "R_p0.2": "MPa", "R_m": "MPa", "E_s": "MPa",
        "A_g": "-", "A_gt": "-",
    },
    "frp_systems": {
        "width": "mm", "max_force": "N", "force_per_width": "N/mm", "stiffness_per_width": "N/mm", "f_fu": "MPa",
        "E_f": "MPa", "thickness": "mm", "eps_fu": "-",
    },
    "adhesives": {
        "f_t": "MPa", "E_a": "MPa", "max_force": "N", "width": "mm", "thickness": "mm", "area": "mm2", "T_g": "degC",
        "pull_off_force": "N", "diameter": "mm", "pull_off": "MPa",
    },
    "anchors_tested": {"force": "N", "age": "d", "f_c": "MPa"},
}  # fmt: skip
"""Columns a table may have for each kind of material, with their internal units."""


@dataclass(frozen=True)
class CouponRow:
    """One specimen: values in internal units (with u where stated), texts, and the line it stands in.

    `notes` are remarks of its reduction; `curve` strains and stresses of a bar, where its log was read.
    """

    file: str
    line: int
    specimen: str
    values: Mapping[str, Quantity]
    texts: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    curve: tuple[Any, Any] | None = None

    def problem(self, message: str, fix: str = "", *, level: str = "error") -> Problem:
        """A problem of this row."""
        return Problem(level, self.file, f"{self.specimen}: {message}", self.line, fix=fix)


def read_rows(path: Path, name: str, kind: str) -> tuple[list[CouponRow], list[Problem]]:
    """Rows of a table (comma, semicolon or tab; or the one sheet of a spreadsheet) and what is wrong with it.

    Lines that begin with '#' are remarks. Raises `FileTrouble` where the file cannot be opened.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileTrouble(f"{name}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    problem: Problem | None
    if path.suffix.lower() in SPREADSHEETS:
        text, problem = _sheet(data, name)
        delimiters = "\t"
    else:
        text, problem = decode(data, name)
        delimiters = ",;\t"
    if problem is not None:
        return [], [problem]
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip() and line[0] != "#"]
    if len(lines) < 2:
        fix = "write a row of headers such as `specimen, age [d], f_c [MPa]` and a row for each specimen"
        return [], [Problem("error", name, "holds no coupon", fix=fix)]
    delimiter = max(delimiters, key=lines[0][1].count)
    columns, problems = _columns(_cells(lines[0][1], delimiter), name, lines[0][0], kind)
    rows: list[CouponRow] = []
    if not problems and path.suffix.lower() in (".xlsx", ".xlsm"):
        problems = _unsaved_formulas(data, name, text.splitlines())
    for number, line in lines[1:] if not problems else ():
        row = _row(_cells(line, delimiter), number, columns, name, problems)
        if row.specimen.casefold() in [other.specimen.casefold() for other in rows]:
            problems.append(row.problem("the specimen stands twice", "number the specimens"))
        rows.append(row)
    return rows, problems


def _sheet(data: bytes, name: str) -> tuple[str, Problem | None]:
    """Text of the only filled sheet, cells parted by tabs."""
    from cracktie.lab.spreadsheets import sheets_as_text

    try:
        sheets = sheets_as_text(data, name)
    except InputRefused as refusal:
        return "", refusal.problems[0]
    if len(sheets) > 1:
        told = f"{len(sheets)} sheets hold something: {', '.join(sheet for sheet, _ in sheets)}"
        return "", Problem("error", name, told, fix="keep the table of coupons in a file of its own")
    return sheets[0][1], None


def _unsaved_formulas(data: bytes, name: str, lines: list[str]) -> list[Problem]:
    """Cells with a formula whose value was never saved, or with an error: they would read as empty."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    found = []
    cells = [line.split("\t") for line in lines]
    headers = next((row for row in cells if any(cell.strip() for cell in row)), [])
    for sheet in book.worksheets:
        for line, row in enumerate(sheet.iter_rows(values_only=True), start=1):
            for column, value in enumerate(row, start=1):
                if not isinstance(value, str) or not value.startswith(("=", "#")) or value == "#":
                    continue
                read = cells[line - 1] if line <= len(cells) else []
                if column > len(read) or not read[column - 1].strip():
                    told, fix = "an error of the spreadsheet", "write the number, or leave the cell empty"
                    if value[0] == "=":
                        told = "a formula without a value in the file, or with an error"
                        fix = "open the file in a spreadsheet program and save it, or write the number"
                    key = headers[column - 1].strip() if column <= len(headers) else ""
                    found.append(Problem("error", name, told, line, column, key, value, fix))
    book.close()
    return found


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
            if cell[0] == "=" or cell[0] == "#":
                said = "a formula" if cell[0] == "=" else "an error of the spreadsheet"
                raise UnitError(f"{said}, not a number", "write the number, or save the table with values only")
            value = parse(cell, internal, bare=unit or None)
            if not (value > 0.0 and math.isfinite(value)):
                raise UnitError("a positive number is needed", "correct it, or leave the cell empty")
            if not LEAST < value < MOST:
                raise UnitError("no coupon has such a value", "correct it, or leave the cell empty")
            values[word] = value
        except UnitError as error:
            problems.append(Problem("error", name, error.message, line, index + 1, word, cell, error.fix))
    surplus = [cell for cell in cells[max(columns, default=0) + 1 :] if cell]
    if surplus:
        message = f"{len(surplus)} more filled cells than headers"
        problems.append(Problem("error", name, message, line, fix="write decimal points, or quote texts with commas"))
    return CouponRow(name, line, texts.get("specimen", f"line {line}"), values, texts)
