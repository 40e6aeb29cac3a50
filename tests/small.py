"""A campaign of two beams and two tests on disk, small enough to be run in a second; numbers of our own."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

CAMPAIGN = """\
cracktie: 1
title: Two beams
guideline_sets: [aci14_440, ec2_04]
references: {control: {group: REF}}
"""
MATERIALS = """\
concretes: {C1: {nominal: {f_c: 30 MPa}, weight: 25 kN/m3}}
bars: {D20: {nominal: {f_y: 500 MPa}}, D8: {diameter: 8 mm, nominal: {f_y: 400 MPa}}}
frp_systems:
  CF: {fibre: carbon, form: sheet, thickness: 0.167 mm, convention: fibre, mean: {E_f: 230 GPa, f_fu: 3500 MPa}}
"""
SPECIMENS = """\
specimens:
  REF:
    batch: C1
    section: {b_w: 200 mm, h: 400 mm}
    bars: [{bars: 3 x 20 mm, depth: 350 mm, material: D20}]
    overhang_left: 200 mm
    overhang_right: 200 mm
    spans:
      A: {length: 1000 mm, stirrups: {material: D8, spacing: 300 mm}}
      B: {length: 1500 mm}
  U1:
    like: REF
    batch: C1
    spans: {A: {wrap: {system: CF, scheme: u, layout: strips, width: 60 mm, spacing: 120 mm, first: 120 mm}}}
"""
RIG = """\
setups:
  one:
    supports: [{x: 0 mm}, {x: 2500 mm}]
    loads: [{x: 1000 mm}]
    weight: 2 kN
    weight_in_cell: false
    cell_uncertainty: 0.4 %
layouts:
  all:
    channels:
      - {name: P, quantity: load, unit: kN, at: load}
      - {name: D, quantity: displacement, unit: mm, at: load, uncertainty: 0.02 mm}
"""
TESTS = """\
tests:
  REF: {specimen: REF, setup: one, layout: all, logs: [logs/REF.csv], outcome: shear in studied span}
  U1: {specimen: U1, setup: one, layout: all, logs: [logs/U1.csv], outcome: shear in studied span}
"""


def log(peak: float, heading: str = "") -> str:
    """20 s of rest, a rise to `peak` kN and 9 mm in 180 s, then a fall to six tenths; two readings a second."""
    rows = [f"{heading}Time [s],P [kN],D [mm]"]
    for step in range(440):
        time = 0.5 * step
        up = min(max((time - 20.0) / 180.0, 0.0), 1.0)
        load = peak * up if time <= 200.0 else 0.6 * peak
        rows.append(f"{time:.1f},{load:.4f},{9.0 * up + (0.01 * (time - 200.0) if time > 200.0 else 0.0):.4f}")
    return "\n".join(rows) + "\n"


FILES: dict[str, str | bytes] = {
    "campaign.yaml": CAMPAIGN,
    "materials.yaml": MATERIALS,
    "specimens.yaml": SPECIMENS,
    "rig.yaml": RIG,
    "tests.yaml": TESTS,
    "logs/REF.csv": log(150.0),
    "logs/U1.csv": log(210.0),
}


def campaign(folder: Path, changes: Mapping[str, str | bytes | None] | None = None) -> Path:
    """Write the campaign; `changes` replaces files by name, None leaves one out. Returns the folder."""
    for name, content in {**FILES, **(changes or {})}.items():
        if content is None:
            continue
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return folder


def hashes(folder: Path, *, out: bool) -> dict[str, str]:
    """SHA-256 by name: of the results without run.json where `out`, else of everything beside out/."""
    found = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if p.is_file()}
    wanted = {n: p for n, p in found.items() if n.startswith("out/") == out and n != "out/run.json"}
    return {n: hashlib.sha256(p.read_bytes()).hexdigest() for n, p in sorted(wanted.items())}
