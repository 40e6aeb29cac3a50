"""Values from coupon files: statistics by hand, thickness conventions, problems with their line, nothing written."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from cracktie.actions import open_campaign
from cracktie.errors import InputRefused
from cracktie.member import member

from .beams import MATERIALS, SPECIMENS

LOGS = Path(__file__).parents[1] / "data" / "logs"
FRP_STRENGTHS = (3890, 4010, 3765, 3955, 4120, 3840, 3990, 4065, 3910, 3875)


def campaign_folder(tmp_path: Path, edits: dict[str, str], **files: str) -> Path:
    text = MATERIALS
    for old, new in edits.items():
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "coupons").mkdir()
    (tmp_path / "materials.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "specimens.yaml").write_text(SPECIMENS, encoding="utf-8")
    for name, content in files.items():
        (tmp_path / "coupons" / name.replace("_yaml", ".yaml").replace("_csv", ".csv")).write_text(content)
    return tmp_path


def problems(folder: Path) -> list[str]:
    with pytest.raises(InputRefused) as caught:
        open_campaign(folder)
    return [str(p) for p in caught.value.problems]


C1 = {"nominal: {f_c: 30 MPa}}": "nominal: {f_c: 30 MPa}, from: coupons/cyl.csv}"}
CYL = """\
specimen, age [d], diameter [mm], length [mm], force [kN], excluded
c1, 28, 150, 300, 530,
c2, 28, 150, 300, 545,
c3, 28, 150, 300, 300, badly capped
c4, 90, 100, 200, 270 +- 2.7,
k1, 90, , , ,
"""


def test_cylinders_by_age(tmp_path):
    folder = campaign_folder(tmp_path, C1, cyl_csv=CYL)
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    campaign = open_campaign(folder)
    young, old = campaign.materials.concretes["C1"].strength
    one, two = (4 * P / (math.pi * 150**2) for P in (530e3, 545e3))
    assert young.n == 2
    assert young.f_c == pytest.approx((one + two) / 2)
    assert young.f_c.u == pytest.approx(abs(two - one) / 2)  # s/sqrt(2) of two values is half their distance
    assert (old.age, old.shape, old.n) == (90.0, "cylinder 100x200", 1)
    assert old.f_c == pytest.approx(4 * 270e3 / (math.pi * 100**2))
    assert old.f_c.u == pytest.approx(0.01 * old.f_c)
    assert campaign.coupons["concretes.C1"].left_out == {"c3": "badly capped"}
    assert set(campaign.sources) >= {"coupons/cyl.csv"}
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


def test_a_member_takes_the_computed_strength(tmp_path):
    folder = campaign_folder(tmp_path, C1, cyl_csv=CYL.replace("100, 200, 270 +- 2.7", "150, 300, 600"))
    found = member(open_campaign(folder), "REF", "A")
    assert found.values["f_c"] == pytest.approx(4 * 600e3 / (math.pi * 150**2))
    assert "cylinders at 90 d" in found.sources["f_c"]


def test_force_per_width_does_not_know_a_thickness(tmp_path):
    """The same coupons in both conventions: other stresses, same force and stiffness per width."""
    head = "specimen, width [mm], max_force [kN], stiffness_per_width [N/mm]\n"
    rows = "".join(f"f{i}, 25.1, {14.35 + 0.1 * i}, 37689\n" for i in range(4))
    mean = "    mean: {E_f: 230 GPa, f_fu: 3500 MPa}\nadhesives"
    edits = {mean: "    from: coupons/frp.csv\nadhesives"}
    by_fibre = open_campaign(campaign_folder(tmp_path, edits, frp_csv=head + rows))
    other = tmp_path / "other"
    other.mkdir()
    edits |= {"thickness: 0.167 mm": "thickness: 1.0 mm", "convention: fibre": "convention: laminate"}
    by_laminate = open_campaign(campaign_folder(other, edits, frp_csv=head + rows))
    (t1, one), (t2, two) = (
        (c.materials.frp_systems["CF"].thickness, c.materials.frp_systems["CF"].mean) for c in (by_fibre, by_laminate)
    )
    assert one.E_f == pytest.approx(37689 / 0.167)
    assert two.E_f == pytest.approx(37689)
    assert one.f_fu * t1 == pytest.approx(two.f_fu * t2)
    p = [c.coupons["frp_systems.CF"].summary("force_per_width") for c in (by_fibre, by_laminate)]
    assert p[0] == p[1]


def test_characteristic_values_of_ten_strips(tmp_path):
    """Ten strengths of mean 3942 MPa and s = 107.4 MPa: mean - 3 s = 3620, fractile with V_X = 0.10 3185 (k_10 = 1.92).

    k_n of EN 1990:2002 Table D1 and the floor of D.7.1 from memory; the arithmetic by hand.
    """
    rows = "".join(f"f{i}, {x}, 230, 0.167, gauge\n" for i, x in enumerate(FRP_STRENGTHS))
    table = "specimen, f_fu [MPa], E_f [GPa], thickness [mm], failure\n" + rows + "bad, 2000, 230, 0.167, grip\n"
    edits = {"    mean: {E_f: 230 GPa, f_fu: 3500 MPa}\nadhesives": "    from: coupons/frp.csv\nadhesives"}
    campaign = open_campaign(campaign_folder(tmp_path, edits, frp_csv=table))
    system, coupons = campaign.materials.frp_systems["CF"], campaign.coupons["frp_systems.CF"]
    assert f"{system.mean.f_fu:.0f}" == "3942"
    assert f"{coupons.summary('force_per_width').guaranteed / 0.167:.0f}" == "3620"
    assert f"{system.characteristic.f_fu:.0f}" == "3185"
    assert system.guaranteed is None
    assert any("no guaranteed value is taken from 10 coupons" in note for note in coupons.notes)
    assert list(coupons.left_out) == ["bad"]


def test_characteristic_value_with_a_known_scatter(tmp_path):
    """V_X known as 0.05: k_10 = 1.72 (EN 1990 Table D1, from memory), 3942 (1 - 1.72 x 0.05) = 3603 MPa, by hand.

    One coupon is enough then: 3890 (1 - 2.31 x 0.05) = 3441 MPa.
    """
    known = "known_cv: 5 %\n    known_cv_source: earlier tests\n    from: coupons/frp.csv\nadhesives"
    edits = {"    mean: {E_f: 230 GPa, f_fu: 3500 MPa}\nadhesives": f"    {known}"}
    for count, value in ((10, "3603"), (1, "3441")):
        rows = "".join(f"f{i}, {x}, 230, 0.167, gauge\n" for i, x in enumerate(FRP_STRENGTHS[:count]))
        place = tmp_path / str(count)
        place.mkdir()
        table = "specimen, f_fu [MPa], E_f [GPa], thickness [mm], failure\n" + rows
        campaign = open_campaign(campaign_folder(place, edits, frp_csv=table))
        assert f"{campaign.materials.frp_systems['CF'].characteristic.f_fu:.0f}" == value
        assert any("V_X known as 0.05 (earlier tests)" in n for n in campaign.coupons["frp_systems.CF"].notes)


def test_a_known_scatter_needs_its_source(tmp_path):
    mean = "mean: {E_f: 230 GPa, f_fu: 3500 MPa}\nadhesives"
    edits = {mean: mean.replace("adhesives", "    known_cv: 5 %\nadhesives")}
    assert any("needs known_cv_source" in text for text in problems(campaign_folder(tmp_path, edits)))


def test_bars_on_the_nominal_area(tmp_path):
    edits = {"S8: {diameter: 8 mm, nominal: {f_y: 500 MPa}}": "S8: {diameter: 8 mm, from: coupons/bars.csv}"}
    table = "specimen;yield_force [kN];max_force [kN];E_s [GPa];A_gt [%]\ns1;26;31;200;8\ns2;27;32;202;9\n"
    bar = open_campaign(campaign_folder(tmp_path, edits, bars_csv=table)).materials.bars["S8"].measured
    assert bar.f_y == pytest.approx(26500 / (math.pi * 16))
    assert bar.f_y.u == pytest.approx(500 / (math.pi * 16))
    assert bar.A_gt == pytest.approx(0.085)
    assert bar.E_s == pytest.approx(201e3)


def test_real_logs_of_a_machine(tmp_path):
    """1317.4683 kN kept by the controller (the log's own largest is 1314.736 kN) on 150 x 146.2 mm: 60.08 MPa."""
    listed = "what: cube strength\nforce: Ch 1 Prüfkraft\nencoding: cp1252\nspecimens:\n"
    listed += "  W04: {log: raw/bam_cube_M01_W04.dat, width: 150 mm, depth: 146.2 mm, age: 28 d, shape: cube 150}\n"
    folder = campaign_folder(tmp_path, {
        "nominal: {f_c: 30 MPa}}": "nominal: {f_c: 30 MPa}, from: coupons/cubes.yaml}"})  # fmt: skip
    (folder / "coupons" / "cubes.yaml").write_text(listed, encoding="utf-8")
    (folder / "coupons" / "raw").mkdir()
    shutil.copy(LOGS / "bam_cube_M01_W04.dat", folder / "coupons" / "raw")
    campaign = open_campaign(folder)
    (test,) = campaign.materials.concretes["C1"].strength
    assert f"{test.f_c:.3f}" == "60.076"
    assert test.f_c.u == pytest.approx(0.01 * test.f_c)
    assert "coupons/raw/bam_cube_M01_W04.dat" in campaign.sources


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "coupons/cyl.csv: holds no coupon"),
        ("specimen, f_c [MPa], age\nc1, 30, 28\n", "coupons/cyl.csv:2:3: age = '28': the unit is missing"),
        ("specimen, f_k [MPa]\nc1, 30\n", "coupons/cyl.csv:1:2: f_k [MPa]: unknown column; did you mean 'f_c'?"),
        ("specimen, f_c [kN]\nc1, 30\n", "does not measure a stress or modulus"),
        ("f_c [MPa]\n30\n", "there is no column specimen"),
        (
            "# remark\n\nspecimen, age [d], f_c [MPa], shape\nc1, 28, thirty, core\n",
            "coupons/cyl.csv:4:3: f_c = 'thirty'",
        ),
        ("specimen, f_c [MPa], shape\nc1, 30, core\n", "coupons/cyl.csv:2: c1: the age is missing"),
        ("specimen, age [d], f_c [MPa]\nc1, 28, 30\n", "coupons/cyl.csv:2: c1: the shape '' is not known"),
        ("specimen, age [d], force [kN]\nc1, 28, 30\n", "the force needs a diameter"),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, -3, core\n", "a positive number is needed"),
        ("specimen, age [d], f_c [MPa]\nc1, 28, 30,5\n", "1 more filled cells than headers"),
        ("specimen, age [d], f_c [MPa]\nc1, 28, 30\nc1, 28, 31\n", "coupons/cyl.csv:3: c1: the specimen stands twice"),
        ("specimen, f_c [MPa], excluded\nc1, 30, cracked\n", "no specimen counts"),
    ],
)
def test_problems_with_their_place(tmp_path, table, said):
    found = problems(campaign_folder(tmp_path, C1, cyl_csv=table))
    assert any(said in text for text in found), found


