"""Specimens: section, bars, stirrups, wraps and spike anchors as they are written in specimens.yaml.

Axes: x along the beam from the centre of the left support seen from the front face, z up from the soffit,
y across the web, positive to the front. Bars are placed by `depth` from the top, all else by (x, z).
"""

from __future__ import annotations

import itertools
from typing import Any

from pydantic import Field, model_validator

from cracktie.campaign.fields import (
    Age,
    Angle,
    Area,
    BarGroup,
    Bars,
    Coordinate,
    Date,
    Entry,
    Force,
    Id,
    Length,
    Positions,
    Ratio,
    Size,
    words,
)
from cracktie.units import Quantity

FACES = ("front", "back")
SCHEMES = ("side", "u", "full")
HOSTS = ("web", "flange", "through_flange", "through_web")
FAN_FORMS = ("one_way", "two_way", "round")


class Section(Entry):
    """Cross-section: `rectangular`, `T` (flange on top) or `I` (flange on top and at the bottom); mm."""

    shape: words("rectangular", "T", "I") = "rectangular"  # type: ignore[valid-type]
    b_w: Size
    h: Size
    b_flange: Size | None = None
    h_flange: Size | None = None
    b_bottom: Size | None = None
    h_bottom: Size | None = None
    cover: Length | None = None

    @model_validator(mode="after")
    def _fits(self) -> Section:
        need = {"rectangular": (), "T": ("b_flange", "h_flange"), "I": ("b_flange", "h_flange", "b_bottom", "h_bottom")}
        for key in need[self.shape]:
            if getattr(self, key) is None:
                raise ValueError(f"a {self.shape} section needs {key}")
        for key in {"b_flange", "h_flange", "b_bottom", "h_bottom"} - set(need[self.shape]):
            if getattr(self, key) is not None:
                raise ValueError(f"a {self.shape} section has no {key}")
        if self.b_flange is not None and self.b_flange < self.b_w:
            raise ValueError(f"b_flange = {self.b_flange:g} mm is less than b_w = {self.b_w:g} mm")
        if (self.h_flange or 0.0) + (self.h_bottom or 0.0) >= self.h:
            raise ValueError(f"the flanges are together as deep as the section (h = {self.h:g} mm)")
        return self

    @property
    def area(self) -> float:
        """Gross area, mm2."""
        web = self.b_w * (self.h - (self.h_flange or 0.0) - (self.h_bottom or 0.0))
        top = (self.b_flange or 0.0) * (self.h_flange or 0.0)
        return web + top + (self.b_bottom or 0.0) * (self.h_bottom or 0.0)

    @property
    def web_top(self) -> float:
        """z of the upper end of the web face (soffit of the flange, or the top), mm."""
        return self.h - (self.h_flange or 0.0)

    @property
    def web_bottom(self) -> float:
        """z of the lower end of the web face, mm."""
        return self.h_bottom or 0.0


class Layer(Entry):
    """One layer of longitudinal bars at `depth` from the top face; `material` names an entry of materials.yaml."""

    bars: Bars
    depth: Size
    material: Id


class Stirrups(Entry):
    """Stirrups of one span: by `spacing` (from `first`) or by `positions` (x); `angle` to the axis."""

    material: Id
    legs: int = Field(2, ge=1)
    diameter: Size | None = None
    spacing: Size | None = None
    first: Coordinate | None = None
    positions: Positions | None = None
    angle: Angle = Quantity(90.0)

    @model_validator(mode="after")
    def _placed(self) -> Stirrups:
        _one_way("stirrups", self.spacing, self.positions)
        _far_apart("stirrups", self.spacing)
        if not 20.0 <= self.angle <= 90.0:
            raise ValueError(f"angle = {self.angle:g} deg; stirrups are inclined 20 to 90 deg to the axis")
        return self


class Soffit(Entry):
    """Bonded plies on the soffit for bending."""

    system: Id
    plies: int = Field(1, ge=1)
    width: Size
    start: Coordinate | None = None
    end: Coordinate | None = None


class Edges(Entry):
    """Lower and upper edge of a wrap leg (z)."""

    bottom_edge: Coordinate | None = None
    top_edge: Coordinate | None = None


