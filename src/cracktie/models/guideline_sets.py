"""Guideline sets as data: which published terms go together, and how each document adds them up.

A set is consistent: its concrete and stirrup terms, angle and lever arm belong to its FRP term. The FRP term of one
truss is never added to another one's: where a document lets the angle vary, its sum takes the FRP term at the angle
of its stirrups.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.models.set_titles import SET_TITLES
from cracktie.models.stirrup_shear import minimum_stirrups

Inputs = dict[str, Any]
Given = Mapping[str, Any]


def _nothing(inputs: Given) -> Inputs:
    return {}


@dataclass(frozen=True)
class GuidelineSet:
    """One set. Model ids; `rule` in words; `prepare` derives inputs the set itself defines (lever arm, section).

    `together` holds concrete and stirrups in one expression and stands for both where there are stirrups. `frp` is
    None where the document has no FRP term: strengthened spans are then 'not applicable', and `scope` says so;
    `resistance` is None where only the FRP term is known. `inside` names terms that the sum works out itself.
    `adds_concrete` says whether a concrete share stands beside the stirrups in the sum. `phi` is the factor a host
    puts on its own terms in the design form. `select` fits the set to a member; `more` are the models it may choose.
    """

    id: str
    concrete: str | None
    stirrups: str | None
    frp: str | None
    resistance: str | None
    rule: str
    title: str = ""
    together: str | None = None
    scope: str = ""
    note: str = ""
    adds_concrete: bool = True
    inside: tuple[str, ...] = ()
    prepare: Callable[[Given], Inputs] = _nothing
    select: Callable[[GuidelineSet, Given], GuidelineSet] | None = None
    more: tuple[str, ...] = ()
    host: str | None = None
    phi: float = 1.0
    research: bool = False

    @property
    def models(self) -> tuple[str, ...]:
        """Ids of all models of the set, the sum last."""
        own = (self.concrete, self.stirrups, self.together, self.frp, *self.more, self.resistance)
        return tuple(dict.fromkeys(m for m in own if m is not None))

    @property
    def can_host(self) -> bool:
        """Whether a research FRP term may be added: the sum must be V_c + V_s of two separate terms."""
        return not self.research and self.adds_concrete and self.concrete is not None and self.stirrups is not None

    def on(self, inputs: Given) -> GuidelineSet:
        """The set as it stands for one member."""
        return self.select(self, inputs) if self.select is not None else self


def _arm(inputs: Given) -> Inputs:
    return {"z": 0.9 * inputs["d"]}


def section_at_d(inputs: Given) -> Inputs:
    """M/V at the section d from the load, not less than d: the usual control section of a test with point loads."""
    return {"M_V": np.maximum(inputs["a"] - inputs["d"], inputs["d"])}


def _arm_and_section(inputs: Given) -> Inputs:
    return {**_arm(inputs), **section_at_d(inputs)}


def _section_at_d_v(inputs: Given) -> Inputs:
    d_v = np.maximum(0.9 * inputs["d"], 0.72 * inputs["h"])
    return {"M_V": np.maximum(inputs["a"] - d_v, d_v)}


def _has(minimum: Callable[..., Any], inputs: Given) -> Any:
    found = minimum(**{n: inputs[n] for n in ("A_sw", "s_w", "b_w", "f_yw", "f_c")})
    return bool(found) if np.ndim(found) == 0 else found


def _aci(inputs: Given) -> Inputs:
    return {"stirrups_minimum": _has(minimum_stirrups.aci318, inputs)}


def _csa(inputs: Given) -> Inputs:
    return {**_section_at_d_v(inputs), "stirrups_minimum": _has(minimum_stirrups.csa, inputs)}


def _csa_s6(inputs: Given) -> Inputs:
    return {**_csa(inputs), **_at_45(inputs)}


def _aashto(inputs: Given) -> Inputs:
    return {**_section_at_d_v(inputs), "stirrups_minimum": _has(minimum_stirrups.aashto, inputs)}


def _at_45(inputs: Given) -> Inputs:
    return {"theta": 45.0}


def _cnr(inputs: Given) -> Inputs:
    return {**_arm(inputs), **_at_45(inputs)}


PREPARED: Mapping[str, str] = {
    "z": "0.9 d",
    "M_V": "shear span less the distance of the document's control section from the load (d or d_v), at least that",
    "stirrups_minimum": "stirrups of this span against the minimum of the document",
    "theta": "45 degrees; the sum then takes the FRP term at the angle of its stirrups",
    "phi_host": "factor of the host code",
    "V_c": "concrete term of the set",
    "V_s": "stirrup term of the set",
    "V_f": "FRP term of the set",
    "V_f_45": "FRP term of the set for a crack at 45 degrees",
    "V_cs": "concrete and stirrups of the set",
}
"""Where inputs come from that a set derives itself."""


def _levels(made: GuidelineSet, inputs: Given) -> GuidelineSet:
    """Level III where it applies, else level II."""
    if not np.all(np.asarray(inputs["A_sw"]) > 0.0):
        return replace(made, together=None, stirrups=None, rule=f"level II without stirrups: {_NO_STIRRUPS}")
    if np.all(_has(minimum_stirrups.mc2010, inputs)):
        return replace(made, stirrups=None, resistance="resistance.mc2010.level3", rule=_LEVEL_3, adds_concrete=True)
    return replace(made, together=None, rule=f"level II, below the minimum stirrups: {_LARGER}")


_NO_STIRRUPS = "V_Rd,c at the strain of the control section"
_LEVEL_3 = "level III: concrete and stirrups at the strain of the control section, in one expression"
_LARGER = "the larger of V_Rd,c and the variable-angle truss; V_c is not added to V_s"
_WITHOUT_FRP = "the document has no FRP term here, so a strengthened span gets no value"
_TRUSS_45 = "V_c + V_s + V_f on a 45 degree truss, V_s + V_f capped"
_ON_HOST = "V_f of the source on the concrete and stirrup terms of a host code chosen by us; judged on V_f first"
_OURS = "pairing is ours"


def _research(id: str, frp: str) -> GuidelineSet:
    return GuidelineSet(
        id, None, None, frp, "resistance.sum_on_host", _ON_HOST, SET_TITLES[id], host="aci14_440", research=True
    )


def _set(id: str, *terms: str | None, **more: Any) -> GuidelineSet:
    """Set with its title; `terms`: concrete, stirrups, FRP, sum, rule."""
    concrete, stirrups, frp, resistance, rule = terms
    return GuidelineSet(id, concrete, stirrups, frp, resistance, rule or "", SET_TITLES[id], **more)


SETS: tuple[GuidelineSet, ...] = (
    _set(
        "aci14_440", "concrete_shear.aci318_2014.simplified", "stirrup_shear.aci318_2014", "frp_shear.aci440_2017",
        "resistance.aci440", _TRUSS_45, phi=0.75,
    ),
    _set(
        "aci19_440", "concrete_shear.aci318_2019", "stirrup_shear.aci318_2019", "frp_shear.aci440_2017",
        "resistance.aci440", _TRUSS_45, note=_OURS, phi=0.75, prepare=_aci,
    ),
    _set(
        "aci25_440", "concrete_shear.aci318_2025", "stirrup_shear.aci318_2019", "frp_shear.aci440_2017",
        "resistance.aci440", _TRUSS_45, phi=0.75, prepare=_aci,
        note=f"{_OURS}; stirrup term of ACI 318-19; the floor of the concrete term is known from a summary only",
    ),
    _set(
        "ec2_04", "concrete_shear.ec2_2004", "stirrup_shear.ec2_2004", None, "resistance.ec2_2004", _LARGER,
        scope=_WITHOUT_FRP, adds_concrete=False, prepare=_arm,
    ),
    _set(
        "ec2_23", "concrete_shear.ec2_2023", "stirrup_shear.ec2_2023", None, "resistance.ec2_2023", _LARGER,
        scope=_WITHOUT_FRP, adds_concrete=False, prepare=_arm_and_section,
        note="Annex J on FRP is not included: its text was not available to the authors",
    ),
    _set(
        "mc2010", "concrete_shear.mc2010.level2", "stirrup_shear.mc2010.level2", None, "resistance.mc2010.level2",
        f"level III with the minimum stirrups, else level II ({_LARGER})",
        together="stirrup_shear.mc2010.level3", scope=_WITHOUT_FRP, adds_concrete=False, prepare=_arm_and_section,
        select=_levels, more=("resistance.mc2010.level3",),
    ),
    _set(
        "csa", "concrete_shear.csa_2004", None, None, "resistance.csa_2004",
        "V_c + V_s of the general method, at the strain and crack angle of the control section",
        together="stirrup_shear.csa_2004", scope=_WITHOUT_FRP, prepare=_csa,
    ),
    _set(
        "aashto", "concrete_shear.aashto_2020", None, None, "resistance.aashto_2020",
        "V_c + V_s of the general procedure, at the strain and crack angle of the control section",
        together="stirrup_shear.aashto_2020", scope=_WITHOUT_FRP, prepare=_aashto,
    ),
    _set(
        "jsce", "concrete_shear.jsce_2007", "stirrup_shear.jsce_2007", None, "resistance.jsce_2007",
        "V_c + V_s on a 45 degree truss, at most the diagonal crushing of the web", scope=_WITHOUT_FRP,
    ),
    _set(
        "fib14", "concrete_shear.env1992_1991", "stirrup_shear.env1992_1991", "frp_shear.fib14_2001",
        "resistance.fib14_2001", "V_c + V_s + V_f on a 45 degree truss, at most the crushing of the web",
        note="host: the standard method of ENV 1992-1-1:1991, the Eurocode of its time, as recalled",
    ),
    _set(
        "cnr13", "concrete_shear.ec2_2004", None, "frp_shear.cnr_dt200_2013", "resistance.cnr_dt200_2013",
        "V_s + V_f at one angle of the variable-angle truss, at most its struts; V_c is not added, V_Rd,c of the host "
        "is the lower branch",
        adds_concrete=False, inside=("V_s",), prepare=_cnr,
        note="host: EN 1992-1-1:2004 by our choice; the Italian code takes half of f_cd for the struts (from memory)",
    ),
    _set(
        "tr55_12", None, None, "frp_shear.tr55_2012", None, "FRP term only",
        scope="the FRP term alone is given: how the document sums it with its host code was not available to the "
        "authors, so there is no resistance",
    ),
    _set(
        "csa_s6", None, None, "frp_shear.csa_s6_2006", "resistance.csa_s6_2006",
        "V_c + V_s + V_f at the strain and crack angle of the whole shear force",
        inside=("V_c", "V_s"), prepare=_csa_s6,
        note="shares of concrete and stirrups in the form of CSA A23.3, equal where all factors are 1",
    ),
    _set(
        "jsce01", "concrete_shear.jsce_2007", "stirrup_shear.jsce_2007", "frp_shear.jsce_2001",
        "resistance.jsce_2001", "V_c + V_s + V_f on a 45 degree truss, at most the diagonal crushing of the web",
        note="the sheet term covers closed wraps only",
    ),
    _set(
        "aashto_nchrp", None, None, "frp_shear.nchrp678_2011", "resistance.aashto_nchrp678",
        "V_c + V_s of the general procedure at the strain of the whole shear force, plus V_f",
        inside=("V_c", "V_s"), prepare=_aashto,
        note="the FRP term keeps its crack at 45 degrees, the smaller share while the angle of the stirrups is flatter",
    ),
    _research("chen_teng", "frp_shear.chen_teng_2003"),
    _research("khalifa", "frp_shear.khalifa_1998"),
    _research("khalifa_nanni", "frp_shear.khalifa_nanni_2000"),
    _research("mofidi", "frp_shear.mofidi_chaallal_2011"),
    _research("pellegrino_modena", "frp_shear.pellegrino_modena_2002"),
)  # fmt: skip
"""All sets in the order of `SET_TITLES`."""
