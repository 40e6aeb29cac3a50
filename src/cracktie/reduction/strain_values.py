"""Largest and mean strain of the gauges on the wraps."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cracktie.lab.budget import Budget, Component
from cracktie.reduction.budgets import Found
from cracktie.reduction.gauges import absolute_components, scale_components
from cracktie.reduction.signals import Signals


def strain_values(signals: Signals, row: int) -> Iterator[Found]:
    """Largest strain of any gauge up to a row, and the mean of those that read there; ratios.

    Errors of the scale (gauge factor, amplifier) are taken as common to all gauges, so they do not average out; those
    of zero and noise are each gauge's own.
    """
    gauges = [s for s in signals.of("FRP strain") if np.isfinite(s.values[: row + 1]).any()]
    if not gauges:
        return
    rows = [int(np.nanargmax(s.values[: row + 1])) for s in gauges]
    most = max(range(len(gauges)), key=lambda i: float(gauges[i].values[rows[i]]))
    largest, at = gauges[most], rows[most]
    budget = Budget((*scale_components(largest, at), *absolute_components(largest, at)))
    how = f"largest of {len(gauges)} gauges up to V_max: {largest.channel.name}"
    yield Found("eps_f_max", float(largest.values[at]), "-", budget, how)
    reading = [s for s in gauges if math.isfinite(s.values[row])]
    if not reading:
        return
    n = len(reading)
    scale = sum(math.hypot(*(c.u for c in scale_components(s, row))) for s in reading) / n
    own = math.hypot(*(c.u for s in reading for c in absolute_components(s, row))) / n
    parts = (
        Component("gauge factors and amplifiers", scale, note="taken as common to all gauges"),
        Component("zero and noise of the gauges", own, kind="A"),
    )
    text = f"mean of {n} gauges at V_max, not of the strain along the crack"
    mean = float(np.mean([s.values[row] for s in reading]))
    yield Found("eps_f_mean", mean, "-", Budget(tuple(p for p in parts if p.u > 0.0)), text)