class Wrap(Entry):
    """Bonded sheet of one span.

    `width` is measured across the fibres, `spacing` centre to centre along the axis, `first` is the x of the first
    strip's centre; `continuous` is a layout of its own, never width = spacing. `beta` below 90 deg leans so that the
    fibre crosses the diagonal crack of its span more squarely.
    """

    system: Id
    scheme: words(*SCHEMES)  # type: ignore[valid-type]
    layout: words("strips", "continuous")  # type: ignore[valid-type]
    plies: int = Field(1, ge=1)
    width: Size | None = None
    spacing: Size | None = None
    first: Coordinate | None = None
    count: int | None = Field(None, ge=1)
    positions: Positions | None = None
    start: Coordinate | None = None
    end: Coordinate | None = None
    beta: Angle = Quantity(90.0)
    bottom_edge: Coordinate | None = None
    top_edge: Coordinate | None = None
    soffit: words("continuous", "lapped", "open") | None = None  # type: ignore[valid-type]
    corner_radius: Length | None = None
    adhesive: Id | None = None
    back: Edges | None = None

    @model_validator(mode="after")
    def _placed(self) -> Wrap:
        import math

        if not 0.0 < self.beta < 180.0:
            raise ValueError(f"beta = {self.beta:g} deg; the fibre angle lies between 0 and 180 deg, 90 is vertical")
        if self.layout == "continuous":
            extra = [k for k in ("width", "spacing", "first", "positions", "count") if getattr(self, k) is not None]
            if extra:
                raise ValueError(f"a continuous sheet has no {', '.join(extra)}; give start and end, or nothing")
            return self
        if self.width is None:
            raise ValueError("strips need a width (across the fibres)")
        _one_way("strips", self.spacing, self.positions)
        _far_apart("strips", self.spacing)
        along = self.width / math.sin(math.radians(self.beta))
        gaps = [self.spacing] if self.spacing is not None else _gaps(self.positions or ())
        if any(along > g * (1 + 1e-9) for g in gaps):
            raise ValueError(
                f"strips overlap: width/sin(beta) = {along:.4g} mm along the axis, spacing {min(gaps):.4g} mm; "
                "widen the spacing or use layout: continuous"
            )
        return self


def _one_way(what: str, spacing: float | None, positions: tuple[float, ...] | None) -> None:
    if spacing is None and positions is None:
        raise ValueError(f"{what} need spacing (with first) or positions")
    if spacing is not None and positions is not None:
        raise ValueError(
            f"{what} are placed by spacing or by positions, not both; "
            "delete one of them (an inherited one is taken away by `spacing: none` or `positions: none`)"
        )


def _far_apart(what: str, spacing: float | None) -> None:
    """A spacing this small is a slip of the unit, and would place millions of them."""
    if spacing is not None and spacing < 5.0:
        raise ValueError(f"spacing = {spacing:g} mm; {what} stand at least 5 mm apart (a slip of the unit?)")


def _gaps(positions: tuple[float, ...]) -> list[float]:
    ordered = sorted(positions)
    return [b - a for a, b in itertools.pairwise(ordered)] or [float("inf")]


class Fan(Entry):
    """Fibres spread over the sheet: `angle` is the full opening angle."""

    form: words(*FAN_FORMS) = "one_way"  # type: ignore[valid-type]
    length: Size
    angle: Angle = Quantity(60.0)
    layer: words("under", "between", "over") = "over"  # type: ignore[valid-type]
    patch: bool = False


class Anchors(Entry):
    """FRP spike anchors at the free ends of the wrap legs of one span.

    `bend_angle` 0 = dowel collinear with the strip, 90 = normal to the face; `azimuth` 0 = along the fibre towards
    the free end; `embedment` along the dowel; `z` is the entry point, `back_z` that of the back face where it differs.
    """

    fibre: Id
    adhesive: Id | None = None
    host: words(*HOSTS)  # type: ignore[valid-type]
    z: Coordinate
    back_z: Coordinate | None = None
    bend_angle: Angle = Quantity(90.0)
    azimuth: Angle = Quantity(0.0)
    per_leg: int = Field(1, ge=1)
    across: Length | None = None
    embedment: Size
    dowel_diameter: Size
    hole_diameter: Size
    edge_radius: Length | None = None
    fibre_area: Area | None = None
    tows: int | None = Field(None, ge=1)
    fan: Fan
    strips: tuple[int, ...] | None = None
    resistance: Force | None = None
    tested: Id | None = None

    @model_validator(mode="after")
    def _fits(self) -> Anchors:
        if self.resistance is not None and self.tested is not None:
            raise ValueError("give resistance, or tested (an entry of anchors_tested), not both")
        if self.hole_diameter < self.dowel_diameter:
            raise ValueError(
                f"hole_diameter = {self.hole_diameter:g} mm is less than dowel_diameter = {self.dowel_diameter:g} mm"
            )
        if self.per_leg > 1 and self.across is None:
            raise ValueError("two or more anchors a leg need `across`, the distance between them across the width")
        if not 0.0 <= self.bend_angle <= 135.0:
            raise ValueError(f"bend_angle = {self.bend_angle:g} deg; possible 0 (in line with the strip) to 135")
        if self.fibre_area is None and self.tows is None:
            raise ValueError("give fibre_area (dry fibre area of one dowel) or tows")
        return self


class Span(Entry):
    """One shear span: nominal `length` (load centre to support centre) and what it holds."""

    length: Size
    stirrups: Stirrups | None = None
    wrap: Wrap | None = None
    anchors: Anchors | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Span:
        if self.length > 100_000.0:
            raise ValueError(f"length = {self.length:g} mm is more than 100 m (a slip of the unit?)")
        if self.anchors is not None and self.wrap is None:
            raise ValueError("anchors without a wrap")
        if self.anchors is not None and self.wrap is not None and self.wrap.scheme == "full":
            raise ValueError("a full wrap has no free ends to anchor")
        return self


