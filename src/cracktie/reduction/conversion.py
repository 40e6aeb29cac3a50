"""From what the logger wrote to what the sensor measured: calibration, range, bridge, gauge factor, leads, shunt."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice
from cracktie.campaign.gauges import Calibration, Gauge, half_width, limits
from cracktie.campaign.instruments import INTERNAL, STRAINS, Channel
from cracktie.errors import CracktieError
from cracktie.lab import channels as lab
from cracktie.lab import strain
from cracktie.reduction.readings import Part
from cracktie.units import UnitError, factor

U_LEAD = 0.10
"""Relative standard uncertainty of a lead's resistance that states none: judgement, no source."""
SHUNT_OFF = 0.02
"""Difference of a shunt step from what it should be above which it is told; our own choice."""
KEPT_LOADED = ("load", "reaction")
"""Quantities of which no reading is ever left out by itself: their peaks are results."""


class LeftOut(CracktieError, ValueError):
    """A channel cannot be used; the text says why and what to write."""


@dataclass(frozen=True)
class Scaled:
    """A channel in the unit it is zeroed in, whether that is the output of a bridge (V/V), and its causes."""

    channel: lab.Channel
    electrical: bool
    parts: tuple[Part, ...] = ()


def scaled(made: lab.Channel, channel: Channel, notes: list[str]) -> Scaled:
    """Readings in the internal unit, or in V/V for the output of a bridge; sign taken, range looked at.

    Raises `LeftOut` with what is missing, `UnitError` for a unit that does not fit.
    """
    internal, unit = INTERNAL[channel.quantity], made.unit
    electrical = channel.quantity in STRAINS and "V" in unit.replace("µ", "u")
    parts: tuple[Part, ...] = ()
    if channel.calibration is not None:
        made, parts = _calibrated(made, channel, channel.calibration)
        electrical = False
    elif electrical:
        made = _output(made, channel)
    else:
        scale = factor(unit, internal) if unit else 1.0
        if scale * channel.factor != 1.0:
            made = lab.apply_factor(made, scale * channel.factor, internal)
    if channel.sign != 1:
        made = lab.apply_sign(made, channel.sign)
    if channel.range is not None and not electrical:
        made = _in_range(made, channel, notes)
    return Scaled(made, electrical, parts)


def _output(made: lab.Channel, channel: Channel) -> lab.Channel:
    """Output of a bridge in V/V from mV/V, or from V with the excitation."""
    gauge = channel.gauge or Gauge()
    if gauge.gauge_factor is None:
        raise LeftOut(f"in {made.unit}, the output of a bridge: add gauge: {{gauge_factor: ...}} in the layout")
    if "/" in made.unit:
        scale = factor(made.unit, "-")
    elif gauge.excitation is not None:
        scale = factor(made.unit, "V") / float(gauge.excitation)
    else:
        raise LeftOut(f"in {made.unit}: add gauge: {{excitation: ...}}, the supply of its bridge")
    return lab.apply_factor(made, scale * channel.factor, "V/V")


def _calibrated(made: lab.Channel, channel: Channel, by: Calibration) -> tuple[lab.Channel, tuple[Part, ...]]:
    unit, internal = made.unit or by.input or "", INTERNAL[channel.quantity]
    if by.input is None and _measures(unit, internal):
        raise LeftOut(f"in {unit} already: write calibration: {{input: {unit}, ...}} if it corrects that, or delete it")
    try:
        scale = factor(unit, by.input) if by.input and unit else 1.0
    except UnitError:
        raise LeftOut(f"in {unit}, its calibration is for {by.input}") from None
    x, out = made.values * scale, factor(by.output, internal)
    arguments: dict[str, Any] = {"unit": internal, "certificate": by.certificate}
    if by.factor is not None:
        y, told = x * by.factor, {"factor": f"{by.factor:g} {by.output} per {by.input or unit or 'count'}"}
    elif by.polynomial:
        y, told = np.polynomial.polynomial.polyval(x, by.polynomial), {"polynomial": str(list(by.polynomial))}
    else:
        y, told = _between(x, by.points), {"points": len(by.points)}  # type: ignore[dict-item]
    relative, absolute = half_width(by.uncertainty, internal)
    name, who = "calibration", f"the calibration of {channel.name}"
    parts = tuple(
        Part(name, half / math.sqrt(3.0), order, "rectangular", note="certificate", shared=who)
        for half, order in ((relative, 1), (absolute, 0))
        if half > 0.0
    )
    return replace(lab.changed(made, y * out, name, {**told, **arguments}), unit=internal), parts


