"""Look over a block of readings: time steps, repeats, restarts, saturation, constant channels."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.lab.columns import Column
from cracktie.lab.lines import runs
from cracktie.lab.report import GAP_FACTOR, BlockReport, Gap

if TYPE_CHECKING:
    import polars

SECONDS = {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
_TIME_NAME = re.compile(
    r"(?:.*[ _.])?(t|time|times?tamp|zeit|laufzeit|elapsed.*|uhrzeit|tageszeit|temps|tiempo|tempo|datum|date)\Z", re.I
)
_SATURATED_ROWS = 3
_DISTINCT_ENOUGH = 10


def find_time(frame: polars.DataFrame, units: Mapping[str, str], stamped: Mapping[str, bool]) -> str | None:
    """The column that most likely is the time: rises, and has a unit of time, stamps or a name that says so."""
    best, best_score = None, 0.0
    for name in frame.columns:
        said = 3.0 * (units.get(name) in SECONDS) + 1.5 * bool(_TIME_NAME.match(name))
        if not said:
            continue
        values = frame[name].to_numpy()
        finite = values[np.isfinite(values)]
        if finite.size < 0.9 * len(values) or finite.size < 1 or (finite.size > 1 and np.ptp(finite) == 0):
            continue
        said += 0.5 * (not stamped.get(name))  # elapsed time is finer than clock stamps
        rising = float((np.diff(finite) >= 0).mean()) if finite.size > 1 else 1.0
        few_restarts = (np.diff(finite) < 0).sum() <= 3
        score = said * (rising > (0.5 if few_restarts else 0.9)) * rising
        if score > best_score:
            best, best_score = name, score
    return best


def look_over(
    name: str, frame: polars.DataFrame, columns: Mapping[str, Column], time: str | None, unit: str
) -> BlockReport:
    """Findings on one block; `unit` is the unit of the time column ('' is taken for seconds)."""
    saturated: dict[str, int] = {}
    constant, empty = [], []
    for column in frame.columns:
        values = frame[column].to_numpy()
        finite = values[np.isfinite(values)]
        if finite.size == 0:
            empty.append(column)
        elif finite.size > 1 and finite.min() == finite.max():
            constant.append(column)
        elif column != time and not columns[column].stamps:
            count = _saturated(values, finite)
            if count:
                saturated[column] = count
    step, gaps, repeats, segments = None, (), 0, ((0, frame.height - 1),)
    if time is not None and frame.height > 1:
        step, gaps, repeats, segments = _time_steps(frame[time].to_numpy() * SECONDS.get(unit, 1.0))  # type: ignore[assignment]
    return BlockReport(
        name,
        frame.height,
        step,
        gaps,
        repeats,
        segments,
        saturated,
        tuple(constant),
        tuple(empty),
        {c: columns[c].over for c in frame.columns if columns[c].over},
        {c: (columns[c].unreadable, columns[c].samples) for c in columns if columns[c].unreadable},
    )


def _time_steps(time: Any) -> tuple[float | None, tuple[Gap, ...], int, tuple[tuple[int, int], ...]]:
    index = np.flatnonzero(np.isfinite(time))
    if index.size < 2:
        return None, (), 0, ((0, len(time) - 1),)
    known = time[index]
    steps = np.diff(known)
    forward = steps[steps > 0]
    median = float(np.median(forward)) if forward.size else None
    gaps = (
        tuple(Gap(int(index[i]), float(known[i]), float(steps[i])) for i in np.flatnonzero(steps > GAP_FACTOR * median))
        if median
        else ()
    )
    starts = [0, *(int(index[i + 1]) for i in np.flatnonzero(steps < 0))]
    ends = [*(s - 1 for s in starts[1:]), len(time) - 1]
    return median, gaps, int((steps == 0).sum()), tuple(zip(starts, ends, strict=True))


def _saturated(values: Any, finite: Any) -> int:
    """Rows in runs of three or more equal readings at the largest or smallest value."""
    rows = 0
    for extreme in (finite.min(), finite.max()):
        if extreme == 0.0:
            continue  # a channel resting at exactly zero is idle, not saturated
        mask = values == extreme
        if mask.sum() >= _SATURATED_ROWS:
            rows += sum(b - a + 1 for a, b in runs(mask) if b - a + 1 >= _SATURATED_ROWS)
    return rows if rows and np.unique(finite[:100_000]).size > _DISTINCT_ENOUGH else 0