class Specimen(Entry):
    """One beam: design (compared within design groups), batch and dates.

    For one beam in a notebook: `Specimen(id="B1", section={...}, bars=[...], spans={"A": {...}, "B": {...}})`;
    numbers without a unit are then N, mm, MPa and degrees.
    """

    id: Id
    kind: words("beam", "other") = "beam"  # type: ignore[valid-type]
    label: str | None = None
    group: Id | None = None
    batch: Id | None = None
    note: str | None = None
    cast: Date | None = None
    strengthened: Date | None = None
    section: Section | None = None
    between_loads: Length = Quantity(0.0)
    overhang_left: Length = Quantity(0.0)
    overhang_right: Length = Quantity(0.0)
    bars: tuple[Layer, ...] = ()
    spans: dict[str, Span] = Field(default_factory=dict)
    soffit: Soffit | None = None
    tested_span: words("A", "B") | None = None  # type: ignore[valid-type]
    crack_angle: Angle | None = None
    age_at_test: Age | None = None
    scatter: Ratio | None = None

    @model_validator(mode="after")
    def _possible(self) -> Specimen:
        if self.kind == "other":
            return self
        if self.between_loads > 100_000.0:
            raise ValueError(f"between_loads = {self.between_loads:g} mm is more than 100 m (a slip of the unit?)")
        if self.section is None:
            raise ValueError("a beam needs a section")
        if set(self.spans) != {"A", "B"}:
            raise ValueError("a beam needs spans A (left) and B (right), each with its length")
        if not self.bars:
            raise ValueError("a beam needs at least one layer of bars")
        for layer in self.bars:
            if layer.depth >= self.section.h:
                raise ValueError(f"bars at depth {layer.depth:g} mm lie outside the section, h = {self.section.h:g} mm")
        if not self.tension_bars:
            raise ValueError("no bars in the lower half of the section; a positive moment is assumed")
        for key, span in self.spans.items():
            _edges_inside(key, span, self.section)
            _holes_apart(key, span, self.section)
        return self

    @property
    def tension_bars(self) -> tuple[Layer, ...]:
        """Layers in the lower half of the section."""
        half = self.section.h / 2 if self.section else 0.0
        return tuple(layer for layer in self.bars if layer.depth > half)

    @property
    def distance_between_supports(self) -> float:
        """Centre to centre of the supports, mm (nominal)."""
        return sum(s.length for s in self.spans.values()) + self.between_loads

    @property
    def name(self) -> str:
        """What plots and tables show."""
        return self.label or self.id

    def design(self) -> dict[str, Any]:
        """The nominal design as a plain mapping: what must be equal for replicates."""
        own = {"id", "label", "group", "batch", "note", "cast", "strengthened", "age_at_test", "scatter"}
        return self.model_dump(mode="python", exclude=own, warnings=False)


def wrap_edges(wrap: Wrap, section: Section, face: str = "front") -> tuple[float, float]:
    """z of the lower and upper edge of a wrap leg on a face, mm; defaults: the whole web face."""
    own = wrap.back if face == "back" else None
    low = own.bottom_edge if own is not None and own.bottom_edge is not None else wrap.bottom_edge
    high = own.top_edge if own is not None and own.top_edge is not None else wrap.top_edge
    bottom = 0.0 if wrap.scheme != "side" else section.web_bottom
    top = section.h if wrap.scheme == "full" and section.shape == "rectangular" else section.web_top
    return (bottom if low is None else float(low), top if high is None else float(high))


def _edges_inside(key: str, span: Span, section: Section) -> None:
    if span.wrap is None:
        return
    for face in FACES:
        low, high = wrap_edges(span.wrap, section, face)
        if not 0.0 <= low < high <= section.h:
            raise ValueError(f"span {key}: wrap edges z = {low:g} to {high:g} mm do not fit h = {section.h:g} mm")
        if section.shape != "rectangular" and span.wrap.scheme != "full" and high > section.web_top:
            raise ValueError(f"span {key}: wrap edge z = {high:g} mm lies above the soffit of the flange")


def _holes_apart(key: str, span: Span, section: Section) -> None:
    import math

    from cracktie.campaign.holes import between_faces

    anchors, wrap = span.anchors, span.wrap
    if anchors is None or wrap is None:
        return
    if not 0.0 < anchors.z < section.h:
        raise ValueError(f"span {key}: anchor entry z = {anchors.z:g} mm lies outside the section")
    if anchors.host != "web":
        return
    reach = anchors.embedment * math.sin(math.radians(anchors.bend_angle))
    if reach > section.b_w:
        raise ValueError(
            f"span {key}: embedment {anchors.embedment:g} mm reaches through the web (b_w = {section.b_w:g} mm); "
            "shorten it or use host: through_web"
        )
    left = between_faces(anchors, wrap, section, key)
    if left is not None and left <= 0.0:
        raise ValueError(
            f"span {key}: opposite holes meet inside the web: embedment {anchors.embedment:g} mm at "
            f"{anchors.bend_angle:g} deg reaches {reach:.4g} mm from each face, b_w = {section.b_w:g} mm; shorten the "
            "embedment, or shift the holes of one face by back_z"
        )


__all__ = ["BarGroup", "Specimen", "wrap_edges"]
