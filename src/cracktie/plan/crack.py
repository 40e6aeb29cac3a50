"""Kinematics of a simulated critical crack: two rigid blocks that turn about its tip and slide along it; mm, degrees.

Written a second time on purpose, apart from `cracktie.mechanics.crack`: what gauges of a rehearsal show must not come
out of the formulas that read them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

MOUTH = 40.0
"""Height of the mouth, about the level of the tension bars, mm (own number)."""


@dataclass(frozen=True)
class BlockCrack:
    """A straight crack at `angle` from its mouth, `start` mm from the support, to `tip` (height).

    `toward` is 1 where the load lies to the right of the support, else -1. Per mm of opening at the mouth: the
    opening falls in a straight line to `parallel` at the tip; the support's block slides up along the crack by `slide`.
    """

    support: float
    toward: float
    start: float
    angle: float
    tip: float
    parallel: float
    slide: float

    @property
    def _turn(self) -> tuple[float, float]:
        return math.cos(math.radians(self.angle)), math.sin(math.radians(self.angle))

    def height(self, x: float, beta: float = 90.0, level: float = 0.0) -> float | None:
        """z where the crack meets a fibre that is at `x` on a level and leans by `beta` towards the support."""
        cot = 1.0 / math.tan(math.radians(beta))
        tan = math.tan(math.radians(self.angle))
        along = (x - self.support) * self.toward + level * cot - self.start
        z = (MOUTH + along * tan) / (1.0 + cot * tan)
        return z if MOUTH <= z <= self.tip else None

    def opening(self, z: float) -> float:
        """Opening at a height per mm at the mouth."""
        return self.parallel + (1.0 - self.parallel) * (self.tip - z) / (self.tip - MOUTH)

    def jump(self, z: float) -> tuple[float, float]:
        """Displacement (towards the load, up) of the support's block against the other one, per mm at the mouth."""
        cos, sin = self._turn
        w = self.opening(z)
        return self.slide * cos - w * sin, self.slide * sin + w * cos

    def stretch(self, z: float, beta: float = 90.0) -> float:
        """Lengthening of a fibre that crosses at a height, per mm at the mouth."""
        cos, sin = math.cos(math.radians(beta)), math.sin(math.radians(beta))
        across, up = self.jump(z)
        return -across * cos + up * sin

    def crossing(self, x: float, z: float, direction: float, length: float) -> tuple[float, float] | None:
        """Height at which a gauge bridges the crack, and its lengthening per mm of opening at the mouth; None where
        both its ends lie on one block or it passes beyond an end of the crack."""
        half = math.radians(direction if self.toward > 0 else 180.0 - direction)
        c, s = math.cos(half), math.sin(half)
        x_0, tan = (x - self.support) * self.toward - self.start, math.tan(math.radians(self.angle))
        over = [z + r * s - MOUTH - (x_0 + r * c) * tan for r in (-length / 2, length / 2)]
        if over[0] * over[1] >= 0.0:
            return None
        at = -length / 2 + length * over[0] / (over[0] - over[1])
        height = z + at * s
        if not MOUTH <= height <= self.tip:
            return None
        across, up = self.jump(height)
        return height, math.copysign(1.0, over[1] - over[0]) * (across * c + up * s)

    def shear_strain(self, x: float, z: float, direction: float, length: float) -> float:
        """Shear strain of the panel whose diagonals are gauges at `direction` and its mirror, per mm at the mouth:
        slopes of the displacements between the mean of its corners, the sign that stretches across the crack."""
        c, s = abs(math.cos(math.radians(direction))), math.sin(math.radians(direction))
        a, b = length / 2 * c, length / 2 * s
        x_0, tan = (x - self.support) * self.toward - self.start, math.tan(math.radians(self.angle))
        moved = {}
        for i in (-1, 1):
            for j in (-1, 1):
                over = z + j * b - MOUTH - (x_0 + i * a) * tan
                moved[i, j] = self._at(x_0 + i * a, z + j * b) if over > 0.0 else (0.0, 0.0)
        lean = sum(j * moved[i, j][0] for i in (-1, 1) for j in (-1, 1)) / (4.0 * b)
        rise = sum(i * moved[i, j][1] for i in (-1, 1) for j in (-1, 1)) / (4.0 * a)
        return -(lean + rise)

    def _at(self, along: float, z: float) -> tuple[float, float]:
        """Displacement of a point of the support's block: that at the tip and its turn about the tip."""
        turn = (1.0 - self.parallel) / (self.tip - MOUTH) * self._turn[1]
        across, up = self.jump(self.tip)
        tip_along = (self.tip - MOUTH) / math.tan(math.radians(self.angle))
        return across + turn * (z - self.tip), up - turn * (along - tip_along)
