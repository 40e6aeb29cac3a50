"""Tests, rigs, observations and reduction choices as written in their files; mm, N, s."""

from __future__ import annotations

from pydantic import Field, model_validator

from cracktie.campaign.fields import (
    Age,
    Angle,
    Coordinate,
    Date,
    Entry,
    Force,
    Id,
    Length,
    Mass,
    Positions,
    Ratio,
    Seconds,
    Size,
    Temperature,
    words,
)
from cracktie.campaign.instruments import FACES, Layout, Override
from cracktie.campaign.profiles import ProfileFile

OUTCOMES = (
    "shear in studied span",
    "shear in other span",
    "flexure",
    "bearing or anchorage",
    "stopped",
    "test fault",
)
LOWER_BOUNDS = ("shear in other span", "flexure", "bearing or anchorage", "stopped")
"""Outcomes after which V_max is only a lower bound of the studied span's resistance."""
STATES = ("virgin", "precracked", "repaired", "retest")
EVENTS = ("seat", "load", "hold", "unload", "reload", "bond while loaded", "cure", "load to failure")
FAILURE_MODES = (
    "flexural crack",
    "diagonal crack",
    "strip end debonding",
    "crack-induced debonding",
    "cover separation",
    "strip rupture at corner",
    "strip rupture at crack",
    "fan debonding",
    "fan splitting",
    "dowel rupture at bend",
    "dowel pull-out",
    "dowel cone",
    "combined cone-pull-out",
    "hole edge crushing",
    "flange cracking at the anchor",
    "web crushing",
    "shear-compression",
    "stirrup yield",
    "stirrup rupture",
    "bar yield",
    "bar anchorage",
    "bearing",
    "test stopped",
    "other",
)


class Stage(Entry):
    """One stage of a loading history."""

    stage: words(*EVENTS)  # type: ignore[valid-type]
    to: Force | None = None
    duration: Seconds | None = None
    days: Age | None = None


class Test(Entry):
    """One loading of a specimen; results belong to it. `peak_hold` is the peak force the controller held; `overrides`
    is what differs from the layout for single channels in this test."""

    __test__ = False  # the name is the trade's; keep test collectors away

    specimen: Id
    order: int | None = None
    date: Date | None = None
    setup: Id | None = None
    layout: Id | None = None
    dead_channels: tuple[str, ...] = ()
    overrides: dict[str, Override] = Field(default_factory=dict)
    studied: words("A", "B") | None = None  # type: ignore[valid-type]
    mirrored: bool = False
    spans_at_risk: int = Field(1, ge=1, le=2)
    state: words(*STATES) = "virgin"  # type: ignore[valid-type]
    strengthened_at_load: Force | None = None
    history: tuple[Stage, ...] = ()
    logs: tuple[str, ...] = ()
    event_log: str | None = None
    event_log_offset: Seconds | None = None
    peak_hold: Force | None = None
    profiles: tuple[ProfileFile, ...] = ()
    outcome: words(*OUTCOMES) | None = None  # type: ignore[valid-type]
    age: Age | None = None
    reason: str | None = None
    note: str | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Test:
        if self.outcome == "test fault" and not self.reason:
            raise ValueError("a test fault needs its reason (reason: ...): it is left out of every statistic")
        if self.peak_hold is not None and self.peak_hold <= 0.0:
            raise ValueError("peak_hold is the largest force the controller kept, written without a sign: 312.4 kN")
        return self


class Support(Entry):
    """One support: centre x, plate length along the beam, kind."""

    x: Coordinate
    plate: Size | None = None
    kind: words("roller", "pin") = "roller"  # type: ignore[valid-type]


class Load(Entry):
    """One load: centre x, plate length, its share of the jack's force."""

    x: Coordinate
    plate: Size | None = None
    share: Ratio | None = None


class Setup(Entry):
    """A named rig: two supports, one or two loads, cell and jack. `weight` is what hangs on the beam above the cell
    or was resting on it when the cell was zeroed (`weight_in_cell: false`)."""

    supports: tuple[Support, Support]
    loads: tuple[Load, ...] = Field(min_length=1, max_length=2)
    weight: Force | None = None
    weight_in_cell: bool = True
    cell_capacity: Force | None = None
    cell_uncertainty: Ratio | None = None
    position_uncertainty: Length | None = None
    jack_capacity: Force | None = None
    jack_stroke: Size | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Setup:
        left, right = (s.x for s in self.supports)
        if not left < right:
            raise ValueError("the left support comes first: supports in order of x")
        for load in self.loads:
            if not left < load.x < right:
                raise ValueError(f"load at x = {load.x:g} mm does not lie between the supports")
        shares = [load.share for load in self.loads]
        if any(s is not None for s in shares) and abs(sum(s or 0.0 for s in shares) - 1.0) > 1e-6:
            raise ValueError("the shares of the loads must sum to 1 (100 %)")
        return self


class Rig(Entry):
    """The whole of rig.yaml."""

    units: dict[str, str] | None = None
    setups: dict[Id, Setup] = Field(default_factory=dict)
    layouts: dict[Id, Layout] = Field(default_factory=dict)


class Tests(Entry):
    """The whole of tests.yaml."""

    __test__ = False

    units: dict[str, str] | None = None
    tests: dict[Id, Test] = Field(default_factory=dict)


class FailureMode(Entry):
    """One observed failure mode, in order of occurrence."""

    mode: words(*FAILURE_MODES)  # type: ignore[valid-type]
    test: Id | None = None
    load: Force | None = None
    strip: int | None = None
    face: words(*FACES) | None = None  # type: ignore[valid-type]
    anchor: str | None = None
    evidence: str | None = None
    confidence: words("certain", "likely", "uncertain") = "likely"  # type: ignore[valid-type]


class AnchorRecord(Entry):
    """Installation record of one anchor."""

    hole_diameter: Size | None = None
    depth: Size | None = None
    bend_angle: Angle | None = None
    edge_radius: Length | None = None
    fibre_mass: Mass | None = None
    bar_hit: bool = False
    cleaned: bool | None = None
    temperature: Temperature | None = None
    installed: Date | None = None
    note: str | None = None


class CrackLine(Entry):
    """A digitised crack: points (x, z) in mm on one face, at a load."""

    test: Id | None = None
    face: words("front", "back") = "front"  # type: ignore[valid-type]
    load: Force | None = None
    x: Positions
    z: Positions
    critical: bool = False

    @model_validator(mode="after")
    def _paired(self) -> CrackLine:
        if len(self.x) != len(self.z) or len(self.x) < 2:
            raise ValueError("a crack line needs as many x as z, at least two points")
        return self


class AsBuilt(Entry):
    """Measured geometry; replaces the nominal one in comparison."""

    b_w: Size | None = None
    h: Size | None = None
    b_flange: Size | None = None
    h_flange: Size | None = None
    bar_depth: Positions | None = None
    cover: Length | None = None
    stirrup_spacing: Size | None = None
    corner_radius: Length | None = None


class Observation(Entry):
    """What was seen and measured on one specimen."""

    as_built: AsBuilt | None = None
    anchors: dict[str, AnchorRecord] = Field(default_factory=dict)
    failure_modes: tuple[FailureMode, ...] = ()
    crack_lines: tuple[CrackLine, ...] = ()
    photos: tuple[str, ...] = ()
    note: str | None = None


class Observations(Entry):
    """The whole of observations.yaml."""

    units: dict[str, str] | None = None
    specimens: dict[Id, Observation] = Field(default_factory=dict)
