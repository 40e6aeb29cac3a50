"""Checks across the files of a campaign: names that must exist, files, dates, spans against the rig, holes."""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Iterator
from pathlib import Path

from cracktie.campaign.explain import near
from cracktie.campaign.geometry import lean, numbered, span_limits, stirrup_positions, strip_positions, wrap_extent
from cracktie.campaign.holes import between_faces
from cracktie.campaign.instrument_checks import check_instruments
from cracktie.campaign.layout import channels
from cracktie.campaign.positions import Node
from cracktie.campaign.reading import SPECIMENS, Reading, hash_file
from cracktie.campaign.specimen import Specimen, Stirrups
from cracktie.campaign.testing import Setup, Test
from cracktie.errors import Problem

_SPANS = "specimens.*.spans.*"
NAMES: tuple[tuple[str, str, str, str, str], ...] = (
    (SPECIMENS, "specimens.*.batch", "materials.yaml", "concretes", "batch"),
    (SPECIMENS, "specimens.*.bars.*.material", "materials.yaml", "bars", "bar material"),
    (SPECIMENS, f"{_SPANS}.stirrups.material", "materials.yaml", "bars", "bar material"),
    (SPECIMENS, f"{_SPANS}.wrap.system", "materials.yaml", "frp_systems", "FRP system"),
    (SPECIMENS, f"{_SPANS}.wrap.adhesive", "materials.yaml", "adhesives", "adhesive"),
    (SPECIMENS, f"{_SPANS}.anchors.fibre", "materials.yaml", "anchor_fibres", "anchor fibre"),
    (SPECIMENS, f"{_SPANS}.anchors.tested", "materials.yaml", "anchors_tested", "anchor test"),
    (SPECIMENS, f"{_SPANS}.anchors.adhesive", "materials.yaml", "adhesives", "adhesive"),
    (SPECIMENS, "specimens.*.soffit.system", "materials.yaml", "frp_systems", "FRP system"),
    ("tests.yaml", "tests.*.specimen", SPECIMENS, "specimens", "specimen"),
    ("tests.yaml", "tests.*.setup", "rig.yaml", "setups", "setup"),
    ("tests.yaml", "tests.*.layout", "rig.yaml", "layouts", "layout"),
    ("observations.yaml", "specimens.*.failure_modes.*.test", "tests.yaml", "tests", "test"),
    ("observations.yaml", "specimens.*.crack_lines.*.test", "tests.yaml", "tests", "test"),
    ("campaign.yaml", "references.*.specimens.*", SPECIMENS, "specimens", "specimen"),
    ("reduction.yaml", "tests.*.logs.*.logger", "reduction.yaml", "loggers", "logger"),
)
"""(file, pattern of the referring value, file and collection that hold the names, what it is)."""
KEYS: tuple[tuple[str, str, str, str, str], ...] = (
    ("observations.yaml", "specimens.*", SPECIMENS, "specimens", "specimen"),
    ("reduction.yaml", "tests.*", "tests.yaml", "tests", "test"),
)
"""The same for ids that stand as keys."""


def check(reading: Reading, tests: dict[str, Test], groups: dict[str, tuple[str, ...]]) -> None:
    """Add the problems between the files to `reading.problems`."""
    reading.problems += _names(reading, groups)
    reading.problems += _files(reading)
    for id, specimen in reading.specimens.items():
        node = reading.resolved[id]
        reading.problems += [*_strips(specimen, node), *_stirrup_row(specimen, node)]
        reading.problems += [*_opposite_holes(specimen, node), *_holes(specimen, node, reading)]
        reading.problems += _dates(specimen, node, reading)
    for id, test in tests.items():
        later = [t for t in tests.values() if t.specimen == test.specimen and (t.order or 0) > (test.order or 0)]
        bare = test.state == "virgin" and any(t.state == "precracked" for t in later)
        reading.problems += _test(id, test, reading, bare)
    reading.problems += [*_order(reading, tests), *_reduced_logs(reading, tests), *check_instruments(reading, tests)]


def _known(reading: Reading, file: str, collection: str) -> list[str]:
    if file == "tests.yaml" and file not in reading.documents:
        return list(reading.specimens)
    return reading.ids(file, collection)


