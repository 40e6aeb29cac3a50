"""Real machine logs from the file to the material: values a careful engineer reads off them, and the faults found.

LebeDigital (Bundesanstalt für Materialforschung und -prüfung) and CCFatiguePlatform (EPFL), MIT licences beside the
files. Numbers called 'read' were taken from the listing of the file with a text editor; nothing here was printed by
the code under test. Sizes that are not in the files are assumed and say so.
"""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from cracktie.actions import open_campaign

from .test_coupon_files import campaign_folder, problems

LOGS = Path(__file__).parents[1] / "data" / "logs"
CONCRETE = {"nominal: {f_c: 30 MPa}}": "nominal: {f_c: 30 MPa}, from: coupons/c.yaml}"}
EPOXY = {"epoxy: {E_a: 3 GPa}": "epoxy: {from: coupons/c.yaml}"}
ANCHORS = {"adhesives:\n": "anchors_tested:\n  AT: {from: coupons/c.yaml}\nadhesives:\n"}


def folder(tmp_path: Path, edits: dict[str, str], listed: str, log: str) -> Path:
    made = campaign_folder(tmp_path, edits, c_yaml="")
    (made / "coupons" / "c.yaml").write_text(listed, encoding="utf-8")
    shutil.copy(LOGS / log, made / "coupons" / log)
    return made


def warnings(campaign) -> list[str]:
    return [str(w) for w in campaign.warnings if w.file == "coupons/c.yaml"]


MODULUS = """\
what: cylinder modulus
encoding: cp1252
force: Ch 1 Kraft
transducers: ["1944 B", "1281068", "2157"]
base_length: 100 mm
lower_stress: 4 MPa
upper_stress: 16 MPa
diameter: 98.5 mm
length: 300.2 mm
mass: 5428.5 g
age: 28 d
specimens:
  V4: {log: bam_emod_V4.dat}
"""


def by_eye() -> float:
    """Lines 516 and 566 of bam_emod_V4.dat, read: -30.425356 and -122.23009 kN; transducers -0.014173673, -0.013326561,
    -0.014406309 and -0.048629582, -0.044918813, -0.050093845 mm; base length assumed 100 mm, diameter 98.5 mm."""
    stress = (122_230.09 - 30_425.356) / (math.pi * 98.5**2 / 4)
    shortening = (0.048629582 + 0.044918813 + 0.050093845 - 0.014173673 - 0.013326561 - 0.014406309) / 3
    return stress * 100.0 / shortening


def test_modulus_of_a_real_cylinder(tmp_path):
    """35 526 MPa by two rows of the last loading; 5428.5 g make 2373 kg/m3, so no warning of density."""
    campaign = open_campaign(folder(tmp_path, CONCRETE, MODULUS, "bam_emod_V4.dat"))
    E_c = campaign.materials.concretes["C1"].measured.E_c
    assert by_eye() == pytest.approx(35_526, abs=1)
    assert E_c == pytest.approx(by_eye(), rel=0.015)
    assert 0.01 < E_c.u / E_c < 0.08
    notes = campaign.coupons["concretes.C1"].notes
    assert any("3 loadings" in n for n in notes)
    assert any("put into place until 124.5 s" in n for n in notes)
    assert warnings(campaign) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("Ch 1 Kraft", "Ch 1 Weg", "does not measure a force"),  # a wrong column with a unit
        ('"2157"', '"1944 A"', "has no column '1944 A'"),
        ("base_length", "transducer_unit: um\nbase_length", "E_c = "),  # a thousand times too stiff
        ("base_length", "force_unit: N\nbase_length", "no loading branch"),  # a thousand times too weak
        ("base_length: 100 mm", "base_length: 300.2 mm", "E_c = 1.0"),  # the length of the specimen
        ("base_length", "start: 34 s\nbase_length", "start after 124.55 s"),  # zero before the transducers were seated
        ("diameter: 98.5 mm", "diameter: 985 mm", "no loading branch"),
    ],
)
def test_slips_with_the_cylinder_are_refused(tmp_path, old, new, said):
    found = problems(folder(tmp_path, CONCRETE, MODULUS.replace(old, new, 1), "bam_emod_V4.dat"))
    assert any(said in text for text in found), found


def test_the_stroke_of_the_machine_among_the_transducers_is_noticed(tmp_path):
    """Platens and machine give way too: the stroke is several times the shortening over 100 mm."""
    text = MODULUS.replace('"2157"', '"Ch 1 Weg"')
    told = warnings(open_campaign(folder(tmp_path, CONCRETE, text, "bam_emod_V4.dat")))
    assert any("transducers differ by" in w for w in told), told


