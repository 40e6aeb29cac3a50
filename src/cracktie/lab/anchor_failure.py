"""Fan or dowel: what the gauges of a leg tell about the part of its anchor that gave way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cracktie.lab.legs import Fall, Leg, Search

LEAD = 15.0
"""How many s before the collapse a sinking of the upper gauges is looked for."""
SUNK = 0.85
"""A gauge sinks from the last time on at which it had this share of its largest strain within `LEAD`."""
HOLDS = 0.5
CARRIES = 500e-6
"""Strain of a gauge on the anchor from which what it does at the failure tells anything."""


def divided(
    search: Search, leg: Leg, own: Sequence[int], anchors: Sequence[int], episode: Sequence[Fall],
    rows: tuple[int, int], since: int,
) -> tuple[str, str, float]:  # fmt: skip
    """'fan', 'dowel' or '' with what tells it and a confidence.

    A fan that peels off the sheet takes the force from the sheet near its end first, while the dowel still carries what
    the rest of the fan hands over. A dowel that breaks or pulls out takes all at once, the gauge on the anchor with it
    or before; with it, a fan that lets go at once looks the same, and neither is named. `rows`: first and last of the
    fall; what lies before row `since` (the debonding of the leg) is not looked at.
    """
    start, end = rows
    dropped = any(f.load_drop > 0.0 for f in episode)
    bonus = 0.1 if dropped else 0.0
    gone = {g: _sinks_from(search, g, start, end, since) for g in (*own, *anchors)}
    upper = _upper(leg, own)
    lower = [gone[g] for g in own if g != upper and gone[g] is not None]
    tolerance = max(0.4 * search.within, 2.0 * _step(search))
    live = [g for g in anchors if _before(search, g, start) > CARRIES]
    if live:
        kept = float(np.mean([_kept(search, g, start, end) for g in live]))
        if kept >= HOLDS:
            return "fan", f"the anchor keeps {100 * kept:.0f} % of its strain while the leg falls", 0.7 + bonus
        times = [gone[g] for g in live if gone[g] is not None]
        if times and upper is not None and gone[upper] is not None:
            ahead = min(times) - gone[upper]  # type: ignore[operator, type-var]
            if ahead > tolerance:
                return "fan", f"{search.names[upper]} near the fan sinks {ahead:.2g} s before the anchor", 0.65 + bonus
        if times and lower and min(lower) - min(times) > tolerance:  # type: ignore[operator, type-var]
            return "dowel", "the anchor falls before the leg", 0.65 + bonus
        if times:
            return "", "the anchor falls with the whole leg, as with a dowel or a fan that lets go at once", 0.5 + bonus
    if upper is not None and gone[upper] is not None and lower:
        ahead = min(lower) - gone[upper]  # type: ignore[operator, type-var]
        if ahead > tolerance:
            told = f"{search.names[upper]} near the fan sinks {ahead:.2g} s before the rest of the leg"
            return "fan", told, 0.5 + bonus
    return "", "fan or dowel not told apart", 0.5 + bonus


def _upper(leg: Leg, own: Sequence[int]) -> int | None:
    """The gauge nearest the anchored end, where there are several at known heights."""
    placed = {g: gauge.z for g, gauge in zip(own, leg.gauges, strict=True) if gauge.z is not None}
    if len(placed) < 2 or not leg.ends:
        return None
    return min(placed, key=lambda g: min(abs(float(placed[g] or 0.0) - end) for end in leg.ends))


def _sinks_from(search: Search, g: int, start: int, end: int, since: int) -> float | None:
    """Time in s from which a gauge lies below `SUNK` of its largest strain for good; None where it never does."""
    first = search.at(min(start, max(since, int(np.searchsorted(search.t, search.t[start] - LEAD)))))
    last = search.at(end)
    e = search.strain[g, first : last + 1]
    if e.size < 2 or not np.isfinite(e).any():
        return None
    top = int(np.nanargmax(e))
    if not e[top] > 0.0:
        return None
    up = np.flatnonzero(e[top:] >= SUNK * e[top])
    after = top + int(up[-1])
    if after + 1 >= e.size or not np.isfinite(e[after + 1]):
        return None
    return float(search.t[search.grid[first + after]])


def _before(search: Search, g: int, start: int) -> float:
    value = search.strain[g, search.at(start)]
    return float(value) if np.isfinite(value) else 0.0


def _kept(search: Search, g: int, start: int, end: int) -> float:
    j = search.at(end)
    after = search.strain[g, j : j + 3]
    good = after[np.isfinite(after)]
    return float(np.median(good)) / max(_before(search, g, start), 1e-9) if good.size else 0.0


def _step(search: Search) -> float:
    """Usual time between two points of the search grid, s."""
    return float(np.median(np.diff(search.t[search.grid]))) if search.grid.size > 1 else 0.0
