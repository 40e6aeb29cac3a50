"""Bond-slip laws as rows of numbers: one law for each case, ready for the compiled kernels.

Every constructor takes numbers or one-dimensional arrays (one law a case) and raises `ModelInputError` for a law
that no bond can have. Friction `tau_res` acts alone once the bond has softened through; in laws that decay without
end it takes over where they have fallen to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError

KINDS = ("bilinear", "lu_simplified", "lu_precise", "popovics", "double_exponential", "polyline")
"""Kinds in the order of the kernel's codes."""


@dataclass(frozen=True)
class BondLaw:
    """Bond stress over slip for one or many cases.

    `rows` (cases, 8 or more) holds what the kernels read; `G_f` (cases,) is the area in N/mm without friction.
    """

    kind: str
    rows: Any
    G_f: Any

    @property
    def code(self) -> int:
        """Number of the kind in the kernels."""
        return KINDS.index(self.kind)

    @property
    def size(self) -> int:
        """Number of cases."""
        return int(self.rows.shape[0])

    @property
    def tau_max(self) -> Any:
        """Largest bond stress [MPa], shape (cases,)."""
        return self.rows[:, 0]

    @property
    def slip_0(self) -> Any:
        """Slip at the largest bond stress [mm], shape (cases,)."""
        return self.rows[:, 1]

    @property
    def slip_f(self) -> Any:
        """End slip [mm] of the bilinear law with the same tau_max and G_f, shape (cases,)."""
        return self.rows[:, 7]

    @property
    def tau_res(self) -> Any:
        """Friction [MPa] after softening, shape (cases,)."""
        return self.rows[:, 3]

    def stress(self, slip: Any) -> Any:
        """Bond stress [MPa] at slips [mm]; `slip` a number, (slips,) or (cases, slips); returns (cases, slips)."""
        return self._table(slip)[0]

    def work(self, slip: Any) -> Any:
        """Area under the law [N/mm] from 0 to slips [mm], friction included; shapes as in `stress`."""
        return self._table(slip)[1]

    def _table(self, slip: Any) -> tuple[Any, Any]:
        from cracktie.mechanics import bond_kernel

        slips = np.atleast_1d(np.asarray(slip, dtype=float))
        slips = np.ascontiguousarray(np.broadcast_to(slips, (self.size, slips.shape[-1])))
        stresses, works = np.empty(slips.shape), np.empty(slips.shape)
        bond_kernel.table(self.code, self.rows, slips, stresses, works)
        return stresses, works


def cases(where: str, **values: Any) -> dict[str, Any]:
    """The values as float arrays of one length (cases,); raises `ModelInputError` for other shapes or no numbers."""
    found = {}
    for name, value in values.items():
        try:
            found[name] = np.atleast_1d(np.asarray(value, dtype=float))
        except (TypeError, ValueError):
            raise ModelInputError(f"{where}: {name} = {value!r} is no number") from None
    sizes = sorted({v.shape[0] for v in found.values()} - {1})
    if len(sizes) > 1 or any(v.ndim > 1 for v in found.values()):
        shapes = ", ".join(f"{n} {v.shape}" for n, v in found.items())
        raise ModelInputError(f"{where}: give numbers or arrays of one length, one value a case; given {shapes}")
    return {n: np.array(np.broadcast_to(v, (sizes[0] if sizes else 1,))) for n, v in found.items()}


UNITS: Mapping[str, str] = {
    "tau_max": "MPa", "tau_res": "MPa", "slip_0": "mm", "slip_f": "mm", "G_f": "N/mm", "length": "mm", "width": "mm",
    "stiffness": "N/mm", "slip_max": "mm", "k_a": "N/mm", "F_u": "N", "soft_slip": "mm", "slip_e": "mm", "B": "1/mm",
    "E_f": "MPa", "t_f": "mm",
}  # fmt: skip


