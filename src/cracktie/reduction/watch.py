"""Follow a test while its logger still writes: what has come so far, and in words when rows stop.

The log is only read. A logger may hold it open, write in blocks and cut a row in two; an unfinished last row waits for
its rest. The loop asks for the size of the file, reduces what there is when it has grown, and tells what is new.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from cracktie.campaign.schema import Campaign
from cracktie.errors import CracktieError, UnknownName
from cracktie.reduced import TestResult
from cracktie.units import shown

QUIET_FACTOR = 3.0
"""Silence longer than this many times the longest wait so far counts as a stop of the rows."""
QUIET_LEAST = 5.0
"""Seconds of silence below which nothing is said."""


@dataclass
class _Seen:
    """What the loop knows of the file and has told already."""

    size: int = 0
    inode: int = 0
    rows: int = 0
    changed: float = 0.0
    longest: float = 0.0
    silent: bool = False
    missing: bool = False
    trouble: str = ""
    told: set[str] = field(default_factory=set)
    others: dict[str, int] = field(default_factory=dict)


def watch(
    campaign: Campaign,
    name: str,
    *,
    every: float = 2.0,
    sleep: Callable[[float], None] = time.sleep,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[str]:
    """Lines about a test while its first log grows, without end: the caller stops. One look each `every` seconds.

    Raises `UnknownName` for a test without a log.
    """
    if name not in campaign.tests or not campaign.tests[name].logs or campaign.folder is None:
        with_logs = [n for n, t in campaign.tests.items() if t.logs]
        raise UnknownName(f"no test {name!r} with a log to follow; there are {', '.join(with_logs) or 'none'}")
    log = campaign.tests[name].logs[0]
    path = campaign.folder / log
    seen = _Seen(changed=clock(), others=_sizes(path))
    yield f"following {log}; stop with Ctrl-C"
    while True:
        yield from _look(campaign, name, path, seen, clock())
        sleep(every)


def _look(campaign: Campaign, name: str, path: Path, seen: _Seen, now: float) -> Iterator[str]:
    try:
        state = path.stat()
    except OSError:
        if not seen.missing:
            yield f"{path.name} is not there: waiting for it"
        seen.missing = True
        return
    seen.missing = False
    if seen.inode and (state.st_ino != seen.inode or state.st_size < seen.size):
        yield (
            f"{path.name} was begun anew (rolled over) after {seen.rows} rows; results from here on hold the new part "
            "only. After the test list both parts under logs: of this test"
        )
        seen.rows, seen.size, seen.told = 0, 0, set()
    seen.inode = state.st_ino
    if state.st_size == seen.size:
        yield from _silence(path, seen, now)
        return
    if seen.silent:
        yield f"rows come again after {now - seen.changed:.0f} s"
    elif seen.rows:
        seen.longest = max(seen.longest, now - seen.changed)
    seen.size, seen.changed, seen.silent = state.st_size, now, False
    yield from _progress(campaign, name, seen)


def _silence(path: Path, seen: _Seen, now: float) -> Iterator[str]:
    quiet = now - seen.changed
    if seen.silent or quiet < max(QUIET_LEAST, QUIET_FACTOR * seen.longest):
        return
    seen.silent = True
    usual = f"; before, rows came at least every {seen.longest:.0f} s" if seen.longest else ""
    yield f"no new rows for {quiet:.0f} s{usual}: the logger stopped, waits, or lost its connection"
    grown = [other for other, size in _sizes(path).items() if size > seen.others.get(other, 0)]
    if grown:
        yield f"another file grows: {', '.join(grown)}; the logger may have gone on there"


def _progress(campaign: Campaign, name: str, seen: _Seen) -> Iterator[str]:
    from cracktie.reduction import reduce_test

    try:
        test = reduce_test(campaign, name)
    except (CracktieError, ValueError, IndexError) as error:
        text = str(error).splitlines()[0]
        if text != seen.trouble:
            yield f"not yet: {text}"
        seen.trouble = text
        return
    seen.trouble = ""
    rows = test.logs[0].rows
    yield _state(campaign, test, rows, rows - seen.rows)
    seen.rows = rows
    for mark in test.marks:
        key = f"{mark.kind} {mark.time:.1f}"
        if mark.kind != "V_max" and mark.status != "rejected" and key not in seen.told:
            seen.told.add(key)
            yield f"   {mark.kind} at {mark.time:.1f} s: {mark.method}; {mark.evidence}"
    for note in test.notes:
        if "lost at" in note and note not in seen.told:
            seen.told.add(note)
            yield f"   {note}"


def _state(campaign: Campaign, test: TestResult, rows: int, new: int) -> str:
    system = campaign.head.shown_units
    V, unit = shown(test.value("V_max") or 0.0, "N", system)
    parts = [f"{rows} rows ({new} new)", f"largest V so far {V:.1f} {unit}"]
    for key, label in (("delta_V_max", "deflection there"), ("eps_f_max", "largest strip strain")):
        value = test.value(key)
        if value is not None:
            parts.append(f"{label} {value:.2f} mm" if key.startswith("delta") else f"{label} {1e6 * value:.0f} um/m")
    return ", ".join(parts)


def _sizes(path: Path) -> dict[str, int]:
    """Sizes of the other files beside a log."""
    try:
        return {p.name: p.stat().st_size for p in path.parent.iterdir() if p.is_file() and p.name != path.name}
    except OSError:
        return {}
