"""An invented beam test with a planted truth: cracks, an unloading, a debonding, a lost gauge, failure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Record:
    """Load kN, deflection mm, gauges as strain ratio; `truth` names the planted loads and times."""

    time: np.ndarray
    load: np.ndarray
    deflection: np.ndarray
    stirrups: dict[str, np.ndarray]
    strips: dict[str, np.ndarray]
    truth: dict[str, float]


def record(
    *,
    seed: int = 0,
    noise: float = 1.0,
    unloading: bool = True,
    debonding: bool = True,
    lost: bool = True,
    diagonal: bool = True,
    rate: float = 20.0,
) -> Record:
    """20 rows a second. Flexural crack 40, diagonal crack 110, debonding 190, peak 240 (kN)."""
    legs = [(0.0, 0.0), (150.0, 150.0)]
    if unloading:
        legs += [(170.0, 60.0), (200.0, 152.0)]
    t0 = legs[-1][0] + (190.0 - legs[-1][1]) / 1.0
    legs.append((t0, 190.0))
    if debonding:
        legs.append((t0 + 0.2, 181.0))
    t1 = legs[-1][0] + (240.0 - legs[-1][1]) / 0.8
    legs += [(t1, 240.0), (t1 + 0.4, 150.0), (t1 + 20, 140.0)]
    times, loads = np.array(legs).T
    t = np.arange(0, times[-1], 1 / rate)
    p = np.interp(t, times, loads)
    reached = np.maximum.accumulate(p)
    softness = reached / 60 + np.maximum(reached - 40, 0) * (1 / 25 - 1 / 60)
    d = softness - (reached - p) / 40 * (t < t0)  # a debonding under displacement control gives no deflection back
    d = np.where(t > t1, softness[np.argmax(p)] + (t - t1) * 0.3, d)
    rng = np.random.default_rng(seed)

    def with_noise(x, sigma):
        return x + rng.normal(0, noise * sigma, t.size)

    start = 110.0 if diagonal else 1e9
    strips, stirrups = {}, {}
    back = 1 - 0.7 * (reached - p) / np.maximum(reached, 1)
    for k, name in enumerate(("s1", "s2")):
        stirrups[name] = with_noise(0.1e-6 * p + np.maximum(reached - start - 3 * k, 0) * 12e-6 * back, 3e-6)
    for k, name in enumerate(("f1", "f2", "f3", "f4")):
        e = 0.05e-6 * p + np.maximum(reached - start - 4 * k, 0) * 22e-6 * back
        if debonding and k == 1:
            e = np.where(t > t0, e - np.clip((t - t0) / 0.2, 0, 1) * 0.6 * e, e)
        elif debonding:
            e = e + np.clip((t - t0) / 0.2, 0, 1) * 150e-6
        strips[name] = with_noise(e, 4e-6)
    if lost:
        strips["f4"][t > 130] = 0.06
    truth = {
        "flexural": 40.0,
        "diagonal": 110.0,
        "debonding": 190.0,
        "debonding time": t0,
        "peak": 240.0,
        "peak time": t1,
        "85 %": 204.0,
        "debonding drop": 9.0 / 190.0,
    }
    return Record(t, with_noise(p, 0.15), with_noise(d, 0.004), stirrups, strips, truth)
