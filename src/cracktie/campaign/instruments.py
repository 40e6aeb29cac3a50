"""Instrument layouts as written in rig.yaml: single channels, grids, along the expected crack; mm, degrees."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import Field, model_validator

from cracktie.campaign.fields import Angle, Coordinate, Entry, Positions, Size, words
from cracktie.campaign.gauges import Calibration, Gauge, Rosette, half_width, limits
from cracktie.units import UnitError, factor

INTERNAL = {
    "load": "N", "reaction": "N", "displacement": "mm", "FRP strain": "-", "bar strain": "-", "concrete strain": "-",
    "anchor strain": "-", "crack opening": "mm", "crack sliding": "mm", "diagonal displacement": "mm",
    "rotation": "deg", "temperature": "degC", "time": "s", "time mark": "-", "principal strain": "-",
    "shear strain": "-", "principal angle": "deg",
}  # fmt: skip
"""Internal unit of each measured quantity."""
QUANTITIES = tuple(INTERNAL)
STRAINS = ("FRP strain", "bar strain", "concrete strain", "anchor strain")
"""Quantities that strain gauges measure."""
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
    """Channels at every crossing of strips (or stirrups) with rows of z; `name` uses {strip} {face} {row} {column}.

    `gauge`, `unit`, `sign`, `gauge_length` and `uncertainty` are those of all its gauges.
    """

    on: words("strips", "stirrups")  # type: ignore[valid-type]
    columns: int = Field(1, ge=1)
    rows: Positions
    faces: tuple[words("front", "back"), ...] = ("front",)  # type: ignore[valid-type]
    name: str
    unit: str | None = None
    sign: int = 1
    gauge_length: Size | None = None
    uncertainty: str | None = None
    gauge: Gauge | None = None

    @model_validator(mode="after")
    def _known_braces(self) -> Grid:
        _braces(self.name)
        _readable(self.sign, self.uncertainty, "-")
        return self


class Channel(Entry):
    """One channel: what it measures, where, and what the logger calls it (`alias`).

    `uncertainty` is the half-width of the whole channel, in per cent of the reading or in its unit; `range` ('50 mm',
    '0, 100 mm') that of the sensor, before the zero is taken off.
    """

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
    range: str | None = None
    calibration: Calibration | None = None
    gauge: Gauge | None = None

    @model_validator(mode="after")
    def _possible(self) -> Channel:
        internal = INTERNAL[self.quantity]
        _readable(self.sign, self.uncertainty, internal)
        if self.range is not None:
            _told("range", self.range, limits, internal)
        if self.calibration is not None:
            _told("calibration.output", self.calibration.output, factor, internal)
            _told("calibration.uncertainty", self.calibration.uncertainty, half_width, internal)
            if self.factor != 1.0:
                raise ValueError("factor and calibration both scale the readings; keep one")
        if self.gauge is not None and self.quantity not in STRAINS:
            raise ValueError(f"a {self.quantity} has no strain gauge; write calibration: {{...}} for a transducer")
        if self.gauge is not None and self.calibration is not None:
            raise ValueError("gauge and calibration both make strain of the readings; keep one")
        return self


class Override(Entry):
    """What differs for one channel of a grid, a band or the list."""

    alias: str | None = None
    unit: str | None = None
    sign: int | None = None
    factor: float | None = None
    direction: Angle | None = None
    gauge_length: Size | None = None
    uncertainty: str | None = None
    range: str | None = None
    calibration: Calibration | None = None
    gauge: Gauge | None = None


def _readable(sign: int, uncertainty: str | None, internal: str) -> None:
    """Refuse another sign than 1 and -1, and an accuracy that is no number with a fitting unit."""
    if sign not in (-1, 1):
        raise ValueError("sign is 1 or -1")
    _told("uncertainty", uncertainty, half_width, internal)


def _told(key: str, text: str | None, read: Callable[[Any, str], Any], internal: str) -> None:
    """Read a text whose unit hangs on the quantity; a slip names its key."""
    try:
        read(text, internal)
    except UnitError as error:
        raise UnitError(f"{key} = {text!r}: {error.message}", error.fix) from None


class Along(Entry):
    """A row of gauges along the expected crack, with what all of them share as in a grid."""

    along: words("crack band")  # type: ignore[valid-type]
    rows: Positions
    name: str
    angle: Angle | None = None
    unit: str | None = None
    sign: int = 1
    gauge_length: Size | None = None
    uncertainty: str | None = None
    gauge: Gauge | None = None

    @model_validator(mode="after")
    def _possible(self) -> Along:
        _braces(self.name)
        _readable(self.sign, self.uncertainty, "-")
        if self.angle is not None and not 15.0 <= self.angle <= 90.0:
            raise ValueError(f"angle = {self.angle:g} deg; a diagonal crack lies between 15 and 90 deg to the axis")
        return self


class Layout(Entry):
    """A named set of channels: listed one by one, by grids and along the crack band.

    `gauge` is what all its strain gauges share, `overrides` what differs for single channels, by their names.
    """

    channels: tuple[Channel, ...] = ()
    grids: tuple[Grid, ...] = ()
    bands: tuple[Along, ...] = ()
    rosettes: tuple[Rosette, ...] = ()
    gauge: Gauge | None = None
    overrides: dict[str, Override] = Field(default_factory=dict)
