"""The first debonding of a strip from its gauges: sudden or slow, and told apart from lost gauges."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from cracktie.lab.channels import GaugeLoss, find_gauge_loss, running_median, step_noise
from cracktie.lab.events import Event, checked_record, loading_envelope

_NEIGHBOUR_RISE = 50e-6
_PERSISTENT_ROWS = 5


def first_debonding(
    time: Any, load: Any, strips: Mapping[str, Any], *, fall: float = 200e-6, share: float = 0.10, within: float = 0.5
) -> tuple[Event | None, dict[str, GaugeLoss]]:
    """First strip gauge (strain as a ratio) that lets go, and the gauges that were lost instead.

    Sudden: within `within` s the strain falls, beyond what the load's own fall explains, by more than max(`fall`,
    `share` of the strain reached) and stays down, while the load drops or another strip gauge rises. Slow: on the
    loading envelope the strain has sunk below the largest it reached by as much, while another gauge rose.
    A lost gauge is dead from its row on and cannot debond; spikes of one or two rows are left out by a running
    median of five. The value of the event is the load before the fall.
    """
    t, x = checked_record(time, load)
    losses = {name: loss for name, g in strips.items() if (loss := find_gauge_loss(t, g)) is not None}
    alive = {name: _until(running_median(g), losses.get(name)) for name, g in strips.items()}
    found: list[Event] = []
    for name, e in alive.items():
        others = {n: g for n, g in alive.items() if n != name}
        sudden = _sudden(t, x, name, e, others, fall, share, within)
        slow = _slow(t, x, name, e, others, fall, share)
        found += [event for event in (sudden, slow) if event is not None]
    # of two events within a second the sudden one places the moment better
    found.sort(key=lambda event: (event.row, -event.confidence))
    best = found[0] if found else None
    for event in found[1:]:
        if best is not None and event.time - best.time <= 1.0 and event.confidence > best.confidence:
            best = event
    return best, losses


def _sudden(
    t: Any, x: Any, name: str, e: Any, others: Mapping[str, Any], fall: float, share: float, within: float
) -> Event | None:
    after = np.minimum(np.searchsorted(t, t + within, side="right") - 1, t.size - 1)
    after = np.maximum(after, np.minimum(np.arange(t.size) + 1, t.size - 1))
    reached = _reached(e)
    load_share = np.clip(np.where(x > 0, (x - x[after]) / np.where(x > 0, x, 1.0), 0.0), 0.0, 1.0)
    with np.errstate(invalid="ignore"):
        excess = (e - e[after]) - np.maximum(e, 0.0) * load_share
        candidates = np.flatnonzero((excess > np.maximum(fall, share * reached)) & (e > 0.5 * reached))
    sigma_load = step_noise(x) if candidates.size else 0.0
    for i in candidates:
        j = int(after[i])
        stays = e[j : min(j + max(3, j - int(i)), t.size)]
        if not np.median(stays[np.isfinite(stays)]) < e[i] - fall:
            continue
        start, low = _edge(e, int(i), int(after[j]))
        j = int(after[start])
        drop = float(np.nanmax(x[start : low + 1]) - np.nanmin(x[start : min(j + 2, t.size)]))
        rising = _rising(others, start, j)
        dropped = drop > max(6.0 * sigma_load, 0.003 * float(np.nanmax(x[: start + 1])))
        if not (dropped or rising):
            continue
        clues = [f"{name} falls by {(e[start] - e[low]) * 1e6:.0f} um/m in {t[low] - t[start]:.2g} s"]
        clues += [f"load drops by {drop:.4g}"] if dropped else []
        clues += [f"{', '.join(rising)} rise"] if rising else []
        u = max(sigma_load, 0.5 * abs(drop) / math.sqrt(3.0))
        confidence = 0.6 + 0.15 * dropped + 0.15 * bool(rising)
        return _event(t, x, start, u, "sudden fall of a strip gauge", confidence, "; ".join(clues))
    return None


def _edge(e: Any, first: int, last: int) -> tuple[int, int]:
    """Last row before the fall and its lowest row: where the strain has lost less than a fifth of the fall."""
    top = first + int(np.nanargmax(e[first : last + 1]))
    low = top + int(np.nanargmin(e[top : last + 1]))
    still_up = np.flatnonzero(e[top : low + 1] >= e[top] - 0.2 * (e[top] - e[low]))
    return top + int(still_up[-1]), low


def _slow(t: Any, x: Any, name: str, e: Any, others: Mapping[str, Any], fall: float, share: float) -> Event | None:
    running, on = loading_envelope(x, 0.01)
    reached = _reached(e)
    sunk = on & np.isfinite(e) & (reached - e > np.maximum(fall, share * reached))
    if not sunk.any():
        return None
    for row in np.flatnonzero(sunk)[:: max(1, _PERSISTENT_ROWS - 1)]:
        coming = np.flatnonzero(on[row:])[:_PERSISTENT_ROWS] + row
        if coming.size < _PERSISTENT_ROWS or not sunk[coming].all():
            continue
        start = int(np.nanargmax(e[: row + 1]))
        rising = _rising(others, start, int(row))
        if not rising:
            continue
        clue = (
            f"{name} sinks by {(e[start] - e[row]) * 1e6:.0f} um/m in {t[row] - t[start]:.2g} s "
            f"on the loading envelope; {', '.join(rising)} rise"
        )
        u = max(step_noise(x), abs(float(running[row] - running[start])) / math.sqrt(12.0))
        return _event(t, x, start, u, "strip gauge sinks on the loading envelope", 0.55, clue)
    return None


def _event(t: Any, x: Any, row: int, u: float, method: str, confidence: float, evidence: str) -> Event:
    return Event("first debonding", row, float(t[row]), float(x[row]), u, method, confidence, evidence)


def _reached(e: Any) -> Any:
    return np.maximum.accumulate(np.where(np.isfinite(e), e, -np.inf))


def _rising(others: Mapping[str, Any], start: int, end: int) -> list[str]:
    out = []
    for name, g in others.items():
        change = g[end] - g[start]
        if np.isfinite(change) and change > _NEIGHBOUR_RISE and change > 6.0 * step_noise(g):  # noise is the slow part
            out.append(name)
    return out


def _until(gauge: Any, loss: GaugeLoss | None) -> Any:
    return gauge if loss is None else np.where(np.arange(gauge.size) >= loss.row, np.nan, gauge)
