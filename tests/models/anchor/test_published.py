"""Anchor models against printed numbers and the arithmetic of their sources.

The coefficients of Kim and Smith, Fuchs, EN 1992-4 and JSCE are from memory: their cases below prove the arithmetic,
not the coefficients. What was read in print says so.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from cracktie.clause import Keep, evaluate
from cracktie.models.inch_pound import INCH, LBF, PSI

WEB = {"host": "web"}


def value(id: str, coefficients: dict[str, float] | None = None, **inputs: Any) -> float:
    return float(evaluate(id, {**WEB, **inputs}, coefficients=coefficients).value)


# Kim and Smith (2010), J. Compos. Constr. 14(4), 406-414: 9.68, 4.62, 9.07 and 0.59 from memory
@pytest.mark.parametrize(
    ("inputs", "newtons"),
    [
        ({"h_ef": 40.0, "d_0": 14.0, "f_c": 30.0}, "13413.001"),
        ({"h_ef": 50.0, "d_0": 14.0, "f_c": 30.0}, "19945.972"),
        ({"h_ef": 75.0, "d_0": 14.0, "f_c": 18.0}, "15239.866"),
    ],
)
def test_kim_smith_pullout(inputs: dict[str, float], newtons: str) -> None:
    assert value("anchor.kim_smith_2010.pullout", **inputs) == pytest.approx(float(newtons), abs=5e-4)


def test_kim_smith_fibre() -> None:
    sheet = 150.0 * 0.2  # width times thickness of the sheet rolled into the anchor
    assert value("anchor.kim_smith_2010.fibre", A_a=sheet, f_fa=3500.0) == pytest.approx(61950.0)


@pytest.mark.parametrize(("k_nc", "newtons"), [(13.5, "57148.228"), (15.5, "65614.633")])
def test_concrete_capacity_design_cone(k_nc: float, newtons: str) -> None:
    """Fuchs, Eligehausen and Breen (1995), ACI Struct. J. 92(1), 73-94; 200 mm cubes; coefficients from memory."""
    found = value("anchor.fuchs_1995", {"k_nc": k_nc}, h_ef=80.0, f_cube=35.0)
    assert found == pytest.approx(float(newtons), abs=5e-4)


BREAKOUT = {"h_ef": 80.0, "f_c": 28.0, "c_edge": 1e4, "s_a": 1e4, "n_a": 1, "edition": "si"}


@pytest.mark.parametrize(
    ("changes", "newtons"),
    [
        ({"cracked": True, "splitting_steel": False}, "26504.037"),
        ({"cracked": False, "splitting_steel": True}, "37105.652"),
        # one edge at 70 mm: area (70 + 120) 240 over 9 h^2, psi_ed 0.875, psi_cp max(70, 120)/160 = 0.75
        ({"cracked": False, "splitting_steel": False, "c_edge": 70.0}, "19277.55"),
        ({"cracked": False, "splitting_steel": True, "c_edge": 70.0}, "25703.395"),
    ],
)
def test_aci_breakout(changes: dict[str, Any], newtons: str) -> None:
    """ACI 318-19 17.6.2, SI edition: coefficients from memory, arithmetic by hand."""
    found = value("anchor.aci318_2019.breakout", **{**BREAKOUT, **changes})
    assert found == pytest.approx(float(newtons), abs=0.5 * 10 ** -len(newtons.split(".")[1]))


def test_aci_breakout_of_a_printed_example() -> None:
    """Design guide on concrete breakout by ACI 318 anchoring provisions, October 2025, page 86 (read): h_ef 5.75 in,

    f'c 4000 psi, k_c 21 of the product, cracked: N_b = 18,313 lb, A_Nc0 = 297.56 in2; edge 8.0 in: psi_ed = 0.978.
    """
    keep = Keep("N_b_lbf", "A_Nc0", "psi_ed", "psi_c", "psi_cp")
    inputs = {
        **WEB,
        "h_ef": 5.75 * INCH,
        "f_c": 4000.0 * PSI,
        "c_edge": 8.0 * INCH,
        "s_a": 1e4,
        "n_a": 1,
        "edition": "inch-pound",
        "cracked": True,
        "splitting_steel": False,
    }
    result = evaluate("anchor.aci318_2019.breakout", inputs, step=keep, coefficients={"k_c_psi": 21.0})
    assert keep.values["N_b_lbf"] == pytest.approx(18313, abs=0.5)
    assert keep.values["A_Nc0"] / INCH**2 == pytest.approx(297.56, abs=0.005)
    assert keep.values["psi_ed"] == pytest.approx(0.978, abs=0.0005)
    assert keep.values["psi_c"] == keep.values["psi_cp"] == 1.0
    assert result.status.level == "checked"
    side = (8.0 + 8.625) / (2 * 8.625)
    assert result.value / LBF == pytest.approx(18313 * 0.978 * side, rel=1e-3)


def test_aci_row_of_a_printed_example() -> None:
    """Same page: 4 columns at 9.0 in, far edges 8.625 in (1.5 h_ef) on both sides: 44.25 in long."""
    from cracktie.models.anchor.factors import row_area

    area = row_area(radius=8.625, c_edge=8.625, s_a=9.0, n_a=4)
    assert area == pytest.approx(44.25 * 17.25)


@pytest.mark.parametrize(("cracked", "newtons"), [(True, "13571.68"), (False, "27143.361")])
def test_aci_bond(cracked: bool, newtons: str) -> None:
    """ACI 318-19 17.6.5: c_Na = 10 d_a root(tau/7.6), N_ba = tau pi d_a h_ef; SI values, arithmetic by hand."""
    keep = Keep("c_Na", "N_ba")
    inputs = {**WEB, **BREAKOUT, "d_a": 12.0, "tau_cr": 4.5, "tau_uncr": 9.0}
    evaluate("anchor.aci318_2019.bond", {**inputs, "cracked": cracked, "splitting_steel": True}, step=keep)
    assert keep.values["c_Na"] == pytest.approx(130.58573 * math.sqrt(1.0), abs=5e-6)
    assert keep.values["N_ba"] == pytest.approx(float(newtons), abs=0.5 * 10 ** -len(newtons.split(".")[1]))


@pytest.mark.parametrize("id", ["anchor.aci318_2019.breakout", "anchor.aci318_2019.bond"])
def test_aci_editions_agree(id: str) -> None:
    """The two unit systems of the document round their coefficients apart by at most 3 %."""
    rng = np.random.default_rng(4)
    inputs = {
        **WEB,
        "h_ef": rng.uniform(60, 120, 200),
        "f_c": rng.uniform(20, 60, 200),
        "c_edge": rng.uniform(40, 300, 200),
        "s_a": rng.uniform(60, 300, 200),
        "n_a": rng.integers(1, 5, 200),
        "d_a": 12.0,
        "tau_cr": 4.5,
        "tau_uncr": rng.uniform(6, 12, 200),
        "cracked": True,
        "splitting_steel": False,
    }
    si, us = (evaluate(id, {**inputs, "edition": e}).value for e in ("si", "inch-pound"))
    assert np.max(np.abs(si / us - 1.0)) < 0.03


def test_en_group_of_two() -> None:
    """EN 1992-4:2018 7.2.1.4 and 7.2.1.6, coefficients from memory, arithmetic by hand: n 2, s 120, d 12, h_ef 80."""
    keep = Keep("N_Rk_p0", "s_cr_Np", "tau_Rk_c", "psi_g0", "psi_g", "N_Rk_c0")
    inputs = {
        **WEB, "h_ef": 80.0, "d_a": 12.0, "tau_Rk": 9.0, "tau_Rk_20": 9.0, "f_c": 30.0, "alpha_sus": 0.0,
        "c_edge": 1e4, "s_a": 120.0, "n_a": 2, "cracked": False, "dense_steel": False,
    }  # fmt: skip
    evaluate("anchor.en1992_4_2018.pullout", inputs, step=keep)
    evaluate("anchor.en1992_4_2018.cone", inputs, step=keep)
    wanted = {
        "N_Rk_p0": "27143.361",
        "s_cr_Np": "240.0",
        "tau_Rk_c": "14.294441",
        "psi_g0": "1.207277",
        "psi_g": "1.06071",
        "N_Rk_c0": "43111.019",
    }
    for name, printed in wanted.items():
        half = 0.5 * 10 ** -len(printed.split(".")[1])
        assert keep.values[name] == pytest.approx(float(printed), abs=half), name


def test_en_sustained_load() -> None:
    """psi_sus is 1 up to psi_sus0 = 0.6 and falls as 1.6 - alpha_sus: it is no default of 0.6 for every anchor."""
    inputs = {
        **WEB, "h_ef": 80.0, "d_a": 12.0, "tau_Rk": 9.0, "tau_Rk_20": 9.0, "f_c": 30.0, "c_edge": 1e4, "s_a": 1e4,
        "n_a": 1, "cracked": True, "dense_steel": False,
    }  # fmt: skip
    alphas = np.array([0.0, 0.6, 0.8, 1.0])
    keep = Keep("psi_sus")
    evaluate("anchor.en1992_4_2018.pullout", {**inputs, "alpha_sus": alphas}, step=keep)
    assert keep.values["psi_sus"] == pytest.approx([1.0, 1.0, 0.8, 0.6])


def test_en_cracked_cone_of_a_printed_page() -> None:
    """Public page on EN 1992-4 anchor design (read): headed, 8.9, f_ck 30, h_ef 200, gamma 1.5 -> 91.92 kN."""
    found = value(
        "anchor.en1992_4_2018.cone", {"k_cracked": 8.9}, h_ef=200.0, f_c=30.0, c_edge=1e4, s_a=1e4, n_a=1,
        cracked=True, dense_steel=False,
    )  # fmt: skip
    assert found / 1.5 / 1000.0 == pytest.approx(91.92, abs=0.005)


@pytest.mark.parametrize(("ratio", "factor"), [(0.85, 0.3425), (1, 0.35), (2, 0.40), (3, 0.45), (14, 1.0), (20, 1.0)])
def test_jsce_bend(ratio: float, factor: float) -> None:
    """JSCE (1997): 0.05 r/d + 0.3, at most 1; from memory."""
    assert value("anchor.jsce_1997.bend", r_edge=ratio * 12.0, d_a=12.0, form="design") == pytest.approx(factor)


def test_cook_takes_the_weaker_face() -> None:
    weak_dowel = value("anchor.cook_1998", h_ef=90.0, d_a=10.0, d_0=14.0, tau_a=10.0, tau_0=9.0)
    weak_hole = value("anchor.cook_1998", h_ef=90.0, d_a=10.0, d_0=14.0, tau_a=20.0, tau_0=9.0)
    assert weak_dowel == pytest.approx(10.0 * math.pi * 10.0 * 90.0)
    assert weak_hole == pytest.approx(9.0 * math.pi * 14.0 * 90.0)
