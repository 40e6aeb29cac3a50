"""Design groups: specimens of equal nominal design are replicates of each other."""

from __future__ import annotations

import dataclasses
from typing import Any

from cracktie.campaign.fields import BarGroup
from cracktie.campaign.positions import Node
from cracktie.campaign.specimen import Specimen
from cracktie.errors import Problem

_BAR_GROUP = {f.name for f in dataclasses.fields(BarGroup)}


def flatten(value: Any, path: tuple[str, ...] = (), *, exact: bool = False) -> dict[str, Any]:
    """Leaves of a nested mapping by dotted path, entries of lists counted from 1; empty and absent are left out.

    Numbers are rounded to 9 digits, so that inches and millimetres of one size are equal, unless `exact`.
    """
    if isinstance(value, dict) and set(value) == _BAR_GROUP:  # how pydantic dumps one
        return {".".join(path): BarGroup(**value)}
    if isinstance(value, dict):
        found: dict[str, Any] = {}
        for key, below in value.items():
            found |= flatten(below, (*path, str(key)), exact=exact)
        return found
    if value is None or value == ():
        return {}
    if isinstance(value, (list, tuple)) and any(isinstance(v, dict) for v in value):
        return flatten({str(i): v for i, v in enumerate(value, start=1)}, path, exact=exact)
    return {".".join(path): value if exact else _plain(value)}


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, (list, tuple)):
        return tuple(_plain(v) for v in value)
    return value


def differences(one: Specimen, other: Specimen) -> dict[str, tuple[Any, Any]]:
    """Dotted paths in which two nominal designs differ, with both values (None where absent)."""
    first, second = flatten(one.design()), flatten(other.design())
    keys = dict.fromkeys([*first, *second])
    return {key: (first.get(key), second.get(key)) for key in keys if first.get(key) != second.get(key)}


def design_groups(
    specimens: dict[str, Specimen], nodes: dict[str, Node]
) -> tuple[dict[str, tuple[str, ...]], list[Problem]]:
    """Group name -> specimens of one nominal design, in file order, with the problems of the `group:` names.

    A group takes the name its specimens give it, otherwise the id of its first specimen.
    """
    designs: dict[Any, list[str]] = {}
    for id, specimen in specimens.items():
        key = ("other", id) if specimen.kind == "other" else tuple(sorted(flatten(specimen.design()).items()))
        designs.setdefault(key, []).append(id)
    groups: dict[str, tuple[str, ...]] = {}
    problems: list[Problem] = []
    owner: dict[str, str] = {}
    for members in designs.values():
        parts = _by_name(members, specimens)
        problems += _two_names(parts, nodes)
        for name, ids in parts.items():
            if name in owner:
                problems.append(_unequal(name, specimens[owner[name]], specimens[ids[0]], nodes))
                continue
            owner[name] = ids[0]
            groups[name] = tuple(ids)
    return groups, problems


def _by_name(members: list[str], specimens: dict[str, Specimen]) -> dict[str, list[str]]:
    named = list(dict.fromkeys(g for id in members if (g := specimens[id].group) is not None))
    default = named[0] if named else members[0]
    parts: dict[str, list[str]] = {}
    for id in members:
        parts.setdefault(specimens[id].group or default, []).append(id)
    return parts


def _group_node(id: str, nodes: dict[str, Node]) -> Node:
    return nodes[id].get("group") or nodes[id]


def _two_names(parts: dict[str, list[str]], nodes: dict[str, Node]) -> list[Problem]:
    if len(parts) < 2:
        return []
    first, second = list(parts)[:2]
    message = f"{parts[first][0]} of group {first!r} has the same nominal design, so the two are replicates"
    fix = "give both the same group, or neither"
    return [_group_node(parts[second][0], nodes).problem(message, fix, level="warning")]


def _unequal(name: str, first: Specimen, second: Specimen, nodes: dict[str, Node]) -> Problem:
    found = differences(first, second)
    shown = ", ".join(list(found)[:3]) + (" ..." if len(found) > 3 else "")
    node = _group_node(second.id, nodes)
    if node.text is None:
        node = _group_node(first.id, nodes)
    message = f"group {name!r} would hold {first.id} and {second.id}, whose designs differ in {shown or 'kind'}"
    return node.problem(message, "a group holds replicates only; name the groups differently")
