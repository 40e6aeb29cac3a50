"""Events on the loading envelope: proposals with evidence and confidence, for the user to confirm or move.

All limits are starting values of our own. An operator's unloading is no load drop.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.channels import running_median, step_noise
from cracktie.lab.hinge import fit_hinge


@dataclass(frozen=True)
class Event:
    """One proposed event: `row` of the record, `time` in s, `value` of the load (unit of the record) and its `u`.

    `confidence` from 0 to 1 is a judgement built from the evidence named in `evidence`, not a probability.
    """

    kind: str
    row: int
    time: float
    value: float
    u: float
    method: str
    confidence: float
    evidence: str


def loading_envelope(load: Any, tolerance: float = 0.01) -> tuple[Any, Any]:
    """Running maximum of the load, and the mask of rows on it (within `tolerance` of the largest load)."""
    x = np.asarray(load, dtype=float)
    filled = np.where(np.isfinite(x), x, -np.inf)
    running = np.maximum.accumulate(filled) if x.size else filled
    peak = float(np.max(filled)) if x.size else 0.0
    return running, filled >= running - tolerance * abs(peak)


def peak(time: Any, load: Any, *, peak_hold: float | None = None, u_reading: float = 0.0) -> Event:
    """Largest raw load, or the controller's `peak_hold` where that is larger.

    `u` joins `u_reading`, the noise and half of what a faster logger might have seen: the larger of the steps on
    both sides of the peak (rectangular).
    """
    t, x = checked_record(time, load)
    k = int(np.nanargmax(x))
    sides = [abs(x[k] - x[j]) for j in (k - 1, k + 1) if 0 <= j < x.size and np.isfinite(x[j])]
    between = 0.5 * min(sides) if sides else 0.0
    u = math.hypot(u_reading, step_noise(x), between / math.sqrt(3.0))
    if peak_hold is not None and peak_hold > x[k]:
        return Event(
            "peak load",
            k,
            float(t[k]),
            float(peak_hold),
            u_reading,
            "peak kept by the controller",
            0.98,
            f"controller {peak_hold:.5g}, log {x[k]:.5g} ({100 * (peak_hold - x[k]) / peak_hold:.2g} % lower)",
        )
    return Event("peak load", k, float(t[k]), float(x[k]), u, "largest raw reading", 0.95, f"row {k} of {x.size}")


def after_peak(time: Any, load: Any, *, fraction: float = 0.85, deflection: Any = None) -> Event | None:
    """First fall to `fraction` of the peak, between two readings by a straight line; None if never reached.

    A fall after which the load comes back above that level was an unloading, and so is a fall in which the
    deflection goes back by more than 2 % of its largest value.
    """
    t, x = checked_record(time, load)
    top = int(np.nanargmax(x))
    level = fraction * float(x[top])
    above = np.flatnonzero(np.isfinite(x) & (x >= level))
    last = int(above[-1])
    later = np.flatnonzero(np.isfinite(x[last + 1 :])) + last + 1
    if later.size == 0:
        return None
    row = int(later[0])
    evidence = "no deflection given: a slow unloading at the end would look the same"
    confidence = 0.6
    if deflection is not None:
        d = np.asarray(deflection, dtype=float)
        reached = float(np.nanmax(d[: row + 1]))
        here = d[row] if np.isfinite(d[row]) else reached
        if here < 0.98 * reached:
            return None
        confidence, evidence = 0.95, f"deflection {here:.4g} still at its largest {reached:.4g}"
    share = (x[last] - level) / (x[last] - x[row])
    at = float(t[last] + share * (t[row] - t[last]))
    kind = f"{100 * fraction:.0f} % after peak"
    return Event(
        kind, row, at, level, fraction * step_noise(x), "straight line between two readings", confidence, evidence
    )


def load_drops(
    time: Any, load: Any, *, deflection: Any = None, least: float = 0.02, within: float = 1.0
) -> list[Event]:
    """Sudden falls of the load by `least` of the load reached so far, within `within` s, starting on the envelope.

    With `deflection` a fall is dropped as unloading when the deflection goes back; without it, when the load goes
    on falling at the same rate afterwards. Falls are sought
    in a running median of five rows; the value is the largest raw reading at the start of the fall.
    """
    t, x = checked_record(time, load)
    calm = running_median(x)
    running, on = loading_envelope(calm, 0.02)
    out: list[Event] = []
    sigma = step_noise(x)
    needed = np.maximum(least * running, 6.0 * sigma)
    limit = np.searchsorted(t, t + within, side="right")
    low = np.where(np.isfinite(calm), calm, np.inf)
    done = -1
    for i in np.flatnonzero(on & (running > 0.02 * running[-1]) & (calm - _ahead(low, limit) >= needed)):
        if i < done:
            continue
        j = int(i) + int(np.argmin(low[i : limit[i]]))
        start = int(i) + int(np.nanargmax(calm[i : j + 1]))
        j = start + int(np.argmin(low[start : limit[start]]))
        drop = float(calm[start] - calm[j])
        verdict, evidence, confidence = _is_unloading(t, x, deflection, start, j)
        top = max(0, start - 2) + int(np.nanargmax(x[max(0, start - 2) : start + 3]))
        if not verdict:
            share = 100.0 * drop / running[start]
            out.append(
                Event(
                    "load drop",
                    top,
                    float(t[top]),
                    float(x[top]),
                    sigma,
                    f"fall within {within:g} s",
                    confidence,
                    f"{share:.1f} % lost in {t[j] - t[start]:.2g} s; {evidence}",
                )
            )
        done = j
    return out


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
    hinge = fit_hinge(d[rows], x[rows])
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
    """Onset of strain in stirrup, diagonal or vertical gauges (strain as a ratio), or the first load drop.

    Each gauge is compared with its own straight line over the load below `quiet` of the peak; onset is the last
    row within one sigma before it leaves by `sigmas` sigma (at least `floor`) for good. Two gauges that start
    within 5 % of the peak of each other raise the confidence. `u` holds the load between onset and leaving.
    """
    t, x = checked_record(time, load)
    running, on = loading_envelope(x, 0.005)
    top = float(running[-1])
    onsets = {
        name: _onset(x, running, on, np.asarray(g, dtype=float), quiet * top, sigmas, floor)
        for name, g in gauges.items()
    }
    found = sorted((onset[0], name) for name, onset in onsets.items() if onset is not None)
    drops = [event for event in load_drops(t, x, deflection=deflection) if event.value < 0.98 * top]
    if not found:
        if not drops:
            return None
        first, clue = drops[0], f"{drops[0].evidence}; no gauge shows it"
        return replace(first, kind="first diagonal crack", method="load drop", confidence=0.4, evidence=clue)
    row, name = found[0]
    near = [n for r, n in found if running[r] - running[row] <= 0.05 * top]
    with_drop = any(abs(event.time - t[row]) <= 1.0 for event in drops)
    confidence = min(0.95, 0.5 + 0.2 * (len(near) >= 2) + 0.1 * (len(near) >= 3) + 0.15 * with_drop)
    evidence = f"strain starts in {', '.join(near)}" + ("; load drops at the same time" if with_drop else "")
    spread = (
        0.02 * top
        if len(near) < 2
        else max(0.005 * top, float(np.ptp([running[r] for r, n in found if n in near])) / 4)
    )
    clear = onsets[name][1]  # type: ignore[index]
    between = float(running[clear] - running[row]) / math.sqrt(3.0)  # a drift of the gauge looks like an early onset
    return Event(
        "first diagonal crack",
        row,
        float(t[row]),
        float(running[row]),
        math.hypot(spread, between, step_noise(x)),
        f"onset in gauge {name}",
        confidence,
        evidence,
    )


def _onset(
    x: Any, running: Any, on: Any, gauge: Any, quiet_load: float, sigmas: float, floor: float
) -> tuple[int, int] | None:
    """The last calm row, and the row from which the gauge has clearly left its line."""
    good = np.isfinite(gauge) & np.isfinite(x) & on
    base = np.flatnonzero(good & (running <= quiet_load))
    if base.size < 8 or np.ptp(x[base]) == 0.0:
        return None
    slope, level = np.polyfit(x[base], gauge[base], 1)
    rest = np.abs(gauge - level - slope * x)
    sigma = max(float(np.std((gauge - level - slope * x)[base])), 1e-12)
    rows = np.flatnonzero(good & (running > quiet_load))
    out = rest[rows] > max(sigmas * sigma, floor)
    if out.size < 5 or not out[-5:].all():
        return None
    inside = np.flatnonzero(~out)
    first = int(inside[-1]) + 1 if inside.size else 0
    first = min(first, out.size - 1)
    calm = np.flatnonzero(rest[rows[:first]] <= max(sigma, 0.2 * floor))
    return (int(rows[calm[-1]]) if calm.size else int(rows[first])), int(rows[first])


def _ahead(low: Any, limit: Any) -> Any:
    """Least value from each row to the end of its window (a little further where sampling is uneven)."""
    from scipy import ndimage

    rows = max(1, int((limit - np.arange(low.size)).max()))
    padded = np.concatenate((low, np.full(rows, np.inf)))
    return ndimage.minimum_filter1d(padded, rows, origin=-(rows // 2), mode="nearest")[: low.size]


def _is_unloading(t: Any, x: Any, deflection: Any, start: int, end: int) -> tuple[bool, str, float]:
    if deflection is not None:
        d = np.asarray(deflection, dtype=float)
        here, there = d[start], d[end]
        share = (x[start] - x[end]) / x[start] if x[start] else 0.0
        if np.isfinite(here) and np.isfinite(there):
            back = here - there > 0.3 * share * abs(here)
            return back, "deflection does not go back", 0.9
    rate = (x[start] - x[end]) / max(t[end] - t[start], 1e-9)
    span = t[end] - t[start]
    later = np.flatnonzero((t > t[end]) & (t <= t[end] + 2 * max(span, 0.2)) & np.isfinite(x))
    if later.size < 2:
        return False, "the record ends here", 0.4
    further = (x[end] - x[later[-1]]) / max(t[later[-1]] - t[end], 1e-9)
    return further > 0.3 * rate, "the load stops falling (no deflection given)", 0.6


def checked_record(time: Any, load: Any) -> tuple[Any, Any]:
    """Both as float arrays; `ModelInputError` for unequal lengths, too few readings or time that runs backwards."""
    t, x = np.asarray(time, dtype=float), np.asarray(load, dtype=float)
    if t.shape != x.shape or t.ndim != 1:
        raise ModelInputError(f"{t.size} times and {x.size} loads; one each is needed")
    if x.size < 3 or not np.isfinite(x).any():
        raise ModelInputError(f"{int(np.isfinite(x).sum())} load readings; at least 3 are needed")
    if np.any(np.diff(t) < 0):
        raise ModelInputError("time runs backwards; give one segment of the record at a time")
    return t, x
