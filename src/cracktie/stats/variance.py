"""Variance within and between groups, for instance within and between concrete batches."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cracktie.errors import ModelInputError


@dataclass(frozen=True)
class Components:
    """One-way analysis of variance: mean squares with degrees of freedom, F, and the standard deviations they give.

    `s_within` is that of single values in a group; `s_between` that of the groups' own means beyond it (0 where the
    mean square between is not larger than that within).
    """

    ms_between: float
    ms_within: float
    dof_between: int
    dof_within: int
    s_between: float

    @property
    def s_within(self) -> float:
        """Standard deviation within groups."""
        return math.sqrt(self.ms_within)

    @property
    def f(self) -> float:
        """F statistic; infinite without scatter within the groups."""
        return self.ms_between / self.ms_within if self.ms_within > 0.0 else math.inf


def one_way(groups: Sequence[Sequence[float]]) -> Components:
    """Components of variance of groups, at least two and one of them with two values; unequal sizes allowed."""
    sizes = [len(g) for g in groups]
    n, k = sum(sizes), len(sizes)
    if k < 2 or min(sizes) < 1 or n == k:
        raise ModelInputError("components of variance need two groups, and two values in at least one of them")
    base = groups[0][0]  # differences from a value of the data keep all their digits
    means = [base + math.fsum(v - base for v in g) / len(g) for g in groups]
    grand = base + math.fsum(v - base for g in groups for v in g) / n
    between = math.fsum(m * (mean - grand) ** 2 for m, mean in zip(sizes, means, strict=True)) / (k - 1)
    within = math.fsum((v - mean) ** 2 for g, mean in zip(groups, means, strict=True) for v in g) / (n - k)
    size = (n - math.fsum(m * m for m in sizes) / n) / (k - 1)
    return Components(between, within, k - 1, n - k, math.sqrt(max((between - within) / size, 0.0)))