def _names(reading: Reading, groups: dict[str, tuple[str, ...]]) -> Iterator[Problem]:
    single = reading.folder is None
    for file, pattern, target, collection, what in NAMES:
        root = reading.root(file)
        names = _known(reading, target, collection)
        where = f"`materials.{collection}`" if single else f"`{collection}` in {target}"
        for node in root.match(tuple(pattern.split("."))) if root is not None else ():
            if node.text is not None and not node.null and not node.removes and node.text not in names:
                fix = near(node.text, names) if names else f"add it to {where}"
                yield node.problem(f"there is no such {what}", fix)
    for file, pattern, target, collection, what in KEYS:
        root = reading.root(file)
        names = _known(reading, target, collection)
        for node in root.match(tuple(pattern.split("."))) if root is not None else ():
            if node.path[-1] not in names:
                yield node.key_problem(f"there is no such {what}", near(node.path[-1], names))
    yield from _roles(reading, groups)


def _roles(reading: Reading, groups: dict[str, tuple[str, ...]]) -> Iterator[Problem]:
    root = reading.root("campaign.yaml")
    if root is None:
        return
    whole = len(reading.specimens) == len(reading.ids(SPECIMENS, "specimens"))  # else groups are not all known
    for node in root.match(("references", "*", "group")):
        if node.text is not None and node.text not in groups and whole:
            yield node.problem("there is no such design group", near(node.text, groups))
    from cracktie.campaign.factors import BUILT_IN, levels, path_problem

    roles = [*reading.ids("campaign.yaml", "references"), *groups, *BUILT_IN]
    for node in root.match(("factors", "*", "within")):
        if node.text is not None and node.text not in roles and whole:
            yield node.problem("there is no such role or design group", near(node.text, roles))
    for pattern in (("factors", "*", "path"), ("factors", "*", "moves", "*")):
        for node in root.match(pattern):
            if node.text is not None and (sentence := path_problem(node.text)) is not None:
                yield node.problem(*sentence)
    yield from levels(root)


def _files(reading: Reading) -> Iterator[Problem]:
    """Files the campaign names: logs and coupons must be there, photos should."""
    if reading.folder is None:
        return
    wanted = (
        ("tests.yaml", "tests.*.logs.*", "error", "put it into logs/ or correct the name"),
        ("tests.yaml", "tests.*.event_log", "error", "put it into logs/ or correct the name"),
        ("tests.yaml", "tests.*.profiles.*.file", "error", "put it into logs/ or correct the name"),
        ("materials.yaml", "*.*.from", "error", "put it into coupons/ or correct the name"),
        ("observations.yaml", "specimens.*.photos.*", "warning", "put it into photos/ or correct the name"),
    )
    for file, pattern, level, fix in wanted:
        root = reading.root(file)
        for node in root.match(tuple(pattern.split("."))) if root is not None else ():
            if node.path[:2] == ("tests", reading.awaited) and not (reading.folder / str(node.text)).exists():
                continue
            if node.text and not node.null and not hash_file(reading, node.text):
                told = _near_file(reading.folder, node.text, fix)
                yield node.problem("there is no such file in the campaign folder", told, level=level)


def _near_file(folder: Path, name: str, fix: str) -> str:
    if "\\" in name:
        return "write the path with '/'"
    there = [f"{kind}/{p.name}" for kind in ("logs", "coupons", "photos") for p in sorted((folder / kind).glob("*"))]
    hint = near(name, there)
    return hint if hint.startswith("did you mean") else fix


def _reduced_logs(reading: Reading, tests: dict[str, Test]) -> Iterator[Problem]:
    """Choices of reduction.yaml speak of logs of their own test."""
    root = reading.root("reduction.yaml")
    for id, test in tests.items():
        node = root.get("tests", id) if root is not None else None
        if node is not None:
            zeroed = (*test.logs, *(p.file for p in test.profiles))
            for pattern, names in ((("logs", "*", "log"), test.logs), (("zeros", "*", "log"), zeroed)):
                for log in node.match(pattern):
                    if log.text and log.text not in names:
                        yield log.problem(f"is no log of test {id}", near(log.text, names))


def _below(node: Node, *keys: str) -> Node:
    return node.nearest(keys)[0]


