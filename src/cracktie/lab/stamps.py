"""Columns of time stamps: seconds, with the order of day and month settled by evidence or asked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from cracktie.lab.answers import Answers
from cracktie.lab.cells import Stamp, from_moment, is_missing, stamp
from cracktie.lab.encoding import refuse
from cracktie.lab.report import Question

DAY = 86_400.0
ORDERS = ("dmy", "mdy", "ymd")
ORDER_NAMES = {"dmy": "day-month", "mdy": "month-day", "ymd": "year-month-day"}
_CONTINUOUS = 3600.0
_SERIAL_ZERO = datetime(1899, 12, 30)
_EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True)
class StampColumn:
    """Seconds after `origin`; without an origin seconds after midnight; NaN where no stamp could be read."""

    values: Any
    origin: datetime | None
    unreadable: int
    samples: tuple[str, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]


def read_stamps(texts: Sequence[str], answers: Answers | None, file: str) -> StampColumn:
    """Seconds for each stamp; an order of day and month that the file leaves open is asked, never guessed.

    Raises `InputRefused` where a stated order makes dates that do not exist.
    """
    answers = answers or Answers()
    seen: dict[str, Stamp | None] = {text: stamp(text) for text in dict.fromkeys(texts)}
    stamps = [seen[text] for text in texts]
    bad = [text for text in texts if seen[text] is None and not is_missing(text)]
    dated = [s for s in seen.values() if s is not None and s.year is not None]
    notes: list[str] = []
    questions: list[Question] = []
    example = next((text for text, s in seen.items() if s is not None and (s.year is None) == (not dated)), "")
    origin: datetime | None = None
    if not dated:
        values = _of_clocks([s for s in seen.values() if s is not None], stamps, answers.clock, example, questions)
    else:
        chosen, how, possible = _order(dated, stamps, answers, file)
        notes += [how] if how else []
        if chosen is None:
            values = _without_order(dated, stamps)
            questions.append(_ask_order(file, example, possible, values))
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
    return (values - finite[0]) * DAY, _SERIAL_ZERO + timedelta(seconds=round(float(finite[0]) * DAY, 3))


def seconds_since_1970(values: Any, unit: str) -> tuple[Any, datetime] | None:
    """Counts since 1970 (UTC) in s, ms or us as seconds after the first, or None for other numbers.

    Taken for such are values that lie between 2001 and 2096 in one of these units, the stated one where there is one.
    """
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        return None
    for name, scale in (("s", 1.0), ("ms", 1e-3), ("us", 1e-6)):
        if unit in ("", name) and finite.min() * scale >= 1e9 and finite.max() * scale <= 4e9:
            first = float(finite[0])
            return np.round((values - first) * scale, 9), _EPOCH + timedelta(seconds=round(first * scale, 6))
    return None


def _ask_order(file: str, example: str, possible: Sequence[str], values: Any) -> Question:
    used = np.isfinite(values).any()
    return Question(
        "date order",
        f"{file}: {example!r} can be {' or '.join(ORDER_NAMES[o] for o in possible)}",
        tuple(possible),
        "the time counts from the first reading, the day is left open" if used else "the column is left empty",
        tuple(f"date_order: {o}" for o in possible),
    )


def _of_clocks(
    seen: list[Stamp], stamps: list[Stamp | None], clock: str | None, example: str, questions: list[Question]
) -> Any:
    """Times of day as seconds after midnight; two numbers alone are hours and minutes or minutes and seconds."""
    seconds = np.array([np.nan if s is None else s.seconds for s in stamps])
    if seen and all(s.minutes or s.open_clock for s in seen) and any(s.minutes for s in seen):
        short = np.array([s is not None and s.open_clock for s in stamps])
        seconds[short] /= 60.0
        return _run_on(seconds, _CONTINUOUS)
    if seen and all(s.open_clock for s in seen):
        if clock == "m:s":
            return _run_on(seconds / 60.0, _CONTINUOUS)
        if clock is None:
            questions.append(
                Question(
                    "clock",
                    f"the time {example!r} can be hours and minutes or minutes and seconds",
                    ("h:m", "m:s"),
                    "read as hours and minutes",
                    ("clock: h:m", "clock: m:s"),
                )
            )
    return _run_on(seconds, DAY)


def _order(
    dated: list[Stamp], stamps: list[Stamp | None], answers: Answers, file: str
) -> tuple[str | None, str, list[str]]:
    """The order of day and month if it is settled, a sentence on how, and the orders that are possible."""
    order = answers.date_order
    open_ones = [s for s in dated if not s.iso]
    possible = [o for o in ORDERS if all(s.fits(o) for s in open_ones)]
    if order is not None and open_ones:
        if order not in possible:
            wrong = next(s for s in open_ones if not s.fits(order))
            last = wrong.year if wrong.three is None else wrong.three
            raise refuse(
                file,
                f"stated date order {order}, but a date reads {wrong.one}, {wrong.two}, {last}: no such day",
                "state another order or leave it out",
            )
        return order, "", possible
    if not open_ones:
        return "dmy", "", possible
    if len(possible) == 1:
        return possible[0], f"dates are {possible[0]}: no other order makes days that exist", possible
    if not possible:
        raise refuse(
            file, "dates of both orders, day-month and month-day, in one column", "split the file or repair a copy"
        )
    chosen, how = _by_witness(open_ones, possible, answers.dates)
    if chosen is None:
        chosen, how = _by_midnight(stamps, possible)
    return chosen, how, possible


def _by_witness(dated: list[Stamp], possible: Sequence[str], dates: Iterable[date]) -> tuple[str | None, str]:
    """One order puts the readings on a day that is known from elsewhere, the others do not: evidence."""
    known = {d.toordinal() - 719_163: d for d in dates}
    met = {o: {s.day(o) for s in dated} & set(known) for o in possible}
    good = [o for o in possible if met[o]]
    if len(good) != 1:
        return None, ""
    day = known[min(met[good[0]])]
    return good[0], f"dates are {good[0]}: so they fall on {day.isoformat()}, the day that is known from elsewhere"


def _by_midnight(stamps: list[Stamp | None], possible: Sequence[str]) -> tuple[str | None, str]:
    """One order runs on over midnight with steps below an hour, the others jump by weeks: evidence."""
    smooth = []
    for order in possible:
        moments = np.array([day * DAY + seconds for day, seconds in _moments(stamps, order)])
        steps = np.diff(moments[np.isfinite(moments)])
        if steps.size and ((steps >= 0) & (steps < _CONTINUOUS)).all():
            smooth.append(order)
    days = {(s.one, s.two, s.three) for s in stamps if s is not None}
    if len(days) > 1 and len(smooth) == 1:
        return smooth[0], f"dates are {smooth[0]}: only so does the time run on over midnight"
    return None, ""


def _without_order(dated: list[Stamp], stamps: list[Stamp | None]) -> Any:
    if len({(s.year, s.one, s.two, s.three) for s in dated}) == 1:
        seconds = np.array([np.nan if s is None else s.seconds for s in stamps])
        return np.round(seconds - seconds[np.isfinite(seconds)][0], 9)
    return np.full(len(stamps), np.nan)


def _moments(stamps: list[Stamp | None], order: str) -> list[tuple[float, float]]:
    """Days after 1970-01-01 and seconds of the day; NaN for missing stamps and dates that do not exist."""
    days: dict[tuple[int | None, int, int, int | None, bool], float] = {}
    out = []
    for s in stamps:
        if s is None:
            out.append((np.nan, np.nan))
            continue
        key = (s.year, s.one, s.two, s.three, s.iso)
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


def _run_on(seconds: Any, turn: float) -> Any:
    """Clocks run on after midnight or the full hour: a fall of more than half the turn is a new one."""
    known = np.isfinite(seconds)
    steps = np.diff(seconds[known])
    turns = np.concatenate(([0], np.cumsum(steps < -turn / 2))) if known.any() else np.zeros(0)
    out = seconds.copy()
    out[known] += turns * turn
    return out
