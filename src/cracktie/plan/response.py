"""What every channel of a simulated test would show without faults: strains, openings, displacements, temperature."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.plan.loading import Path
from cracktie.plan.sensors import Sensor
from cracktie.plan.statics import span_statics
from cracktie.plan.truth import TestTruth, generator

_BOND = 4.5e-3
"""Strain at the crack per square root of a millimetre of opening while a strip is bonded and w small (own number)."""
_FREE = 265.0
"""Length over which a debonded, anchored leg stretches, mm (own number)."""


@dataclass(frozen=True)
class Leg:
    """One strip leg on one face: z where the crack crosses it (None: not crossed), its share of the crack's opening,
    deflection at which it debonds (infinite: never before failure) and whether it lets go at failure."""

    crossing: float | None
    share: float
    debonds_at: float
    lets_go: bool


@dataclass(frozen=True)
class Response:
    """Everything that is needed to evaluate a channel of one test."""

    truth: TestTruth
    path: Path
    opening: Any
    legs: dict[tuple[int | str, str], Leg]
    support: float
    toward: float
    reactions: tuple[float, float]
    position: float
    supports: tuple[float, float]
    yield_strain: float
    seed: int

    def channel(self, sensor: Sensor) -> Any:
        """Values of a channel in its logger's unit and sign, without offset and noise."""
        value = self._internal(sensor)
        factor = {"kN": 1e-3, "um/m": 1e6, "m": 1e-3}.get(sensor.unit, 1.0)
        return value * factor / sensor.scale

    def _internal(self, sensor: Sensor) -> Any:
        load, quantity = self.path.load, sensor.quantity
        if quantity == "load":
            return load
        if quantity == "reaction":
            return load * self.reactions[0 if sensor.at != "right support" else 1]
        if quantity == "displacement":
            return self._displacement(sensor)
        if quantity == "bar strain":
            return self._stirrup(sensor)
        if quantity == "FRP strain":
            return self._strip(sensor)
        if quantity == "anchor strain":
            return 0.8 * self._strip(sensor)
        if quantity in ("diagonal displacement", "crack opening", "crack sliding"):
            return self._diagonal(sensor)
        if quantity == "temperature":
            slow = generator(self.seed, "temperature", self.truth.test)
            return 19.0 + slow.uniform(0, 2) + 0.4 * np.sin(self.path.time / 700.0 + slow.uniform(0, 6))
        return -1.2e-9 * load if quantity == "concrete strain" else np.zeros(len(load))

    def _settlement(self, side: int) -> Any:
        force = self.path.load * self.reactions[side]
        return (2.6e-6 + 0.7e-6 * side) * force + 0.06 * (1 - np.exp(-force / 9e3))

    def _displacement(self, sensor: Sensor) -> Any:
        left, right = self._settlement(0), self._settlement(1)
        if sensor.at == "left support":
            return left
        if sensor.at == "right support":
            return right
        where = self.position
        if sensor.at != "load" and sensor.x is not None:
            low, high = self.supports
            where = min(max((sensor.x - low) / (high - low), 0.0), 1.0)
        near = where / self.position if where <= self.position else (1 - where) / (1 - self.position)
        shape = math.sin(math.pi / 2 * near)
        twist = generator(self.seed, "twist", self.truth.test).uniform(-0.03, 0.03)
        side = twist if sensor.face == "front" else -twist
        return self.path.deflection * shape * (1 + side) + left * (1 - where) + right * where

    def _from_support(self, x: float) -> float:
        return (x - self.support) * self.toward

    def crack_height(self, x: float) -> float | None:
        """z of the critical crack at x, mm; None outside it."""
        along = self._from_support(x) - self.truth.crack_start
        z = 40.0 + along * math.tan(math.radians(self.truth.crack_angle))
        return z if along >= 0 else None

    def _unloading(self, values: Any, left: float) -> Any:
        return values * (left + (1 - left) * self.path.ratio)

    def _stirrup(self, sensor: Sensor) -> Any:
        z = self.crack_height(sensor.x or 0.0)
        crossed = z is not None and z < 335.0
        own = generator(self.seed, "stirrup", self.truth.specimen, str(sensor.x))
        gauge = math.exp(-abs((sensor.z or 200.0) - z) / 260.0) if crossed and z is not None else 0.13
        w = self.opening * gauge * own.uniform(0.85, 1.1)
        at_yield = 0.38
        early = np.minimum(w / at_yield, 1.0) ** 0.85
        strain = self.yield_strain * (early + 1.15 * np.maximum(w / at_yield - 1, 0.0) ** 0.9)
        return self._unloading(strain, 0.3) - 14e-6 * np.clip(self.path.load / 9e4, 0, 1)

    def _strip(self, sensor: Sensor) -> Any:
        leg = self.legs.get((sensor.strip or sensor.name, sensor.face))
        z = 200.0 if sensor.z is None else sensor.z
        idle = -9e-6 * np.clip(self.path.load / 9e4, 0, 1)
        own = generator(self.seed, "gauge", self.truth.test, sensor.name)
        if leg is None or leg.crossing is None:
            away_from_crack = own.uniform(0.02, 0.13) * _BOND * self.opening ** own.uniform(0.5, 0.9)
            return self._unloading(away_from_crack, 0.15) + idle
        away, w = abs(z - leg.crossing), self.opening * leg.share
        reach = 50.0 + 55.0 * np.minimum(w, 1.4)
        bonded = _BOND * np.sqrt(w / (1 + 0.3 * w)) * np.exp(-((away / reach) ** 1.4))
        if self.truth.scheme == "anchored":
            loose = 0.56 * w / _FREE * (1 + 0.16 * math.exp(-((away / 55.0) ** 2)))
        else:
            loose = 2.4e-4 + 0.05 * bonded
        strain = np.where(self.path.memory > leg.debonds_at, loose, bonded)
        if self.truth.mode == "shear":
            fallen = np.clip(self.path.failed / 0.3, 0.0, 1.0)
            strain = strain * (1 - (0.94 if leg.lets_go else 0.45) * fallen)
        return self._unloading(strain * own.uniform(0.92, 1.08), 0.15) + idle

    def _diagonal(self, sensor: Sensor) -> Any:
        crack = self.truth.crack_angle if self.toward > 0 else 180.0 - self.truth.crack_angle
        across = math.sin(math.radians(sensor.direction - crack))
        w = self._unloading(self.opening, 0.4)
        if sensor.quantity == "crack sliding":
            return 0.45 * w
        elastic = 1.5e-7 * self.path.load
        if abs(across) < 0.5:
            return -0.09 * w - 1.6 * elastic
        return w * across**2 * 0.92 + elastic


