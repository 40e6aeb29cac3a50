"""Limits of soffit plies by hand, in both unit systems, and their bounds."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.clause import Keep, evaluate, get

PLY = {
    "f_c": 34.474,
    "n": 2,
    "t_f": 1.016,
    "E_f": 36956.0,
    "eps_fu": 0.0142,
    "C_E": 0.95,
    "form": "test",
    "edition": "si",
    "b_f": 100.0,
    "b_w": 200.0,
    "f_cm": 38.0,
    "f_ctm": 2.9,
    "FC": 1.0,
}


def value(model: str, **changes: object) -> float:
    return float(evaluate(f"flexure.{model}", {**PLY, **changes}).value)


def test_aci440_by_hand() -> None:
    """Inch-pound: 0.083 root(5000/(2*5.36e6*0.040)) = 0.083*0.1079836 = 0.00896264."""
    got = value("aci440_2017", edition="inch-pound", f_c=5000 * 0.00689475729, t_f=1.016, E_f=5.36e6 * 0.00689475729)
    assert got == pytest.approx(0.00896264, abs=1e-8)
    assert value("aci440_2017") == pytest.approx(got, rel=0.022)


def test_aci440_cap() -> None:
    """0.9 of the ultimate strain governs thin plies; the environmental factor acts in design only."""
    thin = {"f_c": 60.0, "n": 1, "E_f": 70e3, "t_f": 0.1, "eps_fu": 0.015}
    assert value("aci440_2017", **thin) == pytest.approx(0.0135)
    assert value("aci440_2017", **thin, form="design") == pytest.approx(0.0135 * 0.95)


@pytest.mark.parametrize(("b_f", "k_b"), [(200.0, 1.0), (100.0, 1.0), (50.0, np.sqrt(1.75 / 1.25)), (20.0, 1.1832)])
def test_cnr_width_factor(b_f: float, k_b: float) -> None:
    keep = Keep("k_b")
    evaluate("flexure.cnr_dt200_2013", {**PLY, "form": "design", "b_f": b_f}, step=keep)
    assert keep.values["k_b"] == pytest.approx(k_b, rel=1e-4)


def test_cnr_by_hand() -> None:
    """k_b = 1; G = 0.1*root(38*2.9) = 1.049762 N/mm; root(2*36956/2.032*1.049762)/1.2 = 162.84 MPa."""
    assert value("cnr_dt200_2013", form="design") == pytest.approx(162.84, abs=0.01)
    assert get("flexure.cnr_dt200_2013").categories["form"] == ("design",)


def test_teng_by_hand() -> None:
    """r = 0.5: factor 1; 1.1*root(36956*root(34.474)/2.032) = 1.1*326.78 = 359.45 MPa."""
    assert value("teng_2003") == pytest.approx(359.45, abs=0.03)
    assert value("teng_2003", form="design") / value("teng_2003") == pytest.approx(0.48 / 1.1)
