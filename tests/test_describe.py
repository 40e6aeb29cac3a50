"""`models show`: complete for every model, true to what the model computes, and readable."""

from __future__ import annotations

import re

import numpy as np
import pytest

from cracktie import actions, clause, cli
from cracktie.clause import Model, evaluate
from cracktie.describe import describe, formulas, possible_branches
from cracktie.errors import UnknownName
from cracktie.modelcheck import evaluate_printed
from cracktie.samples import case, draw

from .models.tiny import TINY

every_model = pytest.mark.parametrize("made", clause.all_models(), ids=lambda m: m.id)


@every_model
def test_every_model_is_described(made: Model) -> None:
    told = describe(made.id)
    assert len(told["inputs"]) == len(made.inputs)
    assert len(told["coefficients"]) == len(made.coefficients)
    assert len(told["limits"]) == len(made.limits)
    assert made.source.where in told["source"]
    assert made.source.key not in told["source"], "the bibliography does not know the source"
    assert {s["level"] for s in told["status"]} == {made.status_of(w).level for w in possible_branches(made)}
    assert any(line.strip().startswith(f"{made.predicts} = ") for line in told["formula"]), told["formula"]


def test_formulas_lead_from_the_inputs_to_the_value() -> None:
    """The shown lines of one branch, taken in their order, evaluate to what the model gives."""
    made = clause.get("frp_shear.aci440_2017")
    words = {"scheme": "u", "layout": "strips", "anchored": False, "form": "test", "edition": "si"}
    inputs = case(draw(made, words, 3), 0)
    known = {n: v for n, v in inputs.items() if n not in words}
    heading = formulas(made).index("inch-pound edition:")
    for line in formulas(made)[1:heading]:
        formula, _, when = line.strip().partition("  where ")
        if not _holds(when, words):
            continue
        name, _, right = formula.partition(" = ")
        known[name] = evaluate_printed(re.sub(r"( \[[^]]*\])?(  \(.*\))?$", "", right), known)
    assert known["V_f"] == pytest.approx(evaluate(made, inputs).value, rel=1e-12)


def _holds(when: str, words: dict[str, object]) -> bool:
    shown = {n: {False: "no", True: "yes"}.get(w, w) if isinstance(w, bool) else w for n, w in words.items()}
    if not when:
        return True
    parts = [[c.split(" = ") for c in part.split(", ")] for part in when.split("; or ")]
    return any(all(shown[name] in allowed.split(" or ") for name, allowed in part) for part in parts)


def test_editions_have_headings_and_a_kernel_says_how() -> None:
    lines = formulas(clause.get("frp_shear.aci440_2017"))
    assert [line for line in lines if not line.startswith(" ")] == ["si edition:", "inch-pound edition:"]
    assert any("root of x^3 = f_c by iteration" in line for line in formulas(TINY))


def test_status_says_where_it_holds() -> None:
    told = describe("frp_shear.aci440_2017")["status"]
    assert ("doubtful", "scheme = side or u, anchored = yes") in [(s["level"], s["when"]) for s in told]


def test_lists_can_be_filtered() -> None:
    frp = actions.list_models("frp_shear")
    assert frp
    assert all(m["topic"] == "frp_shear" for m in frp)
    doubtful = actions.list_models(status="doubtful")
    assert 0 < len(doubtful) < len(actions.list_models())
    assert all("doubtful" in m["levels"] for m in doubtful)
    with pytest.raises(UnknownName, match="concrete_shear"):
        actions.list_models("bridges")


def test_command_line_lists_what_is_not_included(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["models", "list", "--topic", "frp_shear"]) == 0
    shown = capsys.readouterr().out
    assert "not included:" in shown
    assert "@model('local.NAME'" in shown
    assert cli.main(["models", "--json", "--topic", "material"]) == 0
    assert '"not_included": []' in capsys.readouterr().out
    assert cli.main(["models", "show"]) == 2
    assert "needs a model id" in capsys.readouterr().err


def test_levels_of_the_command_line_are_those_of_the_models() -> None:
    assert cli.LEVELS == clause.LEVELS


def test_coefficients_show_their_exact_value() -> None:
    for line in describe("frp_shear.aci440_2017")["coefficients"]:
        name, _, value = line.partition(" = ")
        assert np.isclose(eval(value), clause.get("frp_shear.aci440_2017").coefficients[name], rtol=0)
