"""Guideline sets: which published terms go together, and how. Data and small preparations, no formulas.

A set is consistent: its concrete and stirrup terms, angle and lever arm belong to its FRP term. The FRP term of one
truss is never added to another one's.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.clause import get
from cracktie.errors import UnknownName

Inputs = dict[str, Any]
OWN = "local."
"""Start of the ids of users' own models."""


def _nothing(inputs: Mapping[str, Any]) -> Inputs:
    return {}


def _ec2_arm(inputs: Mapping[str, Any]) -> Inputs:
    return {"z": 0.9 * inputs["d"]}


def section_at_d(inputs: Mapping[str, Any]) -> Inputs:
    """M/V at the section d from the load, not less than d: the usual control section of a test with point loads."""
    return {"M_V": np.maximum(inputs["a"] - inputs["d"], inputs["d"])}


@dataclass(frozen=True)
class GuidelineSet:
    """One set. Model ids; `rule` in words; `prepare` derives inputs the set itself defines (lever arm, section).

    `frp` is None where the document has no FRP term: strengthened spans are then 'not applicable'. `scope` says so.
    """

    id: str
    title: str
    concrete: str | None
    stirrups: str | None
    frp: str | None
    resistance: str
    rule: str
    scope: str = ""
    prepare: Callable[[Mapping[str, Any]], Inputs] = _nothing
    host: str | None = None
    research: bool = False

    @property
    def models(self) -> tuple[str, ...]:
        """Ids of all models of the set, the sum last."""
        return tuple(m for m in (self.concrete, self.stirrups, self.frp, self.resistance) if m is not None)


_WITHOUT_FRP = "the document has no FRP term here, so a strengthened span gets no value"

_SETS = (
    GuidelineSet(
        "aci14_440",
        "ACI 318-14 with ACI 440.2R-17",
        "concrete_shear.aci318_2014.simplified",
        "stirrup_shear.aci318_2014",
        "frp_shear.aci440_2017",
        "resistance.aci440",
        "V_c + V_s + V_f on a 45 degree truss, V_s + V_f capped",
    ),
    GuidelineSet(
        "ec2_04",
        "EN 1992-1-1:2004",
        "concrete_shear.ec2_2004",
        "stirrup_shear.ec2_2004",
        None,
        "resistance.ec2_2004",
        "the larger of V_Rd,c and the variable-angle truss; V_c is not added to V_s",
        _WITHOUT_FRP,
        _ec2_arm,
    ),
    GuidelineSet(
        "chen_teng",
        "Chen & Teng (2003)",
        None,
        None,
        "frp_shear.chen_teng_2003",
        "resistance.sum_on_host",
        "V_f of the source on the concrete and stirrup terms of a host code chosen by us; judged on V_f first",
        host="aci14_440",
        research=True,
    ),
)
_BY_ID = {s.id: s for s in _SETS}


def guideline_set(id: str, *, host: str | None = None) -> GuidelineSet:
    """The set of that id; a research set takes its concrete and stirrup terms from `host`.

    An id that starts with `local.` is a user's own FRP term, loaded before, in place of a research model's.
    Raises `UnknownName` for an unknown id, an own model that gives no V_f in N, and a host that does not add its
    concrete term.
    """
    if id.startswith(OWN):
        found = _own_set(id)
    elif id in _BY_ID:
        found = _BY_ID[id]
    else:
        near = difflib.get_close_matches(id, _BY_ID, 2)
        raise UnknownName(f"no guideline set {id!r}; there are {', '.join(near or _BY_ID)}")
    if not found.research:
        return found
    hosting = _BY_ID.get(host or found.host or "aci14_440")
    if hosting is None:
        raise UnknownName(f"no guideline set {host!r} to host {id}; there are {', '.join(_BY_ID)}")
    if hosting.research or not hosting.rule.startswith("V_c + V_s"):
        raise UnknownName(
            f"{hosting.id} cannot host {id}: its resistance is no sum V_c + V_s; choose for example host: aci14_440"
        )
    return replace(
        found,
        concrete=hosting.concrete,
        stirrups=hosting.stirrups,
        prepare=hosting.prepare,
        host=hosting.id,
        title=f"{found.title} on {hosting.title.split(' with ')[0]} (host chosen by us)",
    )


def _own_set(id: str) -> GuidelineSet:
    """A user's own FRP term as a research set: judged on V_f first, on a host code."""
    made = get(id)
    if (made.predicts, made.unit) != ("V_f", "N"):
        raise UnknownName(
            f"{id} predicts {made.predicts} in {made.unit}; an own model stands as a set where it predicts V_f in N"
        )
    model = _BY_ID["chen_teng"]
    return replace(model, id=id, title=made.title, frp=id)


def all_sets() -> tuple[GuidelineSet, ...]:
    """All sets in their own order."""
    return _SETS
