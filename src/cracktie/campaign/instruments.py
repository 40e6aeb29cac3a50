"""Instrument layouts as written in rig.yaml: single channels, grids, along the expected crack; mm, degrees."""

from __future__ import annotations

from pydantic import Field, model_validator

from cracktie.campaign.fields import Angle, Coordinate, Entry, Positions, Size, words

QUANTITIES = (
    "load",
    "reaction",
    "displacement",
    "FRP strain",
    "bar strain",
    "concrete strain",
    "anchor strain",
    "crack opening",
    "crack sliding",
    "diagonal displacement",
    "rotation",
    "temperature",
    "time",
    "time mark",
)
FACES = ("front", "back", "soffit", "top")

BRACES = ("strip", "stirrup", "face", "row", "column")


def _braces(name: str) -> None:
    """Refuse a channel name with words in braces that stand for nothing."""
    rest = name
    for word in BRACES:
        rest = rest.replace("{" + word + "}", "")
    if "{" in rest or "}" in rest:
        known = ", ".join("{" + word + "}" for word in BRACES)
        raise ValueError(f"name = {name!r} has braces that stand for nothing; possible: {known}")


class Grid(Entry):
    """Channels at every crossing of strips (or stirrups) with rows of z; `name` uses {strip} {face} {row} {column}."""

    on: words("strips", "stirrups")  # type: ignore[valid-type]
    columns: int = Field(1, ge=1)
    rows: Positions
    faces: tuple[words("front", "back"), ...] = ("front",)  # type: ignore[valid-type]
    name: str

    @model_validator(mode="after")
    def _known_braces(self) -> Grid:
        _braces(self.name)
        return self


class Channel(Entry):
    """One channel: what it measures, where, and what the logger calls it (`alias`)."""

    name: str
    quantity: words(*QUANTITIES)  # type: ignore[valid-type]
    unit: str | None = None
    alias: str | None = None
    at: words("load", "left support", "right support", "crack", "midspan") | None = None  # type: ignore[valid-type]
    x: Coordinate | None = None
    z: Coordinate | None = None
    face: words(*FACES) | None = None  # type: ignore[valid-type]
    strip: int | None = None
    stirrup: int | None = None
    direction: Angle | None = None
    sign: int = 1
    factor: float = 1.0
    gauge_length: Size | None = None
    uncertainty: str | None = None

    @model_validator(mode="after")
    def _sign(self) -> Channel:
        if self.sign not in (-1, 1):
            raise ValueError("sign is 1 or -1")
        return self


class Along(Entry):
    """A row of gauges along the expected crack."""

    along: words("crack band")  # type: ignore[valid-type]
    rows: Positions
    name: str
    angle: Angle | None = None

    @model_validator(mode="after")
    def _possible(self) -> Along:
        _braces(self.name)
        if self.angle is not None and not 15.0 <= self.angle <= 90.0:
            raise ValueError(f"angle = {self.angle:g} deg; a diagonal crack lies between 15 and 90 deg to the axis")
        return self


class Layout(Entry):
    """A named set of channels: listed one by one, by grids and along the crack band."""

    channels: tuple[Channel, ...] = ()
    grids: tuple[Grid, ...] = ()
    bands: tuple[Along, ...] = ()
