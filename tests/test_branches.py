"""Conditions in words: they select exactly the branches they were made from, and no others."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.branches import boxes, in_words

NAMES = {"scheme": ("side", "u", "full"), "anchored": (False, True), "form": ("test", "design")}
ALL = [dict(zip(NAMES, words, strict=True)) for words in product(*NAMES.values())]


def selected(found: list[dict[str, tuple[Any, ...]]], whole: list[dict[str, Any]]) -> list[list[int]]:
    return [
        [i for i, branch in enumerate(whole) if all(branch[n] in words for n, words in box.items())] for box in found
    ]


@given(st.sets(st.integers(0, len(ALL) - 1), min_size=1), st.data())
def test_boxes_cover_their_branches_once_and_no_others(kept: set[int], data: st.DataObject) -> None:
    whole = [ALL[i] for i in sorted(kept)]
    chosen = data.draw(st.sets(st.integers(0, len(whole) - 1), min_size=1))
    found = selected(boxes([whole[i] for i in chosen], whole), whole)
    assert sorted(i for box in found for i in box) == sorted(chosen)


@pytest.mark.parametrize(
    ("condition", "text"),
    [
        (lambda b: True, ""),
        (lambda b: b["form"] == "test", "form = test"),
        (lambda b: b["scheme"] != "full" and b["anchored"], "scheme = side or u, anchored = yes"),
        (
            lambda b: b["scheme"] == "full" or (b["scheme"] == "u" and b["anchored"]),
            "scheme = u, anchored = yes; or scheme = full",
        ),
    ],
)
def test_text(condition: Any, text: str) -> None:
    assert in_words(boxes([b for b in ALL if condition(b)], ALL)) == text
