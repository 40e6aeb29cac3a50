"""Corrections that need another channel: thermal output, gauge factor with temperature, strain across, rosettes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from cracktie.campaign.gauges import Gauge, Rosette, half_width
from cracktie.campaign.instruments import STRAINS, Channel
from cracktie.lab import channels as lab
from cracktie.lab import strain
from cracktie.reduction.gauges import u_reading
from cracktie.reduction.readings import Part, Signal, Signals

U_TEMPERATURE = 1.0
"""Standard uncertainty in K of a gauge's temperature change by a thermometer that states none: judgement, no source."""
U_RATIO = 0.1
"""Standard uncertainty of a stated ratio of strain across to along that states none: judgement, no source."""
REFERENCE = 24.0
"""Temperature in degC for which packets state the gauge factor (common practice, no source)."""
EQUAL = 2.0
"""Principal strains closer than this many of their uncertainties have no direction; our own choice."""


def correct(signals: Signals) -> None:
    """Take thermal output and transverse sensitivity off every gauge whose block says how; causes else."""
    for name in list(signals.found):
        signal = signals.found[name]
        if signal.channel.gauge is not None and signal.channel.quantity in STRAINS:
            signals.found[name] = _thermal(signals, signal, signal.channel.gauge)


def _temperature(signals: Signals, name: str) -> Any:
    """Readings of a temperature channel without spikes, degC."""
    return lab.running_median(signals.found[name].values, 5)


def _change(signals: Signals, temperature: Any, window: tuple[float, float] | None) -> Any:
    """Change of the temperature since a zero window; None where that has no reading."""
    start, end = window or (float(signals.time[0]), float(signals.time[0]))
    rest = temperature[(signals.time >= start) & (signals.time <= end) & np.isfinite(temperature)]
    return temperature - float(np.median(rest)) if rest.size else None


def _thermal(signals: Signals, signal: Signal, gauge: Gauge) -> Signal:
    name = signal.channel.name
    if gauge.dummy is not None and gauge.dummy != name:
        return _by_dummy(signals, signal, gauge.dummy)
    if gauge.temperature is not None:
        if gauge.temperature in signals.found:
            return _by_temperature(signals, signal, gauge, gauge.temperature)
        signals.notes.append(f"{name}: thermal output not taken off, no readings of {gauge.temperature}")
    return _thermal_unknown(signals, signal, gauge)


def _by_dummy(signals: Signals, signal: Signal, dummy: str) -> Signal:
    other = signals.found.get(dummy)
    if other is None:
        signals.notes.append(f"{signal.channel.name}: thermal output not taken off, no readings of the dummy {dummy}")
        return signal
    part = Part(f"zero of the dummy {dummy}", other.u_zero, kind="A", shared=f"gauges with the dummy {dummy}")
    values = signal.values - other.values
    signals.add_step("dummy", {"channel": signal.channel.name, "dummy": dummy}, np.isfinite(values))
    made = signal.with_parts(values, part)
    return replace(made, u_zero=math.hypot(made.u_zero, other.u_zero), noise=math.hypot(made.noise, other.noise))


def _by_temperature(signals: Signals, signal: Signal, gauge: Gauge, name: str) -> Signal:
    """Apparent strain by coefficients and the maker's curve off; then the gauge factor at the temperature."""
    temperature = _temperature(signals, name)
    change = _change(signals, temperature, signal.zeroed)
    if change is None:
        signals.notes.append(f"{signal.channel.name}: thermal output not taken off, {name} has no reading in its zero")
        return _thermal_unknown(signals, signal, gauge)
    relative, stated = half_width(signals.found[name].channel.uncertainty, "degC")
    u_T = stated / math.sqrt(3.0) if stated else (relative * float(np.nanmax(np.abs(change))) or U_TEMPERATURE)
    curve = _curve(gauge)
    off = strain.thermal_output(gauge.alpha or 0.0, 0.0, change, curve=curve, temperature=temperature)
    steepness = abs(gauge.alpha or 0.0)
    if curve:
        slopes = np.polynomial.polynomial.polyval(temperature, np.polynomial.polynomial.polyder(curve))
        steepness = float(np.nanmax(np.abs((gauge.alpha or 0.0) + slopes)))
    values = signal.values - off
    told = {"channel": signal.channel.name, "temperature": name, "alpha_per_K": gauge.alpha or 0.0,
            "curve": str(list(gauge.thermal_curve)) if curve else None,
            "largest": float(np.nanmax(np.abs(off)))}  # fmt: skip
    signals.add_step("thermal_output", told, np.isfinite(values))
    note = f"{name} +-{stated:.2g} K" if stated else f"{u_T:g} K: judgement"
    parts = [Part("thermal output", steepness * u_T, note=note, shared=f"gauges with the thermometer {name}")]
    beta = gauge.gauge_factor_coefficient
    if beta is not None:
        since = temperature - float(gauge.reference_temperature or REFERENCE)
        values = values / (1.0 + float(beta) * since)
        signals.add_step("gauge_factor_temperature", {"channel": signal.channel.name, "per_K": float(beta)},
                         np.isfinite(values))  # fmt: skip
        parts.append(Part("gauge factor with temperature", abs(float(beta)) * u_T, 1, note=note))
    return signal.with_parts(values, *parts)


