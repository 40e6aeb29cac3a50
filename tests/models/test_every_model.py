"""What every registered model owes: nobody writes these checks again for a new model."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator, Mapping
from importlib import resources
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from cracktie import clause
from cracktie.clause import Applies, Keep, Model, evaluate
from cracktie.expression import FUNCTIONS, evaluate_expression
from cracktie.trace import trace_model

from .samples import case, draw
from .tiny import TINY

SIZE = 40
MODELS = (*clause.all_models(), TINY)


def ruled_out(made: Model, words: Mapping[str, Any]) -> Applies | None:
    """The condition that the words alone, without any number, already fail."""
    for condition in made.applies:
        try:
            holds = condition.test(words)
        except KeyError:
            continue
        if not np.all(holds):
            return condition
    return None


def pairs(words: Mapping[str, Any]) -> set[frozenset[tuple[str, Any]]]:
    """Every pair of words of one branch; a single word counts where there is only one."""
    items = sorted(words.items())
    return {frozenset(p) for p in combinations(items, min(2, len(items)))}


def branches_to_test(made: Model) -> Iterator[dict[str, Any]]:
    """Branches that can give a value, thinned until each possible pair of words is met at least once."""
    met: set[frozenset[tuple[str, Any]]] = set()
    for words in made.branches():
        if ruled_out(made, words) is None and (not words or not pairs(words) <= met):
            met |= pairs(words)
            yield words


BRANCHES = [
    pytest.param(m, words, id="-".join([m.id, *map(str, words.values())]))
    for m in MODELS
    for words in branches_to_test(m)
]
every_model = pytest.mark.parametrize("made", MODELS, ids=lambda m: m.id)
every_branch = pytest.mark.parametrize(("made", "words"), BRANCHES)


def applicable_cases(made: Model, words: Mapping[str, Any], most: int) -> list[dict[str, Any]]:
    values = draw(made, words, SIZE)
    mask = np.broadcast_to(evaluate(made, values).applicable, SIZE)
    return [case(values, row) for row in np.flatnonzero(mask)[:most]]


@every_branch
def test_array_run_equals_one_by_one(made: Model, words: dict[str, Any]) -> None:
    values = draw(made, words, SIZE)
    whole = evaluate(made, values)
    singles = [evaluate(made, case(values, row)) for row in range(SIZE)]
    np.testing.assert_allclose(whole.value, [s.value for s in singles], rtol=1e-12)
    assert whole.applicable.tolist() == [s.applicable for s in singles]


@every_branch
def test_values_are_finite_and_not_negative(made: Model, words: dict[str, Any]) -> None:
    values = draw(made, words, 400, seed=21)
    result = evaluate(made, values)
    assert np.mean(result.applicable) >= 0.2, f"{made.id} {words}: hardly any sampled case applies; mend the ranges"
    good = result.value[result.applicable]
    assert np.isfinite(good).all()
    assert (good >= 0).all(), f"{made.id} {words}: {good.min()} {made.unit}"


@every_branch
def test_sheet_gives_the_plain_number(made: Model, words: dict[str, Any]) -> None:
    for inputs in applicable_cases(made, words, 5):
        sheet = trace_model(made, inputs)
        assert sheet.value == pytest.approx(evaluate(made, inputs).value, rel=1e-12)
        assert sheet.rows, "a model without a step has nothing to show"
        assert sheet.rows[-1].value == sheet.value, "the last step is the result"
        assert sheet.rows[-1].unit == made.unit


@every_branch
def test_sheet_records_what_an_array_run_keeps(made: Model, words: dict[str, Any]) -> None:
    for inputs in applicable_cases(made, words, 2):
        rows = trace_model(made, inputs).rows
        keep = Keep(*(row.name for row in rows))
        evaluate(made, inputs, step=keep)
        for row in rows:
            kept = np.ravel(keep.values[row.name])
            assert np.isclose(kept.astype(float), row.value, rtol=1e-12, atol=0).any(), row.name


@every_branch
def test_printed_formulas_evaluate_to_their_numbers(made: Model, words: dict[str, Any]) -> None:
    """Tree, text with names and text with numbers all give the recorded value again."""
    for inputs in applicable_cases(made, words, 5):
        known = {n: float(v) for n, v in inputs.items() if n not in words and v is not None}
        for row in trace_model(made, inputs).rows:
            if row.formula is not None:
                printed = _evaluated(row.symbolic, known)
                assert printed == pytest.approx(row.value, rel=1e-12), f"{row.name} = {row.symbolic}"
                assert _evaluated(row.numeric, {}) == pytest.approx(row.value, rel=1e-12), row.numeric
                assert evaluate_expression(row.formula, known) == pytest.approx(row.value, rel=1e-12)
            known[row.name] = row.value


def _evaluated(printed: str, known: Mapping[str, float]) -> float:
    """Value of printed text by Python's own grammar, apart from the tree it was printed from."""
    space: dict[str, Any] = {n: f for n, f in FUNCTIONS.items() if n not in ("min", "max")}
    space |= {"min": min, "max": max, "where": np.where, "__builtins__": {}}
    numbers = {n: np.float64(v) for n, v in known.items()}
    source = re.sub(r"(?<![\w.])(\d+\.?\d*(?:e[+-]?\d+)?)", r"number(\1)", printed.replace("^", "**"))
    with np.errstate(all="ignore"):
        return float(eval(source, {**space, "number": np.float64}, numbers))


