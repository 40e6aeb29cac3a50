"""Declared factors: where their path leads, which specimens they contrast, and what else differs between those."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any

from cracktie.campaign.explain import explain, near
from cracktie.campaign.fields import BarGroup, Entry
from cracktie.campaign.groups import flatten
from cracktie.campaign.paths import place
from cracktie.campaign.positions import Node, load
from cracktie.campaign.schema import Campaign, Factor
from cracktie.campaign.specimen import Span, Specimen
from cracktie.errors import Problem, UnknownName

BUILT_IN = ("anchored", "unanchored", "strengthened", "control")
"""Roles every campaign has without declaring them: with anchors, wrapped without anchors, wrapped, not wrapped."""


def path_problem(path: str) -> tuple[str, str] | None:
    """Message and fix for a path that leads nowhere; None for a good one."""
    keys = path.split(".")
    if path == "batch" or place(Span, keys) is not None or place(Specimen, keys) is not None:
        return None
    for depth in range(len(keys)):
        for model in (Span, Specimen):
            parent = place(model, keys[:depth])
            if depth and parent is not None and parent.fields and keys[depth] not in parent.fields:
                return "the path leads nowhere", near(keys[depth], parent.fields)
    return "the path leads nowhere", near(keys[0], [*place(Span).fields, *place(Specimen).fields])  # type: ignore[union-attr]


def levels(root: Node) -> Iterator[Problem]:
    """Problems of the levels of the factors in campaign.yaml."""
    from pydantic import ValidationError

    for node in root.match(("factors", "*")):
        path = node.get("path")
        if path is None or path.text is None or path_problem(path.text) is not None:
            continue
        for level in node.match(("levels", "*")):
            try:
                _convert(path.text, level.raw())
            except ValidationError as error:
                yield from explain(error, level, Entry)


def _convert(path: str, value: Any) -> Any:
    """A level in the type of the path it belongs to. Raises `ValidationError`."""
    from pydantic import TypeAdapter

    keys = path.split(".")
    if path == "batch":
        return str(value)
    model = Span if place(Span, keys) is not None else Specimen
    parent = place(model, keys[:-1])
    info = parent.fields.get(keys[-1]) if parent is not None else None
    if info is None:
        return value
    annotation = info.annotation
    for extra in info.metadata:
        annotation = Annotated[annotation, extra]
    plain = TypeAdapter(annotation).validate_python(value, context={"units": {}})
    return flatten({"v": plain}).get("v")


def studied_span(campaign: Campaign, id: str) -> str:
    """The span a specimen's tests study: as they say, else its `tested_span`, else the only wrapped one, else A."""
    for test in campaign.tests_of(id).values():
        if test.studied is not None:
            return str(test.studied)
    specimen = campaign.specimens[id]
    if specimen.tested_span is not None:
        return str(specimen.tested_span)
    wrapped = [key for key, span in specimen.spans.items() if span.wrap is not None]
    return wrapped[0] if len(wrapped) == 1 else "A"


def value_at(specimen: Specimen, path: str, span: str) -> Any:
    """The value at a factor's path, relative to the studied span or else to the specimen; None where absent."""
    if path == "batch":
        return specimen.batch
    flat = flatten(specimen.design())
    for full in (f"spans.{span}.{path}", path):
        if full in flat:
            return flat[full]
    below = f"spans.{span}.{path}."
    return True if any(key.startswith(below) for key in flat) else None


def role(campaign: Campaign, name: str) -> tuple[str, ...]:
    """Specimens of a role of campaign.yaml, of a design group, or of a built-in role; raises `UnknownName`."""
    reference = campaign.head.references.get(name)
    if reference is not None:
        return reference.specimens or campaign.groups.get(str(reference.group), ())
    if name in campaign.groups:
        return campaign.groups[name]
    if name not in BUILT_IN:
        raise UnknownName(f"no role or design group {name!r}; {near(name, [*campaign.groups, *BUILT_IN])}")
    found = []
    for id, specimen in campaign.specimens.items():
        span = specimen.spans.get(studied_span(campaign, id))
        if span is not None and specimen.kind == "beam":
            wrapped, anchored = span.wrap is not None, span.anchors is not None
            fits = {
                "anchored": anchored,
                "unanchored": wrapped and not anchored,
                "strengthened": wrapped,
                "control": not wrapped,
            }
            if fits[name]:
                found.append(id)
    return tuple(found)


