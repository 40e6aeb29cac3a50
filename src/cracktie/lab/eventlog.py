"""The operator's log: one line for each thing seen or heard during a test, with its time."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cracktie.errors import FileTrouble, InputRefused, Problem

DAY = 86_400.0
_CLOCK = re.compile(r"^(\d{1,2}):(\d{2}):(\d{2}(?:[.,]\d+)?)$")
_ROWS = re.compile(r"^# (\d{1,2}:\d{2}:\d{2}(?:\.\d+)?): (\d+) rows$")
_HEADER = ("time", "t", "zeit", "s", "seconds", "uhrzeit", "time of day", "clock")


@dataclass(frozen=True)
class Entry:
    """One line: time in s (`of_day`: since midnight of the first one), what was noted, and the line of the file."""

    time: float
    note: str
    line: int
    of_day: bool = False


def read_event_log(path: Path, name: str, *, left_out: list[Problem] | None = None) -> tuple[Entry, ...]:
    """Entries in order of time: `time, note` a line (comma, semicolon or tab), seconds or hh:mm:ss; '#': remark.

    A file that is not UTF-8 is read as cp1252, in which spreadsheets of western Europe write text.

    Raises `InputRefused` with every line that has no time or no note (such lines are left out and put into `left_out`
    where that is given), `FileTrouble` where the file cannot be read.
    """
    try:
        text = _text(path)
    except UnicodeDecodeError:
        raise InputRefused(Problem("error", name, "is no UTF-8 text", fix="save it as UTF-8")) from None
    except OSError as error:
        raise FileTrouble(f"{name}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    found: list[Entry] = []
    problems: list[Problem] = []
    days = _Days()
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = _cells(line)
        if not found and not problems and cells[0].split("[")[0].strip().lower() in _HEADER:
            continue
        time = seconds(cells[0])
        note = " ".join(cells[1:]).strip()
        if time is None or not note:
            fix = "write for example `312.4, diagonal crack seen on the front` or `14:03:12, ...`"
            problems.append(Problem("error", name, "no time and note", number, key=line.strip()[:60], fix=fix))
        else:
            of_day = _CLOCK.match(cells[0].strip()) is not None
            found.append(Entry(days.run_on(time) if of_day else time, note, number, of_day))
    if problems and left_out is None:
        raise InputRefused(problems)
    if left_out is not None:
        left_out += problems
    return tuple(sorted(found, key=lambda entry: entry.time))


def rows_seen(path: Path) -> list[tuple[float, int]]:
    """Times of day when the log of the test was seen to hold so many rows: remarks `# 14:03:10.2: 3120 rows`."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return []
    found = [_ROWS.match(line.strip()) for line in text.splitlines()]
    days = _Days()
    return [(days.run_on(seconds(m[1]) or 0.0), int(m[2])) for m in found if m]


class _Days:
    """Times of day run on after midnight: a fall of more than half a day from one to the next is a new day."""

    def __init__(self) -> None:
        self.last, self.days = 0.0, 0.0

    def run_on(self, time: float) -> float:
        """The time with the days gone by since the first."""
        self.days += DAY if self.last - time > DAY / 2 else 0.0
        self.last = time
        return time + self.days


def seconds(cell: str) -> float | None:
    """Seconds of a number or of a time of day; None for anything else."""
    clock = _CLOCK.match(cell.strip())
    if clock:
        hours, minutes, rest = (float(part.replace(",", ".")) for part in clock.groups())
        return hours * 3600.0 + minutes * 60.0 + rest
    try:
        return float(cell)
    except ValueError:
        return None


def _text(path: Path) -> str:
    data = path.read_bytes()
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if b"\0" in data:
            raise
        return data.decode("cp1252")


def _cells(line: str) -> Sequence[str]:
    mark = next((m for m in ("\t", ";", ",") if m in line), ",")
    return [cell.strip() for cell in next(csv.reader([line], delimiter=mark))]
