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
_PLAIN = re.compile(r"[+-]?[0-9]{1,30}(?:([.,])[0-9]*)?(?:[eE][+-]?[0-9]{1,2})?\Z")
"""Most cells of a log: one mark at most and a finite value, never a stamp or a word."""
_THOUSANDS = {".": re.compile(r"[+-]?\d{1,3}(,\d{3})+\.\d+\Z"), ",": re.compile(r"[+-]?\d{1,3}(\.\d{3})+,\d+\Z")}
_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,:](\d{1,9}))?)?\s*([AaPp][Mm])?"
_TIME = re.compile(_CLOCK + r"\Z")
_MINUTES = re.compile(r"(\d{1,3}):(\d{2})[.,](\d{1,9})\Z")
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]+" + _CLOCK + r"\s*(Z|[+-]\d{2}:?\d{2})?)?\Z")
_DAY_FIRST = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})(?:[ ,T]+" + _CLOCK + r")?\Z")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})[T _-](\d{2})(\d{2})(\d{2})(?:[.,](\d{1,9}))?Z?\Z")
_WORD = r"([^\W\d_]{3,9})\.?"
_NAMED = re.compile(
    r"(?:[^\W\d_]{2,9}[.,]? )?(\d{1,2})(?:\. ?|[ -/])" + _WORD + r"[ ,/-]+(\d{4}|\d{2})(?:[ ,T]+" + _CLOCK + r")?\Z"
)
_NAME_FIRST = re.compile(r"(?:[^\W\d_]{2,9}[.,]? )?" + _WORD + r" +(\d{1,2}),? (\d{4})(?:[ ,T]+" + _CLOCK + r")?\Z")
_C_TIME = re.compile(r"[A-Za-z]{3} " + _WORD + r" +(\d{1,2}) (\d{1,2}:\d{2}:\d{2}) (\d{4})\Z")
_MONTHS = (
    ("jan",), ("feb", "fev", "fév"), ("mar", "mär", "mrz"), ("apr", "avr"), ("may", "mai", "maj"), ("jun", "juin"),
    ("jul", "juil"), ("aug", "aou", "aoû"), ("sep",), ("oct", "okt"), ("nov",), ("dec", "dez", "déc"),
)  # fmt: skip
_BLANKS = "'\u2019\u00a0\u202f\u2009 "
_GROUPED = re.compile(rf"[+-]?\d{{1,3}}([{_BLANKS}])\d{{3}}(?:\1\d{{3}})*(?:[.,]\d*)?\Z")


_NO_BLANKS = str.maketrans("", "", _BLANKS)


@dataclass(frozen=True)
class Stamp:
    """A time stamp before its day-month order is known: two small numbers, year, seconds of the day.

    `iso` stamps hold month and day in that order; `year` None means a time of day without a date. `three` keeps the
    last number where the first may be the year as well (24-03-15). `open_clock` marks two numbers that can be hours and
    minutes or minutes and seconds, `minutes` those that can only be the latter.
    """

    year: int | None
    one: int
    two: int
    seconds: float
    iso: bool
    three: int | None = None
    open_clock: bool = False
    minutes: bool = False

    def day(self, order: str) -> int:
        """Days after 1970-01-01; `order` is 'dmy', 'mdy' or 'ymd'. Raises ValueError for a date that does not exist."""
        if self.year is None:
            return 0
        if order == "ymd" and not self.iso:
            if self.three is None:
                raise ValueError("no year in front")
            return date(_century(self.one), self.two, self.three).toordinal() - 719_163
        month, day = (self.one, self.two) if self.iso or order == "mdy" else (self.two, self.one)
        return date(self.year, month, day).toordinal() - 719_163

    def fits(self, order: str) -> bool:
        """Whether the stamp is a date in that order."""
        try:
            self.day(order)
        except ValueError:
            return False
        return True


def is_missing(text: str) -> bool:
    """True for the words loggers write in place of a reading."""
    return text in MISSING or text.lower() in MISSING or (len(text) > 1 and not text.strip("#"))


