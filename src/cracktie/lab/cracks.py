"""First flexural and first diagonal crack, sought on the loading envelope of a beam that was not cracked before."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.lab.channels import running_median, step_noise
from cracktie.lab.events import Event, checked_record, listed, loading_envelope
from cracktie.lab.hinge import fit_hinge
from cracktie.lab.legs import grid_medians
from cracktie.lab.load_drops import load_drops

FIT_ROWS = 6000
"""Rows a fit of two lines keeps at most: of longer records the means of neighbours are fitted."""
MOST_ROWS = 30_000
"""Rows of a record in which the diagonal crack is sought one by one; of longer ones every n-th."""
TOGETHER = 0.05
"""Onsets of two gauges belong together within this share of the peak load."""
SHARP = 80e-6
"""Strain beyond its own line that a gauge on a crack gains within `SHARP_OVER` of the peak load behind its onset."""
SHARP_OVER = 0.10
SLOWLY, LINES = 0.05, 6
"""A gauge that takes this share of the peak load to leave its line drifts; how many lines are drawn at most."""
DRIFT = 0.5
"""Growth a second in holds over that under loading from which a gauge drifts."""


def first_flexural_crack(
    time: Any, deflection: Any, load: Any, *, below: float = 0.4, seating: float = 0.03
) -> Event | None:
    """Where the first loading softens: two continuous straight lines on load over deflection (or bar strain).

    Only rows on the envelope between `seating` and `below` of the peak are used. None when a second line does
    not help (F-test at 1 %) or is not at least 10 % less steep.
    """
    t, x = checked_record(time, load)
    d = np.asarray(deflection, dtype=float)
    running, on = loading_envelope(x, 0.002)
    top = float(running[-1])
    reached = np.maximum.accumulate(np.where(np.isfinite(d), d, -np.inf))
    keep = on & np.isfinite(x) & np.isfinite(d) & (x <= below * top) & (x >= seating * top) & (running <= below * top)
    keep &= d >= reached - 3.0 * step_noise(d)
    rows = np.flatnonzero(keep)
    if rows.size < 12:
        return None
    hinge = fit_hinge(_means(d[rows]), _means(x[rows]))
    if hinge is None or hinge.p_value > 0.01 or not hinge.slope_after < 0.9 * hinge.slope_before:
        return None
    row = int(rows[np.argmin(np.abs(d[rows] - hinge.at))])
    ratio = hinge.slope_after / hinge.slope_before
    confidence = float(np.clip(1.1 - ratio, 0.2, 0.95))
    return Event(
        "first flexural crack",
        row,
        float(t[row]),
        hinge.value,
        hinge.u_value,
        "two lines, least squares",
        confidence,
        f"slope falls to {100 * ratio:.0f} % at deflection {hinge.at:.4g}; F-test p = {hinge.p_value:.1g}",
    )


def _means(values: Any) -> Any:
    """Means of neighbours, so many that at most `FIT_ROWS` are left; the few readings behind the last whole mean go."""
    size = -(-values.size // FIT_ROWS)
    return values if size == 1 else values[: values.size // size * size].reshape(-1, size).mean(axis=1)


@dataclass(frozen=True)
class _Onset:
    """A gauge that leaves its line: last calm row, row where it has clearly left, whether its growth is that of a
    crack (`sharp`), mostly in one step (`steps`), and whether it goes on in holds (`drifts`)."""

    name: str
    row: int
    clear: int
    sharp: bool
    steps: bool
    drifts: bool


def first_diagonal_crack(
    time: Any,
    load: Any,
    gauges: Mapping[str, Any],
    *,
    quiet: float = 0.15,
    sigmas: float = 5.0,
    floor: float = 2e-5,
    deflection: Any = None,
) -> Event | None:
    """Onset of strain in stirrup, diagonal or vertical gauges (strain as a ratio); without gauges the first load drop.

    Each gauge is compared with its own straight line over the load below `quiet` of the peak; onset is the last
    row within one sigma before it leaves by `sigmas` sigma (at least `floor`) for good. A crack opens with the load:
    its gauge has to gain `SHARP` within `SHARP_OVER` of the peak load while the load rises, and a gauge that goes on at
    the same rate while the load is held drifts and is left out; so one that leaves its line slowly is no crack, alone
    or with others that warm up like it. Two gauges that start within 5 % of the peak raise the confidence. `u` holds
    the load between onset and leaving.
    """
    t, x = checked_record(time, load)
    step = t.size // MOST_ROWS
    if step > 1:  # a long record is looked at in medians of five rows, which place the onset well enough
        grid = np.arange(0, t.size, step)
        d = None if deflection is None else grid_medians(np.asarray(deflection, dtype=float), grid)
        thin = {n: grid_medians(np.asarray(g, dtype=float), grid) for n, g in gauges.items()}
        found = first_diagonal_crack(
            t[grid], grid_medians(x, grid), thin, quiet=quiet, sigmas=sigmas, floor=floor, deflection=d
        )
        return None if found is None else replace(found, row=int(grid[found.row]))
    running, on = loading_envelope(x, 0.005)
    top = float(running[-1])
    held = _held(t, x, running, top)
    rated = [_onset(t, x, running, on, held, n, np.asarray(g, dtype=float), quiet * top, sigmas, floor)
             for n, g in gauges.items()]  # fmt: skip
    if not any(rated):
        return _by_load_drop(t, x, deflection, top, gauges)
    onsets = sorted((o for o in rated if isinstance(o, _Onset) and not o.drifts), key=lambda o: o.clear)
    sharp = [o for o in onsets if o.sharp]
    # one step alone may be an amplifier that changed its range: another gauge has to start at that very moment
    one = next((o for o in sharp if not o.steps or _at_once(o, sharp, running, top)), None)
    return None if one is None else _diagonal(t, x, running, top, one, onsets, deflection)


def _at_once(one: _Onset, onsets: list[_Onset], running: Any, top: float) -> bool:
    """Whether another gauge leaves its line within 1 % of the peak load of a gauge."""
    return any(o is not one and abs(running[o.clear] - running[one.clear]) <= 0.01 * top for o in onsets)


def _diagonal(t: Any, x: Any, running: Any, top: float, one: _Onset, onsets: list[_Onset], deflection: Any) -> Event:
    """The crack lies between the last calm and the clear row of every gauge that shows it: the tightest places it."""
    near = [o for o in onsets if 0.0 <= running[o.clear] - running[one.clear] <= TOGETHER * top]
    one = max((o for o in near if o.sharp and running[o.row] <= running[one.clear]), key=lambda o: running[o.row])
    drops = [event for event in load_drops(t, x, deflection=deflection) if event.value < 0.98 * top]
    with_drop = any(abs(event.time - t[one.row]) <= 1.0 for event in drops)
    confidence = min(0.95, 0.5 + 0.2 * (len(near) >= 2) + 0.1 * (len(near) >= 3) + 0.15 * with_drop)
    evidence = f"strain starts in {listed([o.name for o in near])}" + (
        "; load drops at the same time" if with_drop else ""
    )
    loads = [float(running[o.clear]) for o in near]
    spread = 0.02 * top if len(near) < 2 else max(0.005 * top, float(np.ptp(loads)) / 4)
    between = float(running[one.clear] - running[one.row]) / math.sqrt(3.0)  # a drift looks like an early onset
    return Event(
        "first diagonal crack",
        one.row,
        float(t[one.row]),
        float(running[one.row]),
        math.hypot(spread, between, step_noise(x)),
        f"onset in gauge {one.name}",
        confidence,
        evidence,
        channel=one.name,
    )


def _by_load_drop(t: Any, x: Any, deflection: Any, top: float, gauges: Mapping[str, Any]) -> Event | None:
    """The first drop of the load below the peak, where no gauge could have shown the crack."""
    if any(np.isfinite(np.asarray(g, dtype=float)).any() for g in gauges.values()):
        return None
    drops = [event for event in load_drops(t, x, deflection=deflection) if event.value < 0.98 * top]
    if not drops:
        return None
    clue = f"{drops[0].evidence}; no gauge could show it"
    return replace(drops[0], kind="first diagonal crack", method="load drop", confidence=0.4, evidence=clue, size=None)


def _held(t: Any, x: Any, running: Any, top: float) -> Any:
    """Holds, (first row, last row): at least 5 s in which the load stays within 3 % of the peak below a level it had
    reached and neither passes it nor comes back to it. Relaxation is allowed."""
    calm = running <= np.concatenate(([-np.inf], running[:-1])) + 1e-12
    flat = calm & (x >= running - 0.03 * top) & (running > 0.02 * top)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flat, [False])).astype(np.int8)))
    pairs = edges.reshape(-1, 2)
    last = np.minimum(pairs[:, 1] - 1, t.size - 1)
    return np.array([hold for i, j in zip(pairs[:, 0], last, strict=True) if (hold := _still(t, x, i, j, top))])


def _still(t: Any, x: Any, first: int, last: int, top: float) -> tuple[int, int] | None:
    """The part of an interval before the load comes back by more than 0.5 % of the peak; None below 5 s."""
    if t[last] - t[first] < 5.0:
        return None
    part = running_median(x[first : last + 1])
    if not np.isfinite(part).any():
        return None
    end = first + int(np.flatnonzero(part <= np.nanmin(part) + 0.005 * top)[-1])
    return (first, end) if t[end] - t[first] >= 5.0 else None


def _onset(
    t: Any, x: Any, running: Any, on: Any, held: Any, name: str, gauge: Any, quiet_load: float, sigmas: float,
    floor: float,
) -> _Onset | None:  # fmt: skip
    """Where a gauge leaves its line; one that leaves it slowly drifts, so its line is drawn anew up to there."""
    good = np.isfinite(gauge) & np.isfinite(x) & on
    top, low = float(running[-1]), -np.inf
    for _ in range(LINES):
        base = np.flatnonzero(good & (running > low) & (running <= quiet_load))
        if base.size < 8 or np.ptp(x[base]) == 0.0:
            return None
        found = _leaves(x, gauge, base, np.flatnonzero(good & (running > quiet_load)), sigmas, floor)
        if found is None:
            return None
        row, clear, off, rows = found
        if running[clear] - running[row] <= SLOWLY * top:
            return _Onset(name, row, clear, *_growth(t, running, off, rows, (row, clear), held))
        quiet_load = float(running[max(clear - 1, 0)])
        low = min(float(running[row]), quiet_load - SLOWLY * top)
    return None


def _leaves(x: Any, gauge: Any, base: Any, rows: Any, sigmas: float, floor: float) -> tuple[int, int, Any, Any] | None:
    """Last calm row and first row clearly off the line through `base`, how far off, and the rows looked at."""
    if rows.size < 5:
        return None
    slope, level = np.polyfit(x[base], gauge[base], 1)
    off = gauge - level - slope * x
    rest, sigma = np.abs(off), max(float(np.std(off[base])), 1e-12)
    calm = running_median(rest[rows])
    far = np.flatnonzero(calm >= 0.8 * np.nanmax(calm))  # behind these a leg that let go falls back to its line
    rows = rows[: max(5, int(far[-1]) + 1)]
    out = rest[rows] > max(sigmas * sigma, floor)
    if out.size < 5 or not out[-5:].all():
        return None
    inside = np.flatnonzero(~out)
    first = min(int(inside[-1]) + 1 if inside.size else 0, out.size - 1)
    on_line = np.flatnonzero(rest[rows[:first]] <= max(sigma, 0.2 * floor))
    return (int(rows[on_line[-1]]) if on_line.size else int(rows[first])), int(rows[first]), off, rows


def _growth(t: Any, running: Any, off: Any, rows: Any, onset: tuple[int, int], held: Any) -> tuple[bool, bool, bool]:
    """Whether a gauge gains the tension a crack gives, whether in one step, and whether it grows with time."""
    top, (row, clear) = float(running[-1]), onset
    later = rows[max(0, int(np.searchsorted(rows, row)) - 3) :]  # a few calm rows: the median needs them
    if later.size < 10:
        return False, False, False
    calm = running_median(off[later])
    still = np.zeros(later.size, dtype=bool)
    for first, last in held:
        still[np.searchsorted(later, first) : np.searchsorted(later, last + 1)] = True
    step, gap = np.diff(calm), np.diff(t[later])
    usual = gap <= 5.0 * float(np.median(gap))  # what happened while the load was off the envelope is left out
    rising = usual & ~still[1:]
    window = running[later] <= running[clear] + SHARP_OVER * top
    share = float(running[later[window][-1]] - running[clear]) / (SHARP_OVER * top)
    gains = np.where(rising & window[1:], step, 0.0)
    sharp = float(gains.sum()) >= SHARP * float(np.clip(share, 0.3, 1.0))
    largest = int(np.argmax(gains))
    steps = float(gains[max(0, largest - 1) : largest + 2].sum()) > 0.8 * float(gains.sum())
    resting = usual & still[1:]
    if float(gap[resting].sum()) < 5.0 or not rising.any():
        return sharp, steps, False
    in_hold = float(step[resting].sum()) / float(gap[resting].sum())
    under_load = float(step[rising].sum()) / float(gap[rising].sum())
    return sharp, steps, abs(in_hold) > DRIFT * abs(under_load)
