"""Sudden falls of the load, told apart from an operator's unloading."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.lab.channels import running_median, step_noise
from cracktie.lab.events import Event, checked_record, loading_rows


def load_drops(
    time: Any, load: Any, *, deflection: Any = None, least: float = 0.02, within: float = 1.0
) -> list[Event]:
    """Sudden falls of the load by `least` of the load reached so far, within `within` s, starting under loading.

    Below a quarter of the peak, where the beam still seats itself, `least` of that quarter is needed. With `deflection`
    a fall is left out as unloading when the deflection goes back, and falls behind the peak are found; without it, when
    the load goes on falling at the same rate. A steady way down behind the peak is no drop. Falls are sought in a
    running median of five rows, of three where five last longer than half of `within`; the value is the largest raw
    reading at the start of the fall. A fall that goes on where the last one ended is part of it.
    """
    t, x = checked_record(time, load)
    slow = t.size > 1 and float(np.median(np.diff(t))) > 0.1 * within
    calm = running_median(x, 1 if slow else 2)
    running = np.maximum.accumulate(np.where(np.isfinite(calm), calm, -np.inf))
    on = loading_rows(calm, deflection, tolerance=0.02)
    sigma = step_noise(x)
    needed = np.maximum(least * np.maximum(running, 0.25 * running[-1]), 6.0 * sigma)
    limit = np.searchsorted(t, t + within, side="right")
    low = np.where(np.isfinite(calm), calm, np.inf)
    steep = np.flatnonzero(on & (running > 0.02 * running[-1]) & (calm - _ahead(low, limit) >= needed))
    out: list[Event] = []
    number, ended = 0, -1
    while number < steep.size:
        i = int(steep[number])
        j = i + int(np.argmin(low[i : limit[i]]))
        start = i + int(np.nanargmax(calm[i : j + 1]))
        j = start + int(np.argmin(low[start : limit[start]]))
        goes_on = ended >= 0 and t[start] - t[ended] < within and calm[start] - calm[ended] < 0.5 * needed[start]
        back, evidence, confidence = _is_unloading(t, x, deflection, start, j)
        drop = float(calm[start] - calm[j])
        if not (back or goes_on or _steady(t, low, start, j, drop, within, running)):
            top = max(0, start - 2) + int(np.nanargmax(x[max(0, start - 2) : start + 3]))
            told = f"{100.0 * drop / running[start]:.1f} % lost in {t[j] - t[start]:.2g} s; {evidence}"
            out.append(
                Event("load drop", top, float(t[top]), float(x[top]), sigma, f"fall within {within:g} s", confidence,
                      told, size=drop / float(running[start]))
            )  # fmt: skip
        ended = max(j, i + 1)
        number = max(number + 1, int(np.searchsorted(steep, ended)))
    return out


def _steady(t: Any, low: Any, start: int, end: int, drop: float, within: float, running: Any) -> bool:
    """Whether a small fall is a piece of a steady way down: most of it comes again in the next `within` s."""
    last = int(np.searchsorted(t, t[end] + within, side="right"))
    further = float(low[end] - low[end:last].min())
    return drop < 0.1 * running[start] and further > 0.6 * drop and np.isfinite(further)


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
    span = t[end] - t[start]
    rate = (x[start] - x[end]) / max(span, 1e-9)
    first, last = np.searchsorted(t, (t[end], t[end] + 2 * max(span, 0.2)), side="right")
    later = np.flatnonzero(np.isfinite(x[first:last])) + first
    if later.size < 2:
        return False, "the record ends here", 0.4
    further = (x[end] - x[later[-1]]) / max(t[later[-1]] - t[end], 1e-9)
    return further > 0.3 * rate, "the load stops falling (no deflection given)", 0.6
