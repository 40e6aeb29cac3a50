"""Cells of a table become columns of numbers: the bulk by polars, the odd cells one by one."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.lab.answers import Answers
from cracktie.lab.cells import OVER_LIMIT, is_missing, is_over, number, stamp
from cracktie.lab.dialect import cells
from cracktie.lab.lines import Lines
from cracktie.lab.report import Question
from cracktie.lab.stamps import read_stamps

if TYPE_CHECKING:
    import polars

_SEPARATOR = "\x1f"


@dataclass
class Column:
    """One column while it is read: float values (NaN missing), and what was met on the way."""

    values: Any
    unit: str = ""
    stamps: bool = False
    origin: datetime | None = None
    over: int = 0
    unreadable: int = 0
    samples: tuple[str, ...] = ()
    texts: tuple[str, ...] = ()
    questions: list[Question] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def read_columns(
    lines: Lines, rows: Any, width: int, delimiter: str, decimal: str, answers: Answers, file: str
) -> list[Column]:
    """The columns of the table that stands on the given lines."""
    raw = _bytes(lines, rows, delimiter)
    mark = "\t" if delimiter == " " else delimiter
    quoted = b'"' in raw
    if quoted:
        raw, mark = _requote(raw, mark), _SEPARATOR
    mixed = decimal == "," and b"." in raw
    if mixed:
        numbers: list[Any] = [None] * width
        suspects = list(range(width))
    else:
        frame = _csv(raw, mark, width, "float", decimal, None)
        numbers = [frame[name].to_numpy() for name in frame.columns]
        suspects = [i for i, name in enumerate(frame.columns) if frame[name].null_count()]
    texts = _csv(raw, mark, width, "text", decimal, suspects) if suspects else None
    out = []
    for i in range(width):
        if i in set(suspects) and texts is not None:
            out.append(_from_text(texts[f"c{i}"], decimal, answers, file))
        else:
            out.append(_plain(np.array(numbers[i], dtype=float)))
    return out


def _bytes(lines: Lines, rows: Any, delimiter: str) -> bytes:
    data = lines.data
    if delimiter == " ":
        return b"\n".join(
            b"\t".join(data[s:e].split()) for s, e in zip(lines.starts[rows], lines.ends[rows], strict=True)
        )
    if len(rows) == rows[-1] - rows[0] + 1:
        return data[lines.starts[rows[0]] : lines.ends[rows[-1]]]
    return b"\n".join(data[s:e] for s, e in zip(lines.starts[rows], lines.ends[rows], strict=True))


def _requote(raw: bytes, mark: str) -> bytes:
    """Cells without quotation marks, parted by a character no log uses: a delimiter inside quotes stays text."""
    text = raw.decode("utf-8").replace(_SEPARATOR, " ")
    return "\n".join(_SEPARATOR.join(cells(line, mark)) for line in text.split("\n")).encode("utf-8")


def _csv(raw: bytes, mark: str, width: int, kind: str, decimal: str, only: Sequence[int] | None) -> polars.DataFrame:
    import polars as pl

    dtype = pl.Float64 if kind == "float" else pl.String
    guard = mark.encode() * (width - 1) + b"\n"  # polars wants the first line to have every column
    frame = pl.read_csv(
        io.BytesIO(guard + raw),
        separator=mark,
        has_header=False,
        quote_char=None,
        ignore_errors=True,
        truncate_ragged_lines=True,
        schema={f"c{i}": dtype for i in range(width)},
        decimal_comma=kind == "float" and decimal == ",",
        columns=None if only is None else list(only),
    )
    return frame[1:] if frame.height == raw.count(b"\n") + 2 else _slow_csv(raw, mark, width, kind, decimal, only)


def _slow_csv(
    raw: bytes, mark: str, width: int, kind: str, decimal: str, only: Sequence[int] | None
) -> polars.DataFrame:
    import polars as pl

    table = [line.split(mark) for line in raw.decode("utf-8").split("\n")]
    names = range(width) if only is None else only
    texts = {f"c{i}": [row[i] if i < len(row) else None for row in table] for i in names}
    frame = pl.DataFrame(texts, schema=dict.fromkeys(texts, pl.String))
    if kind == "text":
        return frame
    return frame.with_columns([_cast(frame[name], decimal) for name in frame.columns])


def _cast(text: polars.Series, decimal: str) -> polars.Series:
    import polars as pl

    if decimal == ",":
        text = pl.select(
            pl.when(~text.str.contains(".", literal=True)).then(text.str.replace(",", ".", literal=True))
        ).to_series()
    return text.cast(pl.Float64, strict=False)


def _plain(values: Any) -> Column:
    over = ~np.isnan(values) & (np.abs(values) >= OVER_LIMIT)
    values[over] = np.nan
    return Column(values, over=int(over.sum()))


def _from_text(text: polars.Series, decimal: str, answers: Answers, file: str) -> Column:
    import polars as pl

    name = text.name
    text = text.str.strip_chars().fill_null("")
    values = _cast(text, decimal).alias(name).to_numpy().copy()
    left = text.filter(pl.Series(np.isnan(values))).unique(maintain_order=True)
    left = left.filter((left != "") & ~left.str.to_lowercase().is_in(["nan", "-nan", "+nan"]))
    if left.len() and _mostly_stamps(left):
        return _stamp_column(text, answers, file)
    column = _plain(values)
    if left.len():
        _odd_cells(column, text, left.to_list(), decimal)
    return column


def _mostly_stamps(left: polars.Series) -> bool:
    probe = left.gather_every(max(1, left.len() // 50)).to_list()
    asked = [cell for cell in probe if not is_missing(cell) and not is_over(cell)]
    return bool(asked) and sum(stamp(cell) is not None for cell in asked) >= 0.8 * len(asked)


def _odd_cells(column: Column, text: polars.Series, odd: list[str], decimal: str) -> None:
    meaning: dict[str, float] = {}
    over, bad = set(), []
    for cell in odd:
        value = number(cell, decimal)
        if value is not None:
            meaning[cell] = value
            if abs(value) >= OVER_LIMIT:
                over.add(cell)
        elif is_over(cell):
            over.add(cell)
        elif not is_missing(cell):
            bad.append(cell)
    array = text.to_numpy()
    wanted = np.isin(array.astype(str), odd) if len(odd) < 1000 else np.isnan(column.values)
    shut = set(bad)
    counts: dict[str, int] = {}
    for i in np.flatnonzero(wanted):
        cell = array[i]
        if cell in over:
            column.over += 1
            column.values[i] = np.nan
        elif cell in meaning:
            column.values[i] = meaning[cell]
        elif cell in shut:
            counts[cell] = counts.get(cell, 0) + 1
    column.unreadable = sum(counts.values())
    column.samples = tuple(list(counts)[:3])
    if column.unreadable and np.isnan(column.values).all():
        column.texts, column.unreadable = tuple(list(counts)[:20]), 0


def _iso_column(text: polars.Series) -> Column | None:
    """The common ISO form by polars, for long logs; None where any cell has another form."""
    if text.len() == 0 or text.str.len_chars().max() > 26:  # type: ignore[operator]
        return None  # more digits than microseconds
    for form in ("%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%d %H:%M:%S%.f"):
        if text[0][10:11] != form[8]:
            continue
        moments = text.str.to_datetime(form, time_unit="us", strict=False)
        if moments.null_count() == 0:
            elapsed = (moments - moments[0]).dt.total_microseconds().to_numpy() / 1e6
            return Column(elapsed, unit="s", stamps=True, origin=moments[0])
    return None


def _stamp_column(text: polars.Series, answers: Answers, file: str) -> Column:
    quick = _iso_column(text)
    if quick is not None:
        return quick
    found = read_stamps(text.to_list(), answers, file)
    return Column(
        found.values,
        unit="s",
        stamps=True,
        origin=found.origin,
        unreadable=found.unreadable,
        samples=found.samples,
        questions=list(found.questions),
        notes=list(found.notes),
    )
