"""Legs of a wrap and their gauges: what sinks, when and by how much, on a grid that every fall spans.

A strip across a crack (`cracktie.mechanics.crossing`) leaves these signals on gauges at several heights. While it is
bonded the strain falls off from the crack; as bond softens a plateau spreads from the crack towards the ends. At a
free end the leg then lets go: all its gauges fall at once to what friction holds. At a held end (anchor, closed wrap)
the leg becomes free between crack and end: its gauges even out, those at the crack fall a little, those far from it
rise, and all go on rising with the opening. When the anchor fails, all fall together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.lab.channels import GaugeLoss, find_gauge_loss, median_of_five, running_median, step_noise
from cracktie.lab.events import checked_record, loading_rows

NEIGHBOUR_RISE = 50e-6
PERSISTENT_ROWS = 5
FULL = 400e-6
"""Strain below which neither sinking nor evenness of a leg is judged."""
WRECKED = 2.0 / 3.0
"""Share of the peak load below which, once it has fallen there for good, what strips do is no event any more."""
HELD = ("free", "anchor", "wrap")


@dataclass(frozen=True)
class LegGauge:
    """A gauge along the fibre at height `z` in mm (None: not known); `values` as strain ratio, NaN where missing."""

    name: str
    values: Any
    z: float | None = None


@dataclass(frozen=True)
class Leg:
    """One strip on one face: its gauges, how its ends are held, and where.

    `held`: 'free' (U-wrap, side strip), 'anchor', or 'wrap' (closed round the section). `ends` are the heights of the
    ends that could let go, `fan_from` that of the lower tip of the anchor's fan (above it the fan takes over the
    force), both in mm or None; `anchor` the gauges on fan or dowel; `strength` the rupture strain where known.
    """

    strip: int | None
    face: str | None
    gauges: Sequence[LegGauge]
    held: str = "free"
    ends: tuple[float, ...] = ()
    fan_from: float | None = None
    anchor: Sequence[LegGauge] = ()
    strength: float | None = None

    @property
    def name(self) -> str:
        """Words for evidence: 'strip 3 front', or the gauge where there is no strip."""
        if self.strip is None:
            return self.gauges[0].name if self.gauges else "leg"
        return f"strip {self.strip}" + (f" {self.face}" if self.face else "")


@dataclass(frozen=True)
class Fall:
    """A gauge that falls or sinks: rows of the record before it and at its lowest, strains there; sudden or slow.

    `alone`: neither does the load drop nor does another gauge rise with it.
    """

    gauge: int
    start: int
    low: int
    before: float
    after: float
    sudden: bool
    load_drop: float
    alone: bool = False


@dataclass
class Search:
    """A record prepared for the search: full rows, and a grid of rows that has five steps within the time of a fall.

    `strain` (gauges, grid) holds running medians of five rows, NaN behind a loss; `noise` one number a gauge.
    """

    t: Any
    x: Any
    names: list[str]
    raw: list[Any]
    grid: Any
    strain: Any
    loading: Any
    load: Any
    noise: Any
    sigma: float
    top: float
    within: float
    deflection: Any
    losses: dict[str, GaugeLoss] = field(default_factory=dict)

    def at(self, row: int) -> int:
        """Grid point at or before a row."""
        return max(0, int(np.searchsorted(self.grid, row, side="right")) - 1)

    def rising(self, start: int, end: int, without: Sequence[int] = ()) -> list[int]:
        """Gauges that rise between two rows, clear of their noise."""
        change = self.strain[:, self.at(end)] - self.strain[:, self.at(start)]
        with np.errstate(invalid="ignore"):
            found = change > np.maximum(NEIGHBOUR_RISE, 6.0 * self.noise)
        return [int(g) for g in np.flatnonzero(found) if g not in without]

    def load_drop(self, start: int, end: int) -> float:
        """Fall of the load between two rows, 0 where it is within noise."""
        stretch = self.x[start : end + 2]
        if not np.isfinite(stretch).any():
            return 0.0
        first = self.x[max(0, start - 2) : start + 1]
        here = float(np.nanmedian(first)) if np.isfinite(first).any() else float(np.nanmax(stretch))
        drop = max(here, float(np.nanmax(self.x[start : start + 2]))) - float(np.nanmin(stretch))
        return drop if drop > max(6.0 * self.sigma, 0.003 * self.top) else 0.0


def prepared(time: Any, load: Any, gauges: Sequence[LegGauge], deflection: Any, within: float) -> Search:
    """The record on its search grid: no coarser than a fifth of `within` s, medians of five raw rows round each."""
    t, x = checked_record(time, load)
    steps = np.diff(t)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else within
    grid = np.arange(0, t.size, max(1, int(within / 5.0 / usual)))
    raw = [np.asarray(g.values, dtype=float) for g in gauges]
    losses = {g.name: loss for g, v in zip(gauges, raw, strict=True) if (loss := find_gauge_loss(t, v)) is not None}
    strain = np.empty((len(raw), grid.size))
    for i, (gauge, values) in enumerate(zip(gauges, raw, strict=True)):
        strain[i] = grid_medians(values, grid)
        if gauge.name in losses:
            strain[i, grid >= losses[gauge.name].row] = np.nan
    d = None if deflection is None else np.asarray(deflection, dtype=float)
    calm = grid_medians(x, grid)
    loading = loading_rows(calm, None if d is None else grid_medians(d, grid))
    standing = np.flatnonzero(calm >= WRECKED * np.nanmax(calm))
    loading[int(standing[-1]) + 1 :] = False
    return Search(
        t, x, [g.name for g in gauges], raw, grid, strain, loading, calm,
        np.array([step_noise(row) for row in strain]), step_noise(x), float(np.nanmax(x)), within, d, losses,
    )  # fmt: skip


def grid_medians(values: Any, grid: Any) -> Any:
    """Median of five rows round each row of the grid, NaN left out."""
    if grid.size == values.size:
        return running_median(values)
    around = np.clip(grid[:, None] + np.arange(-2, 3), 0, values.size - 1)
    block = values[around]
    if np.isfinite(block).all():
        return median_of_five(*block.T)
    good = np.isfinite(block).any(axis=1)
    out = np.full(grid.size, np.nan)
    out[good] = np.nanmedian(block[good], axis=1)
    return out


def falls(search: Search, *, fall: float = 200e-6, share: float = 0.10) -> list[Fall]:
    """All falls and sinkings of all gauges, in order of their start.

    Sudden: within `search.within` s the strain falls, beyond what the load's own fall explains, by more than
    max(`fall`, `share` of it) and stays down, under loading. Slow: under loading the strain has sunk below the largest
    since the last fall by as much, in more time, while another gauge rose.
    """
    found: list[Fall] = []
    for g in range(len(search.names)):
        least = max(fall, 8.0 * float(search.noise[g]))
        own = _sudden(search, g, least, share)
        found += own + _slow(search, g, own, least, share)
    return sorted(found, key=lambda f: f.start)


def _sudden(search: Search, g: int, fall: float, share: float) -> list[Fall]:
    e, x, t = search.strain[g], search.load, search.t[search.grid]
    n = e.size
    after = np.minimum(np.maximum(np.searchsorted(t, t + search.within, side="right") - 1, np.arange(n) + 1), n - 1)
    load_share = np.clip(np.where(x > 0, (x - x[after]) / np.where(x > 0, x, 1.0), 0.0), 0.0, 1.0)
    with np.errstate(invalid="ignore"):
        excess = (e - e[after]) - np.maximum(e, 0.0) * load_share
        steep = np.flatnonzero(search.loading & (excess > np.maximum(fall, share * e)) & (e > fall))
    found: list[Fall] = []
    done = -1
    for i in steep:
        if i <= done:
            continue
        j = int(after[i])
        last = int(after[steep[np.searchsorted(steep, j, side="right") - 1]])
        one = _placed(search, g, int(i), last, fall)
        if one is not None:
            found.append(one)
            done = max(search.at(one.low), j)
    return found


def _placed(search: Search, g: int, i: int, last: int, fall: float) -> Fall | None:
    """A steep stretch of the grid as a fall between two rows of the record; None where it comes back."""
    first_row, last_row = int(search.grid[i]), int(min(search.grid[last] + 2, search.t.size - 1))
    begin = max(0, first_row - 2)
    e = running_median(search.raw[g][begin : last_row + 3])[first_row - begin :][: last_row + 1 - first_row]
    name = search.names[g]
    if name in search.losses:
        e = np.where(np.arange(first_row, last_row + 1) >= search.losses[name].row, np.nan, e)
    if np.isfinite(e).sum() < 2:
        return None
    top = int(np.nanargmax(e))
    low = top + int(np.nanargmin(e[top:]))
    if low == top:
        return None
    still_up = np.flatnonzero(e[top : low + 1] >= e[top] - 0.2 * (e[top] - e[low]))
    start, low = first_row + top + int(still_up[-1]), first_row + low
    before, after = float(e[start - first_row]), float(e[low - first_row])
    j = search.at(low)
    stays = search.strain[g, j : j + max(4, j - i)]
    if not np.nanmedian(stays) < before - 0.5 * fall or _unloaded(search, g, start, low, before, after):
        return None
    drop = search.load_drop(start, low)
    return Fall(g, start, low, before, after, True, drop, not drop and not search.rising(start, low, (g,)))


def _unloaded(search: Search, g: int, start: int, low: int, before: float, after: float) -> bool:
    """Whether the deflection goes back or, without one, the strain comes back with the load."""
    if search.deflection is not None:
        here, there = search.deflection[start], search.deflection[low]
        part = (search.x[start] - search.x[low]) / search.x[start] if search.x[start] else 0.0
        if np.isfinite(here) and np.isfinite(there):
            return bool(here - there > max(0.3 * part * abs(here), 0.01 * abs(here)))
    back = np.flatnonzero(search.load[search.at(low) + 1 :] >= search.x[start])
    if not back.size:
        return False
    then = search.strain[g, search.at(low) + 1 + int(back[0])]
    return bool(np.isfinite(then) and then > before - 0.5 * (before - after))


def _slow(search: Search, g: int, sudden: Sequence[Fall], fall: float, share: float) -> list[Fall]:
    """Sinkings in the stretches between the sudden falls of a gauge."""
    begins = (0, *(search.at(f.low) + 1 for f in sudden))
    ends = (*(search.at(f.start) for f in sudden), search.grid.size)
    sinking = (_sinks(search, g, begin, end, fall, share) for begin, end in zip(begins, ends, strict=True))
    return [one for one in sinking if one is not None]


def _sinks(search: Search, g: int, begin: int, end: int, fall: float, share: float) -> Fall | None:
    if end - begin < PERSISTENT_ROWS + 2:
        return None
    e, x, on = search.strain[g, begin:end], search.load[begin:end], search.loading[begin:end]
    filled = np.where(np.isfinite(e) & on, e, -np.inf)
    reached = np.maximum.accumulate(filled)
    place = np.maximum.accumulate(np.where(filled >= reached, np.arange(e.size), 0))
    with np.errstate(invalid="ignore", divide="ignore"):
        lost_load = np.clip(1.0 - x / np.where(x[place] > 0, x[place], np.inf), 0.0, 1.0)
        lost = reached - e - np.maximum(reached, 0.0) * np.where(np.isfinite(lost_load), lost_load, 0.0)
        sunk = on & np.isfinite(e) & (reached > FULL) & (lost > np.maximum(fall, share * reached))
    rows = np.flatnonzero(on & np.isfinite(e))
    kept = sunk[rows].astype(int)
    if kept.size < PERSISTENT_ROWS:
        return None
    whole = np.convolve(kept, np.ones(PERSISTENT_ROWS, dtype=int), "valid") == PERSISTENT_ROWS
    if not whole.any():
        return None
    row = int(rows[int(np.argmax(whole))])
    top = int(place[row])
    stop = min(e.size, row + 3 * max(row - top, PERSISTENT_ROWS))
    low = row + int(np.nanargmin(np.where(on[row:stop], e[row:stop], np.inf)))
    course, loss = e[top : low + 1], float(e[top] - e[low])
    start = top + int(np.flatnonzero(course >= e[top] - 0.05 * loss)[-1])
    under = start + int(np.flatnonzero(e[start : low + 1] <= e[top] - 0.8 * loss)[0])
    t = search.t[search.grid[begin:end]]
    first, last = int(search.grid[begin + start]), int(search.grid[begin + low])
    if t[under] - t[start] <= 2.0 * search.within or not search.rising(first, last, (g,)):
        return None  # a step: had it been a fall, it would be among the sudden ones
    return Fall(g, first, last, float(e[start]), float(e[low]), False, 0.0)
