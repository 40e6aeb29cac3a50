"""Detailing findings and derived sizes of a span with anchors, and the inputs taken from it. All beams invented."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from cracktie.anchorage.geometry import anchor_geometry
from cracktie.anchorage.inputs import anchor_inputs, anchor_places, edge_distance
from cracktie.anchorage.resistance import FAR
from cracktie.campaign.materials import Materials
from cracktie.campaign.read import read_campaign
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.detailing import Limits, detailing
from cracktie.errors import UnknownName
from cracktie.member import MissingValue

ANCHORS: dict[str, Any] = {
    "fibre": "tow",
    "host": "web",
    "z": 250,
    "embedment": 100,
    "dowel_diameter": 10,
    "hole_diameter": 12,
    "edge_radius": 10,
    "fibre_area": 40,
    "fan": {"length": 160, "angle": 40},
}
WRAP: dict[str, Any] = {
    "system": "CF",
    "scheme": "u",
    "layout": "strips",
    "width": 60,
    "spacing": 140,
    "first": 130,
    "corner_radius": 25,
    "soffit": "continuous",
}
SECTION = {"shape": "T", "b_w": 300, "h": 450, "b_flange": 700, "h_flange": 120}


def made(anchors: dict[str, Any] | None = None, wrap: dict[str, Any] | None = None, **changes: Any) -> Specimen:
    """A well-detailed T-beam, changed as told."""
    span = {"length": 1100, "wrap": WRAP | (wrap or {}), "anchors": ANCHORS | (anchors or {})}
    beam: dict[str, Any] = {
        "id": "X",
        "section": SECTION,
        "bars": [{"bars": "3 x 20 mm", "depth": 400, "material": "D20"}],
        "spans": {"A": span | changes.pop("span", {}), "B": {"length": 1100}},
        "overhang_left": 200,
        "overhang_right": 200,
    }
    return Specimen.model_validate(beam | changes)


@pytest.fixture
def sheets() -> Materials:
    return Materials.model_validate(
        {
            "bars": {"D6": {"diameter": "6 mm", "nominal": {"f_y": "400 MPa"}}},
            "frp_systems": {
                "CF": {
                    "fibre": "carbon",
                    "form": "sheet",
                    "thickness": "0.167 mm",
                    "convention": "fibre",
                    "mean": {"E_f": "230 GPa", "f_fu": "3500 MPa"},
                }
            },
            "anchor_fibres": {
                "tow": {"fibre": "carbon", "tow_area": "0.9 mm2", "mean": {"E_f": "230 GPa", "f_fu": "3500 MPa"}}
            },
        }
    )


def checks(specimen: Specimen, sheets: Materials | None) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for one in detailing(specimen, "A", sheets):
        found.setdefault(one.check, []).append(one.level)
    return found


def test_a_sound_beam_has_only_the_note_on_its_cone(sheets: Materials) -> None:
    assert checks(made(), sheets) == {"anchor spacing": ["note"]}


@pytest.mark.parametrize(
    ("anchors", "wrap", "check", "level"),
    [
        ({"embedment": 142}, {}, "opposite holes", "warning"),
        ({"embedment": 142, "back_z": 300}, {}, None, ""),
        ({"edge_radius": 8}, {}, "edge radius", "warning"),
        ({"edge_radius": None}, {}, "edge radius", "warning"),
        ({"fibre_area": 19}, {}, "AMR", "warning"),
        ({"fan": {"length": 100, "angle": 40}}, {}, "fan overlap", "warning"),
        ({"fan": {"length": 260, "angle": 40}}, {}, "fan overlap", "warning"),
        ({"fan": {"length": 160, "angle": 75}}, {}, "fan angle", "warning"),
        ({"fan": {"length": 160, "angle": 15}}, {}, "fan coverage", "warning"),
        ({"hole_diameter": 16}, {}, "hole size", "note"),
        ({"embedment": 60}, {}, "embedment", "note"),
        ({"dowel_diameter": 4, "hole_diameter": 5}, {}, "embedment", "warning"),
        ({"z": 50, "fan": {"length": 160, "angle": 40}}, {}, "edge distance", "warning"),
        ({"z": 120}, {}, "edge distance", "note"),
        ({"z": 55}, {}, "bars in the way", "warning"),
        ({}, {"width": 170, "spacing": 250}, "width for each anchor", "warning"),
        ({"per_leg": 2, "across": 40}, {}, "anchor spacing", "warning"),
        ({}, {"spacing": 170}, "strip spacing", "warning"),
        ({}, {"corner_radius": 10}, "corner radius", "warning"),
        ({}, {"corner_radius": 15}, "corner radius", "note"),
        ({}, {"corner_radius": None}, "corner radius", "note"),
    ],
)
def test_each_check(anchors: Any, wrap: Any, check: str | None, level: str, sheets: Materials) -> None:
    found = checks(made(anchors, wrap), sheets)
    if check is None:
        assert "opposite holes" not in found
    else:
        assert level in found.get(check, []), found


def test_every_finding_has_words_units_and_a_source(sheets: Materials) -> None:
    bad = made(
        {"embedment": 142, "edge_radius": 2, "fibre_area": 10, "fan": {"length": 90, "angle": 80}},
        {"corner_radius": 5, "spacing": 190},
        span={"stirrups": {"material": "D6", "spacing": 190, "first": 136}},
    )
    found = detailing(bad, "A", sheets)
    assert len({f.check for f in found}) >= 8
    for one in found:
        assert one.words
        assert one.source
        assert one.level in ("warning", "note")
        if one.unit not in ("-",):
            assert one.unit in one.words


def test_limits_are_editable(sheets: Materials) -> None:
    assert not any(f.check == "AMR" for f in detailing(made(), "A", sheets))
    strict = detailing(made(), "A", sheets, limits=Limits(amr=6.0))
    (one,) = [f for f in strict if f.check == "AMR"]
    assert (one.value, one.limit) == (pytest.approx(40.0 / (0.167 * 60.0)), 6.0)


def test_without_materials_it_says_what_was_not_checked() -> None:
    found = detailing(made(), "A")
    assert any(f.check == "not checked" and "AMR" in f.words for f in found)


def test_spans_without_anchors_or_wrap() -> None:
    plain = made(span={"anchors": None})
    assert detailing(plain, "A") == []
    assert detailing(plain, "B") == []
    with pytest.raises(UnknownName, match="no span 'C'"):
        detailing(plain, "C")
    with pytest.raises(MissingValue, match="no anchors"):
        anchor_geometry(plain, "A")


def test_derived_sizes_by_hand(sheets: Materials) -> None:
    stirrups = {"stirrups": {"material": "D6", "spacing": 140, "first": 150}}
    found = anchor_geometry(made(span=stirrups), "A", sheets)
    assert found.amr == pytest.approx(40.0 / (0.167 * 60.0))
    assert found.hole_ratio == pytest.approx(1.2)
    assert found.area_hole == pytest.approx(1.44)
    assert found.tips == pytest.approx(300 - 2 * 100)
    assert found.stirrup == pytest.approx(20 - (12 + 6) / 2)
    assert found.bar == pytest.approx(250 - 50 - (12 + 20) / 2)
    assert found.edge == pytest.approx(250)
    assert found.spacing == pytest.approx(140)
    assert found.fan_width == pytest.approx(320 * math.tan(math.radians(20)))
    assert found.covered == 1.0
    assert found.below_fan == pytest.approx(250)
    assert found.beyond == pytest.approx(200)


def test_amr_counts_every_anchor_and_weighs_unlike_fibres(sheets: Materials) -> None:
    two = anchor_geometry(made({"per_leg": 2, "across": 30, "fibre_area": None, "tows": 20}), "A", sheets)
    assert two.amr == pytest.approx(2 * 20 * 0.9 / (0.167 * 60.0))
    glass = sheets.model_copy(
        update={
            "anchor_fibres": {
                "tow": sheets.anchor_fibres["tow"].model_validate(
                    {"fibre": "glass", "mean": {"E_f": "73 GPa", "f_fu": "1750 MPa"}}
                )
            }
        }
    )
    assert anchor_geometry(made(), "A", glass).amr == pytest.approx(0.5 * 40.0 / (0.167 * 60.0))


@pytest.mark.parametrize(("bend", "rise"), [(45.0, 1.0), (135.0, -1.0)])
def test_inclined_dowels_run_up_or_down(bend: float, rise: float, sheets: Materials) -> None:
    """45 deg points to the free end (up), 135 deg back down: only the latter nears the bars."""
    found = anchor_geometry(made({"bend_angle": bend, "z": 130}), "A", sheets)
    low = 130.0 + min(0.0, rise * 100 * math.sqrt(0.5))
    assert found.bar == pytest.approx(max(low - 50.0, 0.0) - (12 + 20) / 2)
    assert found.tips == pytest.approx(300 - (200 + 12) * math.sqrt(0.5))


def test_flange_hosts(sheets: Materials) -> None:
    flange = made({"host": "flange", "z": 330, "bend_angle": 0, "embedment": 105})
    found = anchor_geometry(flange, "A", sheets)
    assert found.tips is None
    assert found.beyond == pytest.approx(15)
    assert edge_distance(flange, "A") == pytest.approx(200)
    assert any(f.check == "far face" for f in detailing(flange, "A", sheets))
    box = made({"host": "flange"}, section={"b_w": 300, "h": 450})
    assert any("without flange" in f.words for f in detailing(box, "A", sheets))


def test_places_and_edges(sheets: Materials) -> None:
    two = made({"per_leg": 2, "across": 30, "strips": [1, 3]})
    assert anchor_places(two, "A") == pytest.approx([115, 145, 395, 425])
    box = made(
        {"z": 400}, section={"b_w": 300, "h": 450}, bars=[{"bars": "3 x 20 mm", "depth": 400, "material": "D20"}]
    )
    assert edge_distance(box, "A") == pytest.approx(50)
    short = made(overhang_left=0, wrap={"first": 60})
    assert edge_distance(short, "A") == pytest.approx(60)


FILES = {
    "materials": """\
