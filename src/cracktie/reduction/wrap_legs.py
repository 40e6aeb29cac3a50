"""The legs of a specimen's wrap with their gauges: how each end is held, from the specimen; gauges, from the layout."""

from __future__ import annotations

import math

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Anchors, Section, Wrap, wrap_edges
from cracktie.campaign.testing import Test
from cracktie.lab.legs import Leg, LegGauge
from cracktie.reduction.loss import rupture_strain
from cracktie.reduction.signals import Signal, Signals


def legs_of(campaign: Campaign, test: Test, span: str, signals: Signals) -> list[Leg]:
    """One leg a strip and face that has gauges; a gauge of no strip (continuous sheet) is a leg of its own."""
    specimen = campaign.specimen(test.specimen)
    own = specimen.spans.get(span)
    wrap, anchors = (None, None) if own is None else (own.wrap, own.anchors)
    groups: dict[tuple[int | str, str | None], tuple[list[Signal], list[Signal]]] = {}
    for place, quantity in enumerate(("FRP strain", "anchor strain")):
        for signal in signals.of(quantity):
            c = signal.channel
            key = (c.name if c.strip is None else c.strip, c.face)
            groups.setdefault(key, ([], []))[place].append(signal)
    strength = rupture_strain(campaign, test, span)
    legs = []
    for (strip, face), (gauges, on_anchor) in groups.items():
        number = strip if isinstance(strip, int) else None
        held = _held(wrap, anchors, number)
        ends, fan_from = _ends(wrap, anchors if held == "anchor" else None, specimen.section, face)
        legs.append(
            Leg(number, face, [_gauge(s) for s in gauges], held, ends, fan_from, [_gauge(s) for s in on_anchor],
                strength)
        )  # fmt: skip
    return legs


def _gauge(signal: Signal) -> LegGauge:
    z = signal.channel.z
    return LegGauge(signal.channel.name, signal.values, None if z is None else float(z))


def _held(wrap: Wrap | None, anchors: Anchors | None, strip: int | None) -> str:
    """Anchors may sit on some strips only; the others end free."""
    if wrap is not None and wrap.scheme == "full":
        return "wrap"
    if anchors is not None and (anchors.strips is None or strip in anchors.strips):
        return "anchor"
    return "free"


def _ends(
    wrap: Wrap | None, anchors: Anchors | None, section: Section | None, face: str | None
) -> tuple[tuple[float, ...], float | None]:
    """Heights of the ends that could let go, and of the lower tip of the fan, which lies along the fibre."""
    if wrap is None or section is None or wrap.scheme == "full":
        return (), None
    low, high = wrap_edges(wrap, section, face or "front")
    ends = (low, high) if wrap.scheme == "side" else (high,)
    if anchors is None:
        return ends, None
    z = float(anchors.back_z) if face == "back" and anchors.back_z is not None else float(anchors.z)
    return ends, z - float(anchors.fan.length) * math.sin(math.radians(float(wrap.beta)))
