"""Errors of rig and instruments in a simulated test, drawn within what rig.yaml states; truth.json lists them.

Every stated half-width is taken at its word and drawn rectangular: a reduction that claims less than it should, or
forgets a term, then misses planted values more often than its intervals say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.plan.sensors import Sensor
from cracktie.plan.statics import Placing, setup_of
from cracktie.units import parse

CELL_ERROR = 0.005
"""Relative half-width of the load cell's gain where the setup states none (common practice, no source)."""
WEIGHT_ERROR = 0.05
"""Relative half-width of the beam's weight (common practice, no source)."""


@dataclass(frozen=True)
class Transducer:
    """Error of one channel in its logger's unit: `end` at the largest travel of the test, growing along a straight
    line, and `bow` at half of it. Together they never pass the stated accuracy."""

    end: float
    bow: float

    def error(self, clean: Any) -> Any:
        """Error along a faultless record: array of its shape."""
        largest = float(np.max(np.abs(clean)))
        t = np.abs(clean) / largest if largest else np.zeros(len(clean))
        return self.end * t + self.bow * 4.0 * t * (1.0 - t)


@dataclass(frozen=True)
class Instruments:
    """Relative error of the load cell's gain, and errors of the other channels that state an accuracy."""

    cell_gain: float
    channels: Mapping[str, Transducer]

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping; transducers in logger units."""
        return {"cell_gain": self.cell_gain, "channels": {n: vars(t) for n, t in self.channels.items()}}


def draw_placing(campaign: Campaign, test: Test, rng: np.random.Generator) -> Placing:
    """Where supports and load really stand, and the real weight; four rectangular draws."""
    stated = setup_of(campaign, test).position_uncertainty
    half = 0.0 if stated is None else float(stated)
    left, right, load, weight = rng.uniform(-1.0, 1.0, 4)
    return Placing(half * float(left), half * float(right), half * float(load), WEIGHT_ERROR * float(weight))


def draw_instruments(campaign: Campaign, test: Test, places: Sequence[Sensor], rng: np.random.Generator) -> Instruments:
    """Gain of the cell, then end and bow of every displacement-like channel with a stated accuracy in its own unit."""
    stated = setup_of(campaign, test).cell_uncertainty
    half = CELL_ERROR if stated is None else float(stated)
    gain = half * float(rng.uniform(-1.0, 1.0))
    found = {}
    for sensor in places:
        accuracy = sensor.uncertainty
        if accuracy is None or sensor.quantity == "load" or accuracy.strip().endswith("%"):
            continue
        limit = abs(float(parse(accuracy, sensor.unit)) / sensor.scale)
        end, bow = rng.uniform(-1.0, 1.0, 2)
        found[sensor.name] = Transducer(limit * float(end), 0.5 * limit * float(bow) * (1.0 - abs(float(end))))
    return Instruments(gain, found)
