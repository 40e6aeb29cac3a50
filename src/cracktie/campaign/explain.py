"""Findings of the schema in the words of the laboratory: what is wrong, where, and what to write instead."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import Any, get_args, get_origin

from cracktie.campaign.fields import Entry
from cracktie.campaign.paths import Place, example, place
from cracktie.campaign.positions import Node
from cracktie.errors import Problem
from cracktie.units import UnitError

OUT_OF_SCOPE: tuple[tuple[str, str], ...] = (
    (r"near_surface|(^|_)nsm(_|$)|groove", "near-surface-mounted bars are not treated"),
    (r"textile|(^|_)(trm|frcm)(_|$)|mortar|(^|_)grid_wrap", "grids and textiles in mortar are not treated"),
    (r"steel_plate|mechanical_anchor|bolt|(^|_)rivet", "steel plates and mechanical anchors are not treated"),
    (r"prestress|post_?tension|pre_?tension|tendon|strand", "prestressed members are not treated"),
    (r"hollow|void|(^|_)box(_|$)", "hollow members are not treated"),
    (r"axial|column", "columns and axial load beyond self-weight are not treated"),
    (r"negative_moment|hogging|continuous_beam", "negative moment in the studied span is not treated"),
    (r"reversed|cyclic|seismic", "reversed cyclic loading is not treated"),
    (r"fatigue", "fatigue is not treated"),
    (r"impact|blast", "impact is not treated"),
    (r"creep|sustained", "sustained load and creep are not treated"),
    (r"(^|_)fire(_|$)", "fire is not treated as a calculation"),
)
"""Words that name what the package leaves out, with the sentence shown."""
OTHER = "such a beam may stand in the campaign as `kind: other` (reduced and plotted, not predicted)"


def out_of_scope(word: str) -> str | None:
    """The sentence for a word that names something deliberately left out; None for any other word."""
    plain = re.sub(r"[\s-]+", "_", word.strip().lower())
    return next((sentence for pattern, sentence in OUT_OF_SCOPE if re.search(pattern, plain)), None)


def near(word: str, names: Iterable[str]) -> str:
    """'did you mean ...?' for a word that is none of the names, or the possible names."""
    known = list(names)
    lower = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower(), lower, 1, 0.6)
    if close:
        return f"did you mean {lower[close[0]]!r}?"
    if not known:
        return "there is none yet"
    return "possible: " + ", ".join(known[:15]) + (" ..." if len(known) > 15 else "")


def explain(error: Any, root: Node, model: type[Entry], skip: int = 0) -> list[Problem]:
    """Problems of a pydantic `ValidationError` raised for the raw value of `root`, the same one once.

    `skip` is the number of leading keys of the error's location above `root`.
    """
    found: dict[Problem, None] = {}
    for item in error.errors(include_url=False, include_input=False):
        keys = tuple(k for k in item["loc"][skip:] if k != "[key]")
        node, used = root.nearest(keys)
        if node.empty and used == len(keys):
            continue  # reported as an empty value already
        found.setdefault(_problem(item, node, keys, used, model))
    return list(found)


def _problem(item: dict[str, Any], node: Node, keys: tuple[Any, ...], used: int, model: type[Entry]) -> Problem:
    kind, context = item["type"], item.get("ctx", {})
    here = place(model, keys)
    if kind == "missing" and isinstance(keys[-1], int):
        return node.problem("has too few entries", f"it takes {_count(place(model, keys[:-1]))}")
    if kind == "missing":
        return node.problem("is missing", f"add for example `{keys[-1]}: {example(here)}`", below=keys[used:])
    if kind == "extra_forbidden":
        return _unknown(node, str(keys[-1]), place(model, keys[:-1]))
    if kind == "value_error":
        if node.text is None and here is not None and here.internal is not None:
            what = "mapping" if node.items is not None else "list"
            if what == "mapping" or get_origin(here.kind) is not tuple:
                return node.problem(f"must be one value, not a {what}", f"write for example `{example(here)}`")
        return _value(context["error"], node, "[key]" in item["loc"])
    message, fix = _type(kind, context, here)
    return node.problem(message or item["msg"], fix)


def _unknown(node: Node, key: str, parent: Place | None) -> Problem:
    sentence = out_of_scope(key)
    if sentence:
        return node.key_problem(sentence, OTHER)
    names = list(parent.fields) if parent is not None else []
    return node.key_problem("unknown key", near(key, names))


def _value(error: Exception, node: Node, of_key: bool) -> Problem:
    say = node.key_problem if of_key else node.problem
    if not isinstance(error, UnitError):
        message, _, fix = str(error).partition("; ")
        span = re.match(r"span ([AB]): ", message)
        inner = node.get("spans", span[1]) if span else None
        return (inner.problem if inner is not None else say)(message, fix)
    sentence = out_of_scope(node.text) if node.text and "none of the possible words" in error.message else None
    if sentence:
        return say(sentence, OTHER)
    if node.text is not None:  # the value is shown already
        message = re.sub(r"^'.*' is (?=none of|no id|a device)", "", error.message)
        return say(message, error.fix)
    return say(error.message, error.fix)


def _type(kind: str, context: dict[str, Any], here: Place | None) -> tuple[str, str]:
    """Message and fix for a pydantic error type."""
    if kind.startswith("int"):
        return "must be a whole number", "write for example '2'"
    if kind.startswith("float"):
        return "must be a plain number", "write for example '1.5'"
    if kind.startswith("bool"):
        return "must be true or false", "write true or false"
    if kind.startswith("string"):
        return "must be a text", "write one value"
    if kind in ("model_type", "model_attributes_type", "dict_type", "mapping_type"):
        if here is not None and get_origin(here.kind) is dict:
            return "must be a mapping", "write each entry below its id: `id: {...}`"
        names = list(here.fields) if here is not None else []
        return "must be a mapping", f"write `key: value` lines below it{_some(names)}"
    if kind in ("tuple_type", "list_type"):
        return "must be a list", "write its entries as [a, b] or as lines that begin with '- '"
    if kind in ("too_short", "missing_positional_only_argument"):
        return f"needs at least {context.get('min_length', 1)}", "write its entries as [a, b] or as lines with '- '"
    if kind == "too_long":
        return f"takes at most {context.get('max_length')} entries", "delete the others"
    bounds = {"greater_than_equal": "at least {ge}", "less_than_equal": "at most {le}"}
    if kind in bounds:
        return "must be " + bounds[kind].format(**context), ""
    return "", ""


def _count(parent: Place | None) -> str:
    args = get_args(parent.kind) if parent is not None else ()
    return f"{len(args)}" if args and Ellipsis not in args else "more"


def _some(names: list[str]) -> str:
    return f" (keys: {', '.join(names[:6])}{' ...' if len(names) > 6 else ''})" if names else ""
