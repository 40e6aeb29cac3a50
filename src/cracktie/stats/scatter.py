"""Specimen-to-specimen scatter and where it comes from: own replicates, a cited prior, or the tool's assumption."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

PRIOR_CV, PRIOR_LOW, PRIOR_HIGH = 0.08, 0.05, 0.15
PRIOR_SOURCE = "assumed, common practice, no source"


@dataclass(frozen=True)
class Scatter:
    """Standard deviation `s` of ln V between nominally equal beams, with `dof` degrees of freedom and its origin."""

    s: float
    dof: float
    origin: str

    @property
    def cv(self) -> float:
        """Coefficient of variation of the log-normal with this s."""
        return math.sqrt(math.expm1(self.s**2))


def log_sd(cv: float) -> float:
    """Standard deviation of ln V of a log-normal with that coefficient of variation."""
    return math.sqrt(math.log1p(cv**2))


def prior_dof(cv: float, low: float, high: float) -> float:
    """Degrees of freedom worth of a declared CV known to lie between `low` and `high`.

    JCGM 100:2008 G.4.2: nu = (Delta u/u)^-2 / 2, the relative uncertainty Delta u/u taken as a quarter of the range
    over the value, since the range is read as about two standard deviations to each side; at least 2.
    """
    relative = (high - low) / (4 * cv)
    return max(0.5 / relative**2, 2.0) if relative > 0 else math.inf


def pooled(groups: Iterable[Sequence[float]]) -> tuple[float, int]:
    """Pooled variance of ln V within groups of replicates and its degrees of freedom; (0.0, 0) without replicates."""
    total, dof = 0.0, 0
    for values in groups:
        if len(values) < 2:
            continue
        logs = [math.log(v) for v in values]
        mean = sum(logs) / len(logs)
        total += sum((x - mean) ** 2 for x in logs)
        dof += len(logs) - 1
    return (total / dof if dof else 0.0), dof


def scatter(
    groups: Iterable[Sequence[float]] = (),
    *,
    cv: float | None = None,
    low: float | None = None,
    high: float | None = None,
    source: str | None = None,
) -> Scatter:
    """Scatter of a campaign: the declared prior (or the tool's) updated by the campaign's own replicates.

    s^2 = (nu0 s0^2 + nu s_p^2)/(nu0 + nu) with nu0 + nu degrees of freedom, nu0 from the range of the prior.
    Groups must fail in the same mode to be pooled; the caller sees to that.
    """
    declared = cv is not None
    cv = PRIOR_CV if cv is None else cv
    low = (PRIOR_LOW if not declared else 0.6 * cv) if low is None else low
    high = (PRIOR_HIGH if not declared else 1.9 * cv) if high is None else high
    nu0 = prior_dof(cv, low, high)
    variance, nu = pooled(groups)
    kind = f"prior {source}" if declared and source else f"tool default ({PRIOR_SOURCE})"
    text = f"{kind}, CV {100 * cv:.0f} % (range {100 * low:.0f} to {100 * high:.0f} %)"
    if not nu:
        return Scatter(log_sd(cv), nu0, text)
    if math.isinf(nu0):
        return Scatter(log_sd(cv), math.inf, text)
    s2 = (nu0 * log_sd(cv) ** 2 + nu * variance) / (nu0 + nu)
    return Scatter(math.sqrt(s2), nu0 + nu, f"{text}, updated by own replicates ({nu} degrees of freedom)")
