"""Shear and moment of a simply supported beam: point loads anywhere, overhangs, self-weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError


@dataclass(frozen=True)
class SimpleBeam:
    """Beam on two supports; x from the left support, the left overhang negative. mm and N.

    `weight` is the self-weight in N/mm over the whole length from -left_overhang to span + right_overhang.
    """

    span: float
    left_overhang: float = 0.0
    right_overhang: float = 0.0
    weight: float = 0.0

    def __post_init__(self) -> None:
        if not self.span > 0.0:
            raise ModelInputError(f"span is {self.span} mm; a positive length is needed")
        if min(self.left_overhang, self.right_overhang, self.weight) < 0.0:
            raise ModelInputError("overhangs and self-weight must not be negative")

    def check_place(self, x: float) -> None:
        """Raise `ModelInputError` for a place that is not on the beam."""
        if not -self.left_overhang <= x <= self.span + self.right_overhang:
            raise ModelInputError(
                f"x = {x:g} mm is not on the beam, which runs from {-self.left_overhang:g} mm "
                f"to {self.span + self.right_overhang:g} mm"
            )


def reactions(
    beam: SimpleBeam, loads: Sequence[tuple[float, float]] = (), *, self_weight: bool = True
) -> tuple[float, float]:
    """Left and right reaction in N, positive up, for loads (x mm, P N positive down)."""
    left, right = 0.0, 0.0
    for x, load in loads:
        beam.check_place(x)
        left += load * (beam.span - x) / beam.span
        right += load * x / beam.span
    if self_weight and beam.weight:
        length = beam.left_overhang + beam.span + beam.right_overhang
        centre = 0.5 * (beam.span + beam.right_overhang - beam.left_overhang)
        left += beam.weight * length * (beam.span - centre) / beam.span
        right += beam.weight * length * centre / beam.span
    return left, right


def shear(beam: SimpleBeam, x: Any, loads: Sequence[tuple[float, float]] = (), *, self_weight: bool = True) -> Any:
    """Shear force in N at x (scalar or array, mm): the upward forces to the left of x less the downward ones.

    At a support or a load the value just to the right is returned.
    """
    place = np.asarray(x, dtype=float)
    left, right = reactions(beam, loads, self_weight=self_weight)
    out = left * (place >= 0.0) + right * (place >= beam.span)
    for at, load in loads:
        out = out - load * (place >= at)
    if self_weight:
        out = out - beam.weight * _covered(beam, place)
    return out if place.ndim else float(out)


def moment(beam: SimpleBeam, x: Any, loads: Sequence[tuple[float, float]] = (), *, self_weight: bool = True) -> Any:
    """Bending moment in N mm at x (scalar or array, mm), positive where the soffit is in tension."""
    place = np.asarray(x, dtype=float)
    left, right = reactions(beam, loads, self_weight=self_weight)
    out = left * np.maximum(place, 0.0) + right * np.maximum(place - beam.span, 0.0)
    for at, load in loads:
        out = out - load * np.maximum(place - at, 0.0)
    if self_weight:
        out = out - 0.5 * beam.weight * _covered(beam, place) ** 2
    return out if place.ndim else float(out)


def shear_influence(beam: SimpleBeam, x: float, load_at: float) -> float:
    """Shear at x per newton of a load at `load_at` (the load's own section counts as left of it)."""
    return float(shear(beam, x, [(load_at, 1.0)], self_weight=False))


def three_point(span: float, a: float, P: float) -> list[tuple[float, float]]:
    """One load P (N) at `a` mm from the left support."""
    _inside(span, a)
    return [(a, P)]


def four_point(
    span: float, a_left: float, a_right: float, P: float, *, left_share: float | None = None
) -> list[tuple[float, float]]:
    """Two loads of sum P (N) at `a_left` from the left and `a_right` from the right support.

    A spreader loaded in its middle gives both half; `left_share` states another part for the left one.
    """
    _inside(span, a_left)
    _inside(span, a_right)
    if a_left + a_right > span:
        raise ModelInputError(f"shear spans {a_left:g} mm and {a_right:g} mm together exceed the span of {span:g} mm")
    share = 0.5 if left_share is None else left_share
    if not 0.0 <= share <= 1.0:
        raise ModelInputError(f"left_share is {share}; a number from 0 to 1 is needed")
    return [(a_left, share * P), (span - a_right, (1.0 - share) * P)]


def weight_per_length(area: float, unit_weight: float = 25e-6) -> float:
    """Self-weight in N/mm of a section of `area` mm2; unit weight in N/mm3 (25 kN/m3: common practice, no source)."""
    return area * unit_weight


def _covered(beam: SimpleBeam, place: Any) -> Any:
    return np.clip(place + beam.left_overhang, 0.0, beam.left_overhang + beam.span + beam.right_overhang)


def _inside(span: float, a: float) -> None:
    if not 0.0 < a < span:
        raise ModelInputError(f"load at {a:g} mm is not inside the span of {span:g} mm")
