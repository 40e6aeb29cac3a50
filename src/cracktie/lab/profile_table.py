"""Tables of strains by place and time, as optical-fibre and other line-wise systems export them: text, zip or gzip.

Long tables are read in pieces and kept as 32-bit numbers (seven digits), so that a table takes less memory than its
text.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.errors import FileTrouble, InputRefused, ModelInputError, Problem
from cracktie.lab.archives import MAX_BYTES, is_spreadsheet, unpack
from cracktie.lab.cells import is_missing
from cracktie.lab.clocks import spread_stamps
from cracktie.lab.encoding import decode
from cracktie.lab.profile import Profile
from cracktie.lab.stamps import read_stamps
from cracktie.units import UnitError, factor

if TYPE_CHECKING:
    import polars

TIMES = ("time", "t", "seconds", "timestamp", "date", "datetime", "date/time", "zeit")
PLACES = ("position", "distance", "length", "place", "location", "fibre", "fiber", "s", "x", "z")
PREAMBLE = 200
"""Lines searched for the headers."""
PIECE = 32_000_000
WORDS = ("NaN", "nan", "NAN", "-NaN", "na", "NA", "n/a", "N/A", "null", "-", "--", "---", "?", "invalid", "OVER")
_VALUE = r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)"
ENDING = re.compile(_VALUE + r"\s*[\[(]?\s*([^\W\d_][^\s\])]*)?\s*[\])]?\s*$")
HEADER = re.compile(r"^\s*([^\[(]*?)\s*(?:[\[(]\s*([^\])]*?)\s*[\])])?\s*$")


@dataclass(frozen=True)
class _Layout:
    """How the table stands: line of the headers (from 1), mark between cells, decimal mark, and what runs down."""

    line: int
    head: tuple[str, ...]
    mark: str
    comma: bool
    by_time: bool
    unit: str


def read_profile(path: Path, name: str, unit: str, *, place_unit: str | None = None) -> Profile:
    """A table with one row a time and one column a place, or one row a place and one column a time.

    The first header cell says which: `time [s]` or `position [mm]`; every other header ends with its place or time
    (`gauge 3 @ 40 mm`, `12.5 s`, `0.65`); where the headers give no unit, `place_unit` does. Times may be stamps of
    date and time: then they count from the first. Lines before the headers are left out, as are those that begin with
    '#'. `unit` is that of the strains. Raises `InputRefused` with what is wrong and where, `FileTrouble` where the file
    cannot be read.
    """
    raw = content(path, name)
    layout, start = _layout(raw, name)
    try:
        scale = factor(unit, "-")
    except UnitError as error:
        raise InputRefused(Problem("error", name, error.message, fix=error.fix)) from None
    first, body, notes = _body(raw, start, layout, name)
    body *= np.float32(scale)
    across = _across(layout, name, place_unit)
    if layout.by_time:
        return _ordered(_seconds(first, layout, name), across, body, name, notes)
    return _ordered(across, _numbers(first, layout, name, layout.unit or place_unit), body.T, name, notes)


def content(path: Path, name: str) -> bytes:
    """UTF-8 bytes of a text, out of its zip or gzip file where it is in one."""
    try:
        if path.stat().st_size > MAX_BYTES:
            fix = "export fewer times or places"
            raise InputRefused(Problem("error", name, f"is larger than {MAX_BYTES / 2**20:.0f} MiB", fix=fix))
        raw = path.read_bytes()
    except OSError as error:
        raise FileTrouble(f"{name}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    if is_spreadsheet(raw):
        raise InputRefused(Problem("error", name, "is a spreadsheet", fix="save the sheet with the strains as CSV"))
    if not raw.strip():
        raise InputRefused(Problem("error", name, "holds no profile", fix="write a row of headers and rows of strains"))
    raw, _ = unpack(raw, name)
    try:
        raw.decode("ascii")
        return raw
    except UnicodeDecodeError:
        return decode(raw, name).text.encode("utf-8")


def first_lines(raw: bytes) -> Iterator[tuple[int, int, str]]:
    """Number (from 1), byte after its end, and text of the first lines."""
    stream = io.BytesIO(raw)
    for number in range(1, PREAMBLE + 1):
        line = stream.readline()
        if not line:
            return
        yield number, stream.tell(), line.decode("utf-8", "replace").rstrip("\r\n")


def cells_of(line: str, mark: str) -> list[str]:
    cells = [c.strip() for c in next(csv.reader([line.replace("\0", "")], delimiter=mark))]
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    return cells


def _layout(raw: bytes, name: str) -> tuple[_Layout, int]:
    """The headers: the first line that names a time or place and then places or times."""
    seen: tuple[int, str] | None = None
    for number, end, text in first_lines(raw):
        if not text.strip() or text.lstrip().startswith(("#", "%")):
            continue
        mark = max("\t;,", key=text.count)
        cells = cells_of(text, mark)
        if len(cells) < 2:
            continue
        seen = seen or (number, cells[0])
        corner = HEADER.match(cells[0])
        word, unit = (corner[1].lower(), corner[2] or "") if corner else ("", "")
        if word in TIMES + PLACES and sum(bool(ENDING.search(c)) for c in cells[1:]) * 2 >= len(cells) - 1:
            comma = mark != "," and "," in raw[end : end + 2000].decode("latin-1")
            return _Layout(number, tuple(cells), mark, comma, word in TIMES, unit), end
    fix = "begin the headers with `time [s]` (one row a time) or `position [mm]` (one row a place)"
    if seen is None:
        raise InputRefused(Problem("error", name, "holds no profile", fix=fix))
    said = "the first column is neither a time nor a place, or the headers name neither places nor times"
    raise InputRefused(Problem("error", name, said, seen[0], 1, seen[1][:60], fix=fix))


def _across(layout: _Layout, name: str, place_unit: str | None) -> Any:
    """Places (mm) or times (s) of the headers."""
    internal = "mm" if layout.by_time else "s"
    what, example = ("place", "40 mm") if layout.by_time else ("time", "12.5 s")
    if not layout.by_time:
        stamps = read_stamps(layout.head[1:], None, name)
        if np.isfinite(stamps.values).all():
            return stamps.values
    bare = place_unit if layout.by_time else "s"
    values, problems, scales = [], [], {}
    for column, cell in enumerate(layout.head[1:], start=2):
        found = ENDING.search(cell)
        unit = (found[2] or bare) if found else None
        if found is None or unit is None:
            fix = f"end every header with its {what}, for example `{example}`"
            fix += ", or state place_unit: m in tests.yaml" if found else ""
            said = f"the header names no {what}" if found is None else "the place has no unit"
            problems.append(Problem("error", name, said, layout.line, column, value=cell[:60], fix=fix))
            continue
        try:
            if unit not in scales:
                scales[unit] = factor(unit, internal)
            values.append(float(found[1].replace(",", ".")) * scales[unit])
        except UnitError as error:
            problems.append(Problem("error", name, error.message, layout.line, column, value=cell[:60], fix=error.fix))
    if problems:
        raise InputRefused(problems[:5])
    return np.array(values)


def _body(raw: bytes, start: int, layout: _Layout, name: str) -> tuple[list[str], Any, tuple[str, ...]]:
    """Texts of the first column, strains as 32-bit numbers (rows x columns), and notes."""
    firsts: list[str] = []
    parts: list[Any] = []
    notes: tuple[str, ...] = ()
    line = layout.line + 1
    while start < len(raw):
        end = len(raw) if start + PIECE >= len(raw) else raw.find(b"\n", start + PIECE) + 1 or len(raw)
        piece = raw[start:end]
        if end == len(raw) and not piece.endswith(b"\n"):
            piece, cut = _finished(piece, layout)
            notes += (f"line {line + piece.count(chr(10).encode())} is cut off and left out",) if cut else ()
        frame = _frame(piece, layout) if piece.strip() else None
        if frame is None and piece.strip():
            raise InputRefused(_faults(piece, line, layout, name))
        if frame is not None:
            firsts += frame.to_series(0).str.strip_chars().fill_null("").to_list()
            parts.append(frame.drop("c0").to_numpy())
        line += piece.count(b"\n")
        start = end
    if not firsts:
        raise InputRefused(Problem("error", name, "holds no profile: headers and no rows", layout.line))
    return firsts, np.concatenate(parts) if len(parts) > 1 else np.array(parts[0]), notes


def _finished(piece: bytes, layout: _Layout) -> tuple[bytes, bool]:
    """The piece without a last line that lacks cells, as a system leaves it that still writes."""
    cut = piece.rfind(b"\n") + 1
    if piece[cut:].count(layout.mark.encode()) < len(layout.head) - 1 and cut:
        return piece[:cut], True
    return piece, False


def _frame(piece: bytes, layout: _Layout) -> polars.DataFrame | None:
    """Rows of a piece, the first column as text; None where a cell is no number or a line has other cells."""
    import polars as pl

    columns = [f"c{i}" for i in range(len(layout.head))]
    mark = layout.mark.encode()
    kept = [text for text in piece.split(b"\n") if text.strip() and not text.lstrip().startswith((b"#", b"%"))]
    counts = {text.rstrip(b"\r").count(mark) for text in kept}
    spare = max(counts, default=0) - len(columns) + 1
    if (len(counts) > 1 and b'"' not in piece) or spare < 0:
        return None
    spares = [f"e{i}" for i in range(spare)]
    try:
        frame = pl.read_csv(
            b"\n".join(kept), separator=layout.mark, has_header=False, decimal_comma=layout.comma,
            schema={c: pl.String if c == "c0" or c in spares else pl.Float32 for c in columns + spares},
            null_values=list(WORDS), truncate_ragged_lines=False,
        )  # fmt: skip
    except pl.exceptions.PolarsError:
        return _stripped(kept, layout, columns, spares)
    return frame.drop(spares) if _blank(frame, spares) else None


def _stripped(kept: list[bytes], layout: _Layout, columns: list[str], spares: list[str]) -> polars.DataFrame | None:
    """As `_frame`, for cells with blanks about their numbers; slower."""
    import polars as pl

    schema = dict.fromkeys(columns + spares, pl.String)
    try:
        frame = pl.read_csv(b"\n".join(kept), separator=layout.mark, has_header=False, schema=schema)
        text = pl.all().exclude("c0", *spares).str.strip_chars()
        if layout.comma:
            text = text.str.replace(",", ".", literal=True)
        missing = text.str.to_lowercase().is_in([w.lower() for w in WORDS] + [""])
        numbers = pl.when(~missing).then(text).cast(pl.Float32)
        frame = frame.with_columns(numbers)
    except pl.exceptions.PolarsError:
        return None
    return frame.drop(spares) if _blank(frame, spares) else None


def _blank(frame: polars.DataFrame, columns: list[str]) -> bool:
    return all(not (frame[c].fill_null("").str.strip_chars() != "").any() for c in columns)


def _faults(piece: bytes, line: int, layout: _Layout, name: str) -> list[Problem]:
    """What is wrong with a piece that could not be read, with lines and columns."""
    found: list[Problem] = []
    for number, text in enumerate(piece.decode("utf-8", "replace").split("\n"), start=line):
        if not text.strip() or text.lstrip().startswith(("#", "%")) or len(found) >= 5:
            continue
        cells = cells_of(text, layout.mark)
        if len(cells) > len(layout.head) or text.count(layout.mark) < len(layout.head) - 1:
            fix = "write decimal points, and one cell a column"
            said = f"{len(cells)} cells for {len(layout.head)} headers"
            found.append(Problem("error", name, said, number, fix=fix))
            continue
        for column, cell in enumerate(cells[1:], start=2):
            if not is_missing(cell) and cell not in WORDS and not _number(cell, layout.comma) and len(found) < 5:
                fix = "write a number with a decimal point, or leave the cell empty"
                found.append(Problem("error", name, "is no number", number, column, value=cell[:60], fix=fix))
    return found or [Problem("error", name, "is no table of numbers", line, fix="export it as CSV again")]


def _number(cell: str, comma: bool) -> bool:
    try:
        float(cell.replace(",", ".") if comma else cell)
        return True
    except ValueError:
        return False


def _seconds(cells: list[str], layout: _Layout, name: str) -> Any:
    """Times of the first column: numbers in their unit (s where none is named), or stamps counted from the first."""
    stamps = read_stamps(cells, None, name) if not _number(cells[0], layout.comma) else None
    if stamps is not None and stamps.questions:
        raise InputRefused(Problem("error", name, stamps.questions[0].text, fix="export the dates as year-month-day"))
    if stamps is not None and np.isfinite(stamps.values).all():
        values = stamps.values
        return values - values[0]
    return _numbers(cells, layout, name, layout.unit or "s", internal="s")


def _numbers(cells: list[str], layout: _Layout, name: str, unit: str | None, internal: str = "mm") -> Any:
    """Values of the first column in the internal unit."""
    what = "time" if internal == "s" else "place"
    if unit is None:
        fix = "write `position [mm]` as the first header, or state place_unit: m in tests.yaml"
        raise InputRefused(Problem("error", name, "the places have no unit", layout.line, 1, layout.head[0], fix=fix))
    try:
        scale = factor(unit, internal)
    except UnitError as error:
        raise InputRefused(
            Problem("error", name, error.message, layout.line, 1, layout.head[0], fix=error.fix)
        ) from None
    bad = next((i for i, c in enumerate(cells) if not _number(c, layout.comma)), None)
    if bad is not None:
        fix = f"give every row its {what}"
        raise InputRefused(
            Problem("error", name, f"the {what} is no number", layout.line + 1 + bad, 1, cells[bad][:60], fix=fix)
        )
    return np.array([float(c.replace(",", ".") if layout.comma else c) for c in cells]) * scale


def _ordered(time: Any, position: Any, strain: Any, name: str, notes: tuple[str, ...]) -> Profile:
    """Ascending in both; whole seconds of several readings are spread, the same place twice is refused."""
    rows, columns = np.argsort(time, kind="stable"), np.argsort(position, kind="stable")
    time, position = time[rows], position[columns]
    if np.isfinite(time).all() and 2 < np.unique(time).size < time.size:
        try:
            time = spread_stamps(time)
            notes += ("stamps of whole seconds with several readings each are spread evenly",)
        except ModelInputError:
            pass  # told below
    for what, values in (("time", time), ("place", position)):
        twice = np.flatnonzero(np.diff(values) <= 0.0)
        if twice.size or not np.isfinite(values).all():
            at = f"{values[twice[0]]:g}" if twice.size else "a missing one"
            raise InputRefused(Problem("error", name, f"the {what} {at} stands twice", fix="export each only once"))
    if (np.diff(rows) != 1).any():
        strain = strain[rows]
    if (np.diff(columns) != 1).any():
        strain = strain[:, columns]
    return Profile(time, position, strain, notes)