def test_two_truths_are_refused(tmp_path):
    edits = {"S8: {diameter: 8 mm,": "S8: {diameter: 8 mm, from: coupons/bars.csv, measured: {f_y: 540 MPa},"}
    found = problems(campaign_folder(tmp_path, edits, bars_csv="specimen, f_y [MPa]\ns1, 541\n"))
    (line,) = [n for n, text in enumerate((tmp_path / "materials.yaml").read_text().splitlines(), 1) if "S8:" in text]
    assert any(
        text.startswith(f"materials.yaml:{line}:") and "computed from coupons/bars.csv" in text for text in found
    )


@pytest.mark.parametrize(
    ("listed", "said"),
    [
        ("what: bar tension\nforce: F\nspecimens: {a: {log: raw/a.csv}}\n", "belongs to bars, not to concretes"),
        ("what: cube strength\nspecimens: {a: {log: raw/a.csv}}\n", "name the column of the force"),
        ("what: cube strength\nforce: F\nspecimens: {a: {log: raw/a.csv}}\n", "coupons/c.yaml:3:"),
        ("what: cube\nforce: F\nspecimens: {a: {log: raw/a.csv}}\n", "none of the possible words"),
        ("- 1\n", "the file must hold"),
    ],
)
def test_problems_of_listed_logs(tmp_path, listed, said):
    edits = {"nominal: {f_c: 30 MPa}}": "nominal: {f_c: 30 MPa}, from: coupons/c.yaml}"}
    found = problems(campaign_folder(tmp_path, edits, c_yaml=listed))
    assert any(said in text for text in found), found


