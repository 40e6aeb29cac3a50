"""Tables of shares, budgets and derived quantities: what a cell says and what is left out. Numbers of our own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from cracktie.lab.budget import Budget, Component
from cracktie.lab.trail import Trail
from cracktie.reduced import Reduced, TestResult
from cracktie.report.blocks import Table
from cracktie.report.measured import measured_tables
from cracktie.results import Quantity


def quantity(name: str, value: float, unit: str, u: float | None = None, status: str = "read") -> Quantity:
    return Quantity("T1", name, "measured", value, unit, u, status)


def result(test: str, *values: Quantity, **changes: Any) -> TestResult:
    made = TestResult(
        test, test, "A", None, "shear in studied span", "virgin", False, False, False,
        {q.name: q for q in values}, (), (), (), Trail(),
    )  # fmt: skip
    return replace(made, **changes)


def tables(*tests: TestResult, system: str = "si") -> dict[str, Table]:
    made = measured_tables(Reduced("made for tests", {t.test: t for t in tests}), system)
    return {t.caption: t for t in made}


def test_shares_carry_their_uncertainty_and_the_way_of_the_stirrups() -> None:
    bare = result("C1", quantity("V_s_nom", 30e3, "N", 9e3, "nominal yield, 45 deg line; no gauge reads"))
    wrapped = result(
        "W1", quantity("theta", 31.94, "deg", 3.0), quantity("eps_fe", 0.003921, "-", 0.00059),
        quantity("V_f_strain", 55.63e3, "N", 8.4e3), quantity("V_s_meas", 51e3, "N", 5.1e3, "2 gauges; at yield"),
        quantity("V_c_eq", 49e3, "N", 9.9e3),
    )  # fmt: skip
    found = tables(bare, wrapped)["Shares of the shear at V_max from gauges"]
    assert [f"{c.title} {c.unit}" for c in found.columns[:-1]] == [
        "test ", "crack angle °", "mean fibre strain on the crack µm/m", "V_f by strain kN", "V_s kN", "V_c kN",
    ]  # fmt: skip
    assert found.rows == (
        ("C1", "–", "–", "–", "30.0 ± 9.0", "–", "nominal yield, 45 deg line"),
        ("W1", "31.9 ± 3.0", "3920 ± 590", "55.6 ± 8.4", "51.0 ± 5.1", "49.0 ± 9.9", "2 gauges"),
    )


def test_causes_are_counted_over_the_tests() -> None:
    def with_cell(test: str, cell: float, zero: float) -> TestResult:
        parts = (Component("load cell", cell), Component("zero", zero))
        return result(test, quantity("V_max", 100e3, "N"), budgets={"V_max": Budget(parts)})

    made = with_cell("A1", 4e3, 3e3), with_cell("A2", 12e3, 5e3), with_cell("A3", 3e3, 4e3)
    (row,) = tables(*made)["What the uncertainties are made of"].rows
    assert row == ("V_max", "3", "5 to 13 %", "load cell (2 tests, 64 to 85 % of u²); zero (1 test, 64 % of u²)")


def test_derived_quantities_follow_the_shown_units() -> None:
    made = result(
        "A1", quantity("K_cracked", 40e3, "N/mm", 100.0), quantity("W_V_max", 1.8e6, "N mm"),
        quantity("mu_delta", 1.7, "-", None, "named so (4.2 mm); misleads for shear failures"),
    )  # fmt: skip
    stiffness = tables(made)["Stiffness, load over deflection"]
    assert stiffness.rows == (("A1", "40.00 ± 0.10"),)
    assert [c.unit for c in stiffness.columns[1:]] == ["kN/mm"]
    found = tables(made)["Work, ductility and shear of the panel"]
    assert found.rows == (("A1", "1.80", "1.70"),)
    assert [c.unit for c in found.columns[1:]] == ["kN·m", ""]
    assert found.footnotes == ("Ductility: named so; misleads for shear failures.",)


def test_what_nobody_measured_makes_no_table() -> None:
    assert tables(result("A1", quantity("V_max", 100e3, "N"))) == {}
