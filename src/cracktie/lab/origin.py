"""Where the debonding of a leg with a free end came from: the crack or the end of the strip."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cracktie.lab.episodes import Episode
from cracktie.lab.legs import FULL, Leg, Search

GOES_FIRST = 0.75
"""Share of its part of the strain that the gauge near a free end has left at most while the leg peels from there."""


def end_or_crack(search: Search, leg: Leg, own: Sequence[int], episode: Episode) -> tuple[str, str]:
    """Which end the debonding came from, where gauges at several heights tell it.

    A debonding from the crack carries its plateau towards the end: the gauge nearest the end catches up with that at
    the crack before all fall at once. One from the strip's end takes the gauge nearest the end first, while that at the
    crack still holds.
    """
    heights = {g: leg.gauges[i].z for i, g in enumerate(own)}
    before = search.strain[:, max(0, search.at(episode.start))]
    alive = [g for g in own if heights[g] is not None and np.isfinite(before[g])]
    if len(alive) < 2 or not leg.ends:
        return "", ""
    crack = max(alive, key=lambda g: float(np.nanmax(search.strain[g, : search.at(episode.start) + 1])))
    z = float(heights[crack])  # type: ignore[arg-type]
    end = min(leg.ends, key=lambda e: min(abs(e - float(heights[g])) for g in alive))  # type: ignore[arg-type]
    toward = [g for g in alive if g != crack and abs(end - float(heights[g])) < abs(end - z)]  # type: ignore[arg-type]
    if not toward:
        return "", "no gauge between the crack and the free end"
    outer = min(toward, key=lambda g: abs(end - float(heights[g])))  # type: ignore[arg-type]
    falls_at = {f.gauge: f for f in episode.falls}
    names = search.names
    early = _left_early(search, outer, crack, episode.start)
    if early > 0.0:
        return "strip end", f"{names[outer]} near the end falls {early:.2g} s before {names[crack]} at the crack"
    if outer not in falls_at and crack in falls_at and outer in episode.rising:
        return "crack-induced", f"{names[crack]} falls while {names[outer]} towards the end rises"
    course = _during(search, outer, crack, episode)
    if course < GOES_FIRST:
        told = (
            f"{names[outer]} near the end goes ahead of {names[crack]} at the crack ({100 * course:.0f} % of its share)"
        )
        return "strip end", told
    gained = _caught_up(search, outer, crack, episode.start) if course == 1.0 else 0.0
    if gained > 1.5:
        return "crack-induced", f"{names[outer]} near the end had caught up with {names[crack]} ({gained:.1f} times)"
    return "", "from the end or from the crack is not told apart"


def _left_early(search: Search, outer: int, crack: int, start: int) -> float:
    """By how many s the outer gauge has lost a third of its largest strain before the gauge at the crack falls."""
    i = search.at(start)
    first = search.at(int(np.searchsorted(search.t, search.t[start] - 15.0)))
    e = search.strain[outer, first : i + 1]
    if e.size < 3 or not np.isfinite(e).any():
        return 0.0
    top = int(np.nanargmax(e))
    peak = float(e[top])
    if peak < max(100e-6, 10.0 * float(search.noise[outer])):
        return 0.0
    gone = np.flatnonzero(e[top:] < 0.67 * peak)
    # the crack gauge still holds, and so does the load: else the whole leg is unloading
    if not gone.size or search.strain[crack, i] < 0.9 * np.nanmax(search.strain[crack, first : i + 1]):
        return 0.0
    early = float(search.t[start] - search.t[search.grid[first + top + int(gone[0])]])
    return early if early > 0.5 * search.within else 0.0


def _during(search: Search, outer: int, crack: int, episode: Episode) -> float:
    """While the gauge at the crack has 20 to 60 % of its strain left: the ratio outer/crack over that before the fall.

    1 where the fall is too sudden to tell.
    """
    i, j = max(0, search.at(episode.start) - 1), search.at(max(f.low for f in episode.falls))
    near, far = search.strain[crack, i : j + 1], search.strain[outer, i : j + 1]
    if not np.isfinite(near[0]) or not far[0] > max(100e-6, 10.0 * float(search.noise[outer])):
        return 1.0
    part = near / near[0]
    inside = (part > 0.2) & (part < 0.6) & np.isfinite(far)
    return float(np.median(far[inside] / near[inside]) / (far[0] / near[0])) if inside.sum() >= 2 else 1.0


def _caught_up(search: Search, outer: int, crack: int, start: int) -> float:
    """How much the ratio outer/crack has grown since the crack gauge had 0.6 of its largest strain; 0 if unknown."""
    i = search.at(start)
    near, far = search.strain[crack, : i + 1], search.strain[outer, : i + 1]
    good = np.flatnonzero(np.isfinite(near) & np.isfinite(far) & search.loading[: i + 1])
    if good.size < 10 or near[good].max() < FULL:
        return 0.0
    early = good[near[good] >= 0.6 * near[good].max()][:5]
    late = good[-5:]
    floor = max(3.0 * float(search.noise[outer]), 10e-6)
    was = max(float(np.median(far[early])), floor) / float(np.median(near[early]))
    now = float(np.median(far[late])) / float(np.median(near[late]))
    return now / was if np.median(far[late]) > 3.0 * floor else 0.0