def refuse(where: str, name: str, values: Any, good: Any, needed: str) -> None:
    """Raise `ModelInputError` naming the first case that is not `good`."""
    good = np.atleast_1d(good)
    if good.all():
        return
    row = int(np.argmin(good))
    value = np.broadcast_to(np.atleast_1d(values), good.shape)[row]
    case = f" in case {row}" if good.size > 1 else ""
    raise ModelInputError(f"{where}: {name} = {value:g} {UNITS.get(name, '')}".rstrip() + f"{case}; {needed}")


def positive(where: str, **values: Any) -> None:
    """Raise `ModelInputError` unless every value is finite and above zero."""
    for name, value in values.items():
        refuse(where, name, value, np.isfinite(value) & (np.asarray(value) > 0.0), "it must be a number above 0")


def not_negative(where: str, **values: Any) -> None:
    """Raise `ModelInputError` unless every value is finite and not below zero."""
    for name, value in values.items():
        refuse(where, name, value, np.isfinite(value) & (np.asarray(value) >= 0.0), "it must be 0 or above")


def _friction(where: str, tau_res: Any, tau_max: Any) -> None:
    not_negative(where, tau_res=tau_res)
    refuse(where, "tau_res", tau_res, tau_res < tau_max, "friction must stay below the largest bond stress")


def bilinear(tau_max: Any, slip_0: Any, slip_f: Any, tau_res: Any = 0.0) -> BondLaw:
    """Rise to `tau_max` [MPa] at `slip_0` [mm], fall to zero at `slip_f` [mm], then friction `tau_res` [MPa]."""
    where = "bilinear bond law"
    x = cases(where, tau_max=tau_max, slip_0=slip_0, slip_f=slip_f, tau_res=tau_res)
    positive(where, tau_max=x["tau_max"], slip_0=x["slip_0"], slip_f=x["slip_f"])
    beyond = f"it must lie above slip_0 (smallest given: {x['slip_0'].min():g} mm)"
    refuse(where, "slip_f", x["slip_f"], x["slip_f"] > x["slip_0"], beyond)
    _friction(where, x["tau_res"], x["tau_max"])
    return _bilinear_rows(x)


def brittle(tau_max: Any, slip_0: Any, tau_res: Any = 0.0) -> BondLaw:
    """Rise to `tau_max` [MPa] at `slip_0` [mm], then nothing but friction `tau_res` [MPa]."""
    where = "brittle bond law"
    x = cases(where, tau_max=tau_max, slip_0=slip_0, tau_res=tau_res)
    positive(where, tau_max=x["tau_max"], slip_0=x["slip_0"])
    _friction(where, x["tau_res"], x["tau_max"])
    return _bilinear_rows({**x, "slip_f": x["slip_0"]})


def from_energy(tau_max: Any, slip_0: Any, G_f: Any, tau_res: Any = 0.0) -> BondLaw:
    """Bilinear law with area `G_f` [N/mm]: slip_f = 2 G_f/tau_max. Raises where the rise alone needs more energy."""
    where = "bilinear bond law"
    x = cases(where, tau_max=tau_max, slip_0=slip_0, G_f=G_f, tau_res=tau_res)
    positive(where, tau_max=x["tau_max"], slip_0=x["slip_0"], G_f=x["G_f"])
    rise = 0.5 * x["tau_max"] * x["slip_0"]
    enough = f"the rise to the peak alone takes tau_max slip_0/2 = {rise.max():g} N/mm; lower slip_0 or tau_max"
    refuse(where, "G_f", x["G_f"], x["G_f"] > rise, enough)
    return bilinear(x["tau_max"], x["slip_0"], 2.0 * x["G_f"] / x["tau_max"], x["tau_res"])


def _bilinear_rows(x: Mapping[str, Any]) -> BondLaw:
    zero = np.zeros_like(x["tau_max"])
    columns = (x["tau_max"], x["slip_0"], x["slip_f"], x["tau_res"], x["slip_f"], zero, zero, x["slip_f"])
    return BondLaw("bilinear", np.column_stack(columns), 0.5 * x["tau_max"] * x["slip_f"])