def test_twice_the_base_length_is_noticed(tmp_path):
    text = MODULUS.replace("base_length: 100 mm", "base_length: 200 mm")
    told = warnings(open_campaign(folder(tmp_path, CONCRETE, text, "bam_emod_V4.dat")))
    assert any("is outside the usual 12 to 55 GPa; check base length" in w for w in told), told


def test_modulus_by_a_standard(tmp_path):
    """f_c = 45 MPa assumed: EN 12390-13 B from 6.75 to 15 MPa (0.15 and 1/3 of it), within 3 % of the rows read."""
    text = MODULUS.replace("lower_stress: 4 MPa\nupper_stress: 16 MPa\n", "standard: EN 12390-13 B\nstrength: 45 MPa\n")
    campaign = open_campaign(folder(tmp_path, CONCRETE, text, "bam_emod_V4.dat"))
    assert campaign.materials.concretes["C1"].measured.E_c == pytest.approx(by_eye(), rel=0.03)
    assert any("from 6.75 to 15 MPa (EN 12390-13 B" in n for n in campaign.coupons["concretes.C1"].notes)


CYLINDER = """\
what: cylinder strength
encoding: cp1252
force: Ch 1 Kraft
diameter: 100 mm
length: 298.6 mm
mass: 5328 g
age: 28 d
specimens:
  w2: {log: bam_wolf2.dat}
"""


def test_strength_of_a_real_cylinder(tmp_path):
    """354.12192 kN kept by the controller (line 15, read): 4 x 354 121.92/(pi 100^2) = 45.09 MPa."""
    campaign = open_campaign(folder(tmp_path, CONCRETE, CYLINDER, "bam_wolf2.dat"))
    (test,) = campaign.materials.concretes["C1"].strength
    assert f"{test.f_c:.2f}" == "45.09"
    assert test.shape == "cylinder"
    assert any("length over diameter 2.99 is above 2.2" in n for n in campaign.coupons["concretes.C1"].notes)
    assert warnings(campaign) == []


def test_faults_of_the_typed_data(tmp_path):
    """Height typed as 98.6 mm: shorter than wide, refused. Day typed 27.02.2015, machine 28.01.2015 (line 12)."""
    found = problems(folder(tmp_path, CONCRETE, CYLINDER.replace("298.6", "98.6"), "bam_wolf2.dat"))
    assert any("length over diameter is 0.986" in text for text in found), found
    other = tmp_path / "day"
    other.mkdir()
    text = CYLINDER.replace("age: 28 d", "age: 28 d\ntested: 2015-02-27").replace("cp1252", "cp1252")
    made = folder(other, {**CONCRETE, "cast: 2026-03-02": "cast: 2015-01-30"}, text, "bam_wolf2.dat")
    told = warnings(open_campaign(made))
    assert any("tested on 2015-02-27 as stated, but the log says 2015-01-28" in w for w in told), told


def test_the_set_point_is_not_the_force(tmp_path):
    """The controller asks for more until the end (356.15 kN in the last row); the specimen broke at 354.12 kN."""
    text = CYLINDER.replace("force: Ch 1 Kraft", "force: Ch 1 Kraft Sollwert")
    told = warnings(open_campaign(folder(tmp_path, CONCRETE, text, "bam_wolf2.dat")))
    assert any("the last one: the record holds no failure, or this is not the force" in w for w in told), told


def test_a_unit_against_the_file_is_told(tmp_path):
    text = CYLINDER.replace("diameter: 100", "force_unit: N\ndiameter: 100")
    found = problems(folder(tmp_path, CONCRETE, text, "bam_wolf2.dat"))
    assert any("taken in N as stated, although the file says kN" in t for t in found), found
    assert any("f_c = 0.04509 MPa is not between" in t for t in found), found


def test_strength_of_a_real_cube(tmp_path):
    """1317.4683 kN kept (line 17, read) on 150 x 150 mm: 58.55 MPa; 7784 g over 146.2 mm: 2366 kg/m3."""
    text = (
        "what: cube strength\nencoding: cp1252\nforce: Ch 1 Prüfkraft\nwidth: 150 mm\ndepth: 150 mm\n"
        "length: 146.2 mm\nmass: 7784 g\nage: 28 d\nspecimens:\n  W04: {log: bam_cube_M01_W04.dat}\n"
    )
    campaign = open_campaign(folder(tmp_path, CONCRETE, text, "bam_cube_M01_W04.dat"))
    (test,) = campaign.materials.concretes["C1"].strength
    assert (f"{test.f_c:.2f}", test.shape) == ("58.55", "cube 150")
    notes = campaign.coupons["concretes.C1"].notes
    assert any("peak kept by the controller, 0.2 % above that of the log" in n for n in notes)
    assert warnings(campaign) == []


