"""Columns of time stamps: seconds, with the order of day and month settled by evidence or asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from cracktie.lab.cells import Stamp, from_moment, is_missing, stamp
from cracktie.lab.encoding import refuse
from cracktie.lab.report import Question

DAY = 86_400.0
ORDERS = ("dmy", "mdy")
_CONTINUOUS = 3600.0
_SERIAL_ZERO = datetime(1899, 12, 30)


@dataclass(frozen=True)
class StampColumn:
    """Seconds after `origin`; without an origin seconds after midnight; NaN where no stamp could be read."""

    values: Any
    origin: datetime | None
    unreadable: int
    samples: tuple[str, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]


def read_stamps(texts: Sequence[str], order: str | None, file: str) -> StampColumn:
    """Seconds for each stamp; an order of day and month that the file leaves open is asked, never guessed.

    Raises `InputRefused` where a stated order makes dates that do not exist.
    """
    seen: dict[str, Stamp | None] = {text: stamp(text) for text in dict.fromkeys(texts)}
    stamps = [seen[text] for text in texts]
    bad = [text for text in texts if seen[text] is None and not is_missing(text)]
    dated = [s for s in seen.values() if s is not None and s.year is not None]
    notes: list[str] = []
    questions: list[Question] = []
    if not dated:
        values, origin = _over_midnight(np.array([np.nan if s is None else s.seconds for s in stamps])), None
    else:
        chosen, how = _order(dated, stamps, order, file)
        notes += [how] if how else []
        if chosen is None:
            example = next(text for text, s in seen.items() if s is not None and s.year is not None)
            values, origin = _without_order(dated, stamps)
            meanwhile = (
                "the time of day is used, the date is left open"
                if np.isfinite(values).any()
                else "the column is left empty"
            )
            questions.append(
                Question("date order", f"{file}: {example!r} can be day-month or month-day", ORDERS, meanwhile)
            )
        else:
            values, origin = _from_first(stamps, chosen)
    return StampColumn(values, origin, len(bad), tuple(dict.fromkeys(bad))[:3], tuple(questions), tuple(notes))


def serial_days(values: Any) -> tuple[Any, datetime] | None:
    """Spreadsheet day numbers (day 0 is 1899-12-30) as seconds after the first, or None for other numbers.

    Only values between 20 000 (1954) and 80 000 (2119) are taken for day numbers.
    """
    finite = values[np.isfinite(values)]
    if finite.size == 0 or finite.min() < 20_000 or finite.max() > 80_000:
        return None
    from datetime import timedelta

    return (values - finite[0]) * DAY, _SERIAL_ZERO + timedelta(seconds=round(float(finite[0]) * DAY, 3))


def _order(dated: list[Stamp], stamps: list[Stamp | None], order: str | None, file: str) -> tuple[str | None, str]:
    open_ones = [s for s in dated if not s.iso]
    possible = [o for o in ORDERS if all((s.two if o == "dmy" else s.one) <= 12 for s in open_ones)]
    if order is not None:
        if order not in ORDERS:
            raise refuse(file, f"date order {order!r} is unknown", "state 'dmy' or 'mdy'")
        if order not in possible:
            wrong = next(s for s in open_ones if (s.two if order == "dmy" else s.one) > 12)
            raise refuse(
                file,
                f"stated date order {order}, but a date reads {wrong.one}, {wrong.two}, {wrong.year}: no such month",
                "state the other order or leave it out",
            )
        return order, ""
    if not open_ones:
        return "dmy", ""
    if len(possible) == 1:
        return possible[0], f"dates are {possible[0]}: a number above 12 settles it"
    if not possible:
        raise refuse(
            file, "dates of both orders, day-month and month-day, in one column", "split the file or repair a copy"
        )
    return _by_midnight(stamps)


def _by_midnight(stamps: list[Stamp | None]) -> tuple[str | None, str]:
    """One order runs on over midnight with steps below an hour, the other jumps by weeks: evidence."""
    smooth = []
    for order in ORDERS:
        moments = np.array([day * DAY + seconds for day, seconds in _moments(stamps, order)])
        steps = np.diff(moments[np.isfinite(moments)])
        smooth.append(bool(steps.size) and bool(((steps >= 0) & (steps < _CONTINUOUS)).all()))
    days = {(s.one, s.two) for s in stamps if s is not None}
    if len(days) > 1 and smooth[0] != smooth[1]:
        order = ORDERS[smooth.index(True)]
        return order, f"dates are {order}: only so does the time run on over midnight"
    return None, ""


def _without_order(dated: list[Stamp], stamps: list[Stamp | None]) -> tuple[Any, datetime | None]:
    if len({(s.year, s.one, s.two) for s in dated}) == 1:
        return np.array([np.nan if s is None else s.seconds for s in stamps]), None
    return np.full(len(stamps), np.nan), None


def _moments(stamps: list[Stamp | None], order: str) -> list[tuple[float, float]]:
    """Days after 1970-01-01 and seconds of the day; NaN for missing stamps and dates that do not exist."""
    days: dict[tuple[int | None, int, int, bool], float] = {}
    out = []
    for s in stamps:
        if s is None:
            out.append((np.nan, np.nan))
            continue
        key = (s.year, s.one, s.two, s.iso)
        if key not in days:
            try:
                days[key] = float(s.day(order)) if s.year is not None else np.nan
            except ValueError:
                days[key] = np.nan
        out.append((days[key], s.seconds))
    return out


def _from_first(stamps: list[Stamp | None], order: str) -> tuple[Any, datetime | None]:
    """Seconds after the first stamp; days and seconds are kept apart so that milliseconds survive."""
    days, seconds = np.array(_moments(stamps, order)).T
    known = np.flatnonzero(np.isfinite(days))
    if known.size == 0:
        return days, None
    first = known[0]
    values = (days - days[first]) * DAY + (seconds - seconds[first])
    return np.round(values, 9), from_moment(float(days[first] * DAY + seconds[first]))


def _over_midnight(seconds: Any) -> Any:
    """Times of day run on after midnight: a fall of more than half a day is a new day."""
    known = np.isfinite(seconds)
    steps = np.diff(seconds[known])
    days = np.concatenate(([0], np.cumsum(steps < -DAY / 2))) if known.any() else np.zeros(0)
    out = seconds.copy()
    out[known] += days * DAY
    return out