def lu_simplified(tau_max: Any, slip_0: Any, G_f: Any, tau_res: Any = 0.0) -> BondLaw:
    """Root up to `tau_max` [MPa] at `slip_0` [mm], exponential fall, area `G_f` [N/mm] (Lu and others 2005)."""
    where = "simplified bond law"
    x = cases(where, tau_max=tau_max, slip_0=slip_0, G_f=G_f, tau_res=tau_res)
    positive(where, tau_max=x["tau_max"], slip_0=x["slip_0"], G_f=x["G_f"])
    rise = 2.0 / 3.0 * x["tau_max"] * x["slip_0"]
    refuse(where, "G_f", x["G_f"], x["G_f"] > rise, f"the rise to the peak alone takes {rise.max():g} N/mm")
    alpha = x["tau_max"] * x["slip_0"] / (x["G_f"] - rise)
    return _decaying("lu_simplified", x, alpha, G_f=x["G_f"])


def lu_precise(tau_max: Any, slip_0: Any, slip_e: Any, G_f: Any, tau_res: Any = 0.0) -> BondLaw:
    """Law with the initial stiffness tau_max/slip_e of the adhesive layer; `slip_e` < `slip_0` [mm] (Lu 2005)."""
    where = "precise bond law"
    x = cases(where, tau_max=tau_max, slip_0=slip_0, slip_e=slip_e, G_f=G_f, tau_res=tau_res)
    positive(where, **{n: x[n] for n in ("tau_max", "slip_0", "slip_e", "G_f")})
    beyond = f"it must lie above the elastic slip slip_e (largest given: {x['slip_e'].max():g} mm)"
    refuse(where, "slip_0", x["slip_0"], x["slip_0"] > x["slip_e"], beyond)
    A = (x["slip_0"] - x["slip_e"]) / x["slip_0"]
    B = x["slip_e"] / (2.0 * (x["slip_0"] - x["slip_e"]))
    area = 2.0 / 3.0 * A * ((1.0 + B**2 * A) / A) ** 1.5 - B - 2.0 / 3.0 * A * B**3
    rise = x["tau_max"] * x["slip_0"] * area
    refuse(where, "G_f", x["G_f"], x["G_f"] > rise, f"the rise to the peak alone takes {rise.max():g} N/mm")
    return _decaying("lu_precise", x, x["tau_max"] * x["slip_0"] / (x["G_f"] - rise), A, B, x["G_f"])


def popovics(tau_max: Any, slip_0: Any, n: Any = 3.0, tau_res: Any = 0.0) -> BondLaw:
    """tau_max z n/(n - 1 + z^n) with z = slip/slip_0; n above 2, else the area is without bound."""
    where = "Popovics bond law"
    x = cases(where, tau_max=tau_max, slip_0=slip_0, n=n, tau_res=tau_res)
    positive(where, tau_max=x["tau_max"], slip_0=x["slip_0"])
    refuse(where, "n", x["n"], x["n"] > 2.0, "it must exceed 2: the area under the law is infinite otherwise")
    area = x["n"] * (x["n"] - 1.0) ** (2.0 / x["n"] - 1.0) * np.pi / x["n"] / np.sin(2.0 * np.pi / x["n"])
    return _decaying("popovics", x, x["n"], G_f=x["tau_max"] * x["slip_0"] * area)


def double_exponential(G_f: Any, B: Any, tau_res: Any = 0.0) -> BondLaw:
    """2 B G_f (exp(-B s) - exp(-2 B s)); `G_f` in N/mm, `B` in 1/mm (Dai and others 2005)."""
    where = "double exponential bond law"
    x = cases(where, G_f=G_f, B=B, tau_res=tau_res)
    positive(where, G_f=x["G_f"], B=x["B"])
    x |= {"tau_max": 0.5 * x["B"] * x["G_f"], "slip_0": np.log(2.0) / x["B"]}
    return _decaying("double_exponential", x, x["B"], G_f=x["G_f"])


