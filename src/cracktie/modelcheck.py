"""What every model owes, published or a user's own: checks that need nothing but the model and plausible inputs.

Each check returns its findings as sentences, none where all is well. `check_model` runs them all.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator, Mapping
from itertools import combinations
from typing import Any

import numpy as np

from cracktie.clause import LEVELS, Applies, Keep, Model, evaluate
from cracktie.errors import CracktieError
from cracktie.expression import FUNCTIONS, evaluate_expression
from cracktie.samples import UnknownRange, case, draw
from cracktie.trace import trace_model

SIZE = 40
"""Sampled cases of an array run."""

LEAST_APPLICABLE = 0.2
"""Share of the sampled cases that must apply, so that the other checks see something."""

Findings = list[str]
Ranges = Mapping[str, tuple[float, float]]


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


def branches_to_check(made: Model) -> Iterator[dict[str, Any]]:
    """Branches that can give a value, thinned until each possible pair of words is met at least once."""
    met: set[frozenset[tuple[str, Any]]] = set()
    for words in made.branches():
        if ruled_out(made, words) is None and (not words or not pairs(words) <= met):
            met |= pairs(words)
            yield words


def applicable_cases(
    made: Model, words: Mapping[str, Any], most: int, ranges: Ranges | None = None
) -> list[dict[str, Any]]:
    """At most `most` of `SIZE` sampled cases of a branch to which the model applies."""
    values = draw(made, words, SIZE, ranges=ranges)
    found: list[dict[str, Any]] = []
    for row in range(SIZE):
        inputs = case(values, row)
        if evaluate(made, inputs).applicable:
            found.append(inputs)
            if len(found) == most:
                break
    return found


def signature(made: Model) -> Findings:
    """Inputs are keyword-only and have no default; a default is a float coefficient; the function is documented."""
    found = []
    parameters = inspect.signature(made.func).parameters.values()
    positional = [p.name for p in parameters if p.kind is not p.KEYWORD_ONLY]
    if positional:
        found.append(f"{', '.join(positional)} may be given by position; start the signature with *")
    typed = [p.name for p in parameters if p.default is not p.empty and p.name != "step"]
    wrong = [n for n in typed if n not in made.coefficients]
    if wrong:
        found.append(f"the default of {', '.join(wrong)} is no float; write for example 2.0, not 2")
    if not inspect.getdoc(made.func):
        found.append("the function has no docstring; it says units and where it departs from its source")
    if not made.title.strip():
        found.append("the title is empty")
    if not re.fullmatch(r"[a-z0-9_]+(\.[a-z0-9_]+)+", made.id):
        found.append("the id must be topic.name in lower case letters, digits and _")
    return found


def statuses(made: Model) -> Findings:
    """Every combination of words has a status with a reason."""
    found = []
    for words in made.branches():
        if not any(s.covers(words) for s in made.status):
            found.append(f"no status covers {in_words(words)}")
            continue
        status = made.status_of(words)
        if status.level not in LEVELS or not status.how.strip():
            found.append(f"the status of {in_words(words)} does not say how it is known")
    return found


def words_that_rule_out(made: Model) -> Findings:
    """A branch that its words rule out gives no value, and the reason is told."""
    found = []
    for words in made.branches():
        condition = ruled_out(made, words)
        if condition is None:
            continue
        result = evaluate(made, {n: words.get(n, 1.0) for n in made.inputs})
        if not np.isnan(result.value) or condition not in [reason for reason, _ in result.reasons]:
            found.append(f"{in_words(words)} is ruled out but gives {result.value:g} {made.unit}")
        if not condition.sentence.strip():
            found.append(f"the condition that rules out {in_words(words)} has no sentence")
    return found


def array_equals_scalar(made: Model, values: Mapping[str, Any]) -> Findings:
    """A run over arrays gives what the cases give one by one."""
    size = _size(values)
    whole = evaluate(made, values)
    singles = [evaluate(made, case(values, row)) for row in range(size)]
    if np.broadcast_to(whole.applicable, size).tolist() != [s.applicable for s in singles]:
        return ["an array run and single runs disagree on where the model applies"]
    each = np.array([s.value for s in singles])
    same = np.isclose(whole.value, each, rtol=1e-12, atol=0, equal_nan=True)
    if not np.all(same):
        row = int(np.flatnonzero(~same)[0])
        return [f"an array run gives {np.ravel(whole.value)[row]:.12g}, the same case alone {each[row]:.12g}"]
    return []


def finite_and_not_negative(made: Model, values: Mapping[str, Any]) -> Findings:
    """Enough cases apply; their values are finite and not below zero."""
    result = evaluate(made, values)
    share = float(np.mean(result.applicable))
    if share < LEAST_APPLICABLE:
        return [f"only {share:.0%} of the sampled cases apply; mend the ranges the cases are drawn from"]
    good = np.ravel(result.value)[np.broadcast_to(result.applicable, np.shape(result.value)).ravel()]
    if not np.isfinite(good).all():
        return ["an applicable case gives no finite value"]
    if (good < 0).any():
        return [f"an applicable case gives {good.min():g} {made.unit}, below zero"]
    return []


def inputs_unchanged(made: Model, values: Mapping[str, Any]) -> Findings:
    """The model does not write into its inputs."""
    before = {n: np.copy(v) for n, v in values.items()}
    evaluate(made, values)
    changed = [n for n, v in values.items() if not np.array_equal(v, before[n])]
    return [f"the run changed its input {', '.join(changed)}"] if changed else []


def other_number_types(made: Model, values: Mapping[str, Any]) -> Findings:
    """Whole-number arrays give the same as floats; 32-bit floats lose digits (2^-24 each) but nothing else."""
    wide = {n: v.astype(float) if isinstance(v, np.ndarray) else v for n, v in values.items()}
    narrow = {n: v.astype(np.float32) if isinstance(v, np.ndarray) else v for n, v in values.items()}
    again = {n: v.astype(float) if isinstance(v, np.ndarray) else v for n, v in narrow.items()}
    whole = {n: np.rint(v) if isinstance(v, np.ndarray) and np.min(v) > 20 else v for n, v in wide.items()}
    integers = {n: v.astype(int) if v is not wide[n] else v for n, v in whole.items()}
    found = []
    if not _agree(made, narrow, again, 2e-4):
        found.append("32-bit floats give another value than the same numbers as 64-bit floats")
    if not _agree(made, integers, whole, 1e-12):
        found.append("whole numbers give another value than the same numbers as floats")
    return found


def _agree(made: Model, one: Mapping[str, Any], other: Mapping[str, Any], rtol: float) -> bool:
    left, right = evaluate(made, one).value, evaluate(made, other).value
    return bool(np.allclose(left, right, rtol=rtol, atol=0, equal_nan=True))


def sheet_gives_plain_number(made: Model, inputs: Mapping[str, Any]) -> Findings:
    """The calculation sheet ends in the plain number, in the model's unit."""
    sheet = trace_model(made, inputs)
    plain = evaluate(made, inputs).value
    if not sheet.rows:
        return ["there is no step: a calculation sheet would be empty"]
    found = []
    if not _close(sheet.value, plain):
        found.append(f"the calculation sheet gives {sheet.value!r}, the plain run {plain!r}")
    last = sheet.rows[-1]
    if last.value != sheet.value:
        found.append(f"the last step {last.name} is not the result: return step(...)")
    if last.unit != made.unit:
        found.append(f"the last step is in {last.unit}, the model in {made.unit}")
    return found