def _strips(specimen: Specimen, node: Node) -> Iterator[Problem]:
    for key, span in specimen.spans.items():
        extent = wrap_extent(specimen, key)
        place = _below(node, "spans", key, "wrap")
        low, high = sorted(span_limits(specimen, key))
        if span.wrap is not None and extent is None:
            yield place.problem(f"no strip fits between x = {low:g} and {high:g} mm", "give first, count or positions")
        if extent is None:
            continue
        if extent[0] < low - 1e-3 or extent[1] > high + 1e-3:
            reach = f"from x = {extent[0]:.4g} to {extent[1]:.4g} mm"
            message = f"the sheet reaches {reach}, span {key} from {low:g} to {high:g} mm"
            yield place.problem(message, "x counts from the left support; move the strips into their span")
        anchors = span.anchors
        count = len(strip_positions(specimen, key))
        if anchors is not None and anchors.strips is not None:
            wrong = [n for n in anchors.strips if not 1 <= n <= count]
            if wrong:
                found = _below(node, "spans", key, "anchors", "strips")
                yield found.problem(
                    f"there is no strip {', '.join(map(str, wrong))}", f"span {key} has strips 1 to {count}"
                )


def _stirrup_row(specimen: Specimen, node: Node) -> Iterator[Problem]:
    for key, span in specimen.spans.items():
        if span.stirrups is None:
            continue
        low, high = sorted(span_limits(specimen, key))
        found = stirrup_positions(specimen, key)
        place = _below(node, "spans", key, "stirrups")
        if not found:
            yield place.problem(f"no stirrup lies between x = {low:g} and {high:g} mm", "check spacing and first")
        elif found[0] < low - 1e-3 or found[-1] > high + 1e-3:
            message = (
                f"stirrups reach from x = {found[0]:g} to {found[-1]:g} mm, span {key} from {low:g} to {high:g} mm"
            )
            yield place.problem(message, "x counts from the left support; move them into their span")


def _stirrup_diameter(stirrups: Stirrups, reading: Reading) -> float:
    if stirrups.diameter is not None:
        return float(stirrups.diameter)
    bar = reading.entries["materials.yaml"].bars.get(stirrups.material)
    return float(bar.diameter.diameter) if bar is not None and bar.diameter is not None else 0.0


def _opposite_holes(specimen: Specimen, node: Node) -> Iterator[Problem]:
    """Holes of both faces that leave less than their diameter between them: the drill may break through."""
    for key, span in specimen.spans.items():
        if span.anchors is None or span.wrap is None or specimen.section is None:
            continue
        left = between_faces(span.anchors, span.wrap, specimen.section, key)
        if left is not None and left < span.anchors.hole_diameter:
            message = (
                f"{left:.3g} mm of concrete between the holes of both faces, less than the hole diameter "
                f"{span.anchors.hole_diameter:g} mm (nominal positions)"
            )
            hint = "shorten the embedment, or shift the holes of one face by back_z"
            yield _below(node, "spans", key, "anchors").problem(message, hint, level="warning")


def _holes(specimen: Specimen, node: Node, reading: Reading) -> Iterator[Problem]:
    """Anchor holes into the web that meet a stirrup leg at the height of their entry."""
    for key, span in specimen.spans.items():
        anchors, stirrups = span.anchors, span.stirrups
        if anchors is None or stirrups is None or anchors.host not in ("web", "through_web"):
            continue
        angle, beta = float(stirrups.angle), float(span.wrap.beta) if span.wrap is not None else 90.0
        bars = [x + lean(specimen, key, angle, anchors.z) for x in stirrup_positions(specimen, key)]
        strips = [x + lean(specimen, key, beta, anchors.z) for x in strip_positions(specimen, key)]
        square = math.sin(math.radians(angle))
        need = (anchors.hole_diameter + _stirrup_diameter(stirrups, reading)) / 2
        across = float(anchors.across or 0.0) / math.sin(math.radians(beta))
        offsets = [across * (i - (anchors.per_leg - 1) / 2) for i in range(anchors.per_leg)]
        hit = [
            number
            for number, x in numbered(strips).items()
            if (anchors.strips is None or number in anchors.strips)
            and any(abs(x + dx - bar) * square < need for dx in offsets for bar in bars)
        ]
        if hit:
            place = _below(node, "spans", key, "anchors")
            message = f"holes of strip {', '.join(map(str, hit))} meet a stirrup of span {key} (nominal positions)"
            yield place.problem(message, "shift the strips or the stirrups, or expect bars in the way", level="warning")


def _day(text: str | None) -> datetime.date | None:
    return datetime.datetime.fromisoformat(text).date() if text else None


