"""The operator's log on the clock of the test: what was seen and heard, beside what the gauges show."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, Problem
from cracktie.lab.eventlog import DAY, read_event_log, rows_seen
from cracktie.reduced import Mark


def operator_marks(
    campaign: Campaign, test: Test, time: Any, load: Any, shear: Callable[[float], float], notes: list[str],
    began: float | None = None,
) -> list[Mark]:  # fmt: skip
    """Entries of the test's event log as marks at the nearest row; those outside the record become notes, as do lines
    without a time or a note: the readings of a test do not hang on its notes.

    Times are those of the first log's clock, moved by `event_log_offset`; notes that were taken while the log was
    followed tell it themselves. Times of day lie on the stamps of the first log where it has some: `began` is the time
    of day in s at which its clock is zero.
    """
    if test.event_log is None or campaign.folder is None:
        return []
    offset = _offset(campaign.folder / test.event_log, test, time, notes)
    marks = []
    left_out: list[Problem] = []
    try:
        entries = read_event_log(campaign.folder / test.event_log, test.event_log, left_out=left_out)
    except CracktieError as error:
        notes.append(f"the event log is not used: {'; '.join(str(error).splitlines())}")
        return []
    notes += [f"left out of the event log: {problem}" for problem in left_out]
    for entry in entries:
        at = entry.time + (offset if offset is not None else -began if entry.of_day and began is not None else 0.0)
        at += DAY if at < time[0] - DAY / 2 else 0.0  # noted after midnight
        if not time[0] <= at <= time[-1]:
            notes.append(
                f"{test.event_log}:{entry.line}: {entry.note!r} at {at:.1f} s lies outside the record "
                f"({time[0]:.1f} to {time[-1]:.1f} s); state event_log_offset if its clock differs"
            )
            continue
        row = int(np.argmin(np.abs(time - at)))
        V = shear(float(load[row])) if np.isfinite(load[row]) else None
        evidence = f"{test.event_log}, line {entry.line}"
        marks.append(Mark(entry.note, at, V, "", "operator's log", 1.0, evidence, "noted", row))
    return marks


def _offset(path: Path, test: Test, time: Any, notes: list[str]) -> float | None:
    """Seconds from the clock of the notes to that of the first log: stated, else by the rows that were there when they
    were taken, else none.

    A row is written after it was read, and seen after it was written: of all pairs the one with the least delay counts.
    """
    if test.event_log_offset is not None:
        return float(test.event_log_offset)
    seen = [float(time[rows - 1]) - at for at, rows in rows_seen(path) if 0 < rows <= len(time)]
    if not seen:
        return None
    told = f"{test.event_log}: placed by the rows that the log held when the notes were taken, {max(seen):+.1f} s"
    notes.append(f"{told}; notes may stand late by a look at the log (2 s) and by what the logger holds back")
    return max(seen)