def sheet_equals_kept(made: Model, inputs: Mapping[str, Any]) -> Findings:
    """Every intermediate of the sheet is what a plain run has under that name."""
    rows = trace_model(made, inputs).rows
    keep = Keep(*(row.name for row in rows))
    evaluate(made, inputs, step=keep)
    last = {row.name: row.value for row in rows}
    return [
        f"step {name} is {value:.12g} on the sheet and {float(np.ravel(keep.values[name])[-1]):.12g} in a plain run"
        for name, value in last.items()
        if not _close(float(np.ravel(keep.values[name])[-1]), value)
    ]


def printed_formulas(made: Model, inputs: Mapping[str, Any]) -> Findings:
    """Tree, text with names and text with numbers all give the recorded value again."""
    found = []
    known = {n: float(inputs[n]) for n in made.inputs if n not in made.categories and inputs[n] is not None}
    for row in trace_model(made, inputs).rows:
        if row.formula is not None:
            again = {
                row.symbolic: evaluate_printed(row.symbolic, known),
                row.numeric: evaluate_printed(row.numeric, {}),
                f"the tree of {row.symbolic}": evaluate_expression(row.formula, known),
            }
            found += [
                f"{row.name} = {text} evaluates to {value:.12g}, recorded {row.value:.12g}"
                for text, value in again.items()
                if not _close(value, row.value)
            ]
        known[row.name] = row.value
    return found


