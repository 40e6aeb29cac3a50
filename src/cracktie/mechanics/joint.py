"""Closed forms of a bonded joint with a bilinear law and a free far end (Yuan, Teng, Seracino, Wu and Yao 2004).

Rigid substrate. Stages of a joint that is pulled: elastic (E), elastic with softening at the loaded end (ES), with
debonding as well (ESD), then unloading along a straight line: softening and debonded (SD), or softening alone (S) in a
joint too short to debond. Re-derived here; lengths mm, forces N, numbers or arrays (cases,).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.mechanics.bond_law import BondLaw, cases, positive, refuse
from cracktie.mechanics.roots import chandrupatla

STAGES = ("E", "ES", "ESD", "SD", "S")


@dataclass(frozen=True)
class _Joint:
    """Arrays (cases,): rates `rise` and `soften` [1/mm], `shear` = width tau_max [N/mm]; K E t, b width."""

    L: Any
    K: Any
    b: Any
    slip_0: Any
    slip_f: Any
    rise: Any
    soften: Any
    shear: Any


def _joint(length: Any, stiffness: Any, width: Any, law: BondLaw) -> _Joint:
    where = "bonded joint"
    if law.kind != "bilinear" or law.tau_res.any() or (law.slip_f <= law.slip_0).any():
        raise ModelInputError(f"{where}: the closed form needs a bilinear law that softens, without friction")
    x = cases(
        where, length=length, stiffness=stiffness, width=width,
        tau_max=law.tau_max, slip_0=law.slip_0, slip_f=law.slip_f,
    )  # fmt: skip
    positive(where, length=x["length"], stiffness=x["stiffness"], width=x["width"])
    rise = np.sqrt(x["tau_max"] / (x["slip_0"] * x["stiffness"]))
    soften = np.sqrt(x["tau_max"] / ((x["slip_f"] - x["slip_0"]) * x["stiffness"]))
    shear = x["width"] * x["tau_max"]
    return _Joint(x["length"], x["stiffness"], x["width"], x["slip_0"], x["slip_f"], rise, soften, shear)


def infinite_load(stiffness: Any, width: Any, law: BondLaw) -> Any:
    """Load of a long joint with any law: width sqrt(2 G_f E t) in N, shape (cases,)."""
    x = cases("bonded joint", stiffness=stiffness, width=width, G_f=law.G_f)
    positive("bonded joint", **x)
    return x["width"] * np.sqrt(2.0 * x["G_f"] * x["stiffness"])


def peak_load(length: Any, stiffness: Any, width: Any, law: BondLaw) -> tuple[Any, Any]:
    """Largest load [N] and softening length [mm] at it, arrays (cases,).

    Root of tanh(l1 (L - a)) = (l2/l1) tan(l2 a) in 0 < a < min(L, pi/(2 l2)). Raises `ModelInputError`.
    """
    j = _joint(length, stiffness, width, law)

    def slope(a: Any) -> Any:  # of the load over a, times positive factors: finite where the tangent is not
        return np.tanh(j.rise * (j.L - a)) * np.cos(j.soften * a) - j.soften / j.rise * np.sin(j.soften * a)

    a = chandrupatla(slope, np.zeros_like(j.L), np.minimum(j.L, 0.5 * np.pi / j.soften))
    return j.shear / j.soften * j.slip_f / (j.slip_f - j.slip_0) * np.sin(j.soften * a), a


def effective_length(stiffness: Any, law: BondLaw, share: float = 0.97) -> Any:
    """Joint length [mm] that reaches `share` of the load of a long one, exactly; shape (cases,).

    0.97 is the share of Yuan and others 2004, 0.99 that of Lu and others 2005 (both from memory).
    """
    refuse("effective bond length", "share", share, 0.0 < share < 1.0, "it must lie between 0 and 1")
    j = _joint(1.0, stiffness, 1.0, law)
    a = np.arcsin(share * np.sqrt((j.slip_f - j.slip_0) / j.slip_f)) / j.soften
    tangent = j.soften * np.tan(j.soften * a)
    return a + np.log((j.rise + tangent) / (j.rise - tangent)) / (2.0 * j.rise)


@dataclass(frozen=True)
class FullRange:
    """Load-slip curve of one joint: `stage` words, `slip` [mm] and `force` [N] at the loaded end, arrays (points,)."""

    stage: Any
    slip: Any
    force: Any


def full_range(length: float, stiffness: float, width: float, law: BondLaw, points: int = 60) -> FullRange:
    """Every stage of one joint, `points` each, in the order in which it is passed (slips fall while it snaps back)."""
    j = _joint(length, stiffness, width, law)
    if j.L.size != 1:
        raise ModelInputError(f"full range of a joint: give one case; given {j.L.size}")
    L, K, b, s_0, s_f, rise, soften, shear = (float(v[0]) for v in vars(j).values())
    quarter = 0.5 * np.pi / soften
    t = np.linspace(0.0, 1.0, points)
    parts = [("E", t * s_0, shear / rise * t * np.tanh(rise * L))]

    def softening(a: Any, bonded: Any) -> tuple[Any, Any]:
        ratio = soften / rise * np.tanh(rise * (bonded - a))
        slip = s_f - (s_f - s_0) * (np.cos(soften * a) - ratio * np.sin(soften * a))
        return slip, shear / soften * (np.sin(soften * a) + ratio * np.cos(soften * a))

    def through(bonded: Any) -> Any:
        """Softening length at which the front of a bonded length has softened through."""
        high = np.minimum(bonded, quarter)
        return chandrupatla(lambda a: softening(a, bonded)[0] - s_f, np.zeros_like(bonded), high)

    s_e = s_0 + t * (s_f - s_0)
    if quarter >= L:
        parts.append(("ES", *softening(t * L, L)))
        drop = (s_f - s_e) / (s_f - s_0)
        slip = s_f - (s_f - s_e) * np.cos(soften * L)
        parts.append(("S", slip, shear / soften * drop * np.sin(soften * L)))
    else:
        parts.append(("ES", *softening(t * through(np.array(L)), L)))
        bonded = quarter * (1.0 + 1e-12) + (1.0 - t) * (L - quarter * (1.0 + 1e-12))
        force = softening(through(bonded), bonded)[1]
        parts.append(("ESD", s_f + force * (L - bonded) / (K * b), force))
        force = shear / soften * (s_f - s_e) / (s_f - s_0)
        parts.append(("SD", s_f + force * (L - quarter) / (K * b), force))
    stage = np.concatenate([np.full(points, name) for name, _, _ in parts])
    return FullRange(stage, np.concatenate([p[1] for p in parts]), np.concatenate([p[2] for p in parts]))
