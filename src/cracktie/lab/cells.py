"""One cell of a log: number, missing word, overload, time stamp or text. The slow, careful path."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from datetime import date, datetime, time

OVER_LIMIT = 9.9e36
"""Magnitudes from here on are the overload code of instruments (9.9E37, 1E+38), not readings."""

MISSING = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "nan",
        "na",
        "n/a",
        "#n/a",
        "null",
        "none",
        "nil",
        "?",
        "#value!",
        "#ref!",
        "#div/0!",
        "#name?",
        "#num!",
        "1.#qnan",
        "-1.#ind",
        "1.#ind",
        "1.#qnb",
        "missing",
        "no data",
        "invalid",
        "error",
        "err",
        "open",
        "*",
    }
)
_OVER = frozenset(
    {
        "over",
        "overflow",
        "overload",
        "ovl",
        "ovld",
        "ovr",
        "o.l",
        "ol",
        "+over",
        "-over",
        "+ol",
        "-ol",
        "ovf",
        "+ovl",
        "-ovl",
        "inf",
        "+inf",
        "-inf",
        "infinity",
        "1.#inf",
        "-1.#inf",
        "saturated",
    }
)

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eEdD][+-]?\d+)?\Z")
_THOUSANDS = {".": re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+\Z"), ",": re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+\Z")}
_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,:](\d{1,9}))?)?\s*([AaPp][Mm])?"
_TIME = re.compile(_CLOCK + r"\Z")
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]+" + _CLOCK + r"\s*(Z|[+-]\d{2}:?\d{2})?)?\Z")
_DAY_FIRST = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})(?:[ ,T]+" + _CLOCK + r")?\Z")


@dataclass(frozen=True)
class Stamp:
    """A time stamp before its day-month order is known: two small numbers, year, seconds of the day.

    `iso` stamps hold month and day in that order; `year` None means a time of day without a date.
    """

    year: int | None
    one: int
    two: int
    seconds: float
    iso: bool

    def day(self, order: str) -> int:
        """Days after 1970-01-01; `order` is 'dmy' or 'mdy'. Raises ValueError for a date that does not exist."""
        if self.year is None:
            return 0
        month, day = (self.one, self.two) if self.iso or order == "mdy" else (self.two, self.one)
        return date(self.year, month, day).toordinal() - 719_163


def is_missing(text: str) -> bool:
    """True for the words loggers write in place of a reading."""
    return text in MISSING or text.lower() in MISSING or (len(text) > 1 and set(text) <= {"#"})


def is_over(text: str) -> bool:
    """True for overload words (numbers are judged by `OVER_LIMIT`)."""
    return text.lower() in _OVER or (len(text) > 2 and set(text) <= {"*"})


def number(text: str, decimal: str) -> float | None:
    """The number in a cell, or None; thousands marks are read only where both marks make them certain."""
    if decimal == ",":
        if "." in text:
            if not _THOUSANDS[","].match(text):
                return None
            text = text.replace(".", "")
        text = text.replace(",", ".")
    elif "," in text:
        if not _THOUSANDS["."].match(text):
            return None
        text = text.replace(",", "")
    if not _NUMBER.match(text):
        return None
    value = float(text.replace("d", "e").replace("D", "e"))
    return value if math.isfinite(value) else None


def stamp(text: str) -> Stamp | None:
    """The time stamp in a cell, or None; the order of day and month is decided later."""
    if ":" not in text and text.count("-") < 2 and text.count("/") < 2 and text.count(".") < 2:
        return None
    found = _TIME.match(text)
    if found:
        seconds = _seconds(found.groups())
        return None if seconds is None else Stamp(None, 0, 0, seconds, False)
    found = _ISO.match(text)
    if found:
        seconds = _seconds(found.groups()[3:8])
        valid = seconds is not None and 1 <= int(found[2]) <= 12 and 1 <= int(found[3]) <= 31
        return (
            Stamp(int(found[1]), int(found[2]), int(found[3]), seconds, True) if valid and seconds is not None else None
        )
    found = _DAY_FIRST.match(text)
    if found:
        seconds = _seconds(found.groups()[4:9])
        one, two = int(found[1]), int(found[3])
        if seconds is None or not (1 <= one <= 31 and 1 <= two <= 31) or min(one, two) > 12:
            return None
        year = int(found[4])
        return Stamp(year + (2000 if year < 70 else 1900) if year < 100 else year, one, two, seconds, False)
    return None


@functools.lru_cache(maxsize=1 << 15)
def readable(text: str, decimal: str) -> bool:
    """True when a cell is a number, a time stamp, a missing word or an overload word."""
    return number(text, decimal) is not None or is_missing(text) or is_over(text) or stamp(text) is not None


def from_moment(seconds: float) -> datetime:
    """The date and time that lies so many seconds after 1970-01-01 (no time zone: the clock of the file)."""
    days, rest = divmod(seconds, 86_400.0)
    base = datetime.combine(date.fromordinal(719_163 + int(days)), time())
    whole = int(rest)
    return base.replace(
        hour=whole // 3600,
        minute=whole // 60 % 60,
        second=whole % 60,
        microsecond=min(999_999, round((rest - whole) * 1e6)),
    )


def _seconds(parts: tuple[str | None, ...]) -> float | None:
    hour, minute, second, fraction, half = parts
    if hour is None or minute is None:
        return 0.0
    h, m, s = int(hour), int(minute), int(second or 0)
    if half:
        if not 1 <= h <= 12:
            return None
        h = h % 12 + (12 if half.lower() == "pm" else 0)
    if h > 24 or m > 59 or s > 60:
        return None
    return h * 3600.0 + m * 60.0 + s + (int(fraction) / 10 ** len(fraction) if fraction else 0.0)
