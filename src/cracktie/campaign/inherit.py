"""`like:` copies the nominal design of another specimen: mappings merge deeply, lists are replaced whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cracktie.campaign.explain import near
from cracktie.campaign.positions import Node
from cracktie.errors import Problem

NEVER_INHERITED = frozenset({"id", "like", "batch", "cast", "strengthened", "note", "label", "age_at_test", "group"})


def resolve(entries: Node) -> tuple[dict[str, Node], list[Problem]]:
    """Every specimen with what it inherits, in file order; those that cannot be resolved are left out."""
    problems: list[Problem] = []
    done: dict[str, Node | None] = {}
    for id in entries.items or {}:
        _resolve(id, entries, done, [], problems)
    return {id: done[id] for id in entries.items or {} if done.get(id) is not None}, problems  # type: ignore[misc]


def _resolve(
    id: str, entries: Node, done: dict[str, Node | None], under_way: list[str], problems: list[Problem]
) -> Node | None:
    if id in done:
        return done[id]
    own = (entries.items or {})[id]
    like = own.get("like")
    done[id] = _without(own, "like") if like is None else None
    if like is None:
        return done[id]
    if like.text is None or like.null:
        problems.append(like.problem("must be the id of one specimen", "write for example `like: B1`"))
        return None
    if like.text in (*under_way, id):
        ring = " -> ".join([*under_way, id, like.text][[*under_way, id].index(like.text) :])
        problems.append(like.problem(f"the specimens inherit from each other in a circle ({ring})", "break it"))
        return None
    if like.text not in (entries.items or {}):
        others = [name for name in entries.items or {} if name != id]
        problems.append(like.problem("there is no such specimen", near(like.text, others)))
        return None
    base = _resolve(like.text, entries, done, [*under_way, id], problems)
    if base is not None and own.items is not None:
        kept = {key: node for key, node in (base.items or {}).items() if key not in NEVER_INHERITED}
        own = replace(own, items={key: node for key, node in own.items.items() if key != "like"})
        done[id] = _merge(replace(base, items=kept), own)
    return done[id]


def _without(node: Node, key: str | None = None) -> Node:
    """The node without a key and without keys whose value is the word none."""
    if node.items is None:
        return node
    kept = {k: _without(v) for k, v in node.items.items() if k != key and not v.removes}
    same = len(kept) == len(node.items) and all(kept[k] is v for k, v in node.items.items())
    return node if same else replace(node, items=kept)


def _merge(base: Node, own: Node) -> Node:
    """`own` over `base`; a node taken over unchanged stays the node of the base, with the base's place."""
    if base.items is None or own.items is None:
        return _without(own)
    merged = dict(base.items)
    for key, node in own.items.items():
        if node.removes:
            merged.pop(key, None)
        else:
            merged[key] = _merge(merged[key], node) if key in merged else _without(node)
    return replace(own, items=merged)


def heirs(resolved: dict[str, Node]) -> dict[tuple[str, ...], list[str]]:
    """Path of a node in the file -> specimens that inherit it from another one."""
    found: dict[tuple[str, ...], list[str]] = {}
    for id, root in resolved.items():
        for node in _walk(root):
            if len(node.path) > 1 and node.path[1] != id:
                found.setdefault(node.path, []).append(id)
    return found


def _walk(node: Node) -> Iterator[Node]:
    yield node
    for below in [*(node.items or {}).values(), *(node.parts or [])]:
        yield from _walk(below)
