"""What a report holds: findings the data support, each sheet once, numbered tables, symbols in sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cracktie.compared import Comparison, Contrast, Gain, SetSummary
from cracktie.lab.trail import Trail
from cracktie.reduced import Reduced, TestResult
from cracktie.report.blocks import Column, Figure, Heading, Points, SheetBlock, Table, Text, numbered
from cracktie.report.document import build
from cracktie.report.findings import findings, what_was_tested
from cracktie.report.prose import html_prose, pieces, typst_prose
from cracktie.report.steps import step_tables
from cracktie.stats.contrast import Ratio, ratio
from cracktie.stats.scatter import Scatter

SPREAD = Scatter(0.08, 20.0, "made for tests")
EMPTY = Reduced("nothing tested", {})


def gain(item: str, value: float, *, bound: bool = False, role: str = "control") -> Gain:
    return Gain(item, (item,), role, ("C1",), ratio([value], [1.0], SPREAD, bound=bound))


def comparison(**changes: Any) -> Comparison:
    made = Comparison("made for tests", False, SPREAD, (), (), (), (), (), ())
    return replace(made, **changes)


def summary(name: str, n: int, mean: float | None, of: int | None = None) -> SetSummary:
    return SetSummary(name, f"Set {name}", n, of or n, mean, 0.1 if n > 1 else None, mean, mean, ())


def result(test: str, steps: Trail, **changes: Any) -> TestResult:
    made = TestResult(test, test, "A", None, "flexure", "virgin", True, False, False, {}, (), (), (), steps)
    return replace(made, **changes)


def test_the_largest_resolved_ratio_is_told_with_its_interval() -> None:
    (sentence, count) = findings(comparison(gains=(gain("W1", 1.5), gain("W2", 2.0), gain("W3", 3.0, bound=True))))
    r = ratio([2.0], [1.0], SPREAD)
    assert (
        f"W2 over control C1: 2.00 (95 % interval {r.low:.2f} to {r.high:.2f}, resolved), the largest of 3" in sentence
    )
    assert "W3" not in sentence
    assert "2 of 3 single beams over control (1 lower bound among them)" in count


def test_nothing_is_claimed_where_nothing_is_resolved() -> None:
    found = findings(comparison(gains=(gain("W1", 1.05), gain("W2", 0.5))))
    assert len(found) == 1
    assert "1 of 2 single beams over control" in found[0]
    assert "Largest" not in found[0]
    assert findings(comparison()) == ()


def test_contrasts_are_counted() -> None:
    contrasts = tuple(
        Contrast(name, name, ("W1",), ("C1",), ratio([value], [1.0], SPREAD))
        for name, value in (("a", 2.0), ("b", 1.0))
    )
    (found,) = findings(comparison(contrasts=contrasts))
    assert "1 of 2 contrasts of the analysis plan" in found


def test_the_closest_set_is_judged_on_both_sides_of_one_and_needs_tests() -> None:
    sets = (summary("a", 5, 1.30), summary("b", 6, 0.80, of=7), summary("c", 2, 1.01), summary("d", 0, None, of=3))
    (found,) = findings(comparison(summaries=sets))
    assert "On average closest is Set b: mean V_max/V_R 0.80, coefficient of variation 0.10, n = 6" in found
    assert "1 lower bound left out" in found
    assert "Set a 1.30, n = 5" in found
    assert "Set c" not in found
    assert "not judged on the same tests" in found
    (same,) = findings(comparison(summaries=(summary("a", 5, 1.1), summary("b", 5, 0.7))))
    assert "On average closest is Set a" in same
    assert "not judged on the same tests" not in same


def test_every_finding_of_simulated_logs_says_so() -> None:
    made = comparison(simulated=True, gains=(gain("W1", 2.0),), summaries=(summary("a", 5, 1.1),))
    found = findings(made)
    assert len(found) == 3
    assert all(sentence.startswith("Simulated. ") for sentence in found)
    assert not any("Simulated" in s for s in findings(replace(made, simulated=False)))


def test_ratios_in_findings_have_an_interval() -> None:
    """No percentage or ratio between beams without its interval in the same sentence."""
    for sentence in findings(comparison(gains=(gain("W1", 2.0), gain("W2", 2.2, role="unanchored")))):
        assert ("2.0" in sentence or "2.2" in sentence) == ("interval" in sentence and "to" in sentence.split())


def test_what_was_tested(one_beam: Any) -> None:
    campaign, _ = one_beam
    assert what_was_tested(campaign, EMPTY) == "1 specimen planned; no test has been reduced yet."
    one = result("X1", Trail())
    sentence = what_was_tested(campaign, Reduced("", {"X1": one}))
    assert sentence.startswith("1 test of 1 specimen: 1 flexure; 1 of them gives only a lower bound")
    assert "with wrap, without anchors: 1" in sentence
    assert "1 simulated test" in what_was_tested(campaign, Reduced("", {"X1": replace(one, simulated=True)}))


@pytest.mark.parametrize(
    ("sentence", "symbols"),
    [
        ("the concrete part is scaled by (ratio of f_c)^p", [("f", "c")]),
        ("V_max/V_R and eps_fe", [("V", "max"), ("V", "R"), ("ε", "fe")]),
        ("A_s/(b_w d)", [("A", "s"), ("b", "w")]),
        ("logs/OV-12-B_cabinet.txt, B_hall.csv and strip_strains(reason=a)", []),
        ("no symbol here", []),
    ],
)
def test_symbols_in_sentences(sentence: str, symbols: list[tuple[str, str]]) -> None:
    assert [p for p in pieces(sentence) if p[1]] == symbols


def test_sentences_are_escaped() -> None:
    assert html_prose("a < b_w") == "a &lt; <i>b</i><sub>w</sub>"
    assert typst_prose('say "V_s" #x') == '#"say \\""$V_"s"$#"\\" #x"'


def test_tables_and_figures_are_counted_apart() -> None:
    table, figure = Table("t", (), ()), Figure("<svg/>", "c", "a")
    found = list(numbered([Text("x"), table, figure, table]))
    assert [(type(b), b.number) for b in found if isinstance(b, (Table, Figure))] == [
        (Table, 1),
        (Figure, 1),
        (Table, 2),
    ]


def test_heads_of_number_columns_are_broken() -> None:
    assert Column("deflection at V_max").lines == ("deflection", "at V_max")
    assert Column("what the reduction found", align="left").lines == ("what the reduction found",)


def test_a_campaign_without_tests_has_predictions_drawings_and_sheets(one_beam: Any) -> None:
    campaign, prediction = one_beam
    document = build(campaign, prediction, EMPTY, None)
    chapters = [b.text for b in document.blocks if isinstance(b, Heading) and b.level == 1]
    assert chapters == ["Predictions", "Specimens", "Materials", "Calculation sheets", "Where the numbers come from"]
    assert not document.simulated
    assert sum(isinstance(b, Figure) for b in document.blocks) == 2
    assert any(isinstance(b, SheetBlock) for b in document.blocks)
    assert all(b.rows for b in document.blocks if isinstance(b, Table))


def test_no_sheet_is_printed_twice(one_beam: Any) -> None:
    """Not the same model with the same inputs; a line names the sheet instead."""
    campaign, prediction = one_beam
    blocks = build(campaign, prediction, EMPTY, None).blocks
    sheets = [b.sheet for b in blocks if isinstance(b, SheetBlock)]
    keys = [(s.model, tuple((e.name, e.value) for e in s.inputs)) for s in sheets]
    assert len(set(keys)) == len(keys)
    host = "concrete_shear.aci318_2014.simplified"
    assert [s.model for s in sheets].count(host) == 1
    lines = [line for b in blocks if isinstance(b, Points) and not b.box for line in b.items]
    item = prediction.rows[0].item
    assert any(line.startswith("ACI 318-14, simplified concrete term: given above for " + item) for line in lines)
    value = next(r.V_c for r in prediction.rows if r.item == item and r.set == "aci14_440")
    assert any(f"V_c = {value / 1e3:.2f} kN." in line for line in lines)


@pytest.mark.slow
def test_a_repeated_sheet_names_the_numbers_that_differ(demo_document: Any, demo_run: Any) -> None:
    lines = [line for b in demo_document.blocks if isinstance(b, Points) and not b.box for line in b.items]
    line = next(x for x in lines if x.startswith("ACI 318-14, simplified concrete term: as the sheet of OV-01"))
    row = next(r for r in demo_run.prediction.rows if r.item == "OV-03" and r.set == "aci14_440")
    values = demo_run.prediction.members[(row.specimen, row.span, row.test)].values
    assert f"f_c = {values['f_c']:.4g} MPa" in line
    assert f"V_c = {row.V_c / 1e3:.2f} kN" in line
    first = next(r for r in demo_run.prediction.rows if r.item == "OV-01" and r.set == "aci14_440")
    before = demo_run.prediction.members[(first.specimen, first.span, first.test)].values
    for name in ("f_c", "b_w", "d"):
        assert (f" {name} = " in line) == (values[name] != before[name]), name


def test_routine_steps_are_counted_and_others_are_listed() -> None:
    trail = Trail().add("read", {"log": "a.csv"}, 100)
    for zero in range(6):
        trail = trail.add("remove_zero", {"start_s": 3.0, "zero": float(zero)}, 100)
    trail = trail.add("exclude", {"channel": "W4", "reason": "gauge lost"}, 40)
    single, routine = step_tables(Reduced("", {"T1": result("T1", trail)}))
    assert [row[1].split("(")[0] for row in single.rows] == ["read", "exclude"]
    assert routine.rows == (("remove_zero", "6", "1", "start_s = 3", "zero: 6 values"),)
    assert list(step_tables(EMPTY)) == []


def test_ratio_wording_keeps_bounds_open() -> None:
    from cracktie.report.findings import interval

    r: Ratio = ratio([2.0], [1.0], SPREAD, bound=True)
    assert interval(r).startswith("≥ 2.00 (95 % interval")
    assert "no upper limit" in interval(r)
