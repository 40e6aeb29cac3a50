"""Small invented logs with a planted truth, written with chosen faults."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Truth:
    """Columns of the planted log: time s, load kN, deflection mm, strain um/m."""

    time: np.ndarray
    load: np.ndarray
    deflection: np.ndarray
    strain: np.ndarray

    def columns(self) -> list[np.ndarray]:
        return [self.time, self.load, self.deflection, self.strain]


HEADER = ("time [s]", "load [kN]", "deflection [mm]", "e1 [um/m]")


def truth(rows: int = 120) -> Truth:
    t = np.round(np.arange(rows) * 0.1, 3)
    load = np.round(2.0 + 1.25 * t + 0.3 * np.sin(3.1 * t), 4)
    return Truth(t, load, np.round(0.05 + 0.031 * t**1.1, 5), np.round(-3.0 + 41.7 * t + 0.5 * np.cos(t), 2))


def write(
    table: Truth,
    *,
    delimiter: str = ";",
    decimal: str = ".",
    header: tuple[str, ...] | None = HEADER,
    unit_row: tuple[str, ...] | None = None,
    preamble: tuple[str, ...] = (),
    end: str = "\n",
    cell: Callable[[int, int, str], str] = lambda i, j, text: text,
    line: Callable[[int, str], str] = lambda i, text: text,
) -> str:
    """The log as text; `cell` may spoil single cells and `line` whole lines."""
    out = list(preamble)
    if header is not None:
        out.append(delimiter.join(header))
    if unit_row is not None:
        out.append(delimiter.join(unit_row))
    for i, row in enumerate(zip(*table.columns(), strict=True)):
        texts = [cell(i, j, repr(float(value)).replace(".", decimal)) for j, value in enumerate(row)]
        out.append(line(i, delimiter.join(texts)))
    return end.join(out) + end
