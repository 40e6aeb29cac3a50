"""The branches of a model in words: which combinations of categorical words share something, said briefly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Words = Mapping[str, Any]
Box = dict[str, tuple[Any, ...]]
"""Words allowed for each named category; a category not named is free."""


def boxes(part: Sequence[Words], whole: Sequence[Words]) -> list[Box]:
    """`part` of the branches `whole` as few boxes: one where a single condition on each category tells them apart.

    Every branch of `part` lies in exactly one box and no other branch of `whole` does.
    """
    names = list(whole[0]) if whole else []
    kept = {n: [w for w in _values(whole, n) if any(b[n] == w for b in part)] for n in names}
    inside = [b for b in whole if all(b[n] in kept[n] for n in names)]
    if len(inside) == len(part):
        return [{n: tuple(kept[n]) for n in names if len(kept[n]) < len(_values(whole, n))}]
    best: list[Box] = []
    for name in names:
        if len(_values(whole, name)) < 2:
            continue
        found: list[Box] = []
        for word in kept[name]:
            inner = boxes([b for b in part if b[name] == word], [b for b in whole if b[name] == word])
            found += [{name: (word,), **box} for box in inner]
        found = _merged(found, name, len(_values(whole, name)))
        if not best or _length(found) < _length(best):
            best = found
    return best


def _length(found: Sequence[Box]) -> tuple[int, int]:
    return len(found), sum(map(len, found))


def _merged(found: list[Box], name: str, all_words: int) -> list[Box]:
    """Boxes that differ in the words of `name` only become one; with every word of it they are free of it."""
    by_rest: dict[tuple[Any, ...], Box] = {}
    for box in found:
        rest = tuple(sorted((n, w) for n, w in box.items() if n != name))
        if rest in by_rest:
            by_rest[rest][name] += box[name]
        else:
            by_rest[rest] = dict(box)
    return [{n: w for n, w in box.items() if n != name or len(w) < all_words} for box in by_rest.values()]


def _values(branches: Sequence[Words], name: str) -> list[Any]:
    return list(dict.fromkeys(b[name] for b in branches))


def in_words(found: Sequence[Box]) -> str:
    """Boxes as text, '' for all branches: 'scheme = side or u, form = test; or scheme = full'."""
    parts = [", ".join(f"{name} = {' or '.join(map(word, words))}" for name, words in box.items()) for box in found]
    return "; or ".join(parts)


def word(value: Any) -> str:
    """A categorical word as a reader sees it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
