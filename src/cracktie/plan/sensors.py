"""Every channel of a test's layout with its place on the beam, grids written out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cracktie.campaign.geometry import numbered, stirrup_positions, strip_positions
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Along, Channel, Grid, Test
from cracktie.errors import UnknownName
from cracktie.plan.statics import span_statics, studied_span

STANDARD = (
    Channel(name="P", quantity="load", unit="kN", at="load"),
    Channel(name="DF", quantity="displacement", unit="mm", at="load", face="front"),
    Channel(name="DB", quantity="displacement", unit="mm", at="load", face="back"),
    Channel(name="SL", quantity="displacement", unit="mm", at="left support"),
    Channel(name="SR", quantity="displacement", unit="mm", at="right support"),
    Channel(name="TH", quantity="temperature", unit="degC"),
)
"""Channels of a test that names no layout."""
FACE_LETTER = {"front": "F", "back": "B"}
UNITS = {"load": "kN", "reaction": "kN", "temperature": "degC", "rotation": "deg"}


@dataclass(frozen=True)
class Sensor:
    """One channel at its place; `unit` is what the logger writes."""

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


def sensors(campaign: Campaign, test: Test) -> tuple[Sensor, ...]:
    """All channels of a test in the order of its layout. Raises `UnknownName` for an unknown layout."""
    layouts = campaign.rig.layouts
    if test.layout is not None and test.layout not in layouts:
        raise UnknownName(f"test of {test.specimen}: layout {test.layout!r} is not in rig.yaml: {', '.join(layouts)}")
    layout = layouts[test.layout] if test.layout else None
    found = [_single(c) for c in (layout.channels if layout else STANDARD)]
    for grid in layout.grids if layout else ():
        found += _grid(campaign, test, grid)
    for band in layout.bands if layout else ():
        found += _band(campaign, test, band)
    return tuple(s for s in found if s.name not in test.dead_channels)


def _single(channel: Channel) -> Sensor:
    strain = channel.quantity.endswith("strain")
    unit = channel.unit or UNITS.get(channel.quantity, "um/m" if strain else "mm")
    return Sensor(
        channel.name, channel.quantity, unit, channel.at,
        None if channel.x is None else float(channel.x), None if channel.z is None else float(channel.z),
        channel.face or "front", channel.strip, channel.stirrup,
        90.0 if channel.direction is None else float(channel.direction), channel.sign * channel.factor,
    )  # fmt: skip


def _grid(campaign: Campaign, test: Test, grid: Grid) -> list[Sensor]:
    specimen = campaign.specimen(test.specimen)
    span = studied_span(test, specimen)
    on_strips = grid.on == "strips"
    places = numbered(strip_positions(specimen, span) if on_strips else stirrup_positions(specimen, span))
    quantity = "FRP strain" if on_strips else "bar strain"
    wrap = specimen.spans[span].wrap
    width = float(wrap.width or 0.0) if on_strips and wrap is not None else 0.0
    found = []
    for number, x in places.items():
        for face in grid.faces:
            for row, z in enumerate(grid.rows, start=1):
                for column in range(1, grid.columns + 1):
                    across = (column - (grid.columns + 1) / 2) * width / (grid.columns + 1)
                    keys = {"strip": number, "stirrup": number, "row": row, "column": column}
                    name = grid.name.format(face=FACE_LETTER[face], **keys)
                    mark = {"strip": number} if on_strips else {"stirrup": number}
                    found.append(Sensor(name, quantity, "um/m", None, x + across, z, face, **mark))
    return found


def _band(campaign: Campaign, test: Test, band: Along) -> list[Sensor]:
    """Gauges on a straight line through the middle of the span at mid-height, at the stated angle (45 deg if none)."""
    specimen = campaign.specimen(test.specimen)
    span, statics = studied_span(test, specimen), span_statics(campaign, test)
    wrap, centres = specimen.spans[span].wrap, numbered(strip_positions(specimen, span))
    half = float(wrap.width or 0.0) / 2 if wrap is not None else 0.0
    slope = math.tan(math.radians(float(band.angle or 45.0)))
    found = []
    for row, z in enumerate(band.rows, start=1):
        x = statics.middle + statics.toward * (z - statics.depth / 2) / slope
        strip = next((number for number, centre in centres.items() if abs(x - centre) <= half), None)
        name = band.name.format(row=row, strip=strip or 0, face="F", column=1)
        found.append(Sensor(name, "FRP strain", "um/m", None, x, z, "front", strip))
    return found
