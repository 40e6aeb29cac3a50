"""Logs of one test on the clock of the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice
from cracktie.lab import channels as lab
from cracktie.lab.trail import Trail
from cracktie.reduction.cleaning import brittle_times, clean
from cracktie.reduction.clocks import clock_of
from cracktie.reduction.readings import Signal, Signals

STATED = "stated in reduction.yaml"


@dataclass(frozen=True)
class Clock:
    """Times of another log on the first one's clock: its own + `offset` + `drift` (its own - `reference`), s; with the
    uncertainty of the offset (None: stated) and how it was found. No offset: not found."""

    offset: float | None
    u: float | None
    how: str
    drift: float = 0.0
    reference: float = 0.0

    def moved(self, time: Any) -> Any:
        """Own times on the clock of the first log; only where it was found."""
        assert self.offset is not None
        return time + self.offset + self.drift * (time - self.reference)


def joined(parts: Sequence[Signals], names: Sequence[str], choice: Choice) -> Signals:
    """All logs on the clock of the first, each cleaned on its own; those whose clock cannot be placed are left out."""
    whole = parts[0]
    clocks = [Clock(0.0, None, ""), *(_clock(whole, p, n, choice) for p, n in zip(parts[1:], names[1:], strict=True))]
    whole.brittle = _brittle(parts, clocks, choice)
    for part, clock in zip(parts, clocks, strict=True):
        if clock.offset is not None:
            clean(part, choice, whole.brittle, clock.moved(part.time))
    for part, name, clock in zip(parts[1:], names[1:], clocks[1:], strict=True):
        _join(whole, part, name, clock)
    return whole


def _brittle(parts: Sequence[Signals], clocks: Sequence[Clock], choice: Choice) -> Any:
    """Sudden falls of the first load there is, and events that the engineer placed, on the first clock."""
    events = [np.array([float(e.time) for e in choice.events if e.time is not None and e.status != "rejected"])]
    for part, clock in zip(parts, clocks, strict=True):
        loads = part.of("load")
        if loads and clock.offset is not None and np.isfinite(loads[0].values).any():
            events.append(clock.moved(brittle_times(part.time, loads[0].values)))
            break
    return np.sort(np.concatenate(events))


def _clock(first: Signals, second: Signals, name: str, choice: Choice) -> Clock:
    stated = next((c.clock_offset for c in choice.logs if c.log == name and c.clock_offset is not None), None)
    found = clock_of(first, second)
    if stated is not None:
        if found.status == "accepted" and abs(found.offset - float(stated)) > max(1.0, 3.0 * found.u):
            first.notes.append(f"{name}: clock_offset {float(stated):g} s is taken, but the readings place it at "
                               f"{found.offset:.2f} s ({found.reason})")  # fmt: skip
        return Clock(float(stated), None, STATED)
    if found.status != "accepted":
        return Clock(None, None, found.reason)
    return Clock(found.offset, found.u, found.reason, found.drift, found.reference)


def _join(first: Signals, second: Signals, name: str, clock: Clock) -> None:
    """Put the channels of another log among those of the first."""
    first.logs += second.logs
    first.notes += second.notes
    if clock.offset is None:
        first.notes.append(f"{name}: left out, its clock could not be placed: {clock.how}; state clock_offset")
        return
    moved = clock.moved(second.time)
    arguments: dict[str, Any] = {"log": name, "offset_s": clock.offset, "u_s": clock.u, "how": clock.how}
    arguments |= {"drift": clock.drift, "reference_s": clock.reference} if clock.drift else {}
    first.trail = Trail((*first.trail.steps, *second.trail.steps)).add("synchronise", arguments, len(moved))
    for channel, signal in second.found.items():
        if channel not in first.found:
            first.found[channel] = _moved(signal, first.time, moved, clock)
    first.add_step("interpolate", {"log": name, "onto": "first log's clock"}, len(first.time))
    first.notes.append(f"{name}: clock moved by {clock.offset:+.3f} s ({clock.how})")
    if len(moved) and not (moved[0] <= first.time[-1] and moved[-1] >= first.time[0]):
        first.notes.append(
            f"{name}: left out, it runs from {moved[0]:.1f} to {moved[-1]:.1f} s there, the first log from "
            f"{first.time[0]:.1f} to {first.time[-1]:.1f} s; correct clock_offset"
        )


def _moved(signal: Signal, time: Any, own: Any, clock: Clock) -> Signal:
    """A signal on another clock, by straight lines between readings at most `lab.GAP` steps apart."""
    good = np.isfinite(signal.values)
    values = np.full(len(time), np.nan)
    if good.any():
        at = own[good]
        inside = np.flatnonzero((time >= at[0]) & (time <= at[-1]))
        after = np.clip(np.searchsorted(at, time[inside]), 1, max(len(at) - 1, 1))
        if len(at) > 1:
            longest = lab.GAP * float(np.median(np.diff(own)))
            inside = inside[at[after] - at[after - 1] <= longest]
        values[inside] = np.interp(time[inside], at, signal.values[good])
    lost = signal.lost
    if lost is not None:
        placed = float(clock.moved(lost.time))
        lost = replace(lost, row=int(np.searchsorted(time, placed)), time=placed)
    flagged = {min(int(np.searchsorted(time, own[row])), len(time) - 1): x for row, x in signal.flagged.items()}
    parts = tuple(p if np.ndim(p.u) == 0 else replace(p, u=np.interp(time, own, p.u)) for p in signal.parts)
    zeroed = (
        None if signal.zeroed is None else (float(clock.moved(signal.zeroed[0])), float(clock.moved(signal.zeroed[1])))
    )
    return replace(signal, values=values, lost=lost, flagged=flagged, parts=parts, zeroed=zeroed)
