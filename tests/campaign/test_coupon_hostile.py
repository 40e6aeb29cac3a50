"""Coupon tables as they arrive: wrong units, swapped columns, slips, dates, formulas; each told with place and fix."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from cracktie.actions import open_campaign

from .beams import SPECIMENS
from .test_coupon_files import C1, campaign_folder, problems

S8 = {"S8: {diameter: 8 mm, nominal: {f_y: 500 MPa}}": "S8: {diameter: 8 mm, from: coupons/bars.csv}"}
CF = {"    mean: {E_f: 230 GPa, f_fu: 3500 MPa}\nadhesives": "    from: coupons/frp.csv\nadhesives"}


def warnings(folder: Path) -> list[str]:
    return [str(p) for p in open_campaign(folder).warnings if p.level == "warning"]


@pytest.mark.parametrize(
    ("table", "said"),
    [
        # a load in N under a header in kN
        (
            "specimen, age [d], diameter [mm], force [kN], shape\nc1, 28, 150, 530, core\nc2, 28, 150, 530000, core\n",
            "coupons/cyl.csv:3: c2: f_c = 2.999e+04 MPa is not between 1 and 300; look for a slip",
        ),
        # kN under a header in N
        (
            "specimen, age [d], diameter [mm], length [mm], force [N]\nc1, 28, 150, 300, 530\n",
            "coupons/cyl.csv:2: c1: f_c = 0.02999 MPa is not between",
        ),
        # psi typed as MPa
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, 4350, cylinder 150x300\n", "f_c = 4350 MPa is not between"),
        # diameter and length in the wrong order
        (
            "specimen, age [d], diameter [mm], length [mm], force [kN]\nc1, 28, 300, 150, 530\n",
            "coupons/cyl.csv:2: c1: length over diameter is 0.5",
        ),
        # force and diameter in the wrong order
        (
            "specimen, age [d], force [kN], diameter [mm], length [mm]\nc1, 28, 150, 530, 300\n",
            "length over diameter is 0.566",
        ),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, 0, core\n", "coupons/cyl.csv:2:3: f_c = '0': a positive number"),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, nan, core\n", "coupons/cyl.csv:2:3: f_c = 'nan': not a number"),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, 1e999, core\n", "cyl.csv:2:3: f_c = '1e999': a positive"),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, 1e-300, core\n", "f_c = '1e-300': no coupon has such a value"),
        (
            "specimen, age [d], diameter [mm], length [mm], force [kN]\nc1, 28, 0, 300, 530\n",
            "coupons/cyl.csv:2:3: diameter = '0': a positive number is needed",
        ),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, =30+1, core\n", "coupons/cyl.csv:2:3: f_c = '=30+1': a formula"),
        ("specimen, age [d], f_c [MPa], shape\nc1, 28, #DIV/0!, core\n", "f_c = '#DIV/0!': an error of the"),
        ("specimen; age [d]; f_c [MPa]; shape\nc1; 28; 30,5; core\n", "a decimal comma is not read; write '30.5'"),
        ("specimen, age [d], f_c [MPa], shape\nC1, 28, 30, core\nc1, 28, 31, core\n", "the specimen stands twice"),
        (
            "specimen, tested, f_c [MPa], shape\nc1, 2026-02-28, 30, core\n",
            "tested on 2026-02-28, not after the cast on 2026-03-02; correct one of them",
        ),
        ("specimen, tested, f_c [MPa], shape\nc1, 30.3.2026, 30, core\n", "tested = '30.3.2026' is no date"),
        (
            "specimen, tested, age [d], f_c [MPa], shape\nc1, 2026-03-30, 90, 30, core\n",
            "age 90 d, but 28 d lie between cast (2026-03-02) and test (2026-03-30)",
        ),
        ("specimen, f_c [MPa], shape\nc1, 30, core\n", "the age is missing; add a column age [d], or tested"),
        ("specimen, note\nc1, looked good\n", "coupons/cyl.csv: gives no value for this material"),
        (
            "specimen, age [d], flexural_force [kN], span [mm], width [mm], depth [mm]\nc1, 28, 12, 300, 100, 100\n",
            "the flexural force needs how the prism was loaded",
        ),
        ("specimen, split_force [kN], diameter [mm]\nc1, 190, 150\n", "the splitting force needs diameter and length"),
    ],
)  # fmt: skip
def test_concrete_tables(tmp_path, table, said):
    found = problems(campaign_folder(tmp_path, C1, cyl_csv=table))
    assert any(said in text for text in found), found


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("specimen, f_y [MPa], f_u [MPa]\ns1, 650, 540\n", "coupons/bars.csv:2: s1: f_y is larger than f_u; look for"),
        ("specimen, R_eH [MPa], R_eL [MPa], R_m [MPa]\ns1, 520, 540, 650\n", "R_eL is larger than R_eH"),
        ("specimen, yield_force [kN], max_force [kN]\ns1, 31, 26\n", "yield_force is larger than max_force"),
        ("specimen, f_y [MPa], E_s [MPa]\ns1, 540, 200\n", "E_s = 200 MPa is not between 10000 and 400000"),
        ("specimen, f_y [MPa], A_gt [-]\ns1, 540, 7.9\n", "A_gt = 7.9 is not between 0.0005 and 0.6"),
        ("specimen, f_y [MPa], A_g [%]\ns1, 540, 6\n", "A_g needs the strength of the bar to become A_gt"),
        ("specimen, f_y [MPa], R_eH [MPa]\ns1, 540, 541\n", "both state the yield strength"),
    ],
)  # fmt: skip
def test_bar_tables(tmp_path, table, said):
    found = problems(campaign_folder(tmp_path, S8, bars_csv=table))
    assert any(said in text for text in found), found


FRP = "specimen, width [mm], max_force [kN], stiffness_per_width [N/mm], failure\n"


@pytest.mark.parametrize(
    ("table", "said"),
    [
        # a width typed as 2.51 mm: 14350/(2.51 x 37689) = 0.1517
        (FRP + "f1, 2.51, 14.35, 37689, gauge\n", "makes a strain of 151692 um/m at failure, which no FRP has"),
        (FRP + "f1, 10, 14.35, 200000, gauge\n", "E_f = 1.1976e+06 MPa is not between"),
        (FRP + "f1, 25.1, 14.35, 37.689, gauge\n", "stiffness_per_width = 37.69 N/mm is not between"),
        (FRP + "f1, 25.1, 14.35, 37689, guage\n", "the failure 'guage' is not known; possible: gauge, grip"),
        ("specimen, f_fu [MPa], E_f [GPa]\nf1, 3900, 230\n", "means nothing without the thickness it was computed on"),
        ("specimen, width [mm], max_force [kN]\nf1, 25.1, 14.35\n", "force and stiffness per width are needed"),
    ],
)  # fmt: skip
def test_frp_tables(tmp_path, table, said):
    found = problems(campaign_folder(tmp_path, CF, frp_csv=table))
    assert any(said in text for text in found), found


def test_mixed_thicknesses_are_warned_about(tmp_path):
    table = "specimen, f_fu [MPa], E_f [GPa], thickness [mm]\nf1, 3420, 225.7, 0.167\nf2, 571, 37.7, 1.0\n"
    (told,) = [w for w in warnings(campaign_folder(tmp_path, CF, frp_csv=table)) if "thickness" in w]
    assert told.startswith("coupons/frp.csv:3: f2: its thickness of 1 mm is not that of f1 (0.167 mm)")


def test_failure_codes_of_d3039(tmp_path):
    """Second letter of the code (ASTM D3039/D3039M, from memory): G gauge counts; A, I, W at the grips do not."""
    codes = {"f1": "LGM", "f2": "XGM", "f3": "LAT", "f4": "GIB", "f5": "SWT", "f6": "AMV", "f7": "gauge", "f8": "slip"}
    table = FRP + "".join(f"{id}, 25.1, 14.35, 37689, {code}\n" for id, code in codes.items())
    found = open_campaign(campaign_folder(tmp_path, CF, frp_csv=table)).coupons["frp_systems.CF"]
    assert sorted(found.left_out) == ["f3", "f4", "f5", "f6", "f8"]
    assert found.left_out["f3"] == "failed LAT, at grip, not between the grips"
    assert found.summary("force_per_width").n == 3


def test_density_shows_a_typed_size(tmp_path):
    """A real slip: 5328 g, 100 mm, height typed as 98.6 mm (298.6 mm meant): 6880 kg/m3."""
    table = "specimen, age [d], diameter [mm], length [mm], mass [g], f_c [MPa]\nw2, 28, 100, {}, 5328, 45\n"
    (told,) = [w for w in warnings(campaign_folder(tmp_path, C1, cyl_csv=table.format(98.6))) if "kg/m3" in w]
    assert told.startswith("coupons/cyl.csv:2: w2: mass and sizes make 6880 kg/m3; plain concrete has 2200 to 2500")
    other = tmp_path / "other"
    other.mkdir()
    assert not any("kg/m3" in w for w in warnings(campaign_folder(other, C1, cyl_csv=table.format(298.6))))


def test_one_coupon_says_what_it_cannot_say(tmp_path):
    table = "specimen, age [d], f_c [MPa], shape\nc1, 28, 30 +- 0.3, core\n"
    campaign = open_campaign(campaign_folder(tmp_path, C1, cyl_csv=table))
    (one,) = campaign.coupons["concretes.C1"].summaries
    assert (one.n, one.s, one.fractile, one.fractile_lognormal) == (1, None, None, None)
    assert one.u == pytest.approx(0.3)
    assert any("one specimen says nothing about scatter" in n for n in campaign.coupons["concretes.C1"].notes)


def test_too_wide_a_range_of_cylinders_is_told(tmp_path):
    """Three cylinders 150x300 may lie 7.8 % apart (ASTM C39/C39M, from memory): 30, 31, 32.5 lie 8.0 % apart."""
    table = "specimen, age [d], f_c [MPa], shape\n" + "".join(
        f"c{i}, 28, {f}, cylinder 150x300\n" for i, f in enumerate((30, 31, 32.5))
    )
    told = warnings(campaign_folder(tmp_path, C1, cyl_csv=table))
    assert any("lie 8.0 % apart, more than the 7.8 %" in w for w in told), told


def test_an_odd_result_among_the_others_is_told(tmp_path):
    """540, 545 and 390 MPa (a digit lost on the way): a scatter of 18 % for one delivery of bars."""
    told = warnings(campaign_folder(tmp_path, S8, bars_csv="specimen, f_y [MPa]\ns1, 540\ns2, 545\ns3, 390\n"))
    assert any("f_y: a scatter of 18 % is unusual; look at the single results" in w for w in told), told


def test_ages_from_dates(tmp_path):
    table = "specimen, tested, f_c [MPa], shape\nc1, 2026-03-30, 30, cylinder 150x300\nc2, 2026-05-31, 35, cylinder\n"
    made = open_campaign(campaign_folder(tmp_path, C1, cyl_csv=table)).materials.concretes["C1"].strength
    assert [(float(t.age), t.shape) for t in made] == [(28.0, "cylinder 150x300"), (90.0, "cylinder")]


def test_flexure_and_split_reach_the_batch(tmp_path):
    """12 kN at third points of 300 mm on 100 x 100 mm: 3.6 MPa (F l/(b d^2)); at the centre 5.4 MPa."""
    head = "specimen, age [d], flexural_force [kN], span [mm], width [mm], depth [mm], loading\n"
    for loading, value in (("third points", 3.6), ("centre", 5.4)):
        place = tmp_path / loading.replace(" ", "")
        place.mkdir()
        campaign = open_campaign(campaign_folder(place, C1, cyl_csv=f"{head}p1, 28, 12, 300, 100, 100, {loading}\n"))
        values = campaign.materials.concretes["C1"].measured
        assert values.f_ct_fl == pytest.approx(value)
        assert values.h_prism == 100.0


def test_bars_by_trade_names(tmp_path):
    """R_eH counts; A_gt = 6 % + 650/2000 % = 6.325 % (ISO 15630-1, from memory); 197.7 g over 500 mm are 50.37 mm2."""
    table = (
        "specimen, R_eH [MPa], R_eL [MPa], R_p0.2 [MPa], R_m [MPa], A_g [%], mass [g], length [mm]\n"
        "s1, 550, 530, 541, 650, 6, 197.7, 500\n"
    )
    campaign = open_campaign(campaign_folder(tmp_path, S8, bars_csv=table))
    bar, notes = campaign.materials.bars["S8"].measured, campaign.coupons["bars.S8"].notes
    assert (bar.f_y, bar.f_u) == (550.0, 650.0)
    assert bar.A_gt == pytest.approx(0.06325)
    assert any("actual area by mass (7850 kg/m3): 50.37 mm2, +0.2 % of the nominal one" in n for n in notes)
    assert any("upper yield stress R_eH (1)" in n for n in notes)


def test_stresses_on_another_area_are_told(tmp_path):
    table = "specimen, diameter [mm], yield_force [kN], max_force [kN]\ns1, 7.8, 26, 31\n"
    notes = open_campaign(campaign_folder(tmp_path, S8, bars_csv=table)).coupons["bars.S8"].notes
    assert any("its yield force is off by +5.2 %" in n for n in notes)  # (8/7.8)^2 = 1.0519


def test_adhesive_by_force_and_t_g(tmp_path):
    edits = {"epoxy: {E_a: 3 GPa}": "epoxy: {from: coupons/epoxy.csv}"}
    table = "specimen, max_force [kN], width [mm], thickness [mm], E_a [GPa], T_g [degC]\ne1, 1.6, 10, 4, 3.1, 62\n"
    made = open_campaign(campaign_folder(tmp_path, edits, epoxy_csv=table)).materials.adhesives["epoxy"]
    assert (made.f_t, made.E_a, made.T_g) == (pytest.approx(40.0), pytest.approx(3100.0), 62.0)


def workbook(rows, extra=()) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for name in extra:
        book.create_sheet(name).append(["something"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def spreadsheet(tmp_path, data: bytes) -> Path:
    edits = {k: v.replace("cyl.csv", "cyl.xlsx") for k, v in C1.items()}
    folder = campaign_folder(tmp_path, edits)
    (folder / "coupons" / "cyl.xlsx").write_bytes(data)
    return folder


HEADERS = ["specimen", "age [d]", "f_c [MPa]", "shape", "tested"]


def test_a_spreadsheet_is_a_table(tmp_path):
    import datetime

    rows = [HEADERS, ["c1", 28, 30.5, "core", datetime.date(2026, 3, 30)], ["c2", 28, "31.5 +- 0.3", "core", None]]
    (test,) = open_campaign(spreadsheet(tmp_path, workbook(rows))).materials.concretes["C1"].strength
    assert test.f_c == pytest.approx(31.0)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (
            workbook([HEADERS, ["c1", 28, "=61/2", "core"], ["c2", 28, 31, "core"]]),
            "coupons/cyl.xlsx:2:3: f_c [MPa] = '=61/2': a formula without a value in the file, or with an error; open",
        ),
        (
            workbook([HEADERS, ["c1", 28, "#DIV/0!", "core"], ["c2", 28, 31, "core"]]),
            "coupons/cyl.xlsx:2:3: f_c [MPa] = '#DIV/0!': an error of the spreadsheet; write the number",
        ),
        (workbook([HEADERS, ["c1", 28, 31, "core"]], ["Sheet2"]), "2 sheets hold something: Sheet, Sheet2; keep"),
        (workbook([HEADERS, ["c1", 28, "thirty", "core"]]), "coupons/cyl.xlsx:2:3: f_c = 'thirty': not a number"),
        (b"PK no workbook", "cannot be opened"),
    ],
)  # fmt: skip
def test_spreadsheets_that_are_refused(tmp_path, data, said):
    found = problems(spreadsheet(tmp_path, data))
    assert any(said in text for text in found), found


def test_specimens_are_there():
    assert "batch: C1" in SPECIMENS  # the tables above belong to this batch
