"""Every name a reader meets on a calculation sheet stands in the glossary, once, with one unit."""

from __future__ import annotations

import pytest

from cracktie import clause, symbols
from cracktie.clause import Model
from cracktie.modelcheck import applicable_cases, branches_to_check
from cracktie.trace import trace_model

from .samples import case, draw

every_model = pytest.mark.parametrize("made", clause.all_models(), ids=lambda m: m.id)


@every_model
def test_inputs_are_in_the_glossary(made: Model) -> None:
    lacking = [n for n in (*made.inputs, made.predicts) if not symbols.known(n)]
    assert not lacking, f"{made.id}: add {', '.join(lacking)} to symbols.py"


@every_model
def test_steps_are_in_the_glossary_with_the_same_unit(made: Model) -> None:
    lacking, other = set(), set()
    for words in branches_to_check(made):
        for inputs in applicable_cases(made, words, 1):
            for row in trace_model(made, inputs).rows:
                if not symbols.known(row.name):
                    lacking.add(f"{row.name} [{row.unit}]")
                elif symbols.symbol(row.name).unit != row.unit:
                    other.add(f"{row.name} [{row.unit}, not {symbols.symbol(row.name).unit}]")
    assert not lacking, f"{made.id}: add {', '.join(sorted(lacking))} to symbols.py"
    assert not other, f"{made.id}: {', '.join(sorted(other))}"


@every_model
def test_a_symbol_means_one_thing_on_a_sheet(made: Model) -> None:
    """Two names never share a symbol, and a name written twice has one value."""
    for words in branches_to_check(made):
        for inputs in applicable_cases(made, words, 1):
            known = {n: v for n, v in inputs.items() if n not in words}
            for row in trace_model(made, inputs).rows:
                again = known.setdefault(row.name, row.value)
                assert row.value == pytest.approx(again, rel=1e-9), f"{made.id}: {row.name} changes its value"
            shown = [symbols.plain(n) for n in known]
            shared = {n for n in known if shown.count(symbols.plain(n)) > 1}
            assert not shared, f"{made.id}: one symbol for {', '.join(sorted(shared))}"


def test_rows_are_complete_and_unique() -> None:
    rows = symbols.all_symbols()
    names = [row[0] for row in symbols._ROWS]
    assert len(names) == len(set(names)), {n for n in names if names.count(n) > 1}
    for row in rows:
        assert row.name.isidentifier(), row.name
        assert row.symbol, row.name
        assert row.unit, f"{row.name}: the unit of a ratio is '-'"
        assert row.meaning.strip(), f"{row.name}: no meaning"


def test_symbols_have_one_index() -> None:
    """Two underscores would need an index of an index: write 'f_c,cube'."""
    bad = [row.symbol for row in symbols.all_symbols() if row.symbol.count("_") > 1]
    assert not bad


def test_a_name_without_range_is_explained() -> None:
    made = clause.Model(
        id="local.none",
        func=lambda *, unheard_of, step: unheard_of,
        predicts="V_c",
        unit="N",
        source=clause.Ref("X"),
        title="x",
        status=(clause.Status("own", "x"),),
    )
    with pytest.raises(LookupError, match=r"unheard_of.*samples\.py"):
        case(draw(made, {}, 3), 0)
