"""Beams and campaign folders the campaign tests share. All invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from cracktie.campaign.specimen import Specimen

MATERIALS = """\
concretes:
  C1: {cast: 2026-03-02, nominal: {f_c: 30 MPa}}
  C2: {cast: 2026-03-09, nominal: {f_c: 32 MPa}}
bars:
  B500: {nominal: {f_y: 500 MPa, E_s: 200 GPa}}
  S8: {diameter: 8 mm, nominal: {f_y: 500 MPa}}
frp_systems:
  CF:
    fibre: carbon
    form: sheet
    thickness: 0.167 mm
    convention: fibre
    mean: {E_f: 230 GPa, f_fu: 3500 MPa}
adhesives:
  epoxy: {E_a: 3 GPa}
anchor_fibres:
  tow: {fibre: carbon, mean: {E_f: 230 GPa, f_fu: 3500 MPa}}
"""

SPECIMENS = """\
specimens:
  REF:
    batch: C1
    section: {b_w: 200 mm, h: 400 mm}
    bars:
      - {bars: 3 x 20 mm, depth: 350 mm, material: B500}
    between_loads: 600 mm
    spans:
      A: {length: 900 mm, stirrups: {material: S8, spacing: 300 mm, first: 100 mm}}
      B: {length: 900 mm, stirrups: {material: S8, spacing: 150 mm}}
  U1:
    like: REF
    batch: C1
    spans:
      A:
        wrap: {system: CF, scheme: u, layout: strips, width: 60 mm, spacing: 120 mm, first: 150 mm, adhesive: epoxy}
  S1:
    like: U1
    batch: C2
    spans:
      A:
        wrap: {top_edge: 380 mm}
        anchors:
          fibre: tow
          host: web
          z: 320 mm
          bend_angle: 90 deg
          embedment: 60 mm
          dowel_diameter: 10 mm
          hole_diameter: 14 mm
          fibre_area: 40 mm2
          fan: {length: 150 mm, angle: 60 deg}
"""


def beam(**changes: Any) -> Specimen:
    """A plain beam of two equal shear spans of 900 mm with 600 mm between the loads."""
    made: dict[str, Any] = {
        "id": "B1",
        "section": {"b_w": 200, "h": 400},
        "bars": [{"bars": "3 x 20 mm", "depth": 350, "material": "B500"}],
        "between_loads": 600,
        "spans": {"A": {"length": 900}, "B": {"length": 900}},
    }
    return Specimen.model_validate(made | changes)


def folder(place: Path, **files: str) -> Path:
    """A campaign folder; file names are given without '.yaml', None leaves one out."""
    texts: dict[str, str | None] = {"materials": MATERIALS, "specimens": SPECIMENS}
    place.mkdir(parents=True, exist_ok=True)
    for name, text in (texts | files).items():
        if text is not None:
            (place / f"{name}.yaml").write_text(text, encoding="utf-8", newline="")
    return place