def _dates(specimen: Specimen, node: Node, reading: Reading) -> Iterator[Problem]:
    batch = reading.entries["materials.yaml"].concretes.get(specimen.batch)
    cast = _day(specimen.cast) or (_day(batch.cast) if batch is not None else None)
    strengthened = _day(specimen.strengthened)
    if cast and strengthened and strengthened < cast:
        yield _below(node, "strengthened").problem(f"lies before the casting on {cast}", "check both dates")


def _test(id: str, test: Test, reading: Reading, bare: bool) -> Iterator[Problem]:
    """Dates, layout and rig of one test; `bare`: it loaded the beam before the strengthening (see `Campaign.bare`)."""
    root = reading.root("tests.yaml")
    node = root.get("tests", id) if root is not None else None
    specimen = reading.specimens.get(test.specimen)
    if node is None or specimen is None:
        return
    batch = reading.entries["materials.yaml"].concretes.get(specimen.batch)
    day = _day(test.date)
    after = {
        "casting": _day(specimen.cast) or (_day(batch.cast) if batch is not None else None),
        "strengthening": None if bare or test.strengthened_at_load is not None else _day(specimen.strengthened),
    }
    for what, date in after.items():
        if day and date and day < date:
            yield _below(node, "date").problem(f"lies before the {what} on {date}", "check both dates")
    yield from _layout(test, specimen, reading, node)
    setup = reading.entries["rig.yaml"].setups.get(test.setup)
    if setup is not None and specimen.spans:
        yield from _rig(test, specimen, setup, _below(node, "setup"))


def _layout(test: Test, specimen: Specimen, reading: Reading, node: Node) -> Iterator[Problem]:
    """The channels a layout gives on this specimen: each name once, and dead channels among them."""
    layout = reading.entries["rig.yaml"].layouts.get(test.layout)
    if layout is None:
        return
    span = str(test.studied or specimen.tested_span or "A")
    if span not in specimen.spans:
        return
    try:
        names = [channel.name for channel in channels(layout, specimen, span)]
    except ValueError:  # an override that does not fit its channel: told with the instruments
        return
    place = _below(node, "layout")
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        message = f"gives the name {twice[0]!r} to {names.count(twice[0])} channels of {specimen.id}"
        yield place.problem(message, "use {strip}, {face}, {row}, {column} in the names of its grids")
    wrap = specimen.spans[span].wrap
    if any(grid.on == "strips" for grid in layout.grids) and (wrap is None or wrap.layout != "strips"):
        message = f"has gauges on strips, but span {span} of {specimen.id} has no strips"
        yield place.problem(message, "choose another layout, or the studied span", level="warning")
    for dead in node.match(("dead_channels", "*")):
        if dead.text and dead.text not in names:
            yield dead.problem("there is no such channel in the layout", near(dead.text, names))


def _rig(test: Test, specimen: Specimen, setup: Setup, node: Node) -> Iterator[Problem]:
    """Shear spans of the specimen against those of the rig; differences above 1 % are told."""
    left, right = setup.supports
    loads = sorted(float(load.x) for load in setup.loads)
    spans = {"A": loads[0] - float(left.x), "B": float(right.x) - loads[-1]}
    if test.mirrored:
        spans = {"A": spans["B"], "B": spans["A"]}
    for key, span in specimen.spans.items():
        if abs(spans[key] - span.length) > 0.01 * span.length:
            message = f"its shear span {key} is {spans[key]:g} mm, that of {specimen.id} {float(span.length):g} mm"
            yield node.problem(message, "correct one of them, or say mirrored: true", level="warning")


def _order(reading: Reading, tests: dict[str, Test]) -> Iterator[Problem]:
    """Tests of one specimen whose dates run against their `order`."""
    root = reading.root("tests.yaml")
    by_specimen: dict[str, list[tuple[int, datetime.date, str]]] = {}
    for id, test in tests.items():
        day = _day(test.date)
        if test.order is not None and day is not None:
            by_specimen.setdefault(test.specimen, []).append((test.order, day, id))
    for rows in by_specimen.values():
        for (_, before, first), (_, after, second) in itertools.pairwise(sorted(rows)):
            node = root.get("tests", second, "date") if root is not None else None
            if after < before and node is not None:
                yield node.problem(f"lies before that of test {first}, which comes first by its order", "check both")
