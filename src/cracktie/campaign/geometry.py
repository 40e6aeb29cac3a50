"""Where the parts of a beam lie along x: spans, strips, stirrups and sheets, all in mm from the left support."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cracktie.campaign.specimen import Specimen, Wrap
from cracktie.errors import UnknownName

_TOUCH = 1e-6
"""mm by which a strip may pass the end of its span; absorbs the rounding of converted inches."""


def span_limits(specimen: Specimen, key: str) -> tuple[float, float]:
    """x of the support and of the load that bound a shear span ('A' left, 'B' right), mm."""
    if key not in specimen.spans:
        raise UnknownName(f"specimen {specimen.id!r} has no span {key!r}; spans: {', '.join(specimen.spans) or 'none'}")
    left = float(specimen.spans["A"].length)
    if key == "A":
        return 0.0, left
    return float(specimen.distance_between_supports), left + float(specimen.between_loads)


def strip_positions(specimen: Specimen, key: str) -> tuple[float, ...]:
    """x of the strip centres (at mid-height of the section) in ascending order, mm; strip 1 is the leftmost.

    `positions` are taken as written. With `spacing`, strips start at `first` (the leftmost centre) and go on to the
    right: `count` of them, or as many as lie wholly inside the span (or inside `start` to `end`). Without `first` they
    are centred between those limits. Empty where the span has no strips.
    """
    wrap = specimen.spans[key].wrap if key in specimen.spans else None
    if wrap is None or wrap.layout != "strips":
        return ()
    if wrap.positions is not None:
        return tuple(sorted(float(x) for x in wrap.positions))
    low, high = _between(specimen, key, wrap)
    half = strip_length(wrap) / 2
    return _row(low + half, high - half, float(wrap.spacing or 0.0), wrap.first, wrap.count)


def stirrup_positions(specimen: Specimen, key: str) -> tuple[float, ...]:
    """x of the stirrups of a span at mid-height in ascending order, mm; stirrup 1 is the leftmost.

    With `spacing` they start at `first` (the leftmost) and go on to the right end of the span; without `first` they
    are centred between support and load. Empty where the span has no stirrups.
    """
    stirrups = specimen.spans[key].stirrups if key in specimen.spans else None
    if stirrups is None:
        return ()
    if stirrups.positions is not None:
        return tuple(sorted(float(x) for x in stirrups.positions))
    low, high = sorted(span_limits(specimen, key))
    return _row(low, high, float(stirrups.spacing or 0.0), stirrups.first, None)


def wrap_extent(specimen: Specimen, key: str) -> tuple[float, float] | None:
    """x of the left and right end of the bonded sheet of a span, mm; None without a wrap (or without any strip)."""
    wrap = specimen.spans[key].wrap if key in specimen.spans else None
    if wrap is None:
        return None
    if wrap.layout == "continuous":
        return _between(specimen, key, wrap)
    centres = strip_positions(specimen, key)
    if not centres:
        return None
    half = strip_length(wrap) / 2
    return centres[0] - half, centres[-1] + half


def lean(specimen: Specimen, key: str, angle: float, z: float) -> float:
    """How far right of its mid-height an inclined fibre or stirrup is at height z, mm.

    Below 90 deg it rises towards the support, so that it crosses the diagonal crack of its span more squarely.
    """
    rise = z - (float(specimen.section.h) / 2 if specimen.section is not None else 0.0)
    return rise / math.tan(math.radians(angle)) * (-1.0 if key == "A" else 1.0)


def strip_length(wrap: Wrap) -> float:
    """Length of a strip along the axis, width/sin(beta), mm."""
    return float(wrap.width or 0.0) / math.sin(math.radians(wrap.beta))


def _between(specimen: Specimen, key: str, wrap: Wrap) -> tuple[float, float]:
    low, high = sorted(span_limits(specimen, key))
    return (
        low if wrap.start is None else float(wrap.start),
        high if wrap.end is None else float(wrap.end),
    )


def _row(low: float, high: float, spacing: float, first: float | None, count: int | None) -> tuple[float, ...]:
    """Equally spaced points between low and high (centred unless `first` is given)."""
    start = low if first is None else float(first)
    if count is None:
        count = math.floor((high - start + _TOUCH) / spacing) + 1 if high - start > -_TOUCH else 0
    if first is None and count:
        start = (low + high - (count - 1) * spacing) / 2
    return tuple(start + i * spacing for i in range(count))


def numbered(positions: Sequence[float]) -> dict[int, float]:
    """Strip or stirrup number (from 1, left to right) -> x in mm."""
    return dict(enumerate(positions, start=1))