concretes:
  C1: {nominal: {f_c: 30 MPa}}
bars:
  B500: {nominal: {f_y: 500 MPa}}
frp_systems:
  CF: {fibre: carbon, form: sheet, thickness: 0.167 mm, convention: fibre, mean: {E_f: 230 GPa, f_fu: 3500 MPa},
       guaranteed: {E_f: 230 GPa, f_fu: 3300 MPa}}
adhesives:
  paste: {bond_strength: 14 MPa}
anchor_fibres:
  tow: {fibre: carbon, tow_area: 0.9 mm2, mean: {E_f: 230 GPa, f_fu: 3600 MPa},
        guaranteed: {E_f: 225 GPa, f_fu: 3100 MPa}}
""",
    "specimens": """\
specimens:
  S1:
    batch: C1
    section: {b_w: 200 mm, h: 400 mm}
    bars: [{bars: 3 x 20 mm, depth: 350 mm, material: B500}]
    overhang_left: 150 mm
    overhang_right: 150 mm
    spans:
      B: {length: 900 mm}
      A:
        length: 900 mm
        wrap: {system: CF, scheme: u, layout: strips, width: 60 mm, spacing: 120 mm, first: 150 mm}
        anchors:
          fibre: tow
          adhesive: paste
          host: web
          z: 320 mm
          embedment: 60 mm
          dowel_diameter: 10 mm
          hole_diameter: 14 mm
          tows: 40
          fan: {length: 150 mm, angle: 60 deg}
