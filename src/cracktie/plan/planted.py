"""Planted results of a simulated test: what a perfect reduction of a perfect record would give; N, mm, ratios.

Evaluated on the faultless record by formulas of their own, not by those of `cracktie.lab` and `cracktie.reduction`.
Names are those of the reduction's results.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from cracktie.plan.loading import Path
from cracktie.plan.response import PANEL, Response
from cracktie.plan.sensors import Sensor

EVENTS = {
    "V_deb": ("V_first_debonding", "debonding 1"),
    "V_dia": ("V_first_diagonal_crack", "first diagonal crack"),
    "V_cr": ("V_first_flexural_crack", "first flexural crack"),
}
"""Result at an event: its older name in truth.json and the event of the loading."""
LEVELS = (0.2, 0.4, 0.6, 0.8, 0.9, 1.0)
"""Parts of V_max at which the shares are listed."""


def planted(response: Response, places: Sequence[Sensor]) -> dict[str, Any]:
    """Everything planted: events and V_max as they stand in the faultless record, `results` by name, shares of V."""
    path = response.path
    peak = int(np.argmax(path.load))
    rows = _event_rows(path)
    found: dict[str, Any] = {
        "V_max": float(response.shares["V"][peak]),
        "P_max": float(path.load[peak]),
        "deflection_at_V_max": float(path.deflection[peak]),
        "time_of_V_max": float(path.time[peak]),
        "events": [{"time": t, "event": name} for t, name in path.events],
    }
    results: dict[str, float] = {"delta_V_max": float(path.deflection[peak])}
    for name, (older, _) in EVENTS.items():
        row = rows.get(name)
        found[older] = None if row is None else float(response.shares["V"][row])
        if row is not None:
            results[f"delta_{name}"] = float(path.deflection[row])
    if "V_cr" in rows:
        found["P_first_flexural_crack"] = float(path.load[rows["V_cr"]])
    results |= _shares_at(response, peak)
    results |= _crack(response, places, {"V_max": peak, "V_deb": rows.get("V_deb")})
    results |= _stiffness(path, found.get("P_first_flexural_crack"), peak)
    results |= _after(path, peak)
    found["results"] = results
    found["shares"] = _levels(response, peak)
    crack = response.crack
    found |= {"support": crack.support, "toward": crack.toward, "crack_tip": crack.tip}
    found |= {"crack_slide": crack.slide, "crack_parallel": crack.parallel}
    found["legs"] = [
        {"strip": s.number, "face": s.face, "z": s.z, "strain_at_V_max": float(s.at_crack[peak])}
        for s in response.strips
    ]  # fmt: skip
    return found


def _event_rows(path: Path) -> dict[str, int]:
    """Row just before each event."""
    times = {name: t for t, name in reversed(path.events)}
    step = float(path.time[1] - path.time[0])
    return {name: max(round(times[event] / step) - 1, 0) for name, (_, event) in EVENTS.items() if event in times}


def _shares_at(response: Response, row: int) -> dict[str, float]:
    """V_f, V_s, V_c and the mean strain of the legs on the crack at a row; theta."""
    shares = {name: float(values[row]) for name, values in response.shares.items()}
    found = {"V_c_eq": shares["V_c"], "V_s_meas": shares["V_s"], "theta": response.crack.angle}
    if response.strips:
        found["V_f_strain"] = shares["V_f"]
        found["eps_fe"] = float(np.mean([s.at_crack[row] for s in response.strips]))
    return found


def _levels(response: Response, peak: int) -> list[dict[str, float]]:
    """Shares where V first reaches parts of V_max."""
    V = response.shares["V"][: peak + 1]
    rows = [int(np.argmax(part * V[peak] <= V)) for part in LEVELS]
    return [{name: float(values[row]) for name, values in response.shares.items()} for row in rows]


def _crack(response: Response, places: Sequence[Sensor], rows: dict[str, int | None]) -> dict[str, float]:
    """Opening and sliding where gauges bridge the crack (else at mid-height), and the panel's shear strain."""
    crack, heights, found = response.crack, [], {}
    panels = [s for s in places if s.quantity == "diagonal displacement" and s.x is not None and s.z is not None]
    for s in panels:
        met = crack.crossing(float(s.x or 0.0), float(s.z or 0.0), s.direction, s.gauge_length or PANEL)
        heights += [] if met is None else [met[0]]
    z = float(np.mean(heights)) if heights else 0.5 * crack.tip
    for name, row in rows.items():
        if row is not None:
            found[f"w_cr_{name}"] = float(response.opened[row]) * crack.opening(z)
            found[f"v_cr_{name}"] = float(response.opened[row]) * crack.slide
    row = rows["V_max"]
    if len(panels) > 1 and row is not None:
        one = panels[0]
        block = crack.shear_strain(float(one.x or 0.0), float(one.z or 0.0), one.direction, one.gauge_length or PANEL)
        found["gamma_V_max"] = abs(block * float(response.opened[row]) + float(response.elastic_shear_strain()[row]))
    return found


def _stiffness(path: Path, P_cr: float | None, peak: int) -> dict[str, float]:
    """Slope of the loading envelope between two loads, on the first pass after seating."""
    seats = [t for t, name in path.events if name == "seat"]
    begin = int(np.searchsorted(path.time, seats[-1] + 40.0)) if seats else 0
    found = {}
    for name, load, low, high in (
        ("K_uncracked", P_cr, 0.3, 0.6),
        ("K_cracked", float(path.load[peak]), 0.4, 0.6),
    ):
        if load is None or (name == "K_cracked" and P_cr is not None and low * load < 1.1 * P_cr):
            continue
        reached = np.flatnonzero(path.load[begin : peak + 1] > high * load)
        end = begin + int(reached[0]) if len(reached) else peak + 1
        P, d = path.load[begin:end], path.deflection[begin:end]
        before = [np.concatenate([[-np.inf], np.maximum.accumulate(v)[:-1]]) for v in (P, d)]
        # on the envelope alone: no hold, no unloading, no way back to the load before them
        keep = (low * load <= P) & (before[0] <= P) & (d > before[1] + 1e-9) & (path.ratio[begin:end] >= 1.0)
        if keep.sum() > 3:
            found[name] = float(np.polyfit(d[keep], P[keep], 1)[0])
    return found


def _after(path: Path, peak: int) -> dict[str, float]:
    """Deflections at 85 and 80 % of the peak behind it, energy to the peak and to 85 %, ductility."""
    P, d = path.load, path.deflection
    area = np.concatenate([[0.0], np.cumsum(np.diff(d) * (P[1:] + P[:-1]) / 2)])
    found = {"W_V_max": float(area[peak])}
    end = int(np.argmax(np.diff(path.memory[peak:]) == 0.0)) + peak if path.failed[-1] > 0 else peak
    for part in (0.85, 0.80):
        below = np.flatnonzero(P[peak : end + 1] <= part * P[peak])
        if not len(below):
            continue
        j = peak + int(below[0])
        t = (P[j - 1] - part * P[peak]) / (P[j - 1] - P[j])
        at = float(d[j - 1] + t * (d[j] - d[j - 1]))
        found[f"delta_{round(100 * part)}"] = at
        if part == 0.85:
            found["W_85"] = float(area[j - 1] + (at - d[j - 1]) * (P[j - 1] + part * P[peak]) / 2)
            first = int(np.argmax(0.75 * P[peak] <= P))
            share = (0.75 * P[peak] - P[first - 1]) / (P[first] - P[first - 1])
            like_yield = (d[first - 1] + share * (d[first] - d[first - 1])) / 0.75
            found["mu_delta"] = at / float(like_yield)
    return found
