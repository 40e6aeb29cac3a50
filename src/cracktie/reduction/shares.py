"""Shares of the shear at V_max by what was measured: fibres, stirrups, and concrete by equilibrium; N, mm, MPa."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab.budget import Budget, Component
from cracktie.lab.chain import Chain, Errors, Function, Source
from cracktie.member import Member, member
from cracktie.reduction.budgets import Found
from cracktie.reduction.crossing import CriticalCrack, critical_crack
from cracktie.reduction.fibres import strips
from cracktie.reduction.profiles import profile_readings
from cracktie.reduction.sheet import NEAR, sheet
from cracktie.reduction.signals import Signals
from cracktie.reduction.stirrups import stirrup_share


@dataclass
class Shares:
    """Everything the gauges say at V_max of one test.

    `chain` holds the results as functions of their errors, for draws; `profile` rows are (distance along the crack,
    strain) of the gauged legs; `used` names the channels that the shares were made from.
    """

    test: str
    found: list[Found] = field(default_factory=list)
    profile: list[tuple[float, float]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    steps: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    chain: Chain = field(default_factory=Chain)
    used: set[str] = field(default_factory=set)
    of_bars: list[str] = field(default_factory=list)

    @property
    def theta(self) -> str:
        """Id of the error of the crack's angle, radians."""
        return f"theta, {self.test}"

    def source(self, what: str, name: str, u: float, shape: str = "normal", *, own: str = "", **more: Any) -> str:
        """Put an error of this test into the chain; `own` makes it one of its own."""
        return self.chain.source(Source(f"{what} {own}, {self.test}".replace(" ,", ","), name, u, shape, **more))

    def put(self, name: str, function: Function, unit: str, uses: Iterable[str], how: str) -> Found:
        """Keep one result: value and budget come from its function of the errors `uses`."""
        value, budget = self.chain.define(name, function, uses)
        made = Found(name, value, unit, budget, how)
        self.found.append(made)
        return made


def shares(
    campaign: Campaign, name: str, test: Test, span: str, signals: Signals, row: int, V: float, budget: Budget
) -> Shares:
    """V_f by measured strains, V_s in the campaign's order of preference and V_c by equilibrium, at one row.

    `V` and `budget` are the total shear there and what its uncertainty is made of. What is missing becomes a note.
    """
    made = Shares(name)
    made.chain.linear("V_max", V, budget)
    specimen = campaign.specimen(test.specimen)
    if specimen.kind != "beam" or specimen.section is None or not specimen.spans:
        return made
    found = critical_crack(campaign, name, test, span)
    note = f"assumed: {found.angle:g} deg, judgement" if found.assumed else ""
    made.chain.source(Source(made.theta, "angle of the crack", math.radians(found.u_angle), note=note))
    if not found.assumed:
        u = Budget((Component("digitising, faces, judgement", found.u_angle, source=made.theta),))
        made.found.append(Found("theta", found.angle, "deg", u, found.how))
    try:
        inputs = member(campaign, test.specimen, span, choice="measured", test=test, bare=campaign.bare(name))
    except CracktieError as error:
        made.notes.append(f"no shares: {error}")
        return made
    V_f = _fibres(made, campaign, test, span, signals, row, found, inputs) if inputs.strengthened else None
    V_s = stirrup_share(made, campaign, test, span, signals, row, found, inputs)
    _rest(made, inputs, V_f, V_s)
    return made


def _fibres(
    made: Shares, campaign: Campaign, test: Test, span: str, signals: Signals, row: int, found: CriticalCrack,
    inputs: Member,
) -> Found | None:  # fmt: skip
    by = sheet if inputs.values["layout"] == "continuous" else strips
    profiles = profile_readings(campaign, test, signals, row, [])
    on = by(made.chain, made.test, campaign.specimen(test.specimen), span, signals, profiles, row, found, inputs)
    if on is None:
        where = f"within {NEAR:g} mm of the crack on the sheet" if by is sheet else (
            "at V_max on a strip that the crack crosses"
        )  # fmt: skip
        made.notes.append(f"no V_f by strains: no gauge reads {where}")
        return None
    made.notes += on.notes
    made.used |= {n for leg in on.legs for n in leg.names}
    made.profile = sorted((leg.at.along, leg.largest) for leg in on.legs)
    gauges = ", ".join(sorted(made.used))
    made.steps.append(
        ("V_f_strain", {"legs": len(on.legs) + on.missing, "gauged": len(on.legs), "gauges": gauges, "row": row})
    )
    told = f"mean over {len(on.legs)} gauged legs at the crack"
    made.put("eps_fe", on.mean, "-", on.uses, told)
    share = made.put("V_f_strain", on.force, "N", on.uses, on.how)
    if math.isfinite(on.largest):
        said = (
            "largest gauge of each leg taken for the strain at the crack, as publications do: too low beside the crack"
        )
        made.found.append(Found("V_f_gauge", on.largest, "N", None, said))
    return share


def _rest(made: Shares, inputs: Member, V_f: Found | None, V_s: Found | None) -> None:
    """What is left for the concrete; all errors of the others end here, with what they share counted once."""
    if inputs.strengthened and V_f is None:
        return
    taken = [part.name for part in (V_f, V_s) if part is not None]
    parts = ["V_max", *taken]
    functions = [made.chain.results[p][0] for p in parts]

    def left(x: Errors) -> Any:
        first, *others = (f(x) for f in functions)
        return np.asarray(first) - sum(others)

    uses = [id for p in parts for id in made.chain.results[p][1]]
    name = "V_c_eq" if V_s is not None else "V_cs_eq"
    how = "V_max less " + (" and ".join(taken) or "nothing") + "; holds the errors of all of them"
    found = made.put(name, left, "N", uses, how)
    if found.value < 0.0:
        made.notes.append(f"{name} is negative: gauges or crack are not what they are taken for")
