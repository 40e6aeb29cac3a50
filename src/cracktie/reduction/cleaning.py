"""Spikes: flagged and told, left out where a slope or a largest strain would take them; never near brittle events.

A flagged reading is kept with its row and value. Readings of a load are never left out by themselves: a reading that
looks like a spike is told, and the engineer decides.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice, Flag
from cracktie.campaign.instruments import STRAINS
from cracktie.lab import channels as lab
from cracktie.reduction.readings import Signal, Signals

FLOORS = {
    "displacement": 0.05, "diagonal displacement": 0.05, "crack opening": 0.02, "crack sliding": 0.02, "rotation": 0.05,
    **dict.fromkeys(STRAINS, 50e-6),
}  # fmt: skip
"""Least height of a spike (mm, deg, ratio): ten times a usual sensor's noise; starting values of our own."""
KEPT = ("load", "reaction")
"""Quantities of which a spike is told and kept."""
KEPT_FLOOR = 0.005
"""Least height of a spike in a load over its largest reading; a starting value of our own."""
FALL, WITHIN = 0.01, 0.5
"""A brittle event: the load loses this share of its largest reading in so many seconds; starting values of ours."""
STEP = 100e-6
"""A strain that changes for good by this much at a spike is a real event there, debonding; a starting value of ours."""
LISTED = 5
"""Spikes named one by one in a note, and channels with a note of their own."""


def brittle_times(time: Any, load: Any) -> Any:
    """Times of rows inside sudden falls of the load, s."""
    calm = lab.running_median(load)
    ahead = np.minimum(np.searchsorted(time, time + WITHIN, side="right"), len(time) - 1)
    needed = max(FALL * float(np.nanmax(np.abs(calm))), 6.0 * lab.step_noise(load))
    with np.errstate(invalid="ignore"):
        starts = np.flatnonzero(calm - calm[ahead] > needed)
    inside = np.zeros(len(time) + 1, dtype=int)
    np.add.at(inside, starts, 1)
    np.add.at(inside, ahead[starts] + 1, -1)
    return time[np.flatnonzero(np.cumsum(inside[:-1]) > 0)]


def clean(signals: Signals, choice: Choice, brittle: Any, time: Any) -> None:
    """Flag the spikes of one log; its `time`, `brittle` times and flags of the choice are on the first log's clock."""
    step = float(np.median(np.diff(time))) if len(time) > 1 else 0.0
    guard = _near(time, brittle, max(float(choice.cleaning.guard), 3.0 * step))
    strains = [s.values for s in signals.found.values() if s.channel.quantity in STRAINS]
    told: dict[str, str] = {}
    for name, signal in signals.found.items():
        own = [f for f in choice.flags if f.channel == name]
        flags = _sought(signal, choice, guard, strains) if choice.cleaning.spikes else np.zeros(len(time), dtype=bool)
        kept = _chosen(time, own, "kept")
        flags &= ~kept
        by_hand = _chosen(time, own, "flagged") & np.isfinite(signal.values)
        if signal.channel.quantity in KEPT and flags.any():
            _tell_kept(signals, signal, flags & ~by_hand, time)
            flags = np.zeros(len(time), dtype=bool)
        left_out = flags | by_hand
        for word, mask in (("spikes", flags & ~by_hand), ("by choice", by_hand)):
            if mask.any():
                signals.add_step("flag", {"channel": name, "why": word, "left_out": True}, mask)
        if kept.any():
            signals.add_step("keep", {"channel": name, "why": "by choice"}, kept)
        if left_out.any():
            rows = np.flatnonzero(left_out)
            readings = {int(row): float(signal.values[row]) for row in rows}
            signals.found[name] = replace(signal, values=np.where(left_out, np.nan, signal.values), flagged=readings)
            told[name] = _times(time[rows])
    _tell(signals, told)


