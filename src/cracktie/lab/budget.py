"""Uncertainty budgets: named components of one result by source, the dominating one, and a Monte Carlo check."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.uncertainty import coverage_factor, welch_satterthwaite

SHAPES = ("normal", "rectangular")


@dataclass(frozen=True)
class Component:
    """One cause: |c_i| u_i in the unit of the result, the shape of its distribution, degrees of freedom, what it is.

    `kind` 'A' is evaluated from readings, 'B' stated or judged (JCGM 100:2008, 4.2 and 4.3). `source` names the one
    error behind it, for example 'load cell of rig A'; components of one source are fully correlated, with the sign of
    c_i in `sign`. Without a source a component is independent of all others.
    """

    name: str
    u: float
    shape: str = "normal"
    dof: float = math.inf
    kind: str = "B"
    note: str = ""
    source: str = ""
    sign: int = 1

    @property
    def signed(self) -> float:
        """c_i u_i with its sign."""
        return self.sign * self.u

    def times(self, factor: float) -> Component:
        """The component of a result that is `factor` times this one's."""
        return replace(self, u=abs(factor) * self.u, sign=self.sign if factor >= 0.0 else -self.sign)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping; infinite degrees of freedom are null."""
        return {**self.__dict__, "dof": self.dof if math.isfinite(self.dof) else None}


@dataclass(frozen=True)
class Budget:
    """Components of one result; those of one source add with their signs, the sources by root sum of squares.

    That is the law of propagation for correlated inputs with coefficients of +-1 within a source and 0 between sources
    (JCGM 100:2008, 5.2.2). `scatter` between specimens is no part of it.
    """

    components: tuple[Component, ...]

    @classmethod
    def combined(cls, parts: Iterable[tuple[float, Budget]]) -> Budget:
        """Budget of a sum of results, each times its factor: what they share adds, or cancels, before the squares."""
        return cls(tuple(c.times(factor) for factor, budget in parts for c in budget.components)).by_source()

    def by_source(self) -> Budget:
        """One component a source; what cancels to nothing goes. The name is that of the largest of its components."""
        found = []
        for group in self._groups():
            total = sum(c.signed for c in group)
            size = max(c.u for c in group)
            if abs(total) > 1e-12 * size:
                first = max(group, key=lambda c: c.u)
                dof = min(c.dof for c in group)
                found.append(replace(first, u=abs(total), sign=1 if total >= 0.0 else -1, dof=dof))
        return Budget(tuple(found))

    def _groups(self) -> list[list[Component]]:
        groups: dict[str, list[Component]] = {}
        for i, c in enumerate(self.components):
            groups.setdefault(c.source or f"\0{i}", []).append(c)
        return list(groups.values())

    @property
    def u(self) -> float:
        """Combined standard uncertainty."""
        return math.hypot(*(sum(c.signed for c in group) for group in self._groups()))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (Welch-Satterthwaite, JCGM 100:2008, G.4.1).

        The formula is for independent parts; so components of one source are added first, with the least of their
        degrees of freedom.
        """
        merged = self.by_source().components
        parts, dofs = [c.u for c in merged], [c.dof for c in merged]
        return math.inf if self.u == 0.0 else welch_satterthwaite(self.u, parts, dofs)

    @property
    def dominant(self) -> Component | None:
        """The largest component, causes of one name taken together; None where there is none."""
        found = max(self.by_name(), key=lambda c: c.u, default=None)
        return found if found is not None and found.u > 0.0 else None

    def by_name(self) -> tuple[Component, ...]:
        """Components for a table, the largest first: sources of one name (the zeros of ten gauges) in one line."""
        lines: dict[str, list[Component]] = {}
        for c in self.by_source().components:
            lines.setdefault(c.name, []).append(c)
        found = []
        for same in lines.values():
            u = math.hypot(*(c.u for c in same))
            dof = welch_satterthwaite(u, [c.u for c in same], [c.dof for c in same]) if u > 0.0 else math.inf
            found.append(replace(max(same, key=lambda c: c.u), u=u, dof=dof))
        return tuple(sorted(found, key=lambda c: -c.u))

    def expanded(self, level: float = 0.95) -> float:
        """Half-width of the interval of that coverage."""
        return coverage_factor(level, max(self.dof, 1.0)) * self.u if self.u > 0.0 else 0.0

    def drawn(self, value: float, draws: int, seed: int = 1) -> Simulated:
        """Distribution of `value` plus a draw of every source in its own shape, linear in them; 95 % interval.

        Raises `ModelInputError` for fewer than 1000 draws.
        """
        check_draws(draws)
        rng, total = np.random.default_rng(seed), np.full(draws, float(value))
        for c in self.by_source().components:
            total += c.signed * standard(rng, c.shape, c.dof, draws)
        return Simulated.of(total)

    def lines(self, scale: float = 1.0, unit: str = "") -> list[str]:
        """Components in words, the largest first, with their share of u^2."""
        total = self.u**2
        out = []
        for c in self.by_name():
            share = f"{100 * c.u**2 / total:.0f} %" if total else "0 %"
            more = f"; {c.note}" if c.note else ""
            dof = "" if c.dof > 1e6 else f", {c.dof:.0f} degrees of freedom"
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
    """Mean, standard deviation, central and shortest interval of a result from random inputs."""

    mean: float
    u: float
    low: float
    high: float
    draws: int
    shortest: tuple[float, float] = (math.nan, math.nan)

    @classmethod
    def of(cls, found: Any, level: float = 0.95) -> Simulated:
        """Of an array of draws. The shortest interval that holds the share `level` of them: JCGM 101:2008, 5.3.4."""
        ordered = np.sort(np.asarray(found, dtype=float))
        low, high = np.quantile(ordered, [(1 - level) / 2, (1 + level) / 2])
        inside = round(level * ordered.size)
        start = int(np.argmin(ordered[inside:] - ordered[: ordered.size - inside]))
        shortest = (float(ordered[start]), float(ordered[start + inside]))
        spread = float(ordered.std(ddof=1))
        return cls(float(ordered.mean()), spread, float(low), float(high), ordered.size, shortest)

    def validates(self, value: float, expanded: float, u: float) -> int:
        """Number of digits of `u`, 2 at most, to which value -+ expanded meets the central interval; 0 for none.

        JCGM 101:2008, 8.1 (from memory): u = c 10^l, c a whole number of that many digits, both ends within 10^l/2.
        """
        off = max(abs(value - expanded - self.low), abs(value + expanded - self.high))
        for digits in (2, 1):
            if u > 0.0 and off <= tolerance(u, digits):
                return digits
        return 0


