"""What every channel of a simulated test would show without faults, and the forces across the critical crack.

Two rigid blocks part at the crack (`cracktie.plan.crack`); strips and stirrups are stretched by that and answer by the
closed forms of `cracktie.plan.bonded`. Gauges read the strain where they sit, forces are those at the crack, and the
concrete carries what is left of the shear: V = V_c + V_s + V_f at every reading.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.plan.crack import BlockCrack
from cracktie.plan.loading import Path
from cracktie.plan.parts import LEFT, SLICE, Motion, Stirrup, Strip, crossed_legs, crossed_stirrups
from cracktie.plan.sensors import Sensor
from cracktie.plan.statics import SpanStatics, span_statics
from cracktie.plan.truth import TestTruth, generator

GAUGE, PANEL = 5.0, 300.0
"""Gauge lengths of strain gauges and diagonals that state none, mm."""
MIDDLE = 0.45
"""Height of a crack gauge that states none, share of the crack's tip (own number)."""
SPRINGS = 0.05
"""Share of its opening at V_max by which a crack springs open, within some hundredths of a millimetre (own number)."""
CLOSES_TO = 0.4
"""Share of the crack's opening that stays when a beam is unloaded (own number)."""


@dataclass(frozen=True)
class Response:
    """Everything that is needed to evaluate a channel of one test."""

    motion: Motion
    statics: SpanStatics
    strips: tuple[Strip, ...]
    stirrups: tuple[Stirrup, ...]

    @property
    def truth(self) -> TestTruth:
        """What was planted."""
        return self.motion.truth

    @property
    def path(self) -> Path:
        """The loading."""
        return self.motion.path

    @property
    def crack(self) -> BlockCrack:
        """The critical crack."""
        return self.motion.crack

    def channel(self, sensor: Sensor) -> Any:
        """Values of a channel in its logger's unit and sign, without offset and noise."""
        value = self._internal(sensor)
        factor = {"kN": 1e-3, "um/m": 1e6, "m": 1e-3}.get(sensor.unit, 1.0)
        return value * factor / sensor.scale

    @cached_property
    def shares(self) -> dict[str, Any]:
        """V and what concrete, stirrups and fibres carry of it at every reading, N."""
        V = self.truth.shear_per_load * self.path.load + self.truth.dead_shear
        V_f = sum((s.shear for s in self.strips), np.zeros(len(V)))
        V_s = sum((s.shear for s in self.stirrups), np.zeros(len(V)))
        return {"V": V, "V_c": V - V_s - V_f, "V_s": V_s, "V_f": V_f}

    @cached_property
    def opened(self) -> Any:
        """Opening at the mouth with what unloading closes, mm."""
        return self.motion.mouth * self.motion.unloading(CLOSES_TO)

    def elastic_shear_strain(self) -> Any:
        """Shear strain of the panel beside its crack."""
        return 8.0e-10 * self.path.load

    def _internal(self, sensor: Sensor) -> Any:
        load, quantity = self.path.load, sensor.quantity
        if quantity == "load":
            return load
        if quantity == "reaction":
            return load * self.statics.reactions[0 if sensor.at != "right support" else 1]
        if quantity == "displacement":
            return self._displacement(sensor)
        if quantity == "bar strain":
            return self._bar(sensor)
        if quantity == "FRP strain":
            return self._sheet(sensor)
        if quantity == "anchor strain":
            return 0.8 * self._sheet(sensor)
        if quantity in ("crack opening", "crack sliding"):
            z = MIDDLE * self.crack.tip if sensor.z is None else sensor.z
            return self.opened * (self.crack.opening(z) if quantity == "crack opening" else self.crack.slide)
        if quantity == "diagonal displacement":
            return self._diagonal(sensor)
        if quantity == "temperature":
            slow = generator(self.motion.seed, "temperature", self.truth.test)
            return 19.0 + slow.uniform(0, 2) + 0.4 * np.sin(self.path.time / 700.0 + slow.uniform(0, 6))
        return -1.2e-9 * load if quantity == "concrete strain" else np.zeros(len(load))

    def _settlement(self, side: int) -> Any:
        force = self.path.load * self.statics.reactions[side]
        return (2.6e-6 + 0.7e-6 * side) * force + 0.06 * (1 - np.exp(-force / 9e3))

    def _displacement(self, sensor: Sensor) -> Any:
        left, right = self._settlement(0), self._settlement(1)
        if sensor.at == "left support":
            return left
        if sensor.at == "right support":
            return right
        where = self.statics.position
        if sensor.at != "load" and sensor.x is not None:
            low, high = self.statics.supports
            where = min(max((sensor.x - low) / (high - low), 0.0), 1.0)
        near = (
            where / self.statics.position
            if where <= self.statics.position
            else (1 - where) / (1 - self.statics.position)
        )
        shape = math.sin(math.pi / 2 * near)
        twist = generator(self.motion.seed, "twist", self.truth.test).uniform(-0.03, 0.03)
        side = twist if sensor.face == "front" else -twist
        return self.path.deflection * shape * (1 + side) + left * (1 - where) + right * where

    def _bar(self, sensor: Sensor) -> Any:
        z = 200.0 if sensor.z is None else sensor.z
        squeezed = -14e-6 * np.clip(self.path.load / 9e4, 0, 1)
        own = generator(self.motion.seed, "stirrup", self.truth.specimen, str(sensor.x))
        near = [s for s in self.stirrups if s.number == sensor.stirrup or abs(s.x - (sensor.x or 0.0)) < 1.0]
        if not near:  # beside the crack: what a smaller crack lets through
            return (
                7e-4 * self.motion.mouth**0.7 * own.uniform(0.4, 1.1) * self.motion.unloading(LEFT["stirrup"])
                + squeezed
            )
        bar = near[0]
        length = sensor.gauge_length or GAUGE
        away = (z - bar.z) / math.sin(math.radians(bar.angle))
        return bar.bar.strain(bar.stretch, away, length) * bar.left + squeezed

    def _sheet(self, sensor: Sensor) -> Any:
        z = 200.0 if sensor.z is None else sensor.z
        squeezed = -9e-6 * np.clip(self.path.load / 9e4, 0, 1)
        own = generator(self.motion.seed, "gauge", self.truth.test, sensor.name)
        strip = self._strip_of(sensor)
        if strip is None:
            beside = own.uniform(0.02, 0.13) * 4.5e-3 * self.motion.mouth ** own.uniform(0.5, 0.9)
            return beside * self.motion.unloading(LEFT["strip"]) + squeezed
        rise = math.sin(math.radians(strip.beta))
        half = (sensor.gauge_length or GAUGE) / 2.0
        away = (z - strip.z) / rise
        low, middle, high = (strip.strain(away + part * half) for part in (-1, 0, 1))
        return (low + 4.0 * middle + high) / 6.0 * own.uniform(0.95, 1.05) + squeezed

    def _strip_of(self, sensor: Sensor) -> Strip | None:
        """The leg under a gauge: by its number; on a sheet the nearest slice."""
        face = [s for s in self.strips if s.face == sensor.face]
        if sensor.strip is not None:
            return next((s for s in face if s.number == sensor.strip), None)
        at = sensor.x or 0.0
        near = [s for s in face if abs(s.x - at) <= SLICE]
        return min(near, key=lambda s: abs(s.x - at), default=None)

    def _diagonal(self, sensor: Sensor) -> Any:
        length = sensor.gauge_length or PANEL
        x = self.crack.support + self.crack.toward * self.truth.crack_start if sensor.x is None else sensor.x
        found = self.crack.crossing(x, 200.0 if sensor.z is None else sensor.z, sensor.direction, length)
        across = 0.0 if found is None else found[1]
        turned = -self.crack.toward * math.sin(math.radians(2.0 * sensor.direction)) / 2.0
        return self.opened * across + self.elastic_shear_strain() * turned * length


