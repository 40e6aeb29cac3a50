"""Results as functions of uncertain inputs: one function gives the value, the budget and the Monte Carlo draws.

A source is one error of mean 0 (relative, or in its own unit) that any number of results may share: the gain of a load
cell, the lot of the gauges, a place. Results are functions of arrays of these errors. First order and Monte Carlo
evaluate the very same functions, so neither can forget what the other has.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.budget import Budget, Component, Simulated, check_draws, standard


@dataclass(frozen=True)
class Source:
    """One error: `id` tells it from all others of a campaign, `name` and `note` say what it is in words.

    `u` is its standard uncertainty, in the unit its functions take; else as `lab.budget.Component`.
    """

    id: str
    name: str
    u: float
    shape: str = "normal"
    dof: float = math.inf
    kind: str = "B"
    note: str = ""


Errors = Mapping[str, Any]
"""Arrays of errors by source id; a missing one is 0."""
Function = Callable[[Errors], Any]


@dataclass
class Chain:
    """Sources and the results made from them, collected while a test is reduced."""

    sources: dict[str, Source] = field(default_factory=dict)
    results: dict[str, tuple[Function, tuple[str, ...]]] = field(default_factory=dict)

    def source(self, source: Source) -> str:
        """Keep a source and hand back its id; one without uncertainty is left out. Raises where an id changes."""
        if source.u > 0.0 and self.sources.setdefault(source.id, source).u != source.u:
            raise ModelInputError(f"source {source.id!r} has two uncertainties")
        return source.id

    def define(self, name: str, function: Function, uses: Iterable[str]) -> tuple[float, Budget]:
        """Keep a result and the sources it depends on; gives its value and first-order budget."""
        self.results[name] = (function, tuple(dict.fromkeys(u for u in uses if u in self.sources)))
        return self.first_order(name)

    def linear(self, name: str, value: float, budget: Budget) -> None:
        """Keep a result that is linear in the components of its budget; those without a source get one of their own."""
        slopes: dict[str, float] = {}
        for i, c in enumerate(budget.components):
            id = c.source or f"{name}: {c.name} {i}"
            self.sources.setdefault(id, Source(id, c.name, 1.0, c.shape, c.dof, c.kind, c.note))
            slopes[id] = slopes.get(id, 0.0) + c.signed / self.sources[id].u

        def function(x: Errors) -> Any:
            return value + sum(slope * x[id] for id, slope in slopes.items() if id in x)

        self.results[name] = (function, tuple(slopes))

    def first_order(self, name: str) -> tuple[float, Budget]:
        """Value and budget of a result: half the difference between +u and -u of every source (JCGM 100:2008, 5.1.3).

        That step, not a vanishing one, so that a bend within the range of a source (which gauge is the largest) counts
        as far as it matters there. All steps go through the function in one array.
        """
        function, uses = self.results[name]
        n = len(uses)
        errors = {}
        for i, id in enumerate(uses):
            steps = np.zeros(2 * n + 1)
            steps[1 + i], steps[1 + n + i] = self.sources[id].u, -self.sources[id].u
            errors[id] = steps
        found = np.broadcast_to(np.asarray(function(errors), dtype=float), (2 * n + 1,))
        signed = 0.5 * (found[1 : 1 + n] - found[1 + n :])
        return float(found[0]), Budget(tuple(
            Component(s.name, abs(c), s.shape, s.dof, s.kind, s.note, s.id, 1 if c >= 0.0 else -1)
            for s, c in ((self.sources[id], float(signed[i])) for i, id in enumerate(uses)) if c != 0.0
        ))  # fmt: skip

    def drawn(self, name: str, draws: int, seed: int = 1) -> Simulated:
        """Distribution of a result from draws of its sources, each in its own shape; the same seed, the same draws.

        Raises `ModelInputError` for an unknown name and too few draws.
        """
        check_draws(draws)
        if name not in self.results:
            raise ModelInputError(f"no result {name!r} to draw; there are {', '.join(self.results) or 'none'}")
        function, uses = self.results[name]
        rng = np.random.default_rng(seed)
        errors = {}
        for id in uses:
            s = self.sources[id]
            errors[id] = s.u * standard(rng, s.shape, s.dof, draws)
        found = np.broadcast_to(np.asarray(function(errors), dtype=float), (draws,))
        if not np.isfinite(found).all():
            raise ModelInputError(f"{int((~np.isfinite(found)).sum())} of {draws} draws give no number")
        return Simulated.of(found)