""",
    "observations": """\
specimens:
  S1:
    anchors:
      1F: {hole_diameter: 13 mm, depth: 62 mm, bend_angle: 88 deg, edge_radius: 9 mm}
      1B: {hole_diameter: 14 mm, depth: 64 mm}
""",
}


@pytest.fixture
def campaign(tmp_path: Path) -> Campaign:
    for name, text in FILES.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return read_campaign(tmp_path)


def test_inputs_from_a_campaign(campaign: Campaign) -> None:
    nominal = anchor_inputs(campaign, "S1", "A", choice="nominal")
    wanted = {
        "h_ef": 60.0, "d_a": 10.0, "d_0": 14.0, "A_a": 36.0, "f_fa": 3600.0, "E_fa": 230e3, "theta_b": 90.0,
        "fan_angle": 60.0, "l_fan": 150.0, "w_a": 60.0, "f_c": 30.0, "tau_a": 14.0, "n_a": 7, "s_a": 120.0,
        "c_edge": 80.0, "r_edge": None, "host": "web", "fan_form": "one_way",
    }  # fmt: skip
    assert {n: nominal.values[n] for n in wanted} == wanted
    assert all(nominal.sources[n] for n in wanted)
    assert anchor_inputs(campaign, "S1", "A", choice="characteristic").values["f_fa"] == 3100.0


def test_installation_records_replace_nominal_sizes(campaign: Campaign) -> None:
    built = anchor_inputs(campaign, "S1", "A")
    assert built.values["h_ef"] == 63.0
    assert built.values["d_0"] == 13.5
    assert built.values["theta_b"] == 88.0
    assert built.values["r_edge"] == 9.0
    assert "mean of 2 anchors" in built.sources["h_ef"]
    assert built.evaluate().F_u > 0.0


def test_a_written_resistance_is_used_and_told(tmp_path: Path) -> None:
    text = FILES["specimens"].replace("tows: 40", "tows: 40\n          resistance: 11 kN")
    for name, body in (FILES | {"specimens": text}).items():
        (tmp_path / f"{name}.yaml").write_text(body, encoding="utf-8")
    found = anchor_inputs(read_campaign(tmp_path), "S1", "A")
    assert found.resistance == 11e3
    assert any("measured resistance" in note for note in found.notes)
    assert found.evaluate().F_u == 11e3
    assert found.evaluate(resistance=None).mechanism != "measured"


def test_a_span_without_anchors_is_named(campaign: Campaign) -> None:
    with pytest.raises(MissingValue, match="S1, span B: no anchors"):
        anchor_inputs(campaign, "S1", "B")


def test_one_strip_has_no_neighbour(tmp_path: Path) -> None:
    text = FILES["specimens"].replace("first: 150 mm}", "first: 150 mm, count: 1}")
    for name, body in (FILES | {"specimens": text}).items():
        (tmp_path / f"{name}.yaml").write_text(body, encoding="utf-8")
    found = anchor_inputs(read_campaign(tmp_path), "S1", "A")
    assert (found.values["n_a"], found.values["s_a"]) == (1, FAR)