def respond(campaign: Campaign, test: Test, truth: TestTruth, path: Path, seed: int) -> Response:
    """Prepare the response of one test."""
    statics = span_statics(campaign, test, truth.placing)
    supports, specimen = statics.supports, campaign.specimen(test.specimen)
    support, toward = (supports[0], 1.0) if truth.span == "A" else (supports[1], -1.0)
    own = generator(seed, "kinematics", specimen.id, truth.span)
    crack = BlockCrack(
        support, toward, truth.crack_start, truth.crack_angle, 0.9 * statics.depth,
        parallel=float(own.uniform(0.25, 0.5)), slide=float(own.uniform(0.15, 0.38)),
    )  # fmt: skip
    motion = Motion(truth, path, crack, _opening(truth, path), seed)
    legs, bars = crossed_legs(campaign, specimen, motion), crossed_stirrups(campaign, specimen, motion)
    return Response(motion, statics, tuple(legs), tuple(bars))


def _opening(truth: TestTruth, path: Path) -> Any:
    """Opening at the crack's mouth by the largest deflection so far, mm: it springs open by `SPRINGS` of its opening at
    V_max, then grows."""
    top, full = truth.deflection_at_V_max, truth.crack_opening_at_V_max
    if truth.V_first_diagonal_crack is None:
        start, sprung = 0.05 * top, 0.0
    else:
        level = (truth.V_first_diagonal_crack - truth.dead_shear) / truth.shear_per_load
        above = np.flatnonzero(path.load >= level)
        start = float(path.memory[above[0]]) if len(above) else top
        sprung = SPRINGS
    after = np.maximum(path.memory - start, 0.0)
    if truth.mode == "flexure":  # the opening follows the load, which no longer grows when the bars yield
        load = np.maximum.accumulate(path.load) / truth.P_max
        low = float(np.max(load[path.memory <= start], initial=0.0))
        grown = np.clip((load - low) / (1 - low), 0.0, None) ** 1.5
    else:
        grown = (after / max(top - start, 1e-6)) ** 1.25
    return full * (sprung * (1.0 - np.exp(-after / 0.02)) + (1.0 - sprung) * grown)
