"""Traced numbers, recorded sheets and the text they print."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from cracktie import clause
from cracktie.clause import Model, Ref, Status, Step, no_step
from cracktie.errors import CracktieError, UnknownName
from cracktie.expression import Name, Number, evaluate_expression, fraction_of, substituted, text
from cracktie.trace import NotTraceable, Sheet, Traced, trace_call, trace_model

from .models.tiny import TINY


def name(label: str, value: float) -> Traced:
    return Traced(np.float64(value), Name(label, value))


A, B, C = name("a", 2.0), name("b", 3.0), name("c", 5.0)


@pytest.mark.parametrize(
    ("made", "printed", "value"),
    [
        (A + B * C, "a + b * c", 17.0),
        ((A + B) * C, "(a + b) * c", 25.0),
        (A - (B - C), "a - (b - c)", 4.0),
        (A - B + C, "a - b + c", 4.0),
        (A / (B * C), "a / (b * c)", 2 / 15),
        (A / B * C, "a / b * c", 10 / 3),
        (A * (B / C), "a * (b / c)", 1.2),
        (A**B**2, "a ^ b ^ 2", 512.0),
        ((A**B) ** 2, "(a ^ b) ^ 2", 64.0),
        ((-A) ** 2, "(-a) ^ 2", 4.0),
        (-(A**2), "-a ^ 2", -4.0),
        (A**-B, "a ^ -b", 0.125),
        (2 - A, "2 - a", 0.0),
        (23300.0 / A**0.58, "23300 / a ^ 0.58", 23300 / 2**0.58),
        (A ** (2 / 3), "a ^ (2 / 3)", 2 ** (2 / 3)),
        (A / 0.006894757, "a / 0.006894757", 2 / 0.006894757),
        (np.sqrt(A) + np.exp(-B), "sqrt(a) + exp(-b)", 2**0.5 + np.exp(-3)),
        (np.sin(np.radians(A)), "sin(radians(a))", np.sin(np.radians(2))),
        (np.degrees(np.arctan(A)), "degrees(arctan(a))", 63.43494882292201),
        (np.minimum(np.minimum(A, B), 1.5), "min(a, b, 1.5)", 1.5),
        (np.clip(A, 3.0, 4.0), "min(max(a, 3), 4)", 3.0),
        (np.sign(-A) * abs(-B), "sign(-a) * abs(-b)", -3.0),
        (np.square(A) + np.reciprocal(B), "a ^ 2 + 1 / b", 4 + 1 / 3),
        (np.where(A < B, C, 1.0), "where(a < b, c, 1)", 5.0),
        (
            np.where((A >= B) | ~(B == 3.0), 1.0, np.where((A < B) & (C > 1.0), A, B)),
            "where(a >= b or not b == 3, 1, where(a < b and c > 1, a, b))",
            2.0,
        ),
        (np.float64(2.0) * A, "2 * a", 4.0),
    ],
)
def test_text_and_value(made: Traced, printed: str, value: float) -> None:
    assert text(made.tree) == printed
    assert float(made) == pytest.approx(value, rel=1e-15)
    assert evaluate_expression(made.tree, {"a": 2.0, "b": 3.0, "c": 5.0}) == float(made)


def test_evaluation_takes_other_values_than_those_recorded() -> None:
    tree = np.where(A < B, A + B, C).tree
    assert evaluate_expression(tree, {"a": 4.0, "b": 3.0, "c": 7.0}) == 7.0
    with pytest.raises(UnknownName, match="needs 'c'"):
        evaluate_expression(tree, {"a": 4.0, "b": 3.0})


def test_numbers_take_the_place_of_names_and_only_the_taken_side_shows() -> None:
    made = np.where(A < B, (A - B) ** 2, C)
    assert substituted(made.tree) == "(2 - 3) ^ 2"
    low = name("low", -1.5)
    assert substituted((low**2).tree) == "(-1.5) ^ 2"
    assert substituted((A - low).tree) == "2 - -1.5"
    assert substituted((A / name("x", 1 / 3)).tree, lambda v: f"{v:.2f}") == "2.00 / 0.33"


def test_the_unused_side_may_divide_by_nothing() -> None:
    zero = name("zero", 0.0)
    assert float(np.where(zero > 0.0, A / zero, 1.0)) == 1.0


@pytest.mark.parametrize(
    ("value", "shown"), [(2 / 3, "2/3"), (1 / 12, "1/12"), (0.25, None), (0.58, None), (0.1 + 0.2, None)]
)
def test_only_floats_of_small_fractions_print_as_fractions(value: float, shown: str | None) -> None:
    part = fraction_of(value)
    assert (None if part is None else str(part)) == shown


def test_a_branch_on_a_number_is_refused_with_the_way_out() -> None:
    with pytest.raises(NotTraceable, match=r"a < b.*categorical words only.*np\.where") as caught:
        min(B, A) if A < B else None
    assert isinstance(caught.value, CracktieError)
    assert isinstance(caught.value, TypeError)
    with pytest.raises(NotTraceable, match=r"np\.minimum"):
        min(A, B)


@pytest.mark.parametrize(
    ("use", "says"),
    [
        (lambda: np.interp(A, [0.0, 1.0], [0.0, 1.0]), r"cannot write np\.interp.*`text`"),
        (lambda: np.floor(A), r"cannot write np\.floor; known: .*sqrt"),
        (lambda: np.minimum.reduce(np.array([1.0, 2.0]), where=A), "cannot write"),
        (lambda: A + np.array([1.0, 2.0]), "one case of numbers"),
        (lambda: A + "x", "one case of numbers"),
    ],
)
def test_what_cannot_be_written_is_refused(use: Any, says: str) -> None:
    with pytest.raises(NotTraceable, match=says):
        use()


def test_a_kernel_gets_bare_numbers() -> None:
    assert np.asarray(A, dtype=float) == 2.0
    assert np.asarray(A).dtype == float
    sheet = Sheet()
    out = sheet("x", np.cbrt(np.asarray(A, dtype=float)), "mm", "(1)", text="by a kernel")
    assert sheet.rows[0].formula is None
    assert sheet.rows[0].symbolic == "by a kernel"
    assert sheet.rows[0].numeric == ""
    assert text((out + 1).tree) == "x + 1"


def test_a_note_beside_a_formula_keeps_the_formula() -> None:
    sheet = Sheet()
    sheet("x", A / 25.4, "in", text="unit of the edition")
    assert sheet.rows[0].symbolic == "a / 25.4"
    assert sheet.rows[0].note == "unit of the edition"


def test_tracing_a_model_by_hand_count() -> None:
    """`tiny` worked with a desk calculator's functions, row by row, not through the tracer."""
    inputs = {
        "f_c": 30.0,
        "n": 2,
        "t_f": 0.3,
        "E_f": 230e3,
        "eps_fu": 0.015,
        "beta": 90.0,
        "theta": 45.0,
        "d_fv": 300.0,
        "scheme": "u",
    }
    sheet = trace_model(TINY, inputs)
    rows = {row.name: row for row in sheet.rows}
    assert rows["L_e"].symbolic == "23300 / (n * t_f * E_f) ^ 0.58"
    assert rows["L_e"].numeric == "23300 / (2 * 0.3 * 230000) ^ 0.58"
    assert rows["ends"].symbolic == "1"
    assert rows["k_1"].symbolic == "(f_c / 27) ^ (2 / 3) * exp(-log(f_c) / 12)"
    l_e = 23300 / 138000**0.58
    k_2 = (300 - l_e) / 300
    assert rows["k_t"].value == pytest.approx(k_2 - 1, rel=1e-12)
    assert rows["k_t"].numeric.startswith("1 - (2 - 0.9")
    assert rows["eps_fe"].value == pytest.approx(min((1 - k_2) * 0.015, 0.004), rel=1e-12)
    assert rows["eps_fe"].symbolic == "min(abs(k_t) * eps_fu, 0.004, 0.75 * eps_fu)"
    assert {e.name: e.value for e in sheet.coefficients} == {"k_bond": 23300.0, "eps_max": 0.004}
    assert [e.name for e in sheet.inputs] == list(TINY.inputs)
    assert sheet.status.how == "made for tests"
    assert sheet.applicable
    assert not sheet.outside


