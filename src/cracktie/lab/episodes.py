"""What happens on one leg at one time: falls of its gauges that belong together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cracktie.lab.legs import Fall, Search

TOGETHER = 2.0
"""Falls on one leg belong to one event when the next starts within this many s of the end of the last."""
LONE_BEFORE, LONE_KEPT = 800e-6, 0.35
"""A gauge that falls alone, without a drop of the load, shows an event where it had that strain and loses all but that
share of it; else its amplifier changed its range."""


@dataclass
class Episode:
    """What happens on one leg at one time: its falls, and the rows it takes."""

    falls: list[Fall]
    start: int
    end: int
    rising: list[int] = field(default_factory=list)

    @property
    def drop(self) -> float:
        """Largest fall of the load that goes with it."""
        return max(f.load_drop for f in self.falls)

    @property
    def kept(self) -> float:
        """Strain left over strain before, all falling gauges."""
        in_order = sorted(self.falls, key=lambda f: f.start)
        before = {f.gauge: max(f.before, 0.0) for f in reversed(in_order)}
        after = {f.gauge: max(f.after, 0.0) for f in in_order}
        return sum(after.values()) / sum(before.values()) if sum(before.values()) > 0.0 else 1.0


def episodes_of(search: Search, known: Sequence[int], mine: Sequence[Fall]) -> list[Episode]:
    """Falls of a leg that belong together; `known` are the gauges on the leg and on its anchor."""
    out: list[Episode] = []
    for one in sorted(mine, key=lambda f: f.start):
        if one.alone and not _borne_out(search, one, mine):
            continue
        last = out[-1] if out else None
        again = last is not None and any(f.gauge == one.gauge and f.sudden and one.sudden for f in last.falls)
        if last is not None and not again and search.t[one.start] - search.t[last.end] <= TOGETHER:
            last.falls.append(one)
            last.end = max(last.end, one.low)
        else:
            out.append(Episode([one], one.start, one.low))
    for episode in out:
        sudden = [f for f in episode.falls if f.sudden]
        if sudden:  # a slow sinking that ends in a sudden fall: the fall places the event
            episode.start = min(f.start for f in sudden)
            episode.end = max(f.low for f in sudden)
        falling = {f.gauge for f in episode.falls}
        episode.rising = [g for g in search.rising(episode.start, episode.end, tuple(falling)) if g in known]
    return out


def _borne_out(search: Search, one: Fall, mine: Sequence[Fall]) -> bool:
    """Whether a fall that nothing goes with is an event: another gauge of the leg falls too, or it loses all."""
    at = search.t[one.start]
    company = any(f.gauge != one.gauge and f.sudden and abs(search.t[f.start] - at) <= search.within for f in mine)
    return company or (one.before >= LONE_BEFORE and one.after <= LONE_KEPT * one.before)