def _near(time: Any, events: Any, within: float) -> Any:
    """True for rows within so many seconds of an event (`events` sorted)."""
    events = np.asarray(events, dtype=float)
    if events.size == 0:
        return np.zeros(len(time), dtype=bool)
    after = np.searchsorted(events, time)
    left = np.abs(time - events[np.maximum(after - 1, 0)])
    right = np.abs(time - events[np.minimum(after, events.size - 1)])
    return np.minimum(left, right) <= within


def _sought(signal: Signal, choice: Choice, guard: Any, strains: list[Any]) -> Any:
    """Spikes of one channel outside the guard; none where a strain changes for good at the same rows."""
    none = np.zeros(len(signal.values), dtype=bool)
    floor = FLOORS.get(signal.channel.quantity)
    if signal.channel.quantity in KEPT:
        floor = KEPT_FLOOR * float(np.nanmax(np.abs(signal.values), initial=0.0))
    if not floor:
        return none
    how = choice.cleaning
    flags = lab.spike_flags(
        signal.values, floor=max(floor, 10.0 * signal.noise), half_width=how.rows, threshold=how.threshold,
        longest=max(2, how.rows // 2), guard=guard,
    )  # fmt: skip
    for row in np.flatnonzero(flags):
        if any(_steps(values, int(row), how.rows) for values in strains):
            flags[row] = False
    return flags


def _steps(values: Any, row: int, rows: int) -> bool:
    """Whether a strain is at another level after a row than before it, beyond its own trend."""
    before, after = values[max(0, row - 2 * rows) : max(0, row - 1)], values[row + 2 : row + 2 * rows + 1]
    before, after = before[np.isfinite(before)], after[np.isfinite(after)]
    if before.size < 3 or after.size < 3:
        return False
    trend = (before[-1] - before[0]) + (after[-1] - after[0])
    return abs(float(np.median(after) - np.median(before))) > STEP + 1.5 * abs(float(trend))


def _chosen(time: Any, flags: list[Flag], status: str) -> Any:
    """Rows that the engineer's flags name: the nearest reading to a time, or all from start to end."""
    rows = np.zeros(len(time), dtype=bool)
    for flag in (f for f in flags if f.status == status):
        if flag.time is not None:
            row = int(np.argmin(np.abs(time - float(flag.time))))
            step = float(np.median(np.diff(time))) if len(time) > 1 else np.inf
            rows[row] |= abs(time[row] - float(flag.time)) <= step
        else:
            rows |= (time >= float(flag.start or 0.0)) & (time <= float(flag.end or 0.0))
    return rows


def _times(times: Any) -> str:
    listed = ", ".join(f"{t:.1f}" for t in times[:LISTED]) + (" ..." if len(times) > LISTED else "")
    return f"{len(times)} spike reading(s) left out, at {listed} s"


def _tell(signals: Signals, told: dict[str, str]) -> None:
    if len(told) <= LISTED:
        signals.notes += [f"{name}: {text}" for name, text in told.items()]
        return
    counts = ", ".join(f"{name} {text.split()[0]}" for name, text in told.items())
    signals.notes.append(f"spike readings left out (their rows are in the steps): {counts}")


def _tell_kept(signals: Signals, signal: Signal, flags: Any, time: Any) -> None:
    rows = np.flatnonzero(flags)
    if not rows.size:
        return
    name = signal.channel.name
    listed = ", ".join(f"{t:.1f}" for t in time[rows][:LISTED]) + (" ..." if rows.size > LISTED else "")
    top = rows[int(np.argmax(signal.values[rows]))]
    peak = " (one is the largest reading of all)" if signal.values[top] >= np.nanmax(signal.values) else ""
    signals.notes.append(
        f"{name}: {rows.size} reading(s) look like spikes{peak}, at {listed} s; a load is never cleaned by itself: "
        "flag them in reduction.yaml if they are none of the test"
    )
    signals.add_step("flag", {"channel": name, "why": "spikes", "left_out": False}, flags)
