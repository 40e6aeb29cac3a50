"""Cells and rows of plain numbers: the short way says the same as the careful one."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cracktie.lab.cells import is_missing, is_over, number, readable, stamp
from cracktie.lab.dialect import cells, find_dialect, is_data

DECIMALS = (".", ",")


def carefully(text: str, decimal: str) -> bool:
    return number(text, decimal) is not None or is_missing(text) or is_over(text) or stamp(text) is not None


@given(st.text("0123456789.,+-eE#*: /", max_size=14), st.sampled_from(DECIMALS))
@example("-12.5", ",")
@example("12,5", ".")
@example("1e999", ".")
@example("1" * 400, ".")
@example("##", ".")
@example("***", ".")
@example("2024.03.15", ",")
def test_a_cell_is_readable_by_what_it_is(text, decimal):
    assert readable(text, decimal) == carefully(text, decimal)


@pytest.mark.parametrize("decimal", DECIMALS)
@pytest.mark.parametrize("delimiter", ["\t", ";", "|", ",", " "])
@given(line=st.text("0123456789.,+-e;|\t #x", min_size=1, max_size=20))
def test_a_line_scores_by_its_cells(line, delimiter, decimal):
    if delimiter == decimal or line.lstrip().startswith("#") or not line.strip():
        return
    row = cells(line, delimiter)
    expected = (1.0 if all(carefully(c, decimal) for c in row) else 0.9) if is_data(row, decimal) else 0.0
    shown = find_dialect([line], delimiter, decimal)
    assert shown.score == pytest.approx(expected)


def test_delimiters_that_stand_nowhere_change_nothing():
    lines = ["time;load", *(f"{i};{i},5" for i in range(20))]
    found = find_dialect(lines)
    assert (found.delimiter, found.decimal) == (";", ",")
