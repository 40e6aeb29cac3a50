"""Text of simulated logger files, with the everyday faults of real ones."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

SIMULATED = "simulated by cracktie: invented data, no beam was loaded"
"""First line of every simulated log, whatever faults are on."""
RAIL = 19999.0
"""What a lost strain gauge reads, um/m."""
DECIMALS = {"kN": 2, "N": 0, "mm": 3, "um/m": 1, "degC": 1, "s": 2}


@dataclass(frozen=True)
class Faults:
    """Which everyday faults of real logs are put in; every one can be switched off (`Faults.none()`)."""

    preamble: bool = True
    unit_row: bool = True
    offsets: bool = True
    noise: bool = True
    spike: bool = False
    lost_gauge: bool = False
    missing_words: bool = False
    decimal_comma: bool = False
    latin1: bool = False
    second_clock: bool = True
    instruments: bool = True

    @classmethod
    def none(cls) -> Faults:
        """A clean file: one header with units, no preamble but the line that says simulated."""
        return cls(preamble=False, unit_row=False, offsets=False, noise=False, second_clock=False, instruments=False)


@dataclass(frozen=True)
class Column:
    """One column of a log: header, unit, values; `words` maps rows to texts written instead of a value."""

    name: str
    unit: str
    values: Any
    words: Mapping[int, str]


@dataclass(frozen=True)
class Style:
    """How a logger writes: `hall` (comma, point, UTF-8) or `cabinet` (semicolon, comma, Latin-1)."""

    decimal_comma: bool
    latin1: bool
    preamble: Sequence[str]
    unit_row: bool

    @property
    def delimiter(self) -> str:
        """Between cells; a decimal comma needs a semicolon."""
        return ";" if self.decimal_comma else ","


def log_bytes(columns: Sequence[Column], style: Style) -> bytes:
    """The file: the simulated line, preamble, header (with a unit row or units in brackets) and readings."""
    import polars as pl

    mark = style.delimiter
    unit = {"um/m": "µm/m", "degC": "°C"} if style.latin1 else {}
    shown = [unit.get(c.unit, c.unit) for c in columns]
    names = [c.name for c in columns]
    lines = [f"# {SIMULATED}", *style.preamble, ""] if style.preamble else [f"# {SIMULATED}"]
    if style.unit_row:
        lines += [mark.join(names), mark.join(shown)]
    else:
        lines.append(mark.join(f"{n} [{u}]" for n, u in zip(names, shown, strict=True)))
    data = {f"c{i}": np.round(c.values, DECIMALS.get(c.unit, 3)) + 0.0 for i, c in enumerate(columns)}
    frame = pl.DataFrame(data)
    for i, column in enumerate(columns):
        if column.words:
            texts = frame[f"c{i}"].cast(pl.String).to_list()
            for row, word in column.words.items():
                texts[row] = word
            frame = frame.with_columns(pl.Series(f"c{i}", texts, dtype=pl.String))
    out = io.BytesIO()
    frame.write_csv(out, include_header=False, separator=mark, quote_style="never")
    body = out.getvalue()
    if style.decimal_comma:
        body = body.replace(b".", b",")
    end = "\r\n" if style.latin1 else "\n"
    if style.latin1:
        body = body.replace(b"\n", b"\r\n")
    return (end.join(lines) + end).encode("latin-1" if style.latin1 else "utf-8") + body
