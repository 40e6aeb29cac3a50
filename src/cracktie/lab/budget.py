"""Uncertainty budgets: named components of one result, the dominating one, and a Monte Carlo check."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.uncertainty import coverage_factor, welch_satterthwaite

SHAPES = ("normal", "rectangular")


@dataclass(frozen=True)
class Component:
    """One cause: |c_i| u_i in the unit of the result, the shape of its distribution, degrees of freedom, what it is.

    `kind` 'A' is evaluated from readings, 'B' stated or judged (JCGM 100:2008, 4.2 and 4.3).
    """

    name: str
    u: float
    shape: str = "normal"
    dof: float = math.inf
    kind: str = "B"
    note: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping; infinite degrees of freedom are null."""
        return {**self.__dict__, "dof": self.dof if math.isfinite(self.dof) else None}


@dataclass(frozen=True)
class Budget:
    """Independent components of one result. `scatter` between specimens is no part of it."""

    components: tuple[Component, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty."""
        return math.hypot(*(c.u for c in self.components))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (Welch-Satterthwaite)."""
        parts, dofs = [c.u for c in self.components], [c.dof for c in self.components]
        return math.inf if self.u == 0.0 else welch_satterthwaite(self.u, parts, dofs)

    @property
    def dominant(self) -> Component | None:
        """The largest component; None where there is none."""
        found = max(self.components, key=lambda c: c.u, default=None)
        return found if found is not None and found.u > 0.0 else None

    def expanded(self, level: float = 0.95) -> float:
        """Half-width of the interval of that coverage."""
        return coverage_factor(level, self.dof) * self.u if self.u > 0.0 else 0.0

    def drawn(self, value: float, draws: int) -> Simulated:
        """Distribution of `value` plus a draw of every component in its own shape; 95 % interval.

        A component of few degrees of freedom is drawn as normal. Raises `ModelInputError` for fewer than 1000 draws.
        """
        if not 1000 <= draws <= 10_000_000:
            raise ModelInputError(f"{draws} draws; 1000 to 10 million give an interval in a reasonable time")
        names = {f"c{i}": c for i, c in enumerate(self.components)}
        return monte_carlo(
            lambda **errors: value + sum(errors.values()), dict.fromkeys(names, 0.0),
            {n: c.u for n, c in names.items()}, shapes={n: c.shape for n, c in names.items()}, draws=draws,
        )  # fmt: skip

    def lines(self, scale: float = 1.0, unit: str = "") -> list[str]:
        """Components in words, the largest first, with their share of u^2."""
        total = self.u**2
        out = []
        for c in sorted(self.components, key=lambda c: -c.u):
            share = f"{100 * c.u**2 / total:.0f} %" if total else "0 %"
            more = f"; {c.note}" if c.note else ""
            dof = "" if math.isinf(c.dof) else f", {c.dof:.0f} degrees of freedom"
            out.append(f"{c.name}: {c.u * scale:.3g} {unit} ({share} of u^2, type {c.kind}, {c.shape}{dof}{more})")
        return out

    def to_list(self) -> list[dict[str, Any]]:
        """Plain list for JSON."""
        return [c.to_dict() for c in self.components]

    @classmethod
    def from_list(cls, kept: list[dict[str, Any]]) -> Budget:
        """The budget that `to_list` wrote."""
        return cls(tuple(Component(**{**c, "dof": math.inf if c["dof"] is None else c["dof"]}) for c in kept))


@dataclass(frozen=True)
class Simulated:
    """Mean, standard deviation and central interval of a result from random inputs."""

    mean: float
    u: float
    low: float
    high: float
    draws: int


def monte_carlo(
    function: Callable[..., Any],
    values: Mapping[str, float],
    u: Mapping[str, float],
    *,
    shapes: Mapping[str, str] | None = None,
    draws: int = 20_000,
    seed: int = 1,
    level: float = 0.95,
) -> Simulated:
    """Distribution of `function` (array inputs as keywords) for independent inputs, JCGM 101:2008 in its plain form.

    `u` are standard uncertainties; `shapes` 'normal' (default) or 'rectangular'. Inputs missing in `u` are exact. The
    same seed gives the same numbers. Raises `ModelInputError` for unknown names, shapes and draws that are not finite.
    """
    unknown = [n for n in (*u, *(shapes or {})) if n not in values]
    bad = [s for s in (shapes or {}).values() if s not in SHAPES]
    if unknown or bad:
        raise ModelInputError(f"{(unknown or bad)[0]!r} is no input or no shape ({', '.join(SHAPES)})")
    rng = np.random.default_rng(seed)
    inputs: dict[str, Any] = {}
    for name, value in values.items():
        spread = u.get(name, 0.0)
        rectangular = (shapes or {}).get(name) == "rectangular"
        drawn = rng.uniform(-math.sqrt(3.0), math.sqrt(3.0), draws) if rectangular else rng.standard_normal(draws)
        inputs[name] = value + spread * drawn
    found = np.asarray(function(**inputs), dtype=float) * np.ones(draws)
    if not np.isfinite(found).all():
        raise ModelInputError(f"{int((~np.isfinite(found)).sum())} of {draws} draws give no number; check the inputs")
    low, high = np.quantile(found, [(1 - level) / 2, (1 + level) / 2])
    return Simulated(float(found.mean()), float(found.std(ddof=1)), float(low), float(high), draws)