def is_over(text: str) -> bool:
    """True for overload words (numbers are judged by `OVER_LIMIT`)."""
    return text.lower() in _OVER or (len(text) > 2 and not text.strip("*"))


def number(text: str, decimal: str) -> float | None:
    """The number in a cell, or None; thousands marks are read only where they are certain.

    That is where both marks stand in a number, and for groups of three parted by apostrophes or blanks.
    """
    if _GROUPED.match(text):
        text = text.translate(_NO_BLANKS)
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
    if not _MAY_BE_STAMP.search(text):
        return None
    found = _TIME.match(text)
    if found:
        seconds = _seconds(found.groups())
        alone = found[3] is None and found[5] is None
        return None if seconds is None else Stamp(None, 0, 0, seconds, False, open_clock=alone)
    found = _MINUTES.match(text)
    if found:
        rest = int(found[2]) + int(found[3]) / 10 ** len(found[3])
        return Stamp(None, 0, 0, int(found[1]) * 60.0 + rest, False, minutes=True) if rest < 60.0 else None
    for form, places in ((_ISO, slice(3, 8)), (_COMPACT, slice(3, 7))):
        found = form.match(text)
        if found:
            clock = found.groups()[places]
            return _dated(int(found[1]), int(found[2]), int(found[3]), (*clock, *(None,) * (5 - len(clock))))
    found = _DAY_FIRST.match(text)
    return _numbers(found) if found else _named(text)


_MAY_BE_STAMP = re.compile(r":|[-/.]\d+[-/.]|\d{8}[T _-]|[^\W\d_]{3}")


def _numbers(found: re.Match[str]) -> Stamp | None:
    """A date of three numbers: year last, or in front where all have two digits and no points stand between."""
    seconds = _seconds(found.groups()[4:9])
    one, two, last = int(found[1]), int(found[3]), int(found[4])
    three = last if len(found[1]) == len(found[3]) == len(found[4]) == 2 and found[2] != "." else None
    made = None if seconds is None else Stamp(_century(last), one, two, seconds, False, three)
    return made if made and any(made.fits(order) for order in ("dmy", "mdy", "ymd")) else None


def _named(text: str) -> Stamp | None:
    """A date with the name of its month: 15-Mar-2024, March 15, 2024, Fri Mar 15 10:00:00 2024."""
    found = _NAMED.match(text)
    if found:
        return _dated(_century(int(found[3])), _month(found[2]), int(found[1]), found.groups()[3:8])
    found = _NAME_FIRST.match(text)
    if found:
        return _dated(int(found[3]), _month(found[1]), int(found[2]), found.groups()[3:8])
    found = _C_TIME.match(text)
    return _dated(int(found[4]), _month(found[1]), int(found[2]), (*found[3].split(":"), None, None)) if found else None


def _dated(year: int, month: int, day: int, clock: tuple[str | None, ...]) -> Stamp | None:
    """A stamp whose order is certain, or None for a date or time that does not exist."""
    seconds = _seconds(clock)
    made = None if seconds is None else Stamp(year, month, day, seconds, True)
    return made if made and made.fits("ymd") else None


def _month(word: str) -> int:
    """Number of a month by the beginning of its name (English, German, French); 0 for another word."""
    return next((i for i, names in enumerate(_MONTHS, start=1) if word.lower().startswith(names)), 0)


def _century(year: int) -> int:
    """A year of two digits lies between 1970 and 2069."""
    return year if year >= 100 else year + (2000 if year < 70 else 1900)


def readable(text: str, decimal: str) -> bool:
    """True when a cell is a number, a time stamp, a missing word or an overload word."""
    plain = _PLAIN.match(text)
    if plain is not None:
        return plain[1] is None or plain[1] == decimal
    return _readable(text, decimal)


@functools.lru_cache(maxsize=1 << 15)
def _readable(text: str, decimal: str) -> bool:
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