def _measures(unit: str, internal: str) -> bool:
    try:
        factor(unit, internal)
    except UnitError:
        return False
    return bool(unit)


def _between(x: Any, points: tuple[tuple[float, float], ...]) -> Any:
    """Straight between calibration points; beyond them as the nearest piece goes on."""
    inputs, outputs = np.array(points).T
    piece = np.clip(np.searchsorted(inputs, x) - 1, 0, len(inputs) - 2)
    slope = np.diff(outputs) / np.diff(inputs)
    return outputs[piece] + slope[piece] * (x - inputs[piece])


def _in_range(made: lab.Channel, channel: Channel, notes: list[str]) -> lab.Channel:
    """Readings at or beyond the ends of the sensor's range are missing, those of a load kept and told."""
    low, high = limits(str(channel.range), INTERNAL[channel.quantity])
    with np.errstate(invalid="ignore"):
        beyond = (made.values < low) | (made.values > high)
    for end in (low, high):
        beyond |= (made.values == end) & (end != 0.0)  # a sensor at the end of its range stops there; at 0 it may rest
    if not beyond.any():
        return made
    first = float(made.time[np.flatnonzero(beyond)[0]])
    said = (
        f"{channel.name}: {int(beyond.sum())} reading(s) at or beyond the range {channel.range}, first at {first:.1f} s"
    )
    if channel.quantity in KEPT_LOADED:
        notes.append(f"{said}: kept, but the true {channel.quantity} may be larger there")
        return replace(made, trail=made.trail.add("out_of_range", {"channel": channel.name, "kept": True}, beyond))
    notes.append(f"{said}: left out")
    trail = made.trail.add("out_of_range", {"channel": channel.name, "range": channel.range}, beyond)
    return replace(made, values=np.where(beyond, np.nan, made.values), trail=trail)


def to_strain(made: lab.Channel, channel: Channel, electrical: bool) -> tuple[lab.Channel, float, tuple[Part, ...]]:
    """Zeroed readings of a strain gauge as strain with factor and leads right; the slope of that for small readings.

    A bridge's output: tension positive once its `sign` is taken. A strain: as the logger computed it with the factor it
    was set to.
    """
    gauge = channel.gauge
    if gauge is None:
        return made, 1.0, ()
    nu, bridge = float(gauge.poisson or 0.3), gauge.bridge
    right = None if gauge.gauge_factor is None else float(gauge.gauge_factor)
    parts: tuple[Part, ...] = ()
    slope = 1.0
    if electrical:
        assert right is not None
        k, _ = strain.bridge_gains(bridge, nu)
        slope = 4.0 / (right * k)
        told = {"bridge": bridge, "gauge_factor": right}
        made = replace(
            lab.changed(made, strain.bridge_strain(-made.values, right, bridge, nu=nu), "bridge", told), unit="-"
        )
    else:
        used = right if gauge.gauge_factor_set is None else float(gauge.gauge_factor_set)
        made, parts = _straight(made, gauge, used, nu)
        if right is not None and used is not None and used != right:
            slope = used / right
            told = {"set": used, "right": right}
            made = lab.changed(made, strain.other_gauge_factor(made.values, used, right), "gauge_factor", told)
    if gauge.lead_resistance:
        wire, ohm = float(gauge.lead_resistance), float(gauge.resistance or 0.0)
        by = strain.lead_factor(wire, gauge.leads, ohm)
        u = (gauge.lead_resistance.u or U_LEAD * wire) / wire * (by - 1.0) / by
        made = lab.changed(made, made.values * by, "leads", {"ohm": wire, "wires": gauge.leads, "factor": by})
        slope *= by
        note = "stated" if gauge.lead_resistance.u else f"{100 * U_LEAD:.0f} % of the resistance: judgement"
        parts += (Part("leads", u, 1, note=note, shared="gauges with alike leads"),) if u > 0.0 else ()
    return made, slope, (*_factor_part(gauge), *parts)


