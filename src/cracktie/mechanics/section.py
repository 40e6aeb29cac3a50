"""Strips across a section: strength, moment-curvature and elastic properties by strain compatibility.

Many sections at once: every quantity of a section is an array over the cases (or a number that holds for all). Strains
are tension positive and grow with the depth y from the top face: eps(y) = curvature (y - c). Concrete carries
compression only, unless its law says otherwise. Bars and the soffit ply are points. Positive moments only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import CracktieError
from cracktie.mechanics.roots import chandrupatla

CRUSHING, PLY, BAR = 0, 1, 2
MODES = ("concrete crushing", "limit strain of the soffit ply", "bar rupture")
"""Words for the mode numbers of `Strength.mode`."""

Law = Callable[[Any], Any]


class SectionError(CracktieError, ValueError):
    """A section has no concrete, bars outside it, or shapes that do not fit together."""


@dataclass(frozen=True)
class Section:
    """Strips, bars and ply of some cases; build it with `section`.

    `strip_y` (middle), `strip_area`, `strip_height`: (cases, strips); `bar_y`, `bar_area`: (cases, bars); the ply and
    `height`: (cases, 1). `steel` gives the stress of a strain for all bars, `concrete` (compression positive) for all
    strips; a law that differs between cases holds its numbers in the shape (cases, 1).
    """

    strip_y: Any
    strip_area: Any
    strip_height: Any
    bar_y: Any
    bar_area: Any
    height: Any
    ply_y: Any
    ply_area: Any
    ply_E: Any
    ply_strain_0: Any
    concrete: Law
    steel: Law
    displaced: bool = False

    @property
    def cases(self) -> int:
        """Number of cases."""
        return int(self.strip_y.shape[0])


@dataclass(frozen=True)
class Strength:
    """Largest admissible state: arrays over the cases. N mm, mm, 1/mm; `mode` indexes `MODES`."""

    moment: Any
    c: Any
    curvature: Any
    mode: Any


@dataclass(frozen=True)
class Curve:
    """Moment-curvature, (cases, points); NaN where the top strain would pass `eps_cu`. N mm, mm, ratios."""

    curvature: Any
    moment: Any
    c: Any
    bar_strain: Any
    """Strain of the lowest bar layer."""


def section(
    *,
    rectangles: Sequence[tuple[Any, Any, Any]],
    bars: Sequence[tuple[Any, Any]],
    concrete: Law,
    steel: Law,
    ply: tuple[Any, Any, Any, Any] | None = None,
    strips: int = 100,
    displaced: bool = False,
) -> Section:
    """Section from rectangles (width, top, bottom), bars (area, depth) and a ply (area, depth, modulus, first strain).

    Depths from the top face in mm, areas mm2, modulus MPa. Each number may be an array over the cases. `strips` are
    shared out over the rectangles by their heights in the first case. The first strain is that of the soffit when it
    got the ply. `displaced` takes the concrete that the bars displace out of the compression zone.
    Raises `SectionError`.
    """
    if not rectangles or not bars:
        raise SectionError("a section needs at least one rectangle and one bar layer")
    shape = np.broadcast_shapes(*(np.shape(v) for part in (*rectangles, *bars, *([ply] if ply else [])) for v in part))
    if len(shape) > 1:
        raise SectionError(f"the numbers of a section are arrays over the cases; got shape {shape}")
    full = [tuple(_column(v, shape) for v in r) for r in rectangles]
    heights = [float(np.ravel(bottom - top)[0]) for _, top, bottom in full]
    if min(heights) <= 0.0:
        raise SectionError("each rectangle is (width, top, bottom) with top above bottom")
    y, area, tall = [], [], []
    for (width, top, bottom), height in zip(full, heights, strict=True):
        count = max(2, round(strips * height / sum(heights)))
        middle = (np.arange(count) + 0.5) / count
        y.append(top + (bottom - top) * middle)
        area.append(np.broadcast_to(width * (bottom - top) / count, y[-1].shape))
        tall.append(np.broadcast_to((bottom - top) / count, y[-1].shape))
    height_column = np.max(np.concatenate([bottom for _, _, bottom in full], axis=1), axis=1, keepdims=True)
    bar_area = np.concatenate([_column(a, shape) for a, _ in bars], axis=1)
    bar_y = np.concatenate([_column(d, shape) for _, d in bars], axis=1)
    if np.any(bar_y <= 0.0) or np.any(bar_y >= height_column):
        raise SectionError("a bar lies outside the section")
    zero = np.zeros_like(height_column)
    ply_area, ply_y, ply_E, ply_0 = (
        (zero, height_column, zero, zero) if ply is None else (_column(v, shape) for v in ply)
    )
    return Section(
        np.concatenate(y, axis=1),
        np.concatenate(area, axis=1),
        np.concatenate(tall, axis=1),
        bar_y,
        bar_area,
        height_column,
        ply_y,
        ply_area,
        ply_E,
        ply_0,
        concrete,
        steel,
        displaced,
    )


def _column(value: Any, shape: tuple[int, ...]) -> Any:
    return np.broadcast_to(np.asarray(value, dtype=float), shape or (1,)).reshape(-1, 1)


def resultants(made: Section, c: Any, curvature: Any) -> tuple[Any, Any]:
    """Axial force (N, tension positive) and its moment about the top face (N mm) for arrays over the cases."""
    c, curvature = np.reshape(c, (-1, 1)), np.reshape(curvature, (-1, 1))
    concrete = -made.concrete(curvature * (c - made.strip_y)) * made.strip_area
    strain = curvature * (made.bar_y - c)
    steel = made.steel(strain)
    if made.displaced:
        steel = steel + made.concrete(-strain)
    steel = steel * made.bar_area
    stretch = curvature * (made.ply_y - c) - made.ply_strain_0
    ply = made.ply_E * np.maximum(stretch, 0.0) * made.ply_area
    force = concrete.sum(axis=1) + steel.sum(axis=1) + ply[:, 0]
    moment = (concrete * made.strip_y).sum(axis=1) + (steel * made.bar_y).sum(axis=1)
    return force, moment + (ply * made.ply_y)[:, 0]


def strength(made: Section, *, eps_cu: Any, eps_ply: Any = np.inf, eps_bar: Any = np.inf) -> Strength:
    """Largest moment and what limits it.

    For each neutral axis depth the curvature is the largest that keeps the top strain within `eps_cu`, the ply strain
    (beyond its initial strain) within `eps_ply` and the lowest bars within `eps_bar`; the axial force then falls
    steadily with the depth and has one root.
    """
    limits = [_flat(v, made.cases) for v in (eps_cu, eps_ply, eps_bar)]
    height, lowest = made.height[:, 0], made.bar_y.max(axis=1)
    has_ply = made.ply_area[:, 0] > 0.0

    def curvatures(c: Any) -> Any:
        ply = np.where(has_ply, limits[1] + made.ply_strain_0[:, 0], np.inf)
        with np.errstate(divide="ignore"):
            return np.stack(
                [
                    limits[0] / c,
                    np.where(c < made.ply_y[:, 0], ply / np.maximum(made.ply_y[:, 0] - c, 1e-9), np.inf),
                    np.where(c < lowest, limits[2] / np.maximum(lowest - c, 1e-9), np.inf),
                ]
            )

    c = chandrupatla(lambda c: resultants(made, c, curvatures(c).min(axis=0))[0], 1e-6 * height, height, rtol=1e-12)
    each = curvatures(c)
    mode = each.argmin(axis=0)
    curvature = each.min(axis=0)
    return Strength(resultants(made, c, curvature)[1], c, curvature, mode)


def moment_curvature(made: Section, curvature: Any, *, eps_cu: Any) -> Curve:
    """Moment at each curvature; `curvature` (points,) or (cases, points), 1/mm, above 0.

    The root is sought with the top strain between 0 and `eps_cu` only: beyond it the axial force may vanish again with
    a compression zone that carries nothing. NaN where no admissible state exists.
    """
    curvature = np.atleast_2d(np.asarray(curvature, dtype=float))
    curvature = np.broadcast_to(curvature, (made.cases, curvature.shape[1]))
    limit, lowest = _flat(eps_cu, made.cases), made.bar_y.max(axis=1)
    moment, depth, strain = (np.full(curvature.shape, np.nan) for _ in range(3))
    for point in range(curvature.shape[1]):
        phi = curvature[:, point]
        last = np.minimum(limit / phi, 4.0 * made.height[:, 0])
        holds = resultants(made, last, phi)[0] <= 0.0

        def axial(c: Any, phi: Any = phi, holds: Any = holds) -> Any:
            return np.where(holds, resultants(made, c, phi)[0], 0.0)

        c = chandrupatla(axial, np.zeros(made.cases), last, rtol=1e-10)
        moment[:, point] = np.where(holds, resultants(made, c, phi)[1], np.nan)
        depth[:, point] = np.where(holds, c, np.nan)
        strain[:, point] = phi * (lowest - depth[:, point])
    return Curve(curvature, moment, depth, strain)


def first_yield(made: Section, *, eps_y: Any, eps_cu: Any) -> Strength:
    """State in which the lowest bars reach the strain `eps_y`; `mode` is `BAR`.

    NaN where the concrete reaches `eps_cu` first (more bars than the balanced amount).
    """
    lowest, height = made.bar_y.max(axis=1), made.height[:, 0]
    limit, top = _flat(eps_y, made.cases), _flat(eps_cu, made.cases)
    deepest = top / (top + limit) * lowest

    def curvature(c: Any) -> Any:
        return limit / (lowest - c)

    yields = resultants(made, deepest, curvature(deepest))[0] <= 0.0

    def axial(c: Any) -> Any:
        return np.where(yields, resultants(made, c, curvature(c))[0], 0.0)

    c = np.where(yields, chandrupatla(axial, 1e-9 * height, deepest, rtol=1e-12), np.nan)
    with np.errstate(invalid="ignore"):
        moment = resultants(made, c, curvature(c))[1]
    return Strength(np.where(yields, moment, np.nan), c, curvature(c), np.full(made.cases, BAR))


def _flat(value: Any, cases: int) -> Any:
    return np.broadcast_to(np.asarray(value, dtype=float), (cases,))
