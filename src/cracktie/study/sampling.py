"""Samples of uncertain numbers: marginal distributions, correlation, points that fill space, seeds by chunk.

Points come in chunks of `CHUNK`; each chunk is a scrambled Sobol sequence with a seed of its own, made from the seed
of the study and the number of the chunk. So any number of workers gives the same samples, and more samples begin with
the same ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.errors import ModelInputError

CHUNK = 1024
KINDS = ("normal", "lognormal", "uniform", "triangular")
RIDGE = 0.9
"""Correlation of k_tau and theta: pairs on a ridge fit the same published beams; the number is our own."""


@dataclass(frozen=True)
class Variable:
    """An uncertain number. normal, lognormal: `mean` and `sd`; uniform: `low`, `high`; triangular: `mean` is the mode.

    `name` is an input of the span, a coefficient of the mechanics, or `anchor.` and an input of the anchors.
    """

    name: str
    kind: str
    mean: float = 0.0
    sd: float = 0.0
    low: float = 0.0
    high: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ModelInputError(f"{self.name}: distribution {self.kind!r}; possible: {', '.join(KINDS)}")
        if self.kind in ("normal", "lognormal") and not self.sd > 0.0:
            raise ModelInputError(f"{self.name}: standard deviation {self.sd:g}; it must be above 0")
        if self.kind == "lognormal" and not self.mean > 0.0:
            raise ModelInputError(f"{self.name}: a lognormal number needs a mean above 0; given {self.mean:g}")
        if self.kind in ("uniform", "triangular") and not self.low < self.high:
            raise ModelInputError(f"{self.name}: from {self.low:g} to {self.high:g}; the first must be the smaller one")
        if self.kind == "triangular" and not self.low <= self.mean <= self.high:
            raise ModelInputError(f"{self.name}: mode {self.mean:g} outside {self.low:g} to {self.high:g}")

    def at(self, u: Any) -> Any:
        """Value at probabilities `u`."""
        from scipy.special import ndtri

        if self.kind == "normal":
            return self.mean + self.sd * ndtri(u)
        if self.kind == "lognormal":
            spread = np.sqrt(np.log1p((self.sd / self.mean) ** 2))
            return self.mean * np.exp(spread * ndtri(u) - 0.5 * spread**2)
        if self.kind == "uniform":
            return self.low + (self.high - self.low) * u
        width, up = self.high - self.low, self.mean - self.low
        rising = self.low + np.sqrt(u * width * up)
        return np.where(u * width < up, rising, self.high - np.sqrt((1.0 - u) * width * (self.high - self.mean)))


def own_variables(*, anchored: bool, skip: Sequence[str] = ()) -> tuple[Variable, ...]:
    """Triangular variables over the ranges of the coefficients of the mechanics that matter to a span."""
    unused = {
        "w_0_slow",
        "tip",
        "slide",
        "k_cor",
        "k_rup",
        *(() if anchored else ("friction", "rotation", "k_F")),
        *skip,
    }
    return tuple(
        Variable(n, "triangular", c.value, low=c.low, high=c.high) for n, c in COEFFICIENTS.items() if n not in unused
    )


def mixing(variables: Sequence[Variable], correlations: Mapping[tuple[str, str], float]) -> Any:
    """Lower factor of the correlation matrix of the underlying normal numbers; raises where none exists."""
    names = [v.name for v in variables]
    matrix = np.eye(len(names))
    for (one, other), rho in correlations.items():
        for name in (one, other):
            if name not in names:
                raise ModelInputError(f"correlation of {one} and {other}: {name} does not vary")
        if not -1.0 < rho < 1.0:
            raise ModelInputError(f"correlation of {one} and {other} = {rho:g}; it must lie between -1 and 1")
        i, j = names.index(one), names.index(other)
        matrix[i, j] = matrix[j, i] = rho
    try:
        return np.linalg.cholesky(matrix)
    except np.linalg.LinAlgError:
        raise ModelInputError("the correlations contradict one another; lower some of them") from None


def points(dimensions: int, count: int, seed: int) -> Iterator[Any]:
    """Chunks (up to CHUNK, dimensions) of points in the unit cube, `count` in all."""
    from scipy.stats import qmc

    for number, start in enumerate(range(0, count, CHUNK)):
        rng = np.random.default_rng([seed, number])
        made = qmc.Sobol(dimensions, scramble=True, rng=rng) if _new_name() else qmc.Sobol(dimensions, seed=rng)
        u = np.clip(made.random(CHUNK), 1e-9, 1.0 - 1e-9)
        yield u[: min(CHUNK, count - start)]


def _new_name() -> bool:
    """Whether scipy calls the generator `rng` (from 1.15) or `seed`."""
    import inspect

    from scipy.stats import qmc

    return "rng" in inspect.signature(qmc.Sobol).parameters


def values_at(u: Any, variables: Sequence[Variable], factor: Any) -> dict[str, Any]:
    """Correlated values by name at points (n, variables) of the unit cube."""
    from scipy.special import ndtr, ndtri

    mixed = ndtr(ndtri(u) @ factor.T)
    return {v.name: v.at(mixed[:, i]) for i, v in enumerate(variables)}


def samples(
    variables: Sequence[Variable],
    count: int,
    *,
    seed: int = 1,
    correlations: Mapping[tuple[str, str], float] | None = None,
) -> Iterator[dict[str, Any]]:
    """Chunks of correlated samples by name. Raises `ModelInputError`."""
    if count < 1:
        raise ModelInputError(f"samples: {count}; at least 1")
    repeated = {v.name for v in variables if sum(o.name == v.name for o in variables) > 1}
    if repeated:
        raise ModelInputError(f"{', '.join(sorted(repeated))} varies twice")
    factor = mixing(variables, correlations or {})
    for u in points(max(len(variables), 1), count, seed):
        yield values_at(u[:, : len(variables)], variables, factor) if variables else {}