def test_changed_coefficients_are_told() -> None:
    inputs = _tiny_inputs()
    sheet = trace_model(TINY, inputs, {"eps_max": 0.001})
    changed = {e.name: e.published for e in sheet.coefficients}
    assert changed == {"k_bond": None, "eps_max": 0.004}
    row = next(r for r in sheet.rows if r.name == "eps_fe")
    assert "0.001" in row.symbolic
    assert row.value == pytest.approx(0.001)


def test_a_case_outside_the_conditions_has_no_value_but_a_reason() -> None:
    sheet = trace_model(TINY, {**_tiny_inputs(), "d_fv": 120.0, "f_c": 55.0})
    assert sheet.value is None
    assert not sheet.applicable
    assert sheet.rows == ()
    assert sheet.reasons == ("the FRP must be more than 150 mm deep; see (0)",)
    assert sheet.outside == ("f_c = 55 MPa is outside the published range f_c 20 to 40 MPa: range made up for tests",)


def test_sheets_are_of_one_case() -> None:
    with pytest.raises(NotTraceable, match="one case"):
        trace_model(TINY, {**_tiny_inputs(), "f_c": np.array([30.0, 31.0])})
    with pytest.raises(NotTraceable, match="f_c is an array"):
        trace_call(TINY.func, {**_tiny_inputs(), "f_c": np.array([30.0, 31.0])})


