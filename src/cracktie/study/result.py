"""Run a study file on its span: one result with everything it asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.anchorage import GoverningMap, governing_map
from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.beam.specimen import NOTICE, Wrapped, wrapped_span
from cracktie.campaign.schema import Campaign
from cracktie.errors import InputRefused, ModelInputError, Problem
from cracktie.results import finite, versioned
from cracktie.study.file import read_study
from cracktie.study.run import (
    GoalSeek,
    MonteCarlo,
    Sensitivity,
    evaluate_span,
    goal_seek,
    monte_carlo,
    sensitivities,
    sweep,
)
from cracktie.study.sampling import own_variables


@dataclass(frozen=True)
class StudyResult:
    """What a study found; parts that it did not ask for are None or empty."""

    specimen: str
    span: str
    set: str
    anchored: bool
    now: Mapping[str, float]
    monte_carlo: MonteCarlo
    sensitivity: Sensitivity | None
    sweeps: Mapping[str, tuple[Any, Mapping[str, Any]]]
    map: tuple[tuple[str, ...], tuple[Any, ...], Mapping[str, Any]] | None
    goal: GoalSeek | None
    governing: GoverningMap | None = None
    """Governing mechanism of the anchors where a map spans their embedment and dowel diameter."""

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        body: dict[str, Any] = {
            "specimen": self.specimen, "span": self.span, "set": self.set, "notice": NOTICE if self.anchored else "",
            "now": {n: finite(v) for n, v in self.now.items()}, "monte_carlo": self.monte_carlo.to_dict(),
            "sensitivity": None, "map": None, "goal": None,
            "sweeps": {n: {"values": _plain(v), **{k: _plain(a) for k, a in out.items()}}
                       for n, (v, out) in self.sweeps.items()},
        }  # fmt: skip
        if self.sensitivity is not None:
            s = self.sensitivity
            body["sensitivity"] = {"output": s.output, "names": list(s.names), "first": list(s.first),
                                   "total": list(s.total), "samples": s.samples,
                                   "correlations": "left out"}  # fmt: skip
        if self.map is not None:
            names, lines, out = self.map
            axes = {n: _plain(v) for n, v in zip(names, lines, strict=True)}
            body["map"] = {"axes": axes, **{k: _plain(a) for k, a in out.items()}}
        if self.goal is not None:
            g = self.goal
            body["goal"] = {"size": g.name, "goal": g.goal, "probability": g.wanted, "smallest": g.smallest,
                            "no_more": g.no_more, "sizes": _plain(g.sizes), "reached": _plain(g.probability),
                            "V_median": _plain(g.V_median)}  # fmt: skip
        if self.governing is not None:
            m = self.governing
            body["governing"] = {"h_ef": _plain(m.h_ef), "d_a": _plain(m.d_a), "mechanism": m.mechanism.tolist(),
                                 "F_u": _plain(m.F_u)}  # fmt: skip
        return versioned("study", body)


def _plain(values: Any) -> Any:
    array = np.asarray(values, dtype=float)
    return [_plain(v) for v in array] if array.ndim > 1 else [finite(float(v)) for v in array]


def span_of(campaign: Campaign, data: Mapping[str, Any], file: str) -> Wrapped:
    """The span that a study names; raises `InputRefused` where it cannot be studied."""
    name = data.get("specimen")
    if not isinstance(name, str) or name not in campaign.specimens:
        there = ", ".join(campaign.specimens)
        raise InputRefused(Problem("error", file, f"{name!r} is no specimen", key="specimen", fix=f"one of {there}"))
    tests = campaign.tests_of(name)
    test = tests.get(str(data["test"])) if "test" in data else next(reversed(tests.values()), None)
    span = (
        data.get("span") or (test.studied if test is not None else None) or campaign.specimen(name).tested_span or "A"
    )
    if span not in campaign.specimen(name).spans:
        raise InputRefused(Problem("error", file, f"{span!r} is no span", key="span", fix="A or B"))
    made = wrapped_span(campaign, name, str(span), test=test)
    if made.why:
        raise InputRefused(Problem("error", file, f"{name}, span {span}: {made.why}", key="specimen"))
    return made


def run_study(campaign: Campaign, data: Mapping[str, Any], *, file: str = "study", workers: int = 1) -> StudyResult:
    """Everything a study asks. `data` as a study file holds it. Raises `InputRefused` and `ModelInputError`."""
    made = span_of(campaign, data, file)
    asked = read_study(data, made, file)
    coefficients = {"w_0": COEFFICIENTS["w_0_slow"].value} if asked.set == "slow" else {}
    taken = {v.name for v in asked.variables}
    skip = [*taken, *coefficients, *(["theta"] if "theta" in made.inputs else [])]
    own = own_variables(anchored=made.anchored, skip=skip) if asked.own else ()
    variables = (*asked.variables, *own)
    more: dict[str, Any] = {"coefficients": coefficients, "workers": workers}
    random: dict[str, Any] = {"seed": asked.seed, "correlations": asked.correlations}
    now = {n: float(np.ravel(v)[0]) for n, v in evaluate_span(made, {}, **more).items()}
    goal = None
    if asked.goal is not None:
        goal = goal_seek(
            made, asked.goal.name, asked.goal.values, variables=variables, count=min(asked.samples, 512), **random,
            **dict[str, Any](asked.target), **more,
        )  # fmt: skip
    sensitivity = None
    if asked.sensitivity is not None:
        if not variables:
            raise ModelInputError("sensitivity: nothing varies; add `vary` or leave `own` on")
        sensitivity = sensitivities(made, variables, output=asked.sensitivity, seed=asked.seed, **more)
    grid = None
    if asked.map:
        axes = {a.name: a.values for a in asked.map}
        grid = (tuple(axes), tuple(axes.values()), sweep(made, axes, **more))
    mechanisms = None
    if grid is not None and made.anchor is not None and set(grid[0]) == {"anchor.h_ef", "anchor.d_a"}:
        sizes = dict(zip(grid[0], grid[1], strict=True))
        mechanisms = governing_map(made.anchor.values, h_ef=sizes["anchor.h_ef"], d_a=sizes["anchor.d_a"])
    return StudyResult(
        made.specimen.id, made.span, asked.set, made.anchored, now,
        monte_carlo(made, variables, count=asked.samples, **random, **more), sensitivity,
        {a.name: (a.values, sweep(made, {a.name: a.values}, **more)) for a in asked.sweep}, grid, goal, mechanisms,
    )  # fmt: skip


def study_file(path: Path, *, workers: int = 1) -> StudyResult:
    """Read a study file and its campaign (a path relative to the file) and run it."""
    from cracktie.campaign.read import read_campaign, read_single
    from cracktie.study.file import load

    data = load(path)
    where = path.parent / str(data.get("campaign", "."))
    campaign = read_single(where) if where.is_file() else read_campaign(where)
    return run_study(campaign, data, file=path.name, workers=workers)