def _straight(made: lab.Channel, gauge: Gauge, used: float | None, nu: float) -> tuple[lab.Channel, tuple[Part, ...]]:
    """The curvature of the bridge taken off where the logger does not, as uncertainty where that is not stated."""
    _, m = strain.bridge_gains(gauge.bridge, nu)
    if m == 0.0 or used is None or gauge.linearised:
        return made, ()
    if gauge.linearised is None:
        note = "whether the logger takes it off is not stated (linearised)"
        return made, (Part("curvature of the bridge", 0.5 * m * used / math.sqrt(3.0), 2, "rectangular", note=note),)
    told = {"bridge": gauge.bridge, "set": used}
    return lab.changed(made, strain.straightened(made.values, used, gauge.bridge, nu=nu), "bridge_curvature", told), ()


def _factor_part(gauge: Gauge) -> tuple[Part, ...]:
    """What is not known of the gauge factor: stated by the packet, shared by its lot."""
    who = f"gauges of lot {gauge.lot}" if gauge.lot else "gauges of one lot"
    if gauge.gauge_factor_tolerance:
        u = float(gauge.gauge_factor_tolerance) / math.sqrt(3.0)
        return (Part("gauge factor", u, 1, "rectangular", note="tolerance of the packet", shared=who),)
    if gauge.gauge_factor is not None and gauge.gauge_factor.u:
        return (Part("gauge factor", gauge.gauge_factor.u / float(gauge.gauge_factor), 1, note="stated", shared=who),)
    return ()


def shunt_checked(
    made: lab.Channel, channel: Channel, slope: float, choice: Choice, log: str, notes: list[str]
) -> tuple[lab.Channel, float]:
    """The shunt step against what it should read; readings scaled by it where the layout says so, and that factor.

    `slope` is what readings of the logger were multiplied by so far. The shunted arm changes by y = -R/(R + R_s), so
    the bridge gives V = -y/(4 + 2 y) whatever its other arms are.
    Raises `LeftOut` where the step goes the wrong way.
    """
    gauge = channel.gauge
    if gauge is None or gauge.shunt is None or gauge.resistance is None or gauge.gauge_factor is None:
        return made, 1.0
    GF, ohm = float(gauge.gauge_factor), float(gauge.resistance)
    y = GF * strain.shunt_strain(float(gauge.shunt.resistor), GF, ohm)
    right = strain.bridge_strain(-y / (4.0 + 2.0 * y), GF, gauge.bridge, nu=float(gauge.poisson or 0.3))
    shown = None if gauge.shunt.reading is None else channel.sign * slope * float(gauge.shunt.reading)
    where = "stated in the layout"
    fitting = [w for w in choice.shunts if w.log in (None, log) and (w.channels is None or channel.name in w.channels)]
    if fitting:
        start, end = float(fitting[-1].start), float(fitting[-1].end)
        shown, where = lab.zero_window(made.time, made.values, start, end).value, f"{start:g} to {end:g} s"
    if shown is None:
        return made, 1.0
    said = f"the shunt of {float(gauge.shunt.resistor) / 1e3:g} kohm should read {right * 1e6:.0f} um/m"
    if shown * right <= 0.0:
        sign = "sign: 1" if channel.sign == -1 else "sign: -1"
        raise LeftOut(
            f"{said}, compression, and reads {shown * 1e6:+.0f} um/m ({where}): tension would count as compression; "
            f"write {sign} for this channel, or correct the wiring"
        )
    ratio = right / shown
    trail = {"reads": shown, "right": right, "where": where, "scaled": gauge.shunt.scale}
    if gauge.shunt.scale:
        return lab.changed(made, made.values * ratio, "shunt", trail), ratio
    if abs(ratio - 1.0) > SHUNT_OFF:
        notes.append(
            f"{channel.name}: {said} and reads {shown * 1e6:.0f} um/m ({100 * (1 / ratio - 1):+.1f} %); readings are "
            "not scaled by it (shunt: {scale: true} would)"
        )
    return lab.changed(made, made.values, "shunt", trail), 1.0
