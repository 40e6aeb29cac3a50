"""Elastic properties of a section with transformed bars and ply: uncracked, cracked, cracking moment."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cracktie.mechanics.roots import chandrupatla
from cracktie.mechanics.section import Section


class Elastic(NamedTuple):
    """Neutral axis depth (mm from the top) and second moment of area (mm4, in concrete), arrays over the cases."""

    axis: Any
    inertia: Any


def uncracked(made: Section, *, E_c: Any, E_s: Any) -> Elastic:
    """Whole concrete, bars counted (n - 1) times in place of the concrete they displace, ply n times. Moduli MPa."""
    bars, ply = _transformed(made, E_c, E_s, less=1.0)
    area = made.strip_area.sum(axis=1) + bars.sum(axis=1) + ply[:, 0]
    first = (made.strip_area * made.strip_y).sum(axis=1) + (bars * made.bar_y).sum(axis=1) + (ply * made.ply_y)[:, 0]
    axis = first / area
    y = axis[:, None]
    strips = made.strip_area * ((made.strip_y - y) ** 2 + made.strip_height**2 / 12.0)
    inertia = strips.sum(axis=1) + (bars * (made.bar_y - y) ** 2).sum(axis=1) + (ply * (made.ply_y - y) ** 2)[:, 0]
    return Elastic(axis, inertia)


def cracked(made: Section, *, E_c: Any, E_s: Any) -> Elastic:
    """Concrete in compression only; bars above the axis count (n - 1) times, the others n times. Moduli MPa."""
    below, ply = _transformed(made, E_c, E_s, less=0.0)
    above, _ = _transformed(made, E_c, E_s, less=1.0)
    tops = made.strip_y - made.strip_height / 2.0

    def compressed(c: Any) -> tuple[Any, Any, Any]:
        tall = np.clip(c[:, None] - tops, 0.0, made.strip_height)
        area = made.strip_area * tall / made.strip_height
        return area, tops + tall / 2.0, tall

    def balance(c: Any) -> Any:
        area, y, _ = compressed(c)
        bars = np.where(made.bar_y < c[:, None], above, below)
        pull = (bars * (made.bar_y - c[:, None])).sum(axis=1) + (ply * (made.ply_y - c[:, None]))[:, 0]
        return pull - (area * (c[:, None] - y)).sum(axis=1)

    c = chandrupatla(balance, np.zeros(made.cases), made.height[:, 0], rtol=1e-13)
    area, y, tall = compressed(c)
    depth = c[:, None]
    bars = np.where(made.bar_y < depth, above, below)
    inertia = (area * ((depth - y) ** 2 + tall**2 / 12.0)).sum(axis=1)
    inertia = inertia + (bars * (made.bar_y - depth) ** 2).sum(axis=1) + (ply * (made.ply_y - depth) ** 2)[:, 0]
    return Elastic(c, inertia)


def cracking_moment(made: Section, *, f_ct_fl: Any, E_c: Any, E_s: Any) -> Any:
    """Moment (N mm) at which the soffit reaches `f_ct_fl` (MPa) in the uncracked transformed section.

    Restrained shrinkage lowers it in tests, often to 0.6 to 0.9 of this value (common practice, no source).
    """
    state = uncracked(made, E_c=E_c, E_s=E_s)
    return f_ct_fl * state.inertia / (made.height[:, 0] - state.axis)


def initial_ply_strain(made: Section, moment: Any, *, f_ct_fl: Any, E_c: Any, E_s: Any) -> Any:
    """Soffit strain under the moment (N mm) that acts while the ply is bonded; cracked above the cracking moment."""
    moment = np.broadcast_to(np.asarray(moment, dtype=float), (made.cases,))
    whole, open_ = uncracked(made, E_c=E_c, E_s=E_s), cracked(made, E_c=E_c, E_s=E_s)
    height = made.height[:, 0]
    state_1 = moment * (height - whole.axis) / (whole.inertia * E_c)
    state_2 = moment * (height - open_.axis) / (open_.inertia * E_c)
    limit = cracking_moment(made, f_ct_fl=f_ct_fl, E_c=E_c, E_s=E_s)
    return np.where(moment < limit, state_1, state_2)


def _transformed(made: Section, E_c: Any, E_s: Any, *, less: float) -> tuple[Any, Any]:
    ratio = np.reshape(np.asarray(E_s, dtype=float) / np.asarray(E_c, dtype=float), (-1, 1))
    return made.bar_area * (ratio - less), made.ply_area * made.ply_E / np.reshape(E_c, (-1, 1))
