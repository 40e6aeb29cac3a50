"""Stiffness, energy, ductility, late deflections and shear deflection of one test, each by a named definition."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from cracktie.errors import ModelInputError
from cracktie.lab import crack
from cracktie.lab import events as lab_events
from cracktie.lab.budget import Budget, Component
from cracktie.reduced import Mark
from cracktie.reduction.budgets import Found
from cracktie.reduction.deflection import Deflection
from cracktie.reduction.gauges import u_reading
from cracktie.reduction.shear import ShearRule
from cracktie.reduction.signals import Signals
from cracktie.reduction.stages import stage_values, work_values

U_PANEL = 0.2
"""Relative standard uncertainty of the shear strain of one panel taken for the whole span: judgement, no source."""


def derived(
    signals: Signals,
    P: Any,
    deflection: Deflection | None,
    top: int,
    P_cr: float | None,
    length: float,
    marks: Sequence[Mark] = (),
    rule: ShearRule | None = None,
) -> Iterator[Found]:
    """Values of one test: `top` row of V_max, `P_cr` load at the first flexural crack, `length` of the shear span, its
    events and the rule of its shear (whose cell's uncertainty enters)."""
    u_cell = 0.0 if rule is None else rule.u_cell
    if deflection is not None:
        events = {"V_max": top}
        for mark in sorted((m for m in marks if m.row is not None), key=lambda m: int(m.row or 0)):
            if mark.status not in ("rejected", "noted"):
                events.setdefault("first debonding" if mark.kind == "debonding" else mark.kind, int(mark.row or 0))
        cell = signals.of("load")[0]
        smooth, every = signals.for_slopes(P, "load")
        slopes = smooth, signals.for_slopes(deflection.values, "deflection")[0], every
        yield from stage_values(P, deflection, top, events, P_cr=P_cr, u_cell=u_cell, slopes=slopes)
        yield from work_values(signals.time, P, deflection, top, u_cell=u_cell, u_load=cell.u_zero, noise=cell.noise)
        yield from _late(signals, P, deflection)
    yield from _shear_deflection(signals, deflection, top, length)


def _late(signals: Signals, P: Any, deflection: Deflection) -> Iterator[Found]:
    event = lab_events.after_peak(signals.time, P, fraction=0.80, deflection=deflection.values)
    if event is None:
        return
    value, u_step = deflection.between(signals.time, event.row, event.time)
    if math.isfinite(value):
        how = f"80 % after the peak, {event.method}"
        yield Found("delta_80", value, "mm", deflection.budget(event.row, u_step), how)


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
            u = slope * math.hypot(*(u_reading(s, top) / g for s, g in zip((one, two), lengths, strict=True)))
            value = abs(float(gamma[top]))
            budget = Budget((Component("transducers, zero and noise", u),))
            yield Found("gamma_V_max", value, "-", budget, f"shear strain of the panel of {a.name} and {b.name}")
            how = f"gamma of the panel times the shear span of {length:.0f} mm: taken alike along it"
            whole = math.nan if deflection is None else float(deflection.values[top])
            if whole > 0.0:
                how += f"; {100 * value * length / whole:.0f} % of delta"
            panel = Component("one panel for the span", U_PANEL * value * length, note="judgement, no source")
            part = Budget((Component("transducers, zero and noise", u * length), panel))
            yield Found("delta_shear_V_max", value * length, "mm", part, how)
            if deflection is not None and whole > 0.0:
                both = Budget((Component("shear deflection", part.u), Component("deflection", deflection.u(top))))
                rest = "delta less its shear part, so bending and the shear that the panel does not stand for"
                yield Found("delta_flex_V_max", whole - value * length, "mm", both, rest)
            return
