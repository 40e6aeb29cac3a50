"""Stiffness, energy, ductility, late deflections and shear deflection of one test, each by a named definition."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab import crack
from cracktie.lab import events as lab_events
from cracktie.lab.budget import Budget, Component
from cracktie.lab.derived import stiffness, work
from cracktie.reduction.budgets import Found
from cracktie.reduction.deflection import Deflection, u_reading
from cracktie.reduction.signals import Signals

STAGES = {
    "K_uncracked": ("P_cr", 0.3, 0.6, "before the first flexural crack"),
    "K_cracked": ("P_max", 0.4, 0.6, "cracked"),
}
"""Stiffness of a stage: regression of load over deflection between two shares of a load; ranges are common practice."""


def derived(
    signals: Signals, P: Any, deflection: Deflection | None, top: int, P_cr: float | None, length: float
) -> Iterator[Found]:
    """Values of one test: `top` row of V_max, `P_cr` load at the first flexural crack, `length` of the shear span."""
    if deflection is not None:
        yield from _stiffness(P, deflection, top, P_cr)
        yield from _work(signals, P, deflection)
        yield from _late(signals, P, deflection)
    yield from _shear_deflection(signals, deflection, top, length)


def _stiffness(P: Any, deflection: Deflection, top: int, P_cr: float | None) -> Iterator[Found]:
    for name, (of, low, high, stage) in STAGES.items():
        load = float(P[top]) if of == "P_max" else P_cr
        if load is None or (of == "P_max" and P_cr is not None and low * load < 1.1 * P_cr):
            continue
        try:
            line = stiffness(deflection.values[: top + 1], P[: top + 1], low=low * load, high=high * load)
        except ModelInputError:
            continue
        how = f"{stage}: regression of P over delta from {low:g} to {high:g} {of}, {line.points} readings"
        scatter = Component("scatter of the regression", line.u, kind="A", dof=line.points - 2)
        yield Found(name, line.slope, "N/mm", Budget((scatter, *_scale(deflection, top, line.slope))), how)


def _scale(deflection: Deflection, top: int, value: float) -> list[Component]:
    """What an error of the deflection's scale adds to a value proportional to it."""
    whole = float(deflection.values[top])
    return [Component("deflection", abs(value) * deflection.u(top) / abs(whole))] if whole else []


def _work(signals: Signals, P: Any, deflection: Deflection) -> Iterator[Found]:
    try:
        found = work(deflection.values, P)
    except ModelInputError:
        return
    yield Found("W_V_max", found.energy_peak, "N mm", None, "area under P over delta to V_max, trapezoids on raw rows")
    if found.energy_after is not None:
        yield Found("W_85", found.energy_after, "N mm", None, "the same to 85 % of P_max after the peak")
    if found.ductility is not None and found.deflection_yield is not None:
        how = (
            "delta at 85 % of P_max after the peak over the deflection where the secant through 75 % of P_max reaches "
            f"P_max ({found.deflection_yield:.2f} mm); misleads for shear failures"
        )
        yield Found("mu_delta", found.ductility, "-", None, how)


def _late(signals: Signals, P: Any, deflection: Deflection) -> Iterator[Found]:
    event = lab_events.after_peak(signals.time, P, fraction=0.80, deflection=deflection.values)
    if event is not None and math.isfinite(deflection.values[event.row]):
        u = Budget((Component("transducers and zero", deflection.u(event.row)),))
        yield Found("delta_80", float(deflection.values[event.row]), "mm", u, f"80 % after the peak, {event.method}")


def _shear_deflection(signals: Signals, deflection: Deflection | None, top: int, length: float) -> Iterator[Found]:
    """From one pair of diagonals (phi and 180 - phi) with stated gauge lengths."""
    gauges = [
        s for s in signals.of("diagonal displacement")
        if s.channel.direction is not None and s.channel.gauge_length is not None and math.isfinite(s.values[top])
    ]  # fmt: skip
    for i, one in enumerate(gauges):
        for two in gauges[i + 1 :]:
            a, b = one.channel, two.channel
            lengths = (float(a.gauge_length or 1.0), float(b.gauge_length or 1.0))
            directions = (float(a.direction or 0.0), float(b.direction or 0.0))
            try:
                gamma = crack.shear_strain(one.values, two.values, length=lengths, direction=directions)
            except ModelInputError:
                continue
            slope = abs(2.0 / (math.sin(math.radians(2 * directions[0])) - math.sin(math.radians(2 * directions[1]))))
            u = slope * math.hypot(*(u_reading(s, top, "mm") / g for s, g in zip((one, two), lengths, strict=True)))
            value = abs(float(gamma[top]))
            budget = Budget((Component("transducers, zero and noise", u),))
            yield Found("gamma_V_max", value, "-", budget, f"shear strain of the panel of {a.name} and {b.name}")
            how = f"gamma of the panel times the shear span of {length:.0f} mm: taken alike along it, which no u covers"
            if deflection is not None and np.isfinite(deflection.values[top]) and deflection.values[top] > 0:
                how += f"; {100 * value * length / float(deflection.values[top]):.0f} % of delta"
            yield Found("delta_shear_V_max", value * length, "mm", None, how)
            return