def test_sheet_as_json_has_no_bare_numpy_and_no_nan() -> None:
    sheet = trace_model(TINY, {**_tiny_inputs(), "f_c": np.float32(30.0), "n": np.int64(2)})
    again = json.loads(json.dumps(sheet.to_dict(), allow_nan=False))
    assert again["rows"][0]["formula"] == "23300 / (n * t_f * E_f) ^ 0.58"
    assert again["value"] == sheet.value


def test_a_set_of_models_is_traced_with_sections() -> None:
    def part(*, f_c: Any, b_w: Any, k: float = 0.17, step: Step = no_step) -> Any:
        return step("V_c", k * np.sqrt(f_c) * b_w, "N", "(1)")

    def member(*, f_c: Any, b_w: Any, scheme: str, anchored: bool, step: Step = no_step) -> dict[str, Any]:
        clause.section(step, "Concrete", "SOURCE 1")
        first = part(f_c=f_c, b_w=b_w, step=step)
        clause.section(step, "Total")
        total = step("V_R", first + (100.0 if anchored else 0.0), "N", "sum")
        return {"V_R": total, "scheme": scheme}

    inputs = {"f_c": 25.0, "b_w": 200, "scheme": "u", "anchored": True}
    trace = trace_call(member, inputs)
    assert [s.title for s in trace.sections] == ["Concrete", "Total"]
    assert [(r.name, r.section) for r in trace.rows] == [("V_c", 0), ("V_R", 1)]
    assert trace.rows[1].symbolic == "V_c + 100"
    assert trace.result == {"V_R": pytest.approx(270.0), "scheme": "u"}
    assert type(trace.result["V_R"]) is float
    assert member(**inputs)["V_R"] == pytest.approx(270.0), "sections cost nothing without a sheet"


def test_words_pass_untouched_and_numbers_in_word_inputs_too() -> None:
    seen: dict[str, Any] = {}

    def func(*, level: Any, x: Any, nothing: Any, step: Step = no_step) -> Any:
        seen.update(level=level, nothing=nothing)
        return step("y", x * level, "-", "(1)")

    trace = trace_call(func, {"level": 2, "x": 3.0, "nothing": None}, categories=("level",))
    assert seen == {"level": 2, "nothing": None}
    assert trace.rows[0].symbolic == "x * 2"


def test_a_model_that_only_calls_a_kernel_lists_every_coefficient() -> None:
    def func(*, f_c: Any, k: float = 2.0, step: Step = no_step) -> Any:
        return step("V_c", float(f_c) * float(k), "N", "(1)", text="by a kernel")

    made = Model("local.kernel", func, "V_c", "N", Ref("X"), "kernel", (Status("own", "test"),))
    sheet = trace_model(made, {"f_c": 10.0})
    assert [(e.name, e.value) for e in sheet.coefficients] == [("k", 2.0)]
    assert sheet.value == 20.0


def test_literals_are_numbers_of_the_tree() -> None:
    assert (A + 1).tree.right == Number(1.0)


def _tiny_inputs() -> dict[str, Any]:
    return {
        "f_c": 30.0,
        "n": 1,
        "t_f": 0.2,
        "E_f": 230e3,
        "eps_fu": 0.015,
        "beta": 60.0,
        "theta": 40.0,
        "d_fv": 300.0,
        "scheme": "side",
    }
