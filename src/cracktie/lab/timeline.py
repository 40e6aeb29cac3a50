"""The clock of a block: unit, counts since 1970, day numbers, stamps of several rows, changed clocks, restarts."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.clocks import spread_stamps
from cracktie.lab.report import Question
from cracktie.lab.stamps import DAY, seconds_since_1970, serial_days

HOUR = 3600.0
_SHORTEST_STEP = 2e-3
"""Day numbers taken for seconds would step by less than this (s)."""
_REGULAR = 0.99


@dataclass
class Clock:
    """Time of a block as taken (in the unit it had, or s) with what was found on it."""

    values: Any
    unit: str
    origin: datetime | None = None
    doubled: int = 0
    questions: list[Question] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def settle_clock(
    name: str, values: Any, unit: str, stamped: bool, origin: datetime | None, others: Any,
    time_unit: str | None = None, clock_change: str | None = None,
) -> Clock:  # fmt: skip
    """The time column in seconds or in its stated unit, with the rows of one stamp spread where that is certain.

    `values` may hold NaN; `others` gives the other columns of two rows (index arrays) for a look at doubled rows. What
    stays open is a question in the result.
    """
    clock = Clock(np.array(values, dtype=float), unit, origin)
    if not stamped:
        _find_unit(name, clock, time_unit)
    steps = np.diff(clock.values[np.isfinite(clock.values)])
    clock.doubled = int((steps == 0).sum())
    if stamped and clock_change != "keep":
        _undo_change(clock, clock_change)
    if clock.doubled:
        _spread(name, clock, others)
    return clock


def _find_unit(name: str, clock: Clock, stated: str | None) -> None:
    """Counts since 1970 and day numbers become seconds; another column without a unit is taken for seconds, told."""
    if stated is not None:
        clock.unit = stated
    since = None if stated in ("min", "h", "d") else seconds_since_1970(clock.values, stated or clock.unit)
    if since is not None:
        clock.values, clock.origin = since
        clock.unit = "s"
        clock.notes.append(f"time {name!r}: counted from 1970, it begins on {clock.origin:%Y-%m-%d %H:%M:%S} UTC")
        return
    serial = serial_days(clock.values) if stated in (None, "d") and clock.unit in ("", "d") else None
    if serial is not None and (stated == "d" or _steps_as_days(clock.values)):
        first = clock.values[np.isfinite(clock.values)][0]
        clock.values, clock.origin = serial
        clock.unit = "s"
        clock.notes.append(f"time {name!r}: spreadsheet day numbers, the first is {clock.origin:%Y-%m-%d %H:%M:%S}")
        if stated is None:
            clock.questions.append(
                Question(
                    "time unit",
                    f"the time {name!r} has no unit and begins at {first:.10g}",
                    ("spreadsheet day numbers", "seconds"),
                    "read as day numbers, as seconds they would step by microseconds",
                    ("time_unit: d", "time_unit: s"),
                )
            )
    elif not clock.unit:
        clock.notes.append(
            f"time {name!r} has no unit, taken as seconds (another one is stated by `time_unit: ms`, min, h or d)"
        )


def _steps_as_days(values: Any) -> bool:
    steps = np.diff(values[np.isfinite(values)])
    steps = steps[steps > 0]
    return bool(steps.size) and float(np.median(steps)) < _SHORTEST_STEP


def _undo_change(clock: Clock, stated: str | None) -> None:
    """A jump by an hour in the night from Saturday to Sunday is a change to or from summer time, or it is asked."""
    known = np.flatnonzero(np.isfinite(clock.values))
    steps = np.diff(clock.values[known])
    if not steps.size or not (steps > 0).any():
        return
    usual = float(np.median(steps[steps > 0]))
    slack = max(2.5 * usual, 2.0)
    back = (steps < 0) & (np.abs(steps + HOUR) <= slack)
    ahead = (steps > 0) & (np.abs(steps - HOUR) <= slack) & (usual < HOUR / 10)
    for i in np.flatnonzero(back | ahead):
        night = _changing_night(clock.origin, clock.values[known[i]])
        if stated is None and not night:
            continue
        shift = HOUR if back[i] else -HOUR
        at = float(clock.values[known[i]])
        clock.values[known[i + 1] :] += shift
        if stated is None:
            clock.questions.append(
                Question(
                    "clock change",
                    f"the clock jumps by an hour {'back' if back[i] else 'ahead'} after {at:.5g} s, in the night to a "
                    "Sunday: a change to or from summer time",
                    ("the time runs on", "readings are missing or out of order"),
                    "the time runs on",
                    ("clock_change: undo", "clock_change: keep"),
                )
            )


def _changing_night(origin: datetime | None, seconds: float) -> bool:
    """Sunday before four o'clock in March, April, or September to November."""
    if origin is None:
        return False
    moment = origin + timedelta(seconds=float(seconds))
    return moment.weekday() == 6 and moment.hour < 4 and moment.month in (3, 4, 9, 10, 11)


def _spread(name: str, clock: Clock, others: Any) -> None:
    """Rows that share a stamp lie evenly within its step, where all stamps have the same step and number of rows."""
    values = clock.values
    if not np.isfinite(values).all() or (np.diff(values) < 0).any():
        return
    starts = np.concatenate(([0], np.flatnonzero(np.diff(values)) + 1))
    count = np.diff(np.concatenate((starts, [len(values)])))
    if len(count) < 4:
        return
    steps, inner = np.diff(values[starts]), count[1:-1]
    step, n = float(np.median(steps)), int(np.median(inner))
    if n < 2:
        return
    where = f"{n} rows a stamp" if inner.min() == inner.max() else f"{inner.min()} to {inner.max()} rows a stamp"
    told = f"time {name!r}: stamps of {step:g} {clock.unit or 's'} with {where}"
    if _twins(starts, count, others):
        clock.notes.append(f"{told}, all with the same readings: rows written twice, their stamps are left as they are")
        return
    try:
        if not np.isclose(steps, step, rtol=1e-3).mean() >= _REGULAR:
            raise ModelInputError("the stamps lie at uneven distances")
        clock.values = np.round(spread_stamps(values), 9)
    except ModelInputError:
        clock.notes.append(f"{told}: too uneven to be spread, the stamps are left as they are")
        return
    clock.notes.append(f"{told}: the rows are spread evenly within each stamp")


def _twins(starts: Any, count: Any, others: Any) -> bool:
    """Whether the rows behind the first of each stamp repeat it in every column (looked at in 2000 stamps)."""
    several = starts[np.flatnonzero(count > 1)[:2000]]
    return bool(several.size) and bool((others(several) == others(several + 1)).all(axis=1).mean() > 0.9)


def segment_times(values: Any, segments: tuple[tuple[int, int], ...], unit: str) -> list[str]:
    """A line on each stretch between restarts: rows (from 1) and times."""
    lines = []
    for number, (first, last) in enumerate(segments, start=1):
        part = values[first : last + 1]
        part = part[np.isfinite(part)]
        span = f"{part[0]:.6g} to {part[-1]:.6g} {unit or 's'}" if part.size else "no time"
        lines.append(f"{number}: rows {first + 1} to {last + 1}, {span}")
    return lines


def fraction_of_day(values: Any) -> Any | None:
    """Fractions of a day as seconds after midnight, or None for other numbers."""
    finite = values[np.isfinite(values)]
    return values * DAY if finite.size and finite.min() >= 0 and finite.max() < 1 else None