@every_branch
def test_no_formula_is_lost_on_the_way(made: Model, words: dict[str, Any]) -> None:
    """A step that depends on the inputs is written as a formula or says in `text` how it was found."""
    seen: dict[tuple[int, str], set[float]] = {}
    for inputs in applicable_cases(made, words, 5):
        for place, row in enumerate(trace_model(made, inputs).rows):
            if row.formula is not None and _bare(row.numeric):
                seen.setdefault((place, row.name), set()).add(row.value)
    lost = [name for (_, name), values in seen.items() if len(values) > 1]
    assert not lost, f"{made.id}: {', '.join(lost)} vary with the inputs but show only a number; give text=..."


def _bare(numeric: str) -> bool:
    return re.fullmatch(r"-?[\d.]+(e[+-]?\d+)?", numeric) is not None


@every_branch
def test_every_step_says_where_it_comes_from(made: Model, words: dict[str, Any]) -> None:
    for inputs in applicable_cases(made, words, 1):
        bare = [row.name for row in trace_model(made, inputs).rows if not (row.where or row.note)]
        assert not bare, f"{made.id}: no clause at {', '.join(bare)}"


@every_branch
def test_a_status_covers_every_branch(made: Model, words: dict[str, Any]) -> None:
    status = made.status_of(words)
    assert status.level in clause.LEVELS
    assert status.how.strip(), f"{made.id}: the status says nothing"


@every_branch
def test_inputs_are_not_changed(made: Model, words: dict[str, Any]) -> None:
    values = draw(made, words, SIZE)
    before = {n: np.copy(v) for n, v in values.items()}
    evaluate(made, values)
    for name, value in values.items():
        np.testing.assert_array_equal(value, before[name], err_msg=name)


@every_branch
def test_narrow_floats_and_whole_numbers_are_accepted(made: Model, words: dict[str, Any]) -> None:
    """Whole-number cases give the same as floats; 32-bit floats lose digits (2^-24 each) but nothing else."""
    values = draw(made, words, SIZE)
    wide = {n: v.astype(float) if isinstance(v, np.ndarray) else v for n, v in values.items()}
    narrow = {n: v.astype(np.float32) if isinstance(v, np.ndarray) else v for n, v in values.items()}
    again = {n: v.astype(float) if isinstance(v, np.ndarray) else v for n, v in narrow.items()}
    np.testing.assert_allclose(evaluate(made, narrow).value, evaluate(made, again).value, rtol=2e-4)
    whole = {n: np.rint(v) if isinstance(v, np.ndarray) and np.min(v) > 20 else v for n, v in wide.items()}
    integers = {n: v.astype(int) if v is not wide[n] else v for n, v in whole.items()}
    np.testing.assert_allclose(evaluate(made, integers).value, evaluate(made, whole).value, rtol=1e-12)


@every_model
def test_inputs_are_keyword_only(made: Model) -> None:
    parameters = inspect.signature(made.func).parameters.values()
    assert all(p.kind is p.KEYWORD_ONLY for p in parameters)
    typed = [p.name for p in parameters if p.default is not p.empty and p.name != "step"]
    assert typed == list(made.coefficients), f"{made.id}: a coefficient is a float default such as 2.0, not 2"


@every_model
def test_units_text_and_documentation(made: Model) -> None:
    assert made.title.strip()
    assert inspect.getdoc(made.func), f"{made.id} has no docstring"
    assert re.fullmatch(r"[a-z0-9_]+(\.[a-z0-9_]+)+", made.id), made.id


@every_model
def test_every_branch_has_a_status_and_words_that_rule_it_out_say_so(made: Model) -> None:
    for words in made.branches():
        assert made.status_of(words).how.strip()
        condition = ruled_out(made, words)
        if condition is not None:
            result = evaluate(made, draw(made, words, 2))
            assert np.isnan(result.value).all(), words
            assert condition in [reason for reason, _ in result.reasons]
            assert condition.sentence.strip()


@pytest.mark.parametrize("made", clause.all_models(), ids=lambda m: m.id)
def test_the_source_is_in_the_bibliography(made: Model) -> None:
    assert made.source.key in bibliography_keys(), f"{made.id}: no entry {made.source.key} in references.bib"


def bibliography_keys() -> list[str]:
    """Keys of references.bib in file order."""
    written = (resources.files("cracktie") / "references.bib").read_text(encoding="utf-8")
    return re.findall(r"^@\w+\{\s*([^,\s]+)\s*,", written, flags=re.MULTILINE)


def test_the_bibliography_is_well_formed() -> None:
    """Each entry opens at the line start, its braces close, it has title, year and author or institution."""
    written = (resources.files("cracktie") / "references.bib").read_text(encoding="utf-8")
    keys = bibliography_keys()
    doubled = {k for k in keys if keys.count(k) > 1}
    assert not doubled, f"keys used twice: {doubled}"
    entries = re.split(r"^(?=@)", written, flags=re.MULTILINE)[1:]
    assert len(entries) == len(keys)
    for key, body in zip(keys, entries, strict=True):
        body = "\n".join(line for line in body.splitlines() if not line.startswith("%")).strip()
        assert body.count("{") == body.count("}"), f"{key}: braces do not close"
        assert body.endswith("}"), f"{key}: text after the entry"
        fields = set(re.findall(r"^\s*(\w+)\s*=", body, flags=re.MULTILINE))
        assert {"title", "year"} <= fields, f"{key}: needs title and year"
        assert fields & {"author", "editor", "institution", "organization"}, f"{key}: nobody wrote it"