def polyline(slips: Sequence[float], stresses: Sequence[float], tau_res: float = 0.0) -> BondLaw:
    """Straight lines through points (slip [mm], stress [MPa]), for one case; friction beyond the last point.

    The first point is (0, 0); stresses are positive before the last point, where they have fallen to `tau_res`.
    """
    where = "bond law of points"
    s, tau = np.asarray(slips, dtype=float), np.asarray(stresses, dtype=float)
    if s.ndim != 1 or s.shape != tau.shape or s.size < 3:
        raise ModelInputError(f"{where}: needs as many slips as stresses, 3 or more; given {s.size} and {tau.size}")
    if not (np.isfinite(s).all() and np.isfinite(tau).all()):
        raise ModelInputError(f"{where}: every slip and stress must be a finite number")
    if s[0] != 0.0 or tau[0] != 0.0:
        raise ModelInputError(f"{where}: starts at {s[0]:g} mm, {tau[0]:g} MPa; put the point 0 mm, 0 MPa first")
    if (np.diff(s) <= 0.0).any():
        raise ModelInputError(f"{where}: slips must increase from point to point; sort them and join equal ones")
    if (tau[1:-1] <= 0.0).any() or tau[-1] < 0.0:
        raise ModelInputError(f"{where}: stresses between the ends must be above 0 MPa (energy would be negative)")
    peak = int(np.argmax(tau))
    if peak == s.size - 1:
        raise ModelInputError(f"{where}: the last stress, {tau[-1]:g} MPa, is the largest; add the falling part")
    _friction(where, np.array([tau_res]), tau[peak : peak + 1])
    area = float(np.sum(0.5 * (tau[1:] + tau[:-1]) * np.diff(s)))
    head = [tau[peak], s[peak], 0.0, tau_res, s[-1], 0.0, 0.0, 2.0 * area / tau[peak]]
    return BondLaw("polyline", np.concatenate([head, s, tau])[None, :], np.array([area]))


def _decaying(kind: str, x: Mapping[str, Any], shape: Any, A: Any = 0.0, B: Any = 0.0, G_f: Any = 0.0) -> BondLaw:
    """Law that falls towards zero without end; finds the slip at which friction takes over."""
    _friction(kind, x["tau_res"], x["tau_max"])
    zero = np.zeros_like(x["tau_max"])
    columns = (
        x["tau_max"], x["slip_0"], shape, x["tau_res"], zero + np.inf, zero + A, zero + B, 2.0 * G_f / x["tau_max"],
    )  # fmt: skip
    made = BondLaw(kind, np.column_stack(columns), zero + G_f)
    if not x["tau_res"].any():
        return made
    low, high = x["slip_0"].copy(), x["slip_0"].copy()
    wanted = np.where(x["tau_res"] > 0.0, x["tau_res"], x["tau_max"])
    while (made.stress(high[:, None])[:, 0] > wanted).any():
        high = 2.0 * high
    for _ in range(100):
        middle = 0.5 * (low + high)
        above = made.stress(middle[:, None])[:, 0] > wanted
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    made.rows[:, 4] = np.where(x["tau_res"] > 0.0, high, np.inf)
    made.rows[:, 3] = x["tau_res"]
    return made


def fit_bilinear(law: BondLaw) -> BondLaw:
    """Bilinear law with the tau_max, G_f, peak slip and friction of another one.

    The long-bond load sqrt(2 G_f E t) is kept; the peak slip is held below 0.3 slip_f, so that a law with a very
    rounded peak gives a bilinear one that still softens.
    """
    return from_energy(law.tau_max, np.minimum(law.slip_0, 0.3 * law.slip_f), law.G_f, law.tau_res)
