"""`like:` copies the nominal design of another specimen: mappings merge deeply, lists are replaced whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cracktie.campaign.explain import near
from cracktie.campaign.positions import Node
from cracktie.campaign.reading import SPECIMENS, Reading
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
        if not like.empty:  # reported as an empty value already
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


def _heirs(resolved: dict[str, Node]) -> dict[tuple[str, ...], list[str]]:
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


def name_heirs(reading: Reading) -> list[Problem]:
    """The problems, each once: one that others inherit names them instead of being repeated for every heir."""
    root = reading.root(SPECIMENS)
    entries = root.get("specimens") if root is not None else None
    problems = list(dict.fromkeys(reading.problems))
    if entries is None or entries.path != ("specimens",):  # a file of one beam has no heirs
        return problems
    shared = _heirs(reading.resolved)
    paths = {".".join(node.path): node.path for node in _walk(entries)}  # ids may hold dots themselves
    places = {(p.key, p.message) for p in problems}
    named: dict[Problem, list[str]] = {p: [] for p in problems}
    for problem in problems:
        path = _path(problem.key, paths)
        if len(path) < 2 or problem.file != entries.file:
            continue
        source = _source(entries, path, problem, places)
        if source is not None:
            del named[problem]
            original = next(p for p in problems if (p.key, p.message) == (source, problem.message))
            named[original].append(path[1])
        else:
            written = entries.get(*path[1:]) is not None
            named[problem] = [*shared.get(path if written else path[:-1], []), *named[problem]]
    return [_with_names(problem, names) for problem, names in named.items()]


def _path(key: str, paths: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Path of a dotted key that is in the file, or that is missing below one that is; () for any other."""
    above, _, last = key.rpartition(".")
    return paths[key] if key in paths else (*paths[above], last) if above in paths else ()


def _source(entries: Node, path: tuple[str, ...], problem: Problem, places: set[tuple[str, str]]) -> str | None:
    """Key of the same finding at the specimen it is inherited from; None where it is a specimen's own."""
    written = entries.get(*path[1:])
    if problem.message == "unknown key" or (written is not None and written.items is None):
        return None
    base, source = entries.get(path[1], "like"), None
    seen = {path[1]}
    while base is not None and base.text is not None and base.text not in seen:
        key = ".".join(("specimens", base.text, *path[2:]))
        if (key, problem.message) not in places:
            break
        source = key
        seen.add(base.text)
        base = entries.get(base.text, "like")
    return source


def _with_names(problem: Problem, names: list[str]) -> Problem:
    unique = list(dict.fromkeys(names))
    return replace(problem, message=f"{problem.message} (inherited by {', '.join(unique)})") if unique else problem
