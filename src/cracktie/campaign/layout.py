"""Instrument layouts on a specimen: grids and crack bands become channels with a place.

In channel names {strip}, {stirrup}, {row} and {column} are numbers from 1 (strips, stirrups and columns from the left,
rows as listed) and {face} is F or B. A gauge's `direction` is the angle from the x axis seen from the front.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from cracktie.campaign.gauges import laid_over
from cracktie.campaign.geometry import lean, numbered, span_limits, stirrup_positions, strip_length, strip_positions
from cracktie.campaign.instruments import STRAINS, Along, Channel, Grid, Layout, Override
from cracktie.campaign.specimen import Specimen

CRACK_ANGLE = 45.0
"""Angle of the expected crack in degrees where neither band nor specimen states one (common practice, no source)."""


def channels(layout: Layout, specimen: Specimen, span: str) -> tuple[Channel, ...]:
    """All channels of a layout on one span of a specimen: those listed, then grids, then crack bands.

    A grid on strips (or stirrups) gives nothing where the span has none. Gauges carry what layout, grid or band,
    channel and override say, the nearest word counting. Raises `ValueError` where an override does not fit its channel.
    """
    found = list(layout.channels)
    for grid in layout.grids:
        found += _grid(grid, specimen, span)
    for band in layout.bands:
        found += _band(band, specimen, span)
    return tuple(_completed(channel, layout) for channel in found)


def overridden(channel: Channel, overrides: Mapping[str, Override]) -> Channel:
    """A channel with what its override states. Raises `ValueError` where that does not fit."""
    own = overrides.get(channel.name)
    if own is None:
        return channel
    stated: dict[str, Any] = {key: getattr(own, key) for key in own.model_fields_set}
    if own.gauge is not None:
        stated["gauge"] = laid_over(channel.gauge, own.gauge)
    kept = {key: getattr(channel, key) for key in channel.model_fields_set}
    try:
        return Channel(**{**kept, **stated})
    except ValidationError as error:
        first = error.errors()[0]
        raise ValueError(f"{channel.name}: {first.get('ctx', {}).get('error', first['msg'])}") from None


def _completed(channel: Channel, layout: Layout) -> Channel:
    if layout.gauge is not None and channel.quantity in STRAINS and channel.calibration is None:
        channel = channel.model_copy(update={"gauge": laid_over(layout.gauge, channel.gauge)})
    return overridden(channel, layout.overrides)


def _shared(part: Grid | Along) -> dict[str, Any]:
    """What a grid or a band says of all its gauges."""
    keys = ("unit", "sign", "gauge_length", "uncertainty", "gauge")
    return {key: value for key in keys if (value := getattr(part, key)) is not None}


def _grid(grid: Grid, specimen: Specimen, span: str) -> Iterator[Channel]:
    on_strips = grid.on == "strips"
    part = specimen.spans[span].wrap if on_strips else specimen.spans[span].stirrups
    if part is None:
        return
    places = strip_positions(specimen, span) if on_strips else stirrup_positions(specimen, span)
    angle = float(specimen.spans[span].wrap.beta if on_strips else specimen.spans[span].stirrups.angle)  # type: ignore[union-attr]
    along = strip_length(specimen.spans[span].wrap) if on_strips else 0.0  # type: ignore[arg-type]
    for number, centre in numbered(places).items():
        for face in grid.faces:
            for row, z in enumerate(grid.rows, start=1):
                for column in range(1, grid.columns + 1):
                    across = along * ((column - 0.5) / grid.columns - 0.5)
                    yield Channel(
                        name=_named(grid.name, number, face, row, column),
                        quantity="FRP strain" if on_strips else "bar strain",
                        x=centre + lean(specimen, span, angle, z) + across,
                        z=z,
                        face=face,
                        strip=number if on_strips else None,
                        stirrup=None if on_strips else number,
                        direction=_direction(angle, span),
                        **_shared(grid),
                    )


def _named(name: str, number: int, face: str, row: int, column: int) -> str:
    values = {"strip": number, "stirrup": number, "face": face[0].upper(), "row": row, "column": column}
    for word, value in values.items():
        name = name.replace("{" + word + "}", str(value))
    return name


def _direction(angle: float, span: str) -> float:
    """Angle from the x axis of a fibre or bar that rises towards the support of its span, degrees."""
    return 180.0 - angle if span == "A" else angle


def _band(band: Along, specimen: Specimen, span: str) -> Iterator[Channel]:
    """Gauges on the front face along a straight crack through the middle of the span at mid-height.

    On a strip or sheet they measure along the fibre, beside it along the axis of the beam on the concrete.
    """
    theta = float(band.angle or specimen.crack_angle or CRACK_ANGLE)
    support, load = span_limits(specimen, span)
    towards_load = 1.0 if span == "A" else -1.0
    height = float(specimen.section.h) if specimen.section is not None else 0.0
    wrap = specimen.spans[span].wrap
    for row, z in enumerate(band.rows, start=1):
        x = (support + load) / 2 + towards_load * (z - height / 2) / math.tan(math.radians(theta))
        strip = _strip_at(specimen, span, x, z)
        bonded = wrap is not None and (wrap.layout == "continuous" or strip is not None)
        yield Channel(
            name=_named(band.name, strip or 0, "front", row, 1),
            quantity="FRP strain" if bonded else "concrete strain",
            x=x,
            z=z,
            face="front",
            strip=strip,
            direction=_direction(float(wrap.beta), span) if wrap is not None and bonded else 0.0,
            **_shared(band),
        )


def _strip_at(specimen: Specimen, span: str, x: float, z: float) -> int | None:
    """Number of the strip that covers a point of the web face."""
    wrap = specimen.spans[span].wrap
    if wrap is None or wrap.layout != "strips":
        return None
    half = strip_length(wrap) / 2
    shift = lean(specimen, span, float(wrap.beta), z)
    near = [n for n, c in numbered(strip_positions(specimen, span)).items() if abs(c + shift - x) <= half]
    return near[0] if near else None