def respond(
    campaign: Campaign, test: Test, truth: TestTruth, path: Path, places: Sequence[Sensor], seed: int
) -> Response:
    """Prepare the response of one test; `places` are its channels."""
    statics = span_statics(campaign, test, truth.placing)
    supports = statics.supports
    support, toward = (supports[0], 1.0) if truth.span == "A" else (supports[1], -1.0)
    stirrups = campaign.specimen(test.specimen).spans[truth.span].stirrups
    bar = campaign.materials.bars.get(stirrups.material) if stirrups is not None else None
    values = [v for v in (bar.measured, bar.nominal) if v is not None] if bar is not None else []
    f_y = next((float(v.f_y) for v in values if v.f_y is not None), 500.0)
    made = Response(
        truth, path, _opening(truth, path), {}, support, toward, statics.reactions, statics.position, supports,
        f_y / 200e3, seed,
    )  # fmt: skip
    made.legs.update(_legs(made, places))
    return made


def _opening(truth: TestTruth, path: Path) -> Any:
    """Opening of the critical crack by the largest deflection so far, mm."""
    top = truth.deflection_at_V_max
    if truth.V_first_diagonal_crack is None:
        start = 0.05 * top
    else:
        level = (truth.V_first_diagonal_crack - truth.dead_shear) / truth.shear_per_load
        above = np.flatnonzero(path.load >= level)
        start = float(path.memory[above[0]]) if len(above) else top
    if truth.mode == "flexure":  # the opening follows the load, which no longer grows when the bars yield
        full = np.maximum.accumulate(path.load) / truth.P_max
        low = float(np.max(full[path.memory <= start], initial=0.0))
        return truth.crack_opening_at_V_max * np.clip((full - low) / (1 - low), 0.0, None) ** 1.2
    grown = np.maximum(path.memory - start, 0.0) / max(top - start, 1e-6)
    return truth.crack_opening_at_V_max * grown**1.25


def _legs(made: Response, places: Sequence[Sensor]) -> dict[tuple[int | str, str], Leg]:
    """Fate of every gauged leg: the crossed strip with the shortest bond above the crack goes first."""
    strips = {s.strip or s.name: s.x for s in places if s.quantity in ("FRP strain", "anchor strain")}
    if not strips or made.truth.scheme == "bare":
        return {}
    crossing: dict[int | str, float] = {}
    for number, x in strips.items():
        z = made.crack_height(float(x or 0.0))
        if z is not None and z < 312.0:
            crossing[number] = z
    order = sorted(crossing, key=lambda n: abs(crossing[n] - 215.0))
    rng = generator(made.seed, "legs", made.truth.test)
    found: dict[tuple[int | str, str], Leg] = {}
    events = list(made.path.debondings)
    for rank, number in enumerate(order):
        share = (1.0, 0.86, 0.74)[min(rank, 2)]
        for face in ("front", "back"):
            turn = {(0, "front"): 0, (0, "back"): 1, (1, "front"): 2}.get((rank, face))
            at = events[turn] if turn is not None and turn < len(events) else math.inf
            lets_go = made.truth.mode == "shear" and (rank == 0 or made.truth.scheme == "loose")
            found[number, face] = Leg(crossing[number], share * float(rng.uniform(0.94, 1.06)), at, lets_go)
    return found