def _curve(gauge: Gauge) -> tuple[float, ...]:
    """The maker's polynomial as strain at the gauge's own factor: resistance changes of both factors are the same."""
    scale = 1e-6 * (gauge.thermal_curve_factor / float(gauge.gauge_factor) if gauge.gauge_factor else 1.0)
    return tuple(scale * c for c in gauge.thermal_curve)


def _thermal_unknown(signals: Signals, signal: Signal, gauge: Gauge) -> Signal:
    """|alpha| dT/sqrt 3 where a temperature or its change is known and nothing was taken off."""
    if gauge.alpha is None and gauge.gauge_factor_coefficient is None:
        return signal
    change: Any = None
    where = ""
    if gauge.temperature_change is not None:
        change, where = float(gauge.temperature_change), "stated change of temperature"
    else:
        for other in signals.of("temperature"):
            change = _change(signals, _temperature(signals, other.channel.name), signal.zeroed)
            where = f"change of {other.channel.name}"
            if change is not None:
                change = np.where(np.isfinite(change), np.abs(change), float(np.nanmax(np.abs(change))))
                break
    if change is None:
        return signal
    parts = []
    if gauge.alpha is not None:
        u = abs(gauge.alpha) * change / math.sqrt(3.0)
        note = f"not taken off; {where}"
        parts.append(Part("thermal output", u, shape="rectangular", note=note, shared="gauges on one material"))
    if gauge.gauge_factor_coefficient is not None:
        u = abs(float(gauge.gauge_factor_coefficient)) * change / math.sqrt(3.0)
        parts.append(Part("gauge factor with temperature", u, 1, "rectangular", note=f"not taken off; {where}"))
    return signal.with_parts(signal.values, *parts)


def take_across_off(signals: Signals, rosettes: Sequence[Rosette]) -> None:
    """Transverse sensitivity of every gauge: in a rosette by the tensor, else by the channel across or a ratio."""
    before = {name: signal.values for name, signal in signals.found.items()}
    done: set[str] = set()
    for rosette in rosettes:
        legs = [signals.found.get(name) for name in rosette.channels]
        gauges = [leg.channel.gauge if leg is not None else None for leg in legs]
        if all(g is not None and g.transverse_sensitivity is not None for g in gauges):
            _rosette_across(signals, rosette, [leg for leg in legs if leg is not None])
            done |= set(rosette.channels)
    for name, signal in list(signals.found.items()):
        gauge = signal.channel.gauge
        if gauge is not None and gauge.transverse_sensitivity and name not in done:
            signals.found[name] = _across(signals, signal, gauge, before)


def _rosette_across(signals: Signals, rosette: Rosette, legs: Sequence[Signal]) -> None:
    gauges = [leg.channel.gauge for leg in legs if leg.channel.gauge is not None]
    K = [float(g.transverse_sensitivity or 0.0) for g in gauges]
    found = strain.tensor([leg.values for leg in legs], rosette.degrees, K, float(gauges[0].nu_0))
    for leg, angle, k in zip(legs, rosette.degrees, K, strict=True):
        values = strain.strain_along(*found, angle)
        told = {"channel": leg.channel.name, "sensitivity": k, "rosette": rosette.name}
        signals.add_step("transverse", told, np.isfinite(values))
        signals.found[leg.channel.name] = leg.with_parts(values)


def _across(signals: Signals, signal: Signal, gauge: Gauge, before: Mapping[str, Any]) -> Signal:
    K, nu_0, name = float(gauge.transverse_sensitivity or 0.0), float(gauge.nu_0), signal.channel.name
    told: dict[str, Any] = {"channel": name, "sensitivity": K}
    if gauge.across is not None and gauge.across in before:
        second = signals.found[gauge.across].channel.gauge
        other = float(second.transverse_sensitivity or 0.0) if second is not None else 0.0
        values = strain.transverse_corrected(signal.values, before[gauge.across], K, nu_0, other)
        signals.add_step("transverse", {**told, "across": gauge.across}, np.isfinite(values))
        return signal.with_parts(values)
    if gauge.across is not None:
        signals.notes.append(f"{name}: transverse sensitivity not taken off, no readings of {gauge.across} across it")
    if gauge.strain_ratio is None:
        u = abs(K) * (1.0 + nu_0) / math.sqrt(3.0)
        note = "not taken off; strain across between minus and plus that along: judgement"
        return signal.with_parts(signal.values, Part("transverse sensitivity", u, 1, "rectangular", note=note))
    ratio = float(gauge.strain_ratio)
    by = strain.transverse_factor(K, ratio, nu_0)
    u = abs(K) * (gauge.strain_ratio.u or U_RATIO) / abs(1.0 + K * ratio)
    note = "ratio of strain across to along, " + ("stated" if gauge.strain_ratio.u else f"+-{U_RATIO:g}: judgement")
    signals.add_step("transverse", {**told, "ratio": ratio, "factor": by}, np.isfinite(signal.values))
    return signal.with_parts(signal.values * by, Part("transverse sensitivity", u, 1, note=note), factor=by)


