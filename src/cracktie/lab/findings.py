"""Look over a block of readings: clock, time steps, repeats, restarts, saturation, constant and doubtful channels."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.lab.answers import Answers
from cracktie.lab.columns import Column
from cracktie.lab.lines import runs
from cracktie.lab.plausible import suspicions
from cracktie.lab.report import GAP_FACTOR, Block, BlockReport, Gap, Question
from cracktie.lab.timeline import Clock, settle_clock

if TYPE_CHECKING:
    import polars

SECONDS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0, "h": 3600.0, "d": 86_400.0}
_TIME_NAME = re.compile(
    r"(?:.*[ _.])?(t|time|times?tamp|clock|zeit|laufzeit|elapsed.*|uhrzeit|tageszeit|temps|"
    r"horloge|tiempo|tempo|datum|date)\Z",
    re.I,
)
_SATURATED_ROWS = 3
_DISTINCT_ENOUGH = 10
_LOOKED_AT = 10_000
"""Rows, evenly taken, in which doubtful channels are sought."""


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


def finish(block: Block, columns: Mapping[str, Column], answers: Answers) -> tuple[Block, BlockReport, list[Question]]:
    """A block with its clock settled, what was found in it, and what its clock leaves open."""
    time = block.time
    if time is None or block.frame.height < 2:
        return block, look_over(block, columns, None), []
    values = block.frame[time].to_numpy()
    stamped = columns[time].stamps
    clock = settle_clock(
        time, values, block.units.get(time, ""), stamped, block.origins.get(time), _rows_of(block, time),
        answers.time_unit, answers.clock_change,
    )  # fmt: skip
    block = _with_clock(block, time, clock)
    return block, look_over(block, columns, clock), clock.questions


def _rows_of(block: Block, time: str) -> Any:
    """A function that gives chosen rows of the columns beside the time, a missing reading as a number of its own."""
    others = [name for name in block.frame.columns if name != time]
    return lambda rows: block.frame.select(others)[rows].fill_null(1e300).to_numpy()


def _with_clock(block: Block, time: str, clock: Clock) -> Block:
    import polars as pl

    units = {**block.units, time: clock.unit}
    origins: dict[str, datetime] = dict(block.origins)
    if clock.origin is not None:
        origins[time] = clock.origin
    if np.array_equal(clock.values, block.frame[time].to_numpy(), equal_nan=True):
        return replace(block, units=units, origins=origins)
    column = pl.Series(time, clock.values, dtype=pl.Float64).fill_nan(None)
    return replace(block, frame=block.frame.with_columns(column), units=units, origins=origins)


def look_over(block: Block, columns: Mapping[str, Column], clock: Clock | None) -> BlockReport:
    """Findings on one block whose clock is settled (None: it has none)."""
    frame, time = block.frame, block.time
    channels = [name for name in frame.columns if name != time and not columns[name].stamps]
    empty = [name for name in frame.columns if frame[name].null_count() == frame.height]
    constant, saturated = _extremes(frame, [name for name in channels if name not in empty])
    step, gaps, segments = None, (), ((0, frame.height - 1),)
    scale = SECONDS.get(clock.unit, 1.0) if clock else 1.0
    if time is not None and clock is not None:
        step, gaps, segments = _time_steps(frame[time].to_numpy() * scale)  # type: ignore[assignment]
    thin = frame.gather_every(max(1, frame.height // _LOOKED_AT))
    told = {name: thin[name].to_numpy() for name in channels if name not in (*constant, *empty)}
    seconds = thin[time].to_numpy() * scale if time is not None else None
    return BlockReport(
        block.name,
        frame.height,
        step,
        gaps,
        clock.doubled if clock else 0,
        segments,
        saturated,
        tuple(constant),
        tuple(empty),
        {c: columns[c].over for c in frame.columns if columns[c].over},
        {c: (columns[c].unreadable, columns[c].samples) for c in columns if columns[c].unreadable},
        {c: n for c, n in block.missing.items() if n},
        (*(clock.notes if clock else ()), *suspicions(told, block.units, seconds)),
    )


def _extremes(frame: polars.DataFrame, names: list[str]) -> tuple[list[str], dict[str, int]]:
    """Channels that never change, and rows at the extreme value of the others; most need one look by polars."""
    import polars as pl

    if not names or frame.height < 2:
        return [], {}
    chosen = pl.col(names)
    low, high = (frame.select(x).row(0) for x in (chosen.min(), chosen.max()))
    known = frame.height - np.array(frame.select(chosen.null_count()).row(0))
    at_low, at_high = (
        frame.select(pl.col(n) == v for n, v in zip(names, end, strict=True)).sum().row(0) for end in (low, high)
    )
    constant, saturated = [], {}
    for i, name in enumerate(names):
        if low[i] == high[i]:
            constant += [name] if known[i] > 1 else []
        elif max(at_low[i], at_high[i]) >= _SATURATED_ROWS and (rows := _saturated(frame[name].to_numpy())):
            saturated[name] = rows
    return constant, saturated


def _time_steps(time: Any) -> tuple[float | None, tuple[Gap, ...], tuple[tuple[int, int], ...]]:
    index = np.flatnonzero(np.isfinite(time))
    if index.size < 2:
        return None, (), ((0, len(time) - 1),)
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
    return median, gaps, tuple(zip(starts, ends, strict=True))


def _saturated(values: Any) -> int:
    """Rows in runs of three or more equal readings at the largest or smallest value."""
    rows = 0
    for extreme in (np.nanmin(values), np.nanmax(values)):
        if extreme == 0.0:
            continue  # a channel resting at exactly zero is idle, not saturated
        rows += sum(b - a + 1 for a, b in runs(values == extreme) if b - a + 1 >= _SATURATED_ROWS)
    finite = values[:100_000][np.isfinite(values[:100_000])]
    return rows if rows and np.unique(finite).size > _DISTINCT_ENOUGH else 0
