"""`predict --mechanics` on a single beam: table, JSON, warnings, exit status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cracktie.cli import main

BEAM = """\
specimen:
  id: N1
  batch: c
  section: {shape: T, b_w: 180 mm, h: 450 mm, b_flange: 400 mm, h_flange: 100 mm}
  bars: [{bars: 3 x 20 mm, depth: 400 mm, material: d}]
  spans:
    A:
      length: 950 mm
      wrap: {system: s, scheme: u, layout: strips, width: 60 mm, spacing: 150 mm, first: 100 mm}
      anchors: {fibre: t, host: web, z: 330 mm, embedment: 70 mm, dowel_diameter: 12 mm, hole_diameter: 15 mm,
                fibre_area: 40 mm2, fan: {length: 120 mm, angle: 45 deg}}
    B: {length: 1900 mm}
materials:
  concretes: {c: {nominal: {f_c: 30 MPa}}}
  bars: {d: {nominal: {f_y: 500 MPa}}}
  frp_systems:
    s: {fibre: carbon, form: sheet, thickness: 0.167 mm, convention: fibre, mean: {E_f: 230 GPa, f_fu: 3800 MPa}}
  anchor_fibres: {t: {fibre: carbon, mean: {E_f: 230 GPa, f_fu: 3500 MPa}}}
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "beam.yaml"
    path.write_text(BEAM, encoding="utf-8")
    return path


def test_table_band_and_notice(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(file), "--mechanics"]) == 0
    out, err = capsys.readouterr()
    assert "slow loss of interlock" in out
    assert "not validated on beams with spike anchors" in out
    assert "largest shear" in out
    assert "a/d = 2.38" in err


def test_json_and_strict(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", str(file), "--mechanics", "--json", "--strict"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["kind"] == "mechanics"
    anchored = next(b for b in data["beams"] if b["anchored"])
    case = anchored["cases"][0]
    assert max(case["V"]) <= case["peaks"]["V_max"] + 1e-6
    assert len(case["w"]) == len(case["V_f"]) == len(case["V_s"]) == len(case["V_c"])