def read_together(signals: Signals, rosettes: Iterable[Rosette], row: int | None) -> None:
    """Principal strains, shear strain and angle of every rosette as channels of their own; told at `row`."""
    for rosette in rosettes:
        legs = [signals.found.get(name) for name in rosette.channels]
        missing = [name for name, leg in zip(rosette.channels, legs, strict=True) if leg is None]
        if missing:
            signals.notes.append(f"rosette {rosette.name}: not read, no readings of {', '.join(missing)}")
            continue
        gauges = [leg for leg in legs if leg is not None]
        _derived(signals, rosette, gauges)
        if row is None:
            continue
        readings = [float(leg.values[row]) for leg in gauges]
        if not np.isfinite(readings).all():
            signals.notes.append(f"rosette {rosette.name}: no reading of all three gauges at the largest load")
            continue
        u = [u_reading(leg, row) for leg in gauges]
        signals.notes.append(
            f"rosette {rosette.name} at the largest load: {_told(rosette, gauges[0].channel, readings, u)}"
        )


def _derived(signals: Signals, rosette: Rosette, legs: Sequence[Signal]) -> None:
    """Put the channels of a rosette among the signals; angles from the x axis, or from its first gauge."""
    turned = float(legs[0].channel.direction or 0.0)
    found = strain.tensor([leg.values for leg in legs], rosette.degrees)
    big, small, angle = strain.principal(*found)
    place: dict[str, Any] = {"x": legs[0].channel.x, "z": legs[0].channel.z, "face": legs[0].channel.face}
    for word, quantity, values in (
        ("larger", "principal strain", big),
        ("smaller", "principal strain", small),
        ("shear", "shear strain", big - small),
        ("angle", "principal angle", (angle + turned + 90.0) % 180.0 - 90.0),
    ):
        channel = Channel(name=f"{rosette.name} {word}", quantity=quantity, **place)
        signals.found[channel.name] = Signal(channel, values, 0.0, 0.0)
    told = {"rosette": rosette.name, "channels": ", ".join(rosette.channels), "angles": rosette.angles}
    signals.add_step("rosette", told, np.isfinite(big))


def rosette_uncertainty(readings: Sequence[float], u: Sequence[float], angles: Sequence[float]) -> tuple[float, ...]:
    """Standard uncertainties of larger and smaller principal strain, shear strain and angle (degrees), first order.

    The gauges' errors are taken as independent; central differences over their uncertainties.
    """
    total = np.zeros(4)
    for i, size in enumerate(u):
        if size <= 0.0:
            continue
        ends = []
        for sign in (-1.0, 1.0):
            shifted = [e + sign * size * (j == i) for j, e in enumerate(readings)]
            big, small, angle = strain.principal(*strain.tensor(shifted, angles))
            ends.append((big, small, big - small, angle))
        low, high = ends
        turn = (high[3] - low[3] + 90.0) % 180.0 - 90.0
        total += np.array([high[0] - low[0], high[1] - low[1], high[2] - low[2], turn]) ** 2 / 4.0
    return tuple(float(v) for v in np.sqrt(total))


def _told(rosette: Rosette, first: Channel, readings: Sequence[float], u: Sequence[float]) -> str:
    big, small, angle = strain.principal(*strain.tensor(readings, rosette.degrees))
    u_big, u_small, u_shear, u_angle = rosette_uncertainty(readings, u, rosette.degrees)
    text = (
        f"principal strains {big * 1e6:.0f} and {small * 1e6:.0f} um/m (u = {u_big * 1e6:.0f}, {u_small * 1e6:.0f}), "
        f"shear strain {(big - small) * 1e6:.0f} um/m (u = {u_shear * 1e6:.0f})"
    )
    if big - small <= EQUAL * u_shear:
        return f"{text}; they are equal within their uncertainty, so they have no direction"
    whole = (angle + float(first.direction or 0.0) + 90.0) % 180.0 - 90.0
    start = "the x axis" if first.direction is not None else f"gauge {first.name}"
    return f"{text}, the larger at {whole:.1f} deg from {start} (u = {u_angle:.1f} deg)"