def contrasted(campaign: Campaign, factor: Factor) -> dict[Any, tuple[str, ...]]:
    """Level of a factor -> specimens at that level, in the order of the levels (or of first appearance)."""
    ids = role(campaign, factor.within) if factor.within else tuple(campaign.specimens)
    found: dict[Any, list[str]] = {}
    wanted = [_convert(factor.path, level) for level in factor.levels]
    for level in wanted:
        found[level] = []
    for id in ids:
        specimen = campaign.specimens[id]
        value = value_at(specimen, factor.path, studied_span(campaign, id))
        if value is not None and (not wanted or value in found):
            found.setdefault(value, []).append(id)
    return {level: tuple(members) for level, members in found.items() if members}


def confounded(campaign: Campaign, factor: Factor | str) -> list[Problem]:
    """Warnings where two levels cannot be compared without something else changing too.

    Two levels are clean if some specimen of one differs from some specimen of the other by the factor, what it
    `moves` and the batch alone. Otherwise the closest pair is named with what else differs. A level that no specimen
    has is told as well.
    """
    name = factor if isinstance(factor, str) else factor.path
    declared = campaign.head.factors[factor] if isinstance(factor, str) else factor
    by_level = contrasted(campaign, declared)
    found = []
    for level in declared.levels:
        if _convert(declared.path, level) not in by_level:
            within = f" within {declared.within!r}" if declared.within else ""
            message = f"no specimen{within} has {declared.path} = {level}"
            fix = "correct the level, or leave it out"
            found.append(Problem("warning", "campaign.yaml", message, key=f"factors.{name}", fix=fix))
    for one, other in itertools.combinations(by_level, 2):
        pairs = [
            (extra, a, b)
            for a in by_level[one]
            for b in by_level[other]
            for extra in [_extra(campaign, declared, a, b)]
        ]
        extra, a, b = min(pairs, key=lambda row: len(row[0]))
        if extra:
            message = f"{show(one)} against {show(other)} ({a}, {b}) is confounded with {', '.join(extra)}"
            fix = "change the factor alone, or declare what moves with it"
            others = [f for f in campaign.head.factors.values() if f.path != declared.path]
            if all(any(_covers(path, key) for f in others for path in (f.path, *f.moves)) for key in extra):
                fix = "these are declared factors: judge them together by one fit of all, never by this pair alone"
            found.append(Problem("warning", "campaign.yaml", message, key=f"factors.{name}", fix=fix))
    return found


def all_confounded(campaign: Campaign) -> list[Problem]:
    """`confounded` of every declared factor, with the place of its declaration where the campaign has a folder."""
    root = load(campaign.folder / "campaign.yaml").root if campaign.folder and campaign.head.factors else None
    found = []
    for name in campaign.head.factors:
        node = root.get("factors", name) if root is not None else None
        line, column = (node.key_place or (None, None)) if node is not None else (None, None)
        found += [replace(problem, line=line, column=column) for problem in confounded(campaign, name)]
    return found


def _extra(campaign: Campaign, factor: Factor, a: str, b: str) -> tuple[str, ...]:
    """Paths beside the factor and its moves in which two specimens differ, relative to the studied span."""
    flats = []
    for id in (a, b):
        span = studied_span(campaign, id)
        rename = {f"spans.{span}.": "", f"spans.{'B' if span == 'A' else 'A'}.": "other span: "}
        flats.append({_relative(key, rename): value for key, value in _flat(campaign, id).items()})
    free = (factor.path, *factor.moves)
    keys = dict.fromkeys([*flats[0], *flats[1]])
    differing = [key for key in keys if flats[0].get(key) != flats[1].get(key)]
    return tuple(key for key in differing if not any(_covers(path, key) for path in free))


def _flat(campaign: Campaign, id: str) -> dict[str, Any]:
    return {key: value for key, value in flatten(campaign.specimens[id].design()).items() if key != "tested_span"}


def _relative(key: str, rename: dict[str, str]) -> str:
    return next((new + key[len(old) :] for old, new in rename.items() if key.startswith(old)), key)


def _covers(path: str, key: str) -> bool:
    key = key.removeprefix("other span: ")
    return key == path or key.startswith(path + ".")


def show(value: Any) -> str:
    """A level as a message shows it."""
    if isinstance(value, BarGroup):
        return f"{value.count} x {value.diameter:g} mm"
    return f"{value:g}" if isinstance(value, float) else str(value)
