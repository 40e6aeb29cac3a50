"""Registration, look-up and evaluation of models."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from cracktie import clause
from cracktie.clause import Applies, Keep, Limit, Model, Ref, Status, Step, evaluate, no_step
from cracktie.errors import ModelInputError, UnknownName

from .models.tiny import TINY


def strength(*, f_c: Any, b_w: Any, scheme: str, k: float = 0.5, step: Step = no_step) -> Any:
    """Value f_c b_w k, doubled for full wraps."""
    ends = step("ends", {"side": 2.0, "u": 1.0, "full": 0.0}[scheme], "-", "(1)")
    if scheme == "full":
        f_c = step("f_double", 2.0 * f_c, "MPa", "(2)")
    return step("V_c", k * f_c * b_w + 0.0 * ends, "N", "(3)")


PLAIN = Model(
    "local.strength",
    strength,
    "V_c",
    "N",
    Ref("X", "1"),
    "strength",
    (Status("memory", "all"), Status("doubtful", "side only", {"scheme": "side"})),
    limits=(Limit("f_c", 10.0, 50.0, "range of the tests"),),
    applies=(Applies(lambda x: np.asarray(x["b_w"]) > 0, "the web needs a width", "1.1"),),
)


@pytest.fixture
def registry() -> Iterator[dict[str, Model]]:
    """The registry, put back afterwards."""
    clause.discover()
    before = dict(clause._REGISTRY)
    yield clause._REGISTRY
    clause._REGISTRY.clear()
    clause._REGISTRY.update(before)


def test_scalar_run() -> None:
    result = evaluate(PLAIN, {"f_c": 30.0, "b_w": 200.0, "scheme": "u", "unused": 1})
    assert result.value == 3000.0
    assert result.applicable is True
    assert result.reasons == ()
    assert result.outside == ()
    assert result.status.level == "memory"


def test_array_run_groups_words_and_keeps_case_order() -> None:
    schemes = np.array(["full", "u", "full", "side", "u"])
    f_c = np.array([10.0, 20.0, 30.0, 40.0, 60.0])
    keep = Keep("ends", "f_double", "V_c")
    result = evaluate(PLAIN, {"f_c": f_c, "b_w": 2.0, "scheme": schemes}, step=keep)
    assert result.value.tolist() == [20.0, 20.0, 60.0, 40.0, 60.0]
    assert keep.values["V_c"].tolist() == result.value.tolist()
    assert keep.values["ends"].tolist() == [0.0, 1.0, 0.0, 2.0, 1.0]
    np.testing.assert_array_equal(keep.values["f_double"], [20.0, np.nan, 60.0, np.nan, np.nan])
    assert result.status.level == "doubtful", "the weakest branch met"
    ((limit, mask),) = result.outside
    assert limit.name == "f_c"
    assert mask.tolist() == [False, False, False, False, True]


def test_chunks_join_in_case_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clause, "CHUNK", 7)
    f_c = np.linspace(10.0, 50.0, 40)
    keep = Keep("V_c", "ends")
    result = evaluate(PLAIN, {"f_c": f_c, "b_w": 2.0, "scheme": "u"}, step=keep)
    np.testing.assert_array_equal(result.value, f_c)
    np.testing.assert_array_equal(keep.values["V_c"], f_c)
    np.testing.assert_array_equal(keep.values["ends"], np.ones(40))


def test_one_keep_serves_array_runs_and_single_ones() -> None:
    keep = Keep("V_c")
    evaluate(PLAIN, {"f_c": np.array([10.0, 20.0]), "b_w": 2.0, "scheme": "u"}, step=keep)
    assert keep.values["V_c"].tolist() == [10.0, 20.0]
    evaluate(PLAIN, {"f_c": 30.0, "b_w": 2.0, "scheme": "u"}, step=keep)
    assert keep.values["V_c"] == 30.0
    evaluate(PLAIN, {"f_c": np.array([1.0, 2.0, 3.0]), "b_w": 2.0, "scheme": "u"}, step=keep)
    assert keep.values["V_c"].tolist() == [1.0, 2.0, 3.0]


def test_unmet_conditions_mask_the_value_and_say_why() -> None:
    result = evaluate(PLAIN, {"f_c": 30.0, "b_w": np.array([200.0, 0.0]), "scheme": "u"})
    assert result.applicable.tolist() == [True, False]
    assert np.isnan(result.value).tolist() == [False, True]
    ((condition, mask),) = result.reasons
    assert condition.sentence == "the web needs a width"
    assert mask.tolist() == [False, True]
    single = evaluate(PLAIN, {"f_c": 30.0, "b_w": 0.0, "scheme": "u"})
    assert not single.applicable
    assert np.isnan(single.value)


def test_a_limit_marks_but_does_not_mask() -> None:
    result = evaluate(PLAIN, {"f_c": 80.0, "b_w": 1.0, "scheme": "u"})
    assert result.value == 40.0
    assert result.applicable
    assert [lim.sentence("MPa") for lim, _ in result.outside] == ["f_c 10 to 50 MPa: range of the tests"]


def test_a_limit_of_a_branch_marks_that_branch_only() -> None:
    """Words as arrays: each case is held to the range of its own branch."""
    limits = (Limit("f_c", 10.0, 50.0, "x", {"scheme": "u"}), Limit("f_c", 5.0, 70.0, "x", {"scheme": "side"}))
    branched = replace(PLAIN, limits=limits)
    inputs = {"f_c": np.array([60.0, 60.0, 80.0, 80.0, 7.0]), "b_w": 1.0}
    found = evaluate(branched, {**inputs, "scheme": np.array(["u", "side", "u", "side", "u"]), "b_w": np.ones(5)})
    marked = {lim.when["scheme"]: mask.tolist() for lim, mask in found.outside}
    assert marked == {"u": [True, False, True, False, True], "side": [False, False, False, True, False]}
    assert not evaluate(branched, {"f_c": 60.0, "b_w": 1.0, "scheme": "side"}).outside
    assert not evaluate(branched, {"f_c": 90.0, "b_w": 1.0, "scheme": "full"}).outside
    ((limit, _),) = evaluate(branched, {"f_c": 60.0, "b_w": 1.0, "scheme": "u"}).outside
    assert limit.sentence("MPa") == "f_c 10 to 50 MPa (scheme = u): x"


@pytest.mark.parametrize("when", [{"scheme": "v"}, {"form": "test"}])
def test_a_limit_of_no_branch_is_refused(when: dict[str, str]) -> None:
    def f(*, f_c: float, scheme: str, step: Any = no_step) -> float:
        return step("V_c", f_c, "N", "1")

    with pytest.raises(ValueError, match="which is no branch"):
        clause.model(
            "tests.no_branch", predicts="V_c", unit="N", source=Ref("X"), title="x", status=Status("own", "ours"),
            limits=(Limit("f_c", 1.0, 2.0, "x", when),),
        )(f)  # fmt: skip


@pytest.mark.parametrize(
    ("limit", "sentence"),
    [
        (Limit("f_c", high=50.0, why="x"), "f_c at most 50 MPa: x"),
        (Limit("f_c", low=12.0, why="x"), "f_c at least 12 MPa: x"),
    ],
)
def test_one_sided_limits_read_well(limit: Limit, sentence: str) -> None:
    assert limit.sentence("MPa") == sentence


@pytest.mark.parametrize(
    ("inputs", "coefficients", "says"),
    [
        ({"f_c": 30.0}, {}, "needs b_w, scheme; given f_c"),
        ({}, {}, "given nothing"),
        ({"f_c": 30.0, "b_w": 1.0, "scheme": "U"}, {}, "scheme = 'U'; possible: side, u, full"),
        ({"f_c": 30.0, "b_w": 1.0, "scheme": np.array(["u", "x"])}, {}, "scheme = .*'x'"),
        ({"f_c": 30.0, "b_w": 1.0, "scheme": "u"}, {"q": 1.0}, "no coefficient q; its coefficients: k"),
        ({"f_c": np.ones(2), "b_w": np.ones(3), "scheme": "u"}, {}, "one length"),
        ({"f_c": np.ones((2, 2)), "b_w": 1.0, "scheme": "u"}, {}, "one-dimensional"),
        ({"f_c": np.nan, "b_w": 1.0, "scheme": "u"}, {}, "no finite value for f_c = nan, b_w = 1"),
        ({"f_c": np.array([1.0, np.inf]), "b_w": 1.0, "scheme": "u"}, {}, "no finite value for f_c = inf"),
    ],
)
def test_bad_calls_say_what_is_wrong(inputs: dict[str, Any], coefficients: dict[str, float], says: str) -> None:
    with pytest.raises(ModelInputError, match=says):
        evaluate(PLAIN, inputs, coefficients=coefficients)


def test_coefficients_may_be_changed_by_name() -> None:
    case = {"f_c": 30.0, "b_w": 10.0, "scheme": "u"}
    assert evaluate(PLAIN, case, coefficients={"k": 1.0}).value == 2 * evaluate(PLAIN, case).value


def test_signature_is_read() -> None:
    assert PLAIN.inputs == ("f_c", "b_w", "scheme")
    assert PLAIN.coefficients == {"k": 0.5}
    assert PLAIN.categories == {"scheme": ("side", "u", "full")}
    assert list(PLAIN.branches()) == [{"scheme": "side"}, {"scheme": "u"}, {"scheme": "full"}]
    assert PLAIN.weakest.level == "doubtful"
    assert PLAIN.topic == "local"
    assert PLAIN(f_c=1.0, b_w=4.0, scheme="u") == 2.0


def test_the_most_particular_status_counts() -> None:
    assert PLAIN.status_of({"scheme": "side"}).how == "side only"
    assert PLAIN.status_of({"scheme": "u"}).how == "all"
    with pytest.raises(ValueError, match="'sure' is none of doubtful"):
        Status("sure", "x")


def test_registration(registry: dict[str, Model]) -> None:
    made = clause.model("local.x", predicts="V_c", unit="N", source=Ref("X"), title="x", status=Status("own", "x"))(
        strength
    )
    assert made is strength
    assert clause.get("local.x").func is strength
    assert clause.get("local.x") in clause.all_models("local")


@pytest.mark.parametrize(
    ("func", "more", "says"),
    [
        (lambda f_c, *, step: f_c, {}, "keyword-only"),
        (lambda *, f_c: f_c, {}, "last parameter is step"),
        (lambda *, f_c, step: f_c, {"limits": (Limit("d", 1.0),)}, "limit on 'd', which is no input"),
    ],
)
def test_mistakes_of_authors_are_found_on_import(
    registry: dict[str, Model], func: Any, more: dict[str, Any], says: str
) -> None:
    register = clause.model(
        "local.y", predicts="V_c", unit="N", source=Ref("X"), title="x", status=Status("own", "x"), **more
    )
    with pytest.raises(ValueError, match=says):
        register(func)


def test_an_id_belongs_to_one_file(registry: dict[str, Model]) -> None:
    registry["local.z"] = TINY
    register = clause.model("local.z", predicts="V_c", unit="N", source=Ref("X"), title="x", status=Status("own", "x"))
    with pytest.raises(ValueError, match=r"two models are called 'local\.z'"):
        register(strength)


def test_unknown_models_get_near_names(registry: dict[str, Model]) -> None:
    registry["local.strength"] = PLAIN
    with pytest.raises(UnknownName, match=r"did you mean .*local\.strength"):
        clause.get("local.strenght")
    with pytest.raises(UnknownName, match="`cracktie models` lists them"):
        clause.get("qqqqq")


def test_section_is_silent_without_a_sheet() -> None:
    clause.section(no_step, "title")
