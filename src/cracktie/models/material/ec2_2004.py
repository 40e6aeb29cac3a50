"""EN 1992-1-1:2004 section 3.1: concrete properties from the compressive strength.

`f_c` is the mean cylinder strength in the test form and the characteristic one in the design form; each property takes
the one its expression is written for (f_ctm and eps_cu1 the characteristic, E_cm and eps_c1 the mean strength). The
two differ by 8 MPa (Table 3.1). Feeding a mean strength to f_ctm would overstate it by 17 % at f_ck = 30 MPa.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cracktie.clause import Limit, Ref, Status, Step, model, no_step
from cracktie.mechanics.roots import bare
from cracktie.models.strength_classes import strength_classes

RANGE = strength_classes(90.0, "Table 3.1 covers C12/15 to C90/105", low=12.0)
_STATUS = Status("derived", "agrees with structuralcodes 0.7.2 to 1e-6; column of Table 3.1 reproduced as recalled")
_READ = Status("checked", "reproduces the column of Table 3.1 as printed in a reproduction of it (14 classes)")

CUBE = (15.0, 20.0, 25.0, 30.0, 37.0, 45.0, 50.0, 55.0, 60.0, 67.0, 75.0, 85.0, 95.0, 105.0)
CYLINDER = (12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 70.0, 80.0, 90.0)
"""Cube and cylinder strengths of the classes of Table 3.1, MPa."""


def characteristic(f_c: Any, form: str, step: Step) -> Any:
    """f_ck in MPa of either form; a mean strength below 9 MPa counts as 9."""
    if form == "design":
        return f_c
    return step("f_ck", np.maximum(f_c - 8.0, 1.0), "MPa", "Table 3.1")


def mean(f_c: Any, form: str, step: Step) -> Any:
    """f_cm in MPa of either form."""
    return step("f_cm", f_c + 8.0, "MPa", "Table 3.1") if form == "design" else f_c


def axial_tension(f_ck: Any, step: Step) -> Any:
    """f_ctm in MPa from the characteristic strength."""
    high = 2.12 * np.log(1.0 + (f_ck + 8.0) / 10.0)
    return step("f_ctm", np.where(f_ck <= 50.0, 0.30 * np.cbrt(f_ck) ** 2, high), "MPa", "Table 3.1")


@model(
    "material.ec2_2004.f_ctm",
    predicts="f_ctm",
    unit="MPa",
    source=Ref("EN1992_2004", "Table 3.1"),
    title="EN 1992-1-1:2004, mean axial tensile strength",
    status=_READ,
    limits=RANGE,
)
def f_ctm(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """f_ctm in MPa from `f_c` in MPa."""
    return axial_tension(characteristic(f_c, form, step), step)


@model(
    "material.ec2_2004.f_ctk",
    predicts="f_ctk",
    unit="MPa",
    source=Ref("EN1992_2004", "Table 3.1"),
    title="EN 1992-1-1:2004, 5 % fractile of the axial tensile strength",
    status=_READ,
    limits=RANGE,
)
def f_ctk(*, f_c: Any, form: str, share: float = 0.7, step: Step = no_step) -> Any:
    """f_ctk,0.05 in MPa from `f_c` in MPa."""
    return step("f_ctk", share * axial_tension(characteristic(f_c, form, step), step), "MPa", "Table 3.1")


@model(
    "material.ec2_2004.f_ctm_fl",
    predicts="f_ctm_fl",
    unit="MPa",
    source=Ref("EN1992_2004", "3.1.8 (3.23)"),
    title="EN 1992-1-1:2004, mean flexural tensile strength",
    status=Status("memory", "recalled with high confidence"),
    limits=RANGE,
)
def f_ctm_fl(*, f_c: Any, h: Any, form: str, step: Step = no_step) -> Any:
    """f_ctm,fl in MPa from `f_c` in MPa and the depth `h` in mm."""
    tension = axial_tension(characteristic(f_c, form, step), step)
    return step("f_ctm_fl", np.maximum(1.6 - h / 1000.0, 1.0) * tension, "MPa", "(3.23)")


@model(
    "material.ec2_2004.e_c",
    predicts="E_c",
    unit="MPa",
    source=Ref("EN1992_2004", "Table 3.1, 3.1.3(2)"),
    title="EN 1992-1-1:2004, secant modulus E_cm",
    status=_READ,
    limits=RANGE,
)
def e_c(*, f_c: Any, form: str, k_aggregate: float = 1.0, step: Step = no_step) -> Any:
    """E_cm in MPa from `f_c` in MPa. `k_aggregate`: 1 quartzite, 0.9 limestone, 0.7 sandstone, 1.2 basalt."""
    f_cm = mean(f_c, form, step)
    return step("E_c", k_aggregate * 22000.0 * (f_cm / 10.0) ** 0.3, "MPa", "Table 3.1")


@model(
    "material.ec2_2004.eps_c1",
    predicts="eps_c1",
    unit="-",
    source=Ref("EN1992_2004", "Table 3.1"),
    title="EN 1992-1-1:2004, strain at peak stress",
    status=_STATUS,
    limits=RANGE,
)
def eps_c1(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """Strain (ratio, positive) at the peak of the curve for structural analysis, from `f_c` in MPa."""
    return step("eps_c1", np.minimum(0.7 * mean(f_c, form, step) ** 0.31, 2.8) / 1000.0, "-", "Table 3.1")


@model(
    "material.ec2_2004.eps_cu1",
    predicts="eps_cu1",
    unit="-",
    source=Ref("EN1992_2004", "Table 3.1"),
    title="EN 1992-1-1:2004, ultimate strain of the curve for structural analysis",
    status=_STATUS,
    limits=RANGE,
)
def eps_cu1(*, f_c: Any, form: str, step: Step = no_step) -> Any:
    """Nominal ultimate strain (ratio, positive), from `f_c` in MPa."""
    f_ck = characteristic(f_c, form, step)
    high = 2.8 + 27.0 * ((90.0 - f_ck) / 100.0) ** 4
    return step("eps_cu1", np.where(f_ck < 50.0, 3.5, high) / 1000.0, "-", "Table 3.1")


@model(
    "material.ec2_2004.cylinder_from_cube",
    predicts="f_c",
    unit="MPa",
    source=Ref("EN1992_2004", "Table 3.1, first two rows"),
    title="EN 1992-1-1:2004, cylinder strength from cube strength",
    status=Status("checked", "class pairs read in a reproduction of the table; straight lines between them are ours"),
    limits=(Limit("f_cube", 15.0, 105.0, "classes C12/15 to C90/105; beyond them the end ratios are kept"),),
)
def cylinder_from_cube(*, f_cube: Any, step: Step = no_step) -> Any:
    """Strength of 150 x 300 mm cylinders from that of 150 mm cubes, both MPa."""
    return step("f_c", _cylinder(**bare(f_cube=f_cube)), "MPa", "Table 3.1", "interpolated between the classes")


def _cylinder(f_cube: Any) -> Any:
    inside = np.interp(f_cube, CUBE, CYLINDER)
    low, high = CYLINDER[0] / CUBE[0] * f_cube, CYLINDER[-1] / CUBE[-1] * f_cube
    return np.where(f_cube < CUBE[0], low, np.where(f_cube > CUBE[-1], high, inside))


@model(
    "material.ec2_2004.f_cm_age",
    predicts="f_cm_age",
    unit="MPa",
    source=Ref("EN1992_2004", "3.1.2(6) (3.1), (3.2)"),
    title="EN 1992-1-1:2004, mean strength at an age",
    status=Status("memory", "recalled with high confidence"),
    limits=(Limit("age", low=3.0, why="3.1.2(5) asks for tests below 3 days"),),
    choices={"cement": ("R", "N", "S")},
)
def f_cm_age(
    *,
    f_cm: Any,
    age: Any,
    cement: str,
    s_rapid: float = 0.20,
    s_normal: float = 0.25,
    s_slow: float = 0.38,
    step: Step = no_step,
) -> Any:
    """f_cm(t) in MPa from the mean strength at 28 days `f_cm` (MPa), at 20 degC; `age` in days, `cement` R, N or S."""
    s = {"R": s_rapid, "N": s_normal, "S": s_slow}[cement]
    growth = step("beta_cc", np.exp(s * (1.0 - np.sqrt(28.0 / age))), "-", "(3.2)")
    return step("f_cm_age", growth * f_cm, "MPa", "(3.1)")


class ParabolaRectangle(NamedTuple):
    """Exponent and strains of the parabola-rectangle curve."""

    exponent: Any
    eps_c2: Any
    eps_cu2: Any


def parabola_rectangle(f_ck: Any) -> ParabolaRectangle:
    """Shape for f_ck in MPa (Table 3.1), strains as ratios; shape of `f_ck`."""
    f_ck = np.asarray(f_ck, dtype=float)
    below = f_ck <= 50.0
    left = (90.0 - f_ck) / 100.0
    over = np.maximum(f_ck - 50.0, 0.0)
    return ParabolaRectangle(
        np.where(below, 2.0, 1.4 + 23.4 * left**4),
        np.where(below, 2.0, 2.0 + 0.085 * over**0.53) / 1000.0,
        np.where(below, 3.5, 2.6 + 35.0 * left**4) / 1000.0,
    )