def tolerance(u: float, digits: int) -> float:
    """Half a unit of the last digit of a standard uncertainty written with that many (JCGM 101:2008, 7.9.2)."""
    power = math.floor(math.log10(u)) - digits + 1
    if round(u / 10.0**power) >= 10**digits:
        power += 1  # 0.999 with two digits is 1.0
    return float(0.5 * 10.0**power)


def check_draws(draws: int) -> None:
    """Raise `ModelInputError` for too few or too many draws."""
    if not 1000 <= draws <= 10_000_000:
        raise ModelInputError(f"{draws} draws; 1000 to 10 million give an interval in a reasonable time")


def standard(rng: np.random.Generator, shape: str, dof: float, draws: int) -> Any:
    """Draws of an error with mean 0 and standard uncertainty 1 of that shape.

    With finite degrees of freedom Student's t, whose scatter is larger than 1 (JCGM 101:2008, 6.4.9).
    """
    if shape == "rectangular":
        return rng.uniform(-math.sqrt(3.0), math.sqrt(3.0), draws)
    return rng.standard_normal(draws) if math.isinf(dof) else rng.standard_t(dof, draws)


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
        inputs[name] = value + spread * standard(rng, (shapes or {}).get(name, "normal"), math.inf, draws)
    found = np.asarray(function(**inputs), dtype=float) * np.ones(draws)
    if not np.isfinite(found).all():
        raise ModelInputError(f"{int((~np.isfinite(found)).sum())} of {draws} draws give no number; check the inputs")
    return Simulated.of(found, level)
