"""Strain gauges, calibrations and rosettes as written in rig.yaml; ohm, V, K; strains and sensitivities as ratios.

Blocks of a layout, of a grid and of a channel are laid over each other: a key stated nearer to the gauge wins.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import PlainValidator, WithJsonSchema, model_validator

from cracktie.campaign.fields import (
    Entry,
    Internal,
    Ratio,
    Resistance,
    SignedRatio,
    SignedStrain,
    Temperature,
    TemperatureChange,
    Voltage,
    words,
)
from cracktie.lab.strain import BRIDGES, NU_0
from cracktie.units import Quantity, UnitError, parse

_KELVIN = re.compile(r"^(?P<value>.+?)\s*/\s*(?P<per>100\s*)?(?:K|°C|degC)\s*$")


def _per_kelvin(value: Any) -> Quantity:
    if isinstance(value, (Quantity, float)):
        return Quantity(float(value))
    match = _KELVIN.match(str(value))
    if match is None:
        raise UnitError("is no change per degree", "write for example '11 um/m/K', '0.9 %/100K' or '11 ppm/K'")
    text = match["value"] if re.search(r"[^\d.eE+\- ]", match["value"]) else ""
    if not text:
        raise UnitError("the unit before the '/' is missing", "write for example '11 um/m/K' or '0.9 %/100K'")
    found = parse(match["value"].replace("ppm", "um/m"), "-", example="11 um/m/K")
    scale = 0.01 if match["per"] else 1.0
    return Quantity(scale * found, None if found.u is None else scale * found.u)


PerKelvin = Annotated[
    Quantity,
    PlainValidator(_per_kelvin),
    WithJsonSchema({"type": "string", "description": "change per degree", "examples": ["11 um/m/K", "0.9 %/100K"]}),
    Internal("1/K", "11 um/m/K"),
]


class Shunt(Entry):
    """A resistor laid across a gauge that sees tension, which imitates compression.

    `reading` is the step that the logger showed then (or name a window of the log in reduction.yaml); with
    `scale: true` readings are scaled by what it should have been.
    """

    resistor: Resistance
    reading: SignedStrain | None = None
    scale: bool = False


class Gauge(Entry):
    """A strain gauge and its bridge; every key may be left out.

    `gauge_factor` is that of the packet, `gauge_factor_set` that of the logger (only for logs in strain),
    `gauge_factor_tolerance` the maker's half-width, `lot` the packets that share its error. `excitation` turns V into
    V/V. `linearised`: whether the logger takes the bridge's curvature off. `lead_resistance` is that of one wire.
    `across` names the channel at right angles, `strain_ratio` the strain there over that along. `thermal_curve` is the
    maker's polynomial in um/m over degC, constant first, at the gauge factor `thermal_curve_factor`; `dummy` names a
    channel to take off, `temperature` one in degC, and `temperature_change` the largest change where none was measured.
    """

    gauge_factor: Ratio | None = None
    gauge_factor_tolerance: Ratio | None = None
    gauge_factor_set: Ratio | None = None
    gauge_factor_coefficient: PerKelvin | None = None
    lot: str | None = None
    bridge: words(*BRIDGES) = "quarter"  # type: ignore[valid-type]
    poisson: Ratio | None = None
    excitation: Voltage | None = None
    linearised: bool | None = None
    resistance: Resistance | None = None
    lead_resistance: Resistance | None = None
    wires: int | None = None
    shunt: Shunt | None = None
    transverse_sensitivity: SignedRatio | None = None
    across: str | None = None
    strain_ratio: SignedRatio | None = None
    nu_0: Ratio = Quantity(NU_0)
    alpha_gauge: PerKelvin | None = None
    alpha_substrate: PerKelvin | None = None
    thermal_curve: tuple[float, ...] = ()
    thermal_curve_factor: float = 2.0
    dummy: str | None = None
    temperature: str | None = None
    temperature_change: TemperatureChange | None = None
    reference_temperature: Temperature | None = None

    @property
    def leads(self) -> int:
        """Wires to the gauge: as stated, else three to a quarter or half bridge, four to a full one."""
        return self.wires or (4 if self.bridge.startswith("full") else 3)

    @property
    def alpha(self) -> float | None:
        """Substrate less gauge per K; None where one is missing."""
        if self.alpha_substrate is None or self.alpha_gauge is None:
            return None
        return float(self.alpha_substrate) - float(self.alpha_gauge)

    @property
    def channels(self) -> dict[str, str]:
        """Other channels this one needs, by key."""
        named = {"across": self.across, "dummy": self.dummy, "temperature": self.temperature}
        return {key: name for key, name in named.items() if name is not None}


def laid_over(base: Gauge | None, own: Gauge | None) -> Gauge | None:
    """`base` with every key that `own` states."""
    if base is None or own is None:
        return own or base
    stated = {key: getattr(own, key) for key in own.model_fields_set}
    return base.model_copy(update=stated)


def gauge_faults(gauge: Gauge) -> Iterator[tuple[str, str]]:
    """What a whole block lacks or contradicts, as (message, fix)."""
    for key in ("gauge_factor", "gauge_factor_set"):
        factor = getattr(gauge, key)
        if factor is not None and not 0.5 <= abs(factor) <= 250.0:
            yield f"{key} = {factor:g} is no gauge's", "write for example 2.10 (foil), 120 (semiconductor)"
    if gauge.gauge_factor_set is not None and gauge.gauge_factor is None:
        yield "gauge_factor_set needs the right one", "add gauge_factor of the packet"
    if "poisson" in gauge.bridge and gauge.poisson is None:
        yield f"bridge {gauge.bridge!r} needs the Poisson ratio under its gauges across", "add for example poisson: 0.3"
    if (gauge.lead_resistance or gauge.shunt) and not gauge.resistance:
        yield "leads and shunt need the resistance of the gauge", "add for example resistance: 120 ohm"
    if gauge.shunt is not None and gauge.gauge_factor is None:
        yield "the shunt step needs the gauge factor", "add gauge_factor of the packet"
    fitting = (4, 6) if gauge.bridge.startswith("full") else (2, 3) if gauge.bridge == "quarter" else (3,)
    if gauge.wires is not None and gauge.wires not in fitting:
        fix = "write 2 or 3 for a quarter bridge, 3 for a half one, 4 or 6 (sensed) for a full one"
        yield f"{gauge.wires} wires do not fit a {gauge.bridge} bridge", fix
    if gauge.across is not None and gauge.transverse_sensitivity is None:
        yield "across needs the transverse sensitivity", "add for example transverse_sensitivity: 0.7 %"
    if gauge.across is not None and gauge.strain_ratio is not None:
        yield "across and strain_ratio both say what the strain across is", "keep one"
    if gauge.transverse_sensitivity is not None and not abs(gauge.transverse_sensitivity) < 0.2:
        yield f"a transverse sensitivity of {gauge.transverse_sensitivity:g} is no gauge's", "write for example 0.7 %"
    if gauge.dummy is not None and gauge.temperature is not None:
        yield "dummy and temperature both take the thermal output off", "keep one"
    if gauge.thermal_curve and gauge.temperature is None:
        yield "the thermal curve needs the channel of the temperature", "add temperature: and the name of a channel"
    coefficients = gauge.alpha is not None or gauge.thermal_curve or gauge.gauge_factor_coefficient is not None
    if (gauge.temperature or gauge.temperature_change is not None) and not coefficients:
        fix = "add alpha_gauge and alpha_substrate, or the maker's thermal_curve"
        yield "a temperature says nothing without coefficients", fix


class Calibration(Entry):
    """From what the logger wrote to what the transducer measured, by its certificate: one of `factor`, `polynomial`
    (constant first) and `points` ([input, output], straight between them).

    `input` is the unit of the log's column where the file names none; `uncertainty` a half-width in per cent of the
    reading or in the unit of the output.
    """

    input: str | None = None
    output: str
    factor: float | None = None
    polynomial: tuple[float, ...] = ()
    points: tuple[tuple[float, float], ...] = ()
    uncertainty: str | None = None
    certificate: str | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Calibration:
        if (self.factor is not None) + bool(self.polynomial) + bool(self.points) != 1:
            raise ValueError("a calibration is one of factor, polynomial and points; write that one")
        if self.factor == 0.0 or (self.polynomial and len(self.polynomial) < 2):
            raise ValueError("this calibration gives the same output for every input; correct it")
        if self.points:
            inputs = [p[0] for p in self.points]
            if len(inputs) < 2 or any(b <= a for a, b in itertools.pairwise(inputs)):
                raise ValueError("points need two rows or more in rising order of input; sort [input, output] rows")
        return self


def half_width(text: str | None, internal: str) -> tuple[float, float]:
    """(relative, absolute) half-width of a stated accuracy: a percentage is one of the reading. Raises `UnitError`."""
    stated = (text or "").strip()
    if not stated:
        return 0.0, 0.0
    if stated.endswith("%"):
        return abs(float(parse(stated, "-"))), 0.0
    return 0.0, abs(float(parse(stated, internal)))


def limits(text: str, internal: str) -> tuple[float, float]:
    """Lowest and highest reading of a range: '50 mm' (both ways), '0, 100 mm'. Raises `UnitError`."""
    parts = [p.strip() for p in text.split(",")]
    unit = re.sub(r"^[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*", "", parts[-1])
    if len(parts) > 2:
        raise UnitError("a range has one or two ends", "write for example '50 mm' or '0, 100 mm'")
    ends = [float(parse(p if re.search(r"[^\d.eE+\-\s]", p) else f"{p} {unit}", internal)) for p in parts]
    low, high = (-abs(ends[0]), abs(ends[0])) if len(ends) == 1 else (ends[0], ends[1])
    if not low < high:
        raise UnitError("a range goes from the lower to the higher end", "write for example '0, 100 mm'")
    return low, high


class Rosette(Entry):
    """Three gauges at one point, read together: `angles` are those of the three from the first one, and turn the way
    that angles from the x axis do, seen from the front. Their transverse sensitivities are taken off together."""

    name: str
    channels: tuple[str, str, str]
    angles: words("0/45/90", "0/60/120") = "0/45/90"  # type: ignore[valid-type]

    @property
    def degrees(self) -> tuple[float, ...]:
        """Angles as numbers."""
        return tuple(float(a) for a in self.angles.split("/"))

    @model_validator(mode="after")
    def _three(self) -> Rosette:
        if len(set(self.channels)) != 3:
            raise ValueError("a rosette has three different channels; name them in the order of its angles")
        return self