def evaluate_printed(printed: str, known: Mapping[str, float]) -> float:
    """Value of a printed formula by Python's own grammar, apart from the tree it was printed from."""
    space: dict[str, Any] = {n: f for n, f in FUNCTIONS.items() if n not in ("min", "max")}
    space |= {"min": min, "max": max, "where": np.where, "number": np.float64, "__builtins__": {}}
    numbers = {n: np.float64(v) for n, v in known.items()}
    source = re.sub(r"(?<![\w.])(\d+\.?\d*(?:e[+-]?\d+)?)", r"number(\1)", printed.replace("^", "**"))
    with np.errstate(all="ignore"):
        return float(eval(source, space, numbers))


def no_formula_lost(made: Model, cases: list[dict[str, Any]]) -> Findings:
    """A step that depends on the inputs is written as a formula or says in `text` how it was found."""
    seen: dict[tuple[int, str], set[float]] = {}
    for inputs in cases:
        for place, row in enumerate(trace_model(made, inputs).rows):
            if row.formula is not None and re.fullmatch(r"-?[\d.]+(e[+-]?\d+)?", row.numeric):
                seen.setdefault((place, row.name), set()).add(row.value)
    lost = [name for (_, name), values in seen.items() if len(values) > 1]
    return [f"{', '.join(lost)} vary with the inputs but show only a number; give text=..."] if lost else []


def steps_have_clauses(made: Model, inputs: Mapping[str, Any]) -> Findings:
    """Every step names its clause or equation, or says in words how it was found."""
    bare = [row.name for row in trace_model(made, inputs).rows if not (row.where or row.note)]
    return [f"no clause at step {', '.join(bare)}"] if bare else []


def check_branch(made: Model, words: Mapping[str, Any], ranges: Ranges | None = None) -> Findings:
    """Every check of one branch on sampled cases. Raises `UnknownRange`."""
    values = draw(made, words, SIZE, ranges=ranges)
    many = draw(made, words, 400, seed=21, ranges=ranges)
    found: Findings = []
    for over_arrays in (array_equals_scalar, inputs_unchanged, other_number_types):
        found += _guarded("a run over arrays", over_arrays, made, values)
    found += _guarded("a run over arrays", finite_and_not_negative, made, many)
    try:
        cases = applicable_cases(made, words, 5, ranges)
    except Exception as error:
        return [*found, f"a run of one case stopped: {type(error).__name__}: {error}"]
    for inputs in cases:
        for on_sheet in (sheet_gives_plain_number, sheet_equals_kept, printed_formulas, steps_have_clauses):
            found += _guarded("the calculation sheet", on_sheet, made, inputs)
    found += _guarded("the calculation sheet", no_formula_lost, made, cases)
    return list(dict.fromkeys(found))


def _guarded(what: str, check: Callable[[Model, Any], Findings], made: Model, given: Any) -> Findings:
    """Findings of a check; whatever the model's own code raises is a finding too."""
    try:
        return check(made, given)
    except CracktieError as error:
        return [str(error)]
    except Exception as error:
        return [f"{what} stopped: {type(error).__name__}: {error}"]


def check_model(made: Model, ranges: Ranges | None = None) -> tuple[int, Findings]:
    """Run every check; returns how many branches were checked and the findings, each with its branch."""
    found = [*signature(made), *statuses(made)]
    if found:
        return 0, found  # without a sound signature and a status nothing below can run
    branches = list(branches_to_check(made))
    by_finding: dict[str, list[str]] = {}
    for words in branches:
        try:
            sentences = check_branch(made, words, ranges)
        except UnknownRange as error:
            sentences = [str(error)]
        for sentence in sentences:
            by_finding.setdefault(sentence, []).append(in_words(words))
    found = [f"{sentence}{_met_in(met)}" for sentence, met in by_finding.items()]
    if not branches:
        found.append("every branch is ruled out by its words")
    return len(branches), found if found else words_that_rule_out(made)


def _met_in(branches: list[str]) -> str:
    named = [b for b in branches if b != "every case"]
    if not named:
        return ""
    more = f" and {len(named) - 1} more" if len(named) > 1 else ""
    return f" ({named[0]}{more})"


def in_words(words: Mapping[str, Any]) -> str:
    """A branch as text: 'scheme = u, form = test'."""
    shown = {True: "yes", False: "no"}
    return ", ".join(f"{n} = {shown.get(w, w) if isinstance(w, bool) else w}" for n, w in words.items()) or "every case"


def _close(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and bool(np.isclose(one, other, rtol=1e-12, atol=0))


def _size(values: Mapping[str, Any]) -> int:
    return next(len(v) for v in values.values() if isinstance(v, np.ndarray))
