"""What the user states about a log: answers to what a file leaves open."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TypedDict

from cracktie.lab.encoding import refuse


class Stated(TypedDict, total=False):
    """The answers as words; what is left out or None is found from the content, and asked where that does not tell.

    `delimiter`: one character, ' ' for runs of blanks; `decimal`: '.' or ','; `encoding`: name of a text encoding;
    `date_order`: 'dmy', 'mdy' or 'ymd'; `time_unit`: 's', 'ms', 'min', 'h' or 'd'; `clock`: 'h:m' or 'm:s' for times of
    two numbers; `clock_change`: 'undo' or 'keep' for an hour's jump at night.
    """

    delimiter: str | None
    decimal: str | None
    encoding: str | None
    date_order: str | None
    time_unit: str | None
    clock: str | None
    clock_change: str | None


@dataclass(frozen=True)
class Answers:
    """As `Stated`, checked by `check_answers`; `dates` are days on which the test may have been, from elsewhere."""

    delimiter: str | None = None
    decimal: str | None = None
    encoding: str | None = None
    date_order: str | None = None
    time_unit: str | None = None
    clock: str | None = None
    clock_change: str | None = None
    dates: tuple[date, ...] = ()


WORDS = {
    "decimal": (".", ","),
    "date_order": ("dmy", "mdy", "ymd"),
    "time_unit": ("s", "ms", "min", "h", "d"),
    "clock": ("h:m", "m:s"),
    "clock_change": ("undo", "keep"),
}
_DATE = re.compile(r"(?<!\d)(20\d{2}|19\d{2})([-_.]?)(0[1-9]|1[0-2])\2(0[1-9]|[12]\d|3[01])(?!\d)")


def check_answers(file: str, answers: Answers) -> None:
    """Raise `InputRefused` for an answer that is none."""
    for key, words in WORDS.items():
        given = getattr(answers, key)
        if given is not None and given not in words:
            named = key.replace("_", " ") if key != "decimal" else "decimal mark"
            raise refuse(file, f"{named} {given!r} is not known", f"state {' or '.join(map(repr, words))}")
    mark = answers.delimiter
    if mark is None:
        return
    if len(mark) != 1 or mark in '\n\r"' or mark.isalnum() or not mark.isascii():
        raise refuse(file, f"delimiter {mark!r} cannot part columns", "state one character such as ';' or ','")
    if mark == (answers.decimal or "."):
        raise refuse(file, f"delimiter and decimal mark are both {mark!r}", "state two different marks")


def dates_in(text: str) -> tuple[date, ...]:
    """Days written year first in a name or a line, such as 2024-03-15 or 20240315."""
    found = []
    for year, _, month, day in _DATE.findall(text):
        try:
            found.append(date(int(year), int(month), int(day)))
        except ValueError:
            continue
    return tuple(dict.fromkeys(found))