LIU = "TST_Liu_2021-12_QS_TST_2021-12_QS_001.csv"
ADHESIVE = f"""\
what: adhesive tension
force: Machine_Load
force_unit: N
strain: eyy--1
strain_unit: "-"
area: 25 mm2
specimens:
  e1: {{log: {LIU}}}
"""


def liu(level: float, before: tuple[float, float], after: tuple[float, float]) -> float:
    """Force at a strain between two rows (strain, force)."""
    (e1, f1), (e2, f2) = before, after
    return f1 + (level - e1) / (e2 - e1) * (f2 - f1)


def test_a_real_epoxy_coupon(tmp_path):
    """Rows 10 to 11 and 34 to 35 read: (0.000467147, 22.928078), (0.000574927, 30.079173), (0.00245405, 112.510048) and
    (0.00251861, 117.438506): 90.91 N over 2000 um/m; largest force 1131.735736 N (line 429). The area of 25 mm2 is
    assumed. The record is bent at its start: the slope more than doubles between 500 and 10 000 um/m, and it is told.
    """
    low = liu(500e-6, (0.000467147, 22.928078), (0.000574927, 30.079173))
    high = liu(2500e-6, (0.00245405, 112.510048), (0.00251861, 117.438506))
    campaign = open_campaign(folder(tmp_path, EPOXY, ADHESIVE, LIU))
    epoxy = campaign.materials.adhesives["epoxy"]
    assert epoxy.E_a == pytest.approx((high - low) / 25.0 / 2000e-6, rel=1e-6)
    assert epoxy.f_t == pytest.approx(1131.735736 / 25.0)
    assert any("the record is not straight" in w for w in warnings(campaign)), warnings(campaign)


def test_a_straight_part_of_the_epoxy_coupon(tmp_path):
    """From 5000 to 9000 um/m the slope holds. Rows 107, 108, 246 and 247 read: 339.6 N over 4000 um/m, 84.9 kN."""
    low = liu(5000e-6, (0.00497132, 295.42674), (0.00500192, 301.62758))
    high = liu(9000e-6, (0.00899467, 640.934445), (0.00902323, 640.241883))
    text = ADHESIVE.replace("specimens:", "lower_strain: 5000 um/m\nupper_strain: 9000 um/m\nspecimens:")
    campaign = open_campaign(folder(tmp_path, EPOXY, text, LIU))
    assert campaign.materials.adhesives["epoxy"].E_a * 25 == pytest.approx((high - low) / 4000e-6, rel=1e-6)
    assert not any("not straight" in w for w in warnings(campaign))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("strain: eyy--1", "strain: exx--1", "does not cover"),  # the strain across the coupon
        ("strain: eyy--1", "strain: Th_chamber", "never changes"),
        ('strain_unit: "-"', "strain_unit: um/m", "does not cover 500 um/m"),
        ("force_unit: N", "force_unit: kN", "f_t = 4.527e+04 MPa is not between"),
        ("force_unit: N\n", "", "has no unit; state it"),
    ],
)
def test_slips_with_the_epoxy_coupon_are_refused(tmp_path, old, new, said):
    found = problems(folder(tmp_path, EPOXY, ADHESIVE.replace(old, new), LIU))
    assert any(said in text for text in found), found


WANG = "TST_Wang_2020-12_QS_TST_2020-12_QS_001.csv"


@pytest.mark.parametrize(
    ("column", "largest", "swapped"), [("Machine_Displacement", 1053.527, False), ("Machine_Load", 55.96667, True)]
)
def test_swapped_columns_of_a_real_log_show(tmp_path, column, largest, swapped):
    """The machine columns of this file are swapped (our reading): what is headed as load only grows, to 55.97 in the
    last row, as a stroke does; what is headed as displacement peaks at 1053.5 and falls, as a load does."""
    text = f"what: anchor pull-out\nforce: {column}\nforce_unit: N\nmode: fan debonding\nspecimens:\n"
    text += f"  w: {{log: {WANG}}}\n"
    campaign = open_campaign(folder(tmp_path, ANCHORS, text, WANG))
    assert campaign.materials.anchors_tested["AT"].resistance == pytest.approx(largest, abs=1e-3)
    assert any("is the last one" in w for w in warnings(campaign)) == swapped
