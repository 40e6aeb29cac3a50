"""Regression against a second, separately written program of the same recalled formulas.

Agreement shows that both are coded as intended. It says nothing of the formulas: nothing here is a published value.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from cracktie.clause import evaluate

from .beams import RECTANGULAR, TEE

STRENGTHS: dict[float, float] = {f_c: 0.3 * (f_c - 8.0) ** (2 / 3) for f_c in (20.6843, 30.0, 35.0)}
"""f_ctm by f_c as that program took it, EN 1992-1-1:2004 Table 3.1 with f_ck = f_cm - 8."""

LARGE_TEE: dict[str, Any] = {
    **TEE, "b_w": 305.0, "h": 610.0, "d": 559.0, "d_frp": 610.0, "d_fv": 406.4, "z_t": 152.6, "h_flange": 152.6,
    "f_c": 20.6843, "t_f": 0.1651, "E_f": 227526.981, "eps_fu": 0.01615, "f_fu": 0.01615 * 227526.981, "w_f": 254.0,
    "s_f": 304.8,
}  # fmt: skip
BEAMS: dict[str, dict[str, Any]] = {
    "B1": LARGE_TEE,
    "B2": {**TEE, "scheme": "side"},
    "B3": TEE,
    "B4": {**TEE, "layout": "continuous"},
    "B5": {**TEE, "layout": "continuous", "anchored": True, "r_corner": 20.0},
    "B6": RECTANGULAR,
    "B7": {**RECTANGULAR, "n": 2, "layout": "continuous"},
    "B8": {**RECTANGULAR, "scheme": "u", "n": 2, "beta": 45.0, "b_w": 250.0},
}
EDITION = {"nchrp678_2011": "inch-pound"}


def lines() -> list[dict[str, str]]:
    with (Path(__file__).parent / "second_program.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("line", lines(), ids=lambda x: f"{x['beam']}-{x['model']}-{x['form']}")
def test_both_programs_agree(line: dict[str, str]) -> None:
    beam = dict(BEAMS[line["beam"]])
    f_ctm = STRENGTHS[beam["f_c"]]
    beam |= {"f_cm": beam["f_c"], "f_ctm": f_ctm, "f_ctk": 0.7 * f_ctm, "form": line["form"]}
    beam["edition"] = EDITION.get(line["model"], "si")
    chosen = {n: float(v) for n, v in (pair.split("=") for pair in line["coefficients"].split())}
    result = evaluate(f"frp_shear.{line['model']}", beam, coefficients=chosen)
    assert result.value / 1e3 == pytest.approx(float(line["V_f [kN]"]), rel=2e-5)
