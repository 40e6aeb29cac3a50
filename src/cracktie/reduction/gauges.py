"""Readings of gauges and transducers at one row, and how far they can be trusted, each cause by its name."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cracktie.campaign.gauges import half_width
from cracktie.campaign.instruments import INTERNAL, STRAINS
from cracktie.lab.budget import Component
from cracktie.reduction.readings import Signal

U_GAUGE = 0.01
"""Relative standard uncertainty of gauge factor and amplifier where the channel states none (no source)."""
U_OTHER_LEG = 0.25
"""Relative standard uncertainty of a leg without a gauge, taken like its neighbours: judgement, no source."""


def reading(signal: Signal, row: int) -> float:
    """Reading of a channel at a row."""
    return float(signal.values[row])


def accuracy(gauges: Sequence[Signal], row: int) -> float:
    """Largest relative standard uncertainty of the scale of these gauges: what `scale_components` of each joins.

    A strain stated as accuracy (10 um/m) is divided by the reading.
    """
    found = []
    for gauge in gauges:
        size = abs(reading(gauge, row))
        parts = [c.u for c in scale_components(gauge, row)]
        if size > 0.0 and parts:
            found.append(math.hypot(*parts) / size)
    return max(found, default=U_GAUGE)


def scale_components(signal: Signal, row: int) -> list[Component]:
    """Causes of a reading's uncertainty that grow with it, in its unit: stated accuracy of the channel (rectangular),
    gauge factor, leads, bridge, strain across, calibration. Gauges of one lot or logger share them, see their notes.

    A strain gauge that states neither an accuracy nor its gauge factor's gets `U_GAUGE`.
    """
    e = reading(signal, row)
    size = abs(e) if math.isfinite(e) else 0.0
    relative, absolute = half_width(signal.channel.uncertainty, INTERNAL[signal.channel.quantity])
    found = []
    if relative or absolute:
        half = relative * size + absolute
        name = "amplifier and gauge" if signal.channel.quantity in STRAINS else "transducer"
        found.append(Component(name, half / math.sqrt(3.0), "rectangular", note="stated accuracy of the channel"))
    parts = [p for p in signal.parts if p.order > 0 or p.name == "calibration"]
    if signal.channel.quantity in STRAINS and not found and all(p.name != "gauge factor" for p in parts):
        found.append(Component("gauge factor and amplifier", U_GAUGE * size, note="none stated: judgement, no source"))
    for part in parts:
        note = "; ".join(text for text in (part.note, f"shared by {part.shared}" if part.shared else "") if text)
        found.append(Component(part.name, part.at(row, size), part.shape, kind=part.kind, note=note))
    return found


def absolute_components(signal: Signal, row: int) -> list[Component]:
    """Causes that do not grow with the reading, in its unit: zero, drift, what was carried over, thermal output, noise
    of one reading."""
    found = [
        Component(p.name, p.at(row, 0.0), p.shape, kind=p.kind, note=p.note)
        for p in signal.parts
        if p.order == 0 and p.name != "calibration"
    ]
    if not signal.parts and signal.u_zero > 0.0:
        found.append(Component("zero", signal.u_zero, kind="A"))
    if signal.noise > 0.0:
        found.append(Component("noise of one reading", signal.noise, kind="A"))
    return [c for c in found if c.u > 0.0 and np.isfinite(c.u)]


def u_reading(signal: Signal, row: int) -> float:
    """Standard uncertainty of one reading: all its causes."""
    return math.hypot(*(c.u for c in (*scale_components(signal, row), *absolute_components(signal, row))))
