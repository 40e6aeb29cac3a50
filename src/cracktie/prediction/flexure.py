"""Moment of the section under the loads, soffit plies included: does the beam bend before it shears?

Strips by strain compatibility, parabola-rectangle and strains of EN 1992-1-1:2004 3.1.7, bars without hardening. The
test form takes the strengths as they are, the design form divides them by 1.5 and 1.15 (2.4.2.4). A soffit ply ends at
the debonding strain of ACI 440.2R-17 10.1.1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.clause import evaluate
from cracktie.errors import CracktieError
from cracktie.mechanics import stress_strain
from cracktie.mechanics.section import MODES, PLY, section, strength
from cracktie.member import FRP_ORDER, Member, MissingValue, bar_layers
from cracktie.member.derived import surroundings
from cracktie.models.material.ec2_2004 import parabola_rectangle

GAMMA_C, GAMMA_S = 1.5, 1.15
"""EN 1992-1-1:2004 Table 2.1N, design form only."""
RANGE = (12.0, 90.0)
"""MPa, characteristic strengths of EN 1992-1-1:2004 Table 3.1."""
HOW = (
    "strips, EN 1992-1-1:2004 3.1.7, bars without hardening (design form: strengths over 1.5 and 1.15), soffit plies "
    "to the debonding strain of ACI 440.2R-17; anchorage of the bars is not checked"
)


@dataclass(frozen=True)
class Moment:
    """Largest moment (N mm) and what limits it."""

    value: float
    mode: str


def section_moment(campaign: Campaign, specimen: Specimen, made: Member, edition: str) -> Moment:
    """Moment of the section at the loads.

    Raises `CracktieError` kinds with the reason where the section is out of range or a value is missing.
    """
    sizes, design = made.values, made.form == "design"
    f_ck = float(sizes["f_c"]) if design else float(sizes["f_c"]) - 8.0
    if not RANGE[0] <= f_ck <= RANGE[1]:
        raise MissingValue(
            f"characteristic strength {f_ck:.1f} MPa lies outside {RANGE[0]:g} to {RANGE[1]:g} MPa of EN 1992-1-1:2004 "
            "Table 3.1"
        )
    law = parabola_rectangle(f_ck)
    f_c = sizes["f_c"] / (GAMMA_C if design else 1.0)
    layers = bar_layers(campaign, specimen, made.choice)
    f_y = np.array([[y for _, _, y in layers]]) / (GAMMA_S if design else 1.0)
    ply = _ply(campaign, specimen, made, edition)
    whole = section(
        rectangles=_rectangles(specimen, sizes),
        bars=[(area, depth) for area, depth, _ in layers],
        concrete=lambda eps: stress_strain.parabola_rectangle(eps, f_c, float(law[0]), float(law[1]), float(law[2])),
        steel=lambda eps: stress_strain.bilinear(eps, sizes["E_s"], f_y),
        ply=None if ply is None else ply[0],
        displaced=True,
    )
    found = strength(whole, eps_cu=float(law[2]), eps_ply=np.inf if ply is None else ply[1])
    depths, first = [depth for _, depth, _ in layers], float(found.curvature[0])
    lowest = int(np.argmax(depths))
    yields = first * (depths[lowest] - float(found.c[0])) >= f_y[0, lowest] / sizes["E_s"]
    mode = "debonding of the soffit ply" if int(found.mode[0]) == PLY else MODES[int(found.mode[0])]
    return Moment(float(found.moment[0]), f"{mode} after bar yield" if yields else f"{mode} before bar yield")


def _rectangles(specimen: Specimen, sizes: Mapping[str, Any]) -> list[tuple[float, float, float]]:
    """Width, top and bottom of the parts, mm from the top."""
    assert specimen.section is not None
    h, top, low = float(sizes["h"]), float(sizes["h_flange"]), float(specimen.section.h_bottom or 0.0)
    parts = [(float(sizes["b_w"]), top, h - low)]
    if top > 0.0:
        parts.insert(0, (float(sizes["b_flange"]), 0.0, top))
    if low > 0.0:
        parts.append((float(specimen.section.b_bottom or 0.0), h - low, h))
    return parts


def _ply(campaign: Campaign, specimen: Specimen, made: Member, edition: str) -> tuple[Any, float] | None:
    """The soffit ply as `section` takes it, and its limit strain; None where it does not reach under the loads."""
    soffit = specimen.soffit
    if soffit is None:
        return None
    first = float(specimen.spans["A"].length)
    last = first + float(specimen.between_loads)
    if (soffit.start is not None and soffit.start > first) or (soffit.end is not None and soffit.end < last):
        return None
    system = campaign.materials.frp_systems.get(soffit.system)
    if system is None:
        raise MissingValue(f"materials.yaml: frp_systems has no {soffit.system!r}, needed for the soffit plies")
    try:
        _, values = system.values(*FRP_ORDER[made.choice])
    except ValueError as error:
        raise MissingValue(f"materials.yaml: frp_systems.{soffit.system}: {error}") from None
    known, missing = surroundings(campaign, system.fibre, made.form)
    if "C_E" in missing:
        raise MissingValue(f"soffit plies: {missing['C_E']}")
    inputs = {
        "f_c": made.values["f_c"], "n": soffit.plies, "t_f": float(system.thickness), "C_E": known["C_E"][0],
        "form": made.form, "edition": edition, **values,
    }  # fmt: skip
    limit = float(evaluate("flexure.aci440_2017", inputs).value)
    area = soffit.plies * float(system.thickness) * float(soffit.width)
    return (area, float(made.values["h"]), values["E_f"], 0.0), limit


def moment_or_reason(campaign: Campaign, specimen: Specimen, made: Member, edition: str) -> tuple[Moment | None, str]:
    """The moment, or None and why there is none."""
    try:
        return section_moment(campaign, specimen, made, edition), ""
    except CracktieError as error:
        return None, str(error)
