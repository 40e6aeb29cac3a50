"""A small campaign in memory with one anchored span; numbers of our own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from cracktie.actions import single_beam
from cracktie.campaign.materials import Materials
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Rig, Test

ANCHORS = {
    "fibre": "T", "host": "web", "z": 330, "embedment": 70, "dowel_diameter": 12, "hole_diameter": 15,
    "edge_radius": 12, "fibre_area": 40, "fan": {"length": 120, "angle": 45},
}  # fmt: skip


def beam(materials: Materials, *, anchors: Any = ANCHORS, a: float = 1100.0, span: str = "A", **wrap: Any) -> Campaign:
    """One T-beam with a wrap in `span`, its test with a layout of gauges."""
    fibres = {"anchor_fibres": {"T": {"fibre": "carbon", "mean": {"E_f": 230e3, "f_fu": 3500.0}}}}
    with_fibre = materials.model_copy(update={"anchor_fibres": Materials.model_validate(fibres).anchor_fibres})
    start = 0.0 if span == "A" else 1900.0
    held: dict[str, Any] = {"system": "CF", "scheme": "u", "layout": "strips", "width": 60, "spacing": 150,
                            "first": start + 100.0, "count": 7, **wrap}  # fmt: skip
    if held["layout"] == "continuous":
        held = {n: v for n, v in held.items() if n not in ("width", "spacing", "first", "count")}
    shear = {"length": a, "stirrups": {"material": "D6", "spacing": 250}, "wrap": held}
    if anchors is not None:
        shear["anchors"] = anchors
    other = {"length": 1900.0}
    specimen = Specimen(
        id="X1", batch="B1", section={"shape": "T", "b_w": 180, "h": 450, "b_flange": 400, "h_flange": 100},
        bars=[{"bars": "3 x 20 mm", "depth": 400, "material": "D20"}],
        spans={span: shear, "B" if span == "A" else "A": other}, age_at_test=60,
    )  # fmt: skip
    layout = {"grids": [
        {"on": "strips", "rows": "100, 200, 300 mm", "faces": ["front"], "name": "S{strip}F{row}"},
        {"on": "stirrups", "rows": "200 mm", "name": "W{stirrup}"},
    ]}  # fmt: skip
    made = single_beam(specimen, with_fibre)
    test = Test(specimen="X1", layout="l", studied=span)
    return replace(made, rig=Rig.model_validate({"layouts": {"l": layout}}), tests={"X1": test})
