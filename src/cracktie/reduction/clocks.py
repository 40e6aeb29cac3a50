"""The clock of a second log against the first: pulses, a shared signal, sudden events; else a question."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.clocks import Synchronised, synchronise
from cracktie.lab.marks import match, pulses, sudden

if TYPE_CHECKING:
    from cracktie.reduction.readings import Signal, Signals

LONGEST_SHIFT = 900.0
"""Largest shift tried between two clocks by a shared signal, s."""
GAUGES = ("FRP strain", "bar strain", "concrete strain", "anchor strain", "displacement", "crack opening")
"""Quantities whose jumps may belong to a fall of the load."""


def clock_of(first: Signals, second: Signals) -> Synchronised:
    """Clock of the second log on that of the first; status 'asked' with all that was tried where nothing places it.

    In this order, the first that passes its gate counts: time-mark channels (pulses); a signal that stands in both, by
    gated correlation of its rates with drift; sudden events, falls of the load in one and jumps of gauges in the other.
    """
    tried = []
    for how in (_by_pulses, _by_signals, _by_events):
        for words, found in how(first, second):
            if found.status == "accepted":
                return replace(found, reason=f"{words}: {found.reason}, u = {found.u:.3f} s")
            tried.append(f"{words}: {found.reason}")
    said = "; ".join(tried) or "the two logs share no load channel, no other signal and no time marks"
    return Synchronised("asked", math.nan, math.nan, 0.0, 0.0, said)


def _by_pulses(first: Signals, second: Signals) -> Iterator[tuple[str, Synchronised]]:
    for a in first.of("time mark"):
        for b in second.of("time mark"):
            (one, u_one), (two, u_two) = pulses(first.time, a.values), pulses(second.time, b.values)
            yield f"pulses of {_both(a, b)}", match(one, two, math.hypot(u_one, u_two), what="pulses", single=True)


def _by_signals(first: Signals, second: Signals) -> Iterator[tuple[str, Synchronised]]:
    """Loads first, then whatever stands in both logs under one name."""
    pairs = [(a.channel.name, b.channel.name) for a in first.of("load") for b in second.of("load")]
    pairs += [(n, n) for n in second.found if n in first.found and first.found[n].channel.quantity != "time mark"]
    for a, b in dict.fromkeys(pairs):
        one, two = first.found[a], second.found[b]
        try:
            found = synchronise(first.time, one.values, second.time, two.values, max_shift=LONGEST_SHIFT, drift=True)
            if found.status != "accepted":
                turned = synchronise(first.time, one.values, second.time, -two.values, max_shift=LONGEST_SHIFT,
                                     drift=True)  # fmt: skip
                if turned.status == "accepted":
                    found = replace(turned, reason=f"{turned.reason}; one of both is counted the other way round, see "
                                                   "sign in the layout")  # fmt: skip
        except ModelInputError as error:
            found = Synchronised("asked", math.nan, math.nan, 0.0, 0.0, str(error))
        yield _both(one, two), found


def _by_events(first: Signals, second: Signals) -> Iterator[tuple[str, Synchronised]]:
    """Falls of the load in one log against jumps of gauges in the other; a single pair is no proof but a proposal."""
    for here, there in ((first, second), (second, first)):
        jumps, u_jump = _jumps(there)
        for load in here.of("load"):
            falls, u_load = sudden(here.time, load.values, falls_only=True)
            if not falls.size or not jumps.size:
                continue
            one, two = (falls, jumps) if here is first else (jumps, falls)
            found = match(one, two, math.hypot(u_load, u_jump), what="sudden events")
            if found.status != "accepted":
                told = (
                    f"{found.reason}; were the last of each one event, clock_offset would be {one[-1] - two[-1]:.2f} s"
                )
                found = replace(found, reason=told)
            yield f"falls of {load.channel.name} against jumps of gauges", found


def _jumps(log: Signals) -> tuple[Any, float]:
    """Sudden events of all gauges of a log, those within two samples taken once."""
    found = [sudden(log.time, s.values) for q in GAUGES for s in log.of(q)]
    times = np.sort(np.concatenate([t for t, _ in found] or [np.zeros(0)]))
    u = max((u for _, u in found), default=0.0)
    keep = np.concatenate(([True], np.diff(times) > 2.0 * u)) if times.size else np.zeros(0, dtype=bool)
    return times[keep], u


def _both(a: Signal, b: Signal) -> str:
    one, two = a.channel.name, b.channel.name
    return one if one == two else f"{one} and {two}"
