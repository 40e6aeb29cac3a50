"""What `cracktie reduce` prints: bounds, shares with their uncertainty, remarks once. Numbers of our own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cracktie.console_reduced import FEW, show_reduced
from cracktie.errors import Problem
from cracktie.lab.trail import Trail
from cracktie.reduced import Reduced, TestResult
from cracktie.results import Quantity


def quantity(name: str, value: float, unit: str, u: float | None = None, status: str = "read") -> Quantity:
    return Quantity("T1", name, "measured", value, unit, u, status)


def result(test: str, *values: Quantity, **changes: Any) -> TestResult:
    made = TestResult(
        test,
        test,
        "A",
        None,
        "flexure",
        "virgin",
        False,
        False,
        False,
        {q.name: q for q in values},
        (),
        (),
        (),
        Trail(),
    )
    return replace(made, **changes)


def test_results_and_shares_stand_in_their_rows(capsys: pytest.CaptureFixture[str]) -> None:
    wrapped = result(
        "W1", quantity("V_max", 155.7e3, "N", 430.0), quantity("delta_V_max", 9.754, "mm"),
        quantity("V_dia", 71.2e3, "N"),
        quantity("theta", 31.9, "deg", 3.0), quantity("V_f_strain", 55.6e3, "N", 8.4e3),
        quantity("V_s_nom", 29.6e3, "N", 12.6e3, "NOMINAL: 45 deg, no gauge"),
        quantity("V_c_eq", 70.5e3, "N", 15e3), bound=True,
    )  # fmt: skip
    bare = result("C1", quantity("V_max", 100e3, "N", 300.0), quantity("V_s_meas", 0.0, "N", None, "no stirrups here"))
    show_reduced(Reduced("made for tests", {"W1": wrapped, "C1": bare}), "si")
    lines = capsys.readouterr().out.splitlines()
    first = next(line for line in lines if line.startswith("W1"))
    assert first.split() == ["W1", "A", "71.2", "-", ">=", "155.7", "0.43", "9.75", "flexure"]
    shares = [" ".join(line.split()) for line in lines[lines.index("shares at V_max, +- standard uncertainty") :]]
    assert "W1 32 +- 3 55.6 +- 8.4 29.6 +- 12.6 70.5 +- 15.0 nominal" in shares
    assert "C1 - - 0.0 - none there" in shares


def test_us_units_rule_forces_and_lengths(capsys: pytest.CaptureFixture[str]) -> None:
    made = result("W1", quantity("V_max", 44482.216, "N", 444.82216), quantity("delta_V_max", 25.4, "mm"))
    show_reduced(Reduced("made for tests", {"W1": made}), "us")
    out = capsys.readouterr().out
    assert "V_max [kip]" in out
    assert "at V_max [in]" in out
    assert next(line for line in out.splitlines() if line.startswith("W1")).split()[4:7] == ["10.0", "0.10", "1.00"]


def test_a_table_without_rows_is_not_printed(capsys: pytest.CaptureFixture[str]) -> None:
    show_reduced(Reduced("t", {}, (), {"W3": "no log"}), "si")
    assert capsys.readouterr().out == "W3: not reduced, no log\n"


def test_stirrups_without_a_gauge_are_named_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    V_s = quantity("V_s_meas", 91.4e3, "N", 18.5e3, "3 stirrups crossed, no gauge on them: taken as yielding")
    show_reduced(Reduced("t", {"W1": result("W1", V_s)}), "si")
    assert "taken as yielding" in capsys.readouterr().out.splitlines()[-1]


def test_what_is_to_be_done_comes_before_what_is_only_told(capsys: pytest.CaptureFixture[str]) -> None:
    notes = (*(f"remark {i}" for i in range(9)), "b.csv: left out, its clock could not be placed: no load in it",
             "reduction.yaml:9:9: tests.W1.events.1: time 9999 s")  # fmt: skip
    show_reduced(Reduced("t", {"W1": result("W1", notes=notes)}), "si")
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("W1: ")]
    assert told[:3] == [f"W1: {notes[-2]}", f"W1: {notes[-1]}", "W1: remark 0"]


def test_remarks_are_counted_beyond_the_first(capsys: pytest.CaptureFixture[str]) -> None:
    notes = tuple(f"remark {i}" for i in range(FEW + 2))
    warned = Problem("warning", "tests.yaml", "not reduced: no load", key="W2")
    made = Reduced("t", {"W1": result("W1", notes=notes)}, (warned,), {"W2": "no load", "W3": "no log"})
    show_reduced(made, "si")
    out = capsys.readouterr().out
    assert f"W1: remark {FEW - 1}" in out
    assert f"remark {FEW}" not in out
    assert "W1: 2 more remarks" in out
    assert "W3: not reduced, no log" in out
    assert "W2" not in out, "told with the problems"
