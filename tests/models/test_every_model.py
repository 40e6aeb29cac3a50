"""What every registered model owes: nobody writes these checks again for a new model."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import resources
from typing import Any

import pytest

from cracktie import clause, modelcheck
from cracktie.clause import Model
from cracktie.modelcheck import applicable_cases, branches_to_check, pairs, ruled_out

from .samples import draw
from .tiny import TINY

__all__ = ["applicable_cases", "every_branch", "every_model", "pairs", "ruled_out"]

MODELS = (*clause.all_models(), TINY)
BRANCHES = [
    pytest.param(m, words, id="-".join([m.id, *map(str, words.values())]))
    for m in MODELS
    for words in branches_to_check(m)
]
every_model = pytest.mark.parametrize("made", MODELS, ids=lambda m: m.id)
every_branch = pytest.mark.parametrize(("made", "words"), BRANCHES)


def over_branches(made: Model, check: Callable[[dict[str, Any]], Any]) -> list[str]:
    """Findings of a check on every branch of a model: one test a model, not one a branch, keeps the suite short."""
    branches = list(branches_to_check(made))
    assert branches, f"{made.id} has no branch to check"
    return [f"{made.id} {words}: {found}" for words in branches if (found := check(words))]


@every_model
@pytest.mark.parametrize(
    "check",
    [modelcheck.array_equals_scalar, modelcheck.inputs_unchanged, modelcheck.other_number_types],
    ids=lambda c: c.__name__,
)
def test_array_runs(made: Model, check: Any) -> None:
    assert not over_branches(made, lambda words: check(made, draw(made, words, modelcheck.SIZE)))


@every_model
def test_values_are_finite_and_not_negative(made: Model) -> None:
    assert not over_branches(
        made, lambda words: modelcheck.finite_and_not_negative(made, draw(made, words, 400, seed=21))
    )


@every_model
@pytest.mark.parametrize(
    ("check", "most"),
    [
        (modelcheck.sheet_gives_plain_number, 5),
        (modelcheck.sheet_equals_kept, 2),
        (modelcheck.printed_formulas, 5),
        (modelcheck.steps_have_clauses, 1),
    ],
    ids=lambda c: getattr(c, "__name__", ""),
)
def test_calculation_sheets(made: Model, check: Any, most: int) -> None:
    def on_cases(words: dict[str, Any]) -> list[Any]:
        cases = applicable_cases(made, words, most)
        return [f for inputs in cases for f in check(made, inputs)] if cases else ["no applicable case"]

    assert not over_branches(made, on_cases)


@every_model
def test_no_formula_is_lost_on_the_way(made: Model) -> None:
    assert not over_branches(made, lambda words: modelcheck.no_formula_lost(made, applicable_cases(made, words, 5)))


@every_model
@pytest.mark.parametrize(
    "check",
    [modelcheck.signature, modelcheck.statuses, modelcheck.words_that_rule_out],
    ids=lambda c: c.__name__,
)
def test_registration(made: Model, check: Any) -> None:
    assert not check(made), made.id


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
