"""Deflection under the load or at midspan, free of support settlement, with its uncertainty; mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from cracktie.campaign.testing import Setup
from cracktie.lab.budget import Budget, Component
from cracktie.lab.derived import net_deflection, two_faces
from cracktie.reduction.gauges import u_reading
from cracktie.reduction.shear import place_ratio
from cracktie.reduction.signals import Signal, Signals


@dataclass(frozen=True)
class Deflection:
    """delta = mean of the faces - (1 - r) left - r right, at the ratio r between the supports.

    The faces' mean takes out the twist of the beam (with one face the twist stays in and in no uncertainty). By first
    order (JCGM 100:2008, 5.1.2), with n faces and independent transducers:

        u^2 = sum u_face^2 / n^2 + ((1 - r) u_left)^2 + (r u_right)^2 + ((right - left) u_r)^2

    where u of a transducer joins its stated accuracy (rectangular; a percentage is one of the reading), calibration,
    zero, drift and the noise of one reading. Without both supports the settlement stays in and so in no uncertainty.
    """

    values: Any
    faces: Sequence[Signal]
    supports: Sequence[Signal]
    ratio: float
    u_ratio: float

    def budget(self, row: int, u_place: float = 0.0) -> Budget:
        """Causes of its uncertainty at one row, mm; `u_place` is what not knowing the row adds (rectangular)."""
        faces = math.hypot(*(u_reading(s, row) for s in self.faces)) / len(self.faces)
        parts = [Component("transducers at the load or midspan", faces, note=f"{len(self.faces)} face(s)")]
        if self.supports:
            left, right = self.supports
            parts.append(Component("transducer at the left support", (1 - self.ratio) * u_reading(left, row)))
            parts.append(Component("transducer at the right support", self.ratio * u_reading(right, row)))
            settled = float(right.values[row] - left.values[row])
            if math.isfinite(settled):
                parts.append(Component("place between the supports", abs(settled) * self.u_ratio, "rectangular"))
        parts.append(Component("row of the event", u_place, "rectangular", kind="A"))
        return Budget(tuple(p for p in parts if p.u > 0.0))

    def u(self, row: int) -> float:
        """Standard uncertainty of the deflection at one row, mm."""
        return self.budget(row).u

    def between(self, time: Any, row: int, at: float) -> tuple[float, float]:
        """Deflection at a time between a row and the one before, by a straight line, and what that adds to its u (half
        the step, rectangular), mm."""
        before = max(row - 1, 0)
        first, last = float(self.values[before]), float(self.values[row])
        step = float(time[row] - time[before])
        share = (at - float(time[before])) / step if step > 0.0 else 1.0
        return first + share * (last - first), abs(last - first) / 2.0 / math.sqrt(3.0)


def deflection(signals: Signals, setup: Setup) -> Deflection | None:
    """Deflection of a test from its displacements at the load, else at midspan; None without either.

    What is missing becomes a note.
    """
    at = "load" if signals.of("displacement", "load") else "midspan"
    faces = signals.of("displacement", at)[:2]
    if not faces:
        signals.notes.append("no displacement at the load or at midspan: no deflection")
        return None
    if at == "midspan":
        signals.notes.append("no displacement at the load: deflections are those at midspan")
    values = faces[0].values
    if len(faces) > 1:
        values, share, twisted = two_faces(faces[0].values, faces[1].values)
        if twisted:
            signals.notes.append(f"the two faces differ by {100 * share:.0f} % of the deflection: twist")
    ratio, u_ratio = place_ratio(setup, at)
    silent = [s.channel.name for s in faces if not (s.channel.uncertainty or "").strip() and not _certified(s)]
    if silent:
        signals.notes.append(
            f"{', '.join(silent)}: no accuracy is stated (layout, uncertainty), so u of the deflection holds only zero "
            "and noise there"
        )
    found = [signals.of("displacement", f"{side} support") for side in ("left", "right")]
    if not all(found):
        signals.notes.append("support settlement is not measured: the deflection holds it")
        return Deflection(values, faces, (), ratio, u_ratio)
    supports = tuple(s[0] for s in found)
    net = net_deflection(values, supports[0].values, supports[1].values, a=ratio, span=1.0)
    return Deflection(net, faces, supports, ratio, u_ratio)


def _certified(signal: Signal) -> bool:
    return any(part.name == "calibration" for part in signal.parts)
