"""Every channel of a test's layout as a logger sees it: name, unit, place."""

from __future__ import annotations

from dataclasses import dataclass

from cracktie.campaign.gauges import Gauge
from cracktie.campaign.instruments import Channel, Layout
from cracktie.campaign.layout import channels
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import UnknownName
from cracktie.lab.strain import lead_factor
from cracktie.plan.statics import studied_span

STANDARD = (
    Channel(name="P", quantity="load", unit="kN", at="load"),
    Channel(name="DF", quantity="displacement", unit="mm", at="load", face="front"),
    Channel(name="DB", quantity="displacement", unit="mm", at="load", face="back"),
    Channel(name="SL", quantity="displacement", unit="mm", at="left support"),
    Channel(name="SR", quantity="displacement", unit="mm", at="right support"),
    Channel(name="TH", quantity="temperature", unit="degC"),
)
"""Channels of a test that names no layout."""
UNITS = {"load": "kN", "reaction": "kN", "temperature": "degC", "rotation": "deg"}


@dataclass(frozen=True)
class Sensor:
    """One channel at its place; `unit` is what the logger writes, `uncertainty` the stated accuracy as in rig.yaml."""

    name: str
    quantity: str
    unit: str
    at: str | None = None
    x: float | None = None
    z: float | None = None
    face: str = "front"
    strip: int | None = None
    stirrup: int | None = None
    direction: float = 90.0
    scale: float = 1.0
    uncertainty: str | None = None
    gauge_length: float | None = None


def sensors(campaign: Campaign, test: Test) -> tuple[Sensor, ...]:
    """All channels of a test in the order of its layout. Raises `UnknownName` for an unknown layout."""
    layouts, specimen = campaign.rig.layouts, campaign.specimen(test.specimen)
    if test.layout is not None and test.layout not in layouts:
        raise UnknownName(f"test of {test.specimen}: layout {test.layout!r} is not in rig.yaml: {', '.join(layouts)}")
    layout = layouts[test.layout] if test.layout else Layout(channels=STANDARD)
    found = channels(layout, specimen, studied_span(test, specimen))
    return tuple(_sensor(c) for c in found if c.name not in test.dead_channels)


def _sensor(channel: Channel) -> Sensor:
    strain = channel.quantity.endswith("strain")
    unit = channel.unit or UNITS.get(channel.quantity, "um/m" if strain else "mm")
    unit = "um/m" if strain and "V" in unit else unit  # the simulated logger makes strain of a bridge's output
    return Sensor(
        channel.name, channel.quantity, unit, channel.at,
        None if channel.x is None else float(channel.x), None if channel.z is None else float(channel.z),
        channel.face or "front", channel.strip, channel.stirrup,
        90.0 if channel.direction is None else float(channel.direction),
        channel.sign * channel.factor * _slope(channel.gauge),
        channel.uncertainty, None if channel.gauge_length is None else float(channel.gauge_length),
    )  # fmt: skip


def _slope(gauge: Gauge | None) -> float:
    """True over shown strain of a gauge whose factor and leads the logger does not know; the bridge as straight."""
    if gauge is None:
        return 1.0
    wrong = gauge.gauge_factor is not None and gauge.gauge_factor_set is not None
    by = float(gauge.gauge_factor_set or 1.0) / float(gauge.gauge_factor or 1.0) if wrong else 1.0
    if gauge.lead_resistance and gauge.resistance:
        by *= lead_factor(float(gauge.lead_resistance), gauge.leads, float(gauge.resistance))
    return by