@pytest.mark.parametrize(
    ("size", "u"), [("diameter: 10 mm, u_size: 0.2 mm", 0.05), ("area: 78.5 mm2, u_size: 0.2 mm", 0.03)]
)
def test_measured_diameter_of_a_bar_is_in_its_uncertainty(tmp_path, size, u):
    """Force 3 %, diameter 0.2 of 10 mm: 4 % of the area, 5 % in all; a stated area is taken as nominal."""
    from cracktie.campaign.coupon_logs import read_logs

    strain = [i * 1e-4 for i in range(200)]
    rows = [f"{min(200e3 * e, 500 + 1000 * (e - 0.0025)) * 78.54 / 1000:.6f},{e * 1e6:.1f}" for e in strain]
    (tmp_path / "b.csv").write_text("\n".join(["F [kN],e [um/m]", *rows]) + "\n")
    (tmp_path / "b.yaml").write_text(
        "what: bar tension\nforce: F\nstrain: e\nu_force: 0.03\nspecimens:\n  b: {log: b.csv, " + size + "}\n"
    )
    found, problems = read_logs(tmp_path / "b.yaml", "b.yaml", "bars", lambda _: True)
    assert not [p for p in problems if p.level == "error"]
    f_u = found[0].values["R_m"]
    assert f_u.u / f_u == pytest.approx(u)
