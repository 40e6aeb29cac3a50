"""Checks of layouts and of choices on channels: blocks of gauges that hang together, and names that must exist."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cracktie.campaign.choices import Choice
from cracktie.campaign.explain import near
from cracktie.campaign.gauges import gauge_faults
from cracktie.campaign.geometry import strip_positions
from cracktie.campaign.instruments import INTERNAL, STRAINS, Channel, Layout
from cracktie.campaign.layout import channels, overridden
from cracktie.campaign.positions import Node
from cracktie.campaign.reading import Reading
from cracktie.campaign.testing import Test
from cracktie.errors import Problem
from cracktie.units import UnitError, parse

CHOICES = (("zeros", "*", "channels", "*"), ("excluded", "*", "channel"), ("flags", "*", "channel"),
           ("shunts", "*", "channels", "*"), ("absolute", "*"))  # fmt: skip
"""Places in reduction.yaml, below a test, that name channels."""


def check_instruments(reading: Reading, tests: dict[str, Test]) -> Iterator[Problem]:
    """Problems of every layout that a test uses, and of the choices on its channels."""
    by_layout: dict[str, dict[str, Channel]] = {}
    for id, test in tests.items():
        found = _layout_of(reading, test)
        if found is None:
            continue
        name, layout = found
        span = _span(reading, test)
        if span is None:
            continue
        try:
            made = {c.name: c for c in channels(layout, reading.specimens[test.specimen], span)}
        except ValueError as error:
            message, _, fix = str(error).partition("; ")
            node = _node(reading, "rig.yaml", "layouts", name, "overrides")
            if node is not None and name not in by_layout:
                yield node.problem(message, fix)
            by_layout.setdefault(name, {})
            continue
        by_layout[name] = {**by_layout.get(name, {}), **made}
        yield from _choices(reading, id, tests, made)
        yield from _event_strips(reading, id, strip_positions(reading.specimens[test.specimen], span))
        yield from _overrides(reading, id, test, made)
    for name, made in by_layout.items():
        if made:
            yield from _layout(reading, name, reading.entries["rig.yaml"].layouts[name], made)


def _layout_of(reading: Reading, test: Test) -> tuple[str, Layout] | None:
    layouts = reading.entries["rig.yaml"].layouts
    name = test.layout or (next(iter(layouts)) if len(layouts) == 1 else None)
    return (str(name), layouts[name]) if name in layouts else None


def _span(reading: Reading, test: Test) -> str | None:
    specimen = reading.specimens.get(test.specimen)
    span = str(test.studied or (specimen.tested_span if specimen is not None else None) or "A")
    return span if specimen is not None and span in specimen.spans else None


def _node(reading: Reading, file: str, *keys: str | int) -> Node | None:
    root = reading.root(file)
    return None if root is None else root.nearest(keys)[0]


def _layout(reading: Reading, id: str, layout: Layout, made: dict[str, Channel]) -> Iterator[Problem]:
    """Faults of the gauges of one layout, each once, at the nearest key that its file has."""
    told: set[str] = set()
    common = dict(gauge_faults(layout.gauge)) if layout.gauge is not None else {}
    for channel in made.values():
        if channel.gauge is None:
            continue
        for message, fix in (*gauge_faults(channel.gauge), *_named(channel, made)):
            whole = message in common
            node = _gauge_node(reading, id, layout, None if whole else channel)
            if node is not None and message not in told:
                told.add(message)
                yield node.problem(message if whole else f"{channel.name}: {message}", fix)
    root = _node(reading, "rig.yaml", "layouts", id)
    if root is None:
        return
    overrides = root.get("overrides")
    for key, entry in (overrides.items or {}).items() if overrides is not None else ():
        if key not in made:
            yield entry.key_problem("there is no such channel in the layout", near(key, made), level="warning")
    for named in root.match(("rosettes", "*", "channels", "*")):
        if named.text is None:
            continue
        if named.text not in made:
            yield named.problem("there is no such channel in the layout", near(named.text, made))
        elif made[named.text].quantity not in STRAINS:
            yield named.problem(f"measures {made[named.text].quantity}, no strain", "name three strain gauges")


def _gauge_node(reading: Reading, id: str, layout: Layout, channel: Channel | None) -> Node | None:
    """Where a channel's gauge is described: its override, its own entry, the layout (also for no channel)."""
    if channel is None:
        return _node(reading, "rig.yaml", "layouts", id, "gauge")
    if channel.name in layout.overrides and layout.overrides[channel.name].gauge is not None:
        return _node(reading, "rig.yaml", "layouts", id, "overrides", channel.name, "gauge")
    for i, listed in enumerate(layout.channels):
        if listed.name == channel.name and listed.gauge is not None:
            return _node(reading, "rig.yaml", "layouts", id, "channels", i, "gauge")
    if layout.gauge is not None:
        return _node(reading, "rig.yaml", "layouts", id, "gauge")
    return _node(reading, "rig.yaml", "layouts", id)


def _named(channel: Channel, made: dict[str, Channel]) -> Iterator[tuple[str, str]]:
    """Other channels that a gauge needs: there, and of the quantity it takes them for."""
    assert channel.gauge is not None
    for key, name in channel.gauge.channels.items():
        wanted = ("temperature",) if key == "temperature" else STRAINS
        fitting = [n for n, c in made.items() if c.quantity in wanted and n != channel.name]
        if name == channel.name:
            if channel.gauge.dummy == name:  # the dummy itself lies in the same grid
                continue
            yield f"{key} names the channel itself", near(name, fitting)
        elif name not in made:
            yield f"{key}: there is no channel {name!r}", near(name, fitting)
        elif made[name].quantity not in wanted:
            fix = "name a channel of quantity: temperature" if key == "temperature" else "name a strain gauge"
            yield f"{key}: {name} measures {made[name].quantity}", fix


def _overrides(reading: Reading, id: str, test: Test, made: dict[str, Channel]) -> Iterator[Problem]:
    """Overrides of one test: channels that exist, keys that fit them."""
    for name in test.overrides:
        node = _node(reading, "tests.yaml", "tests", id, "overrides", name)
        if node is None:
            continue
        if name not in made:
            yield node.key_problem("there is no such channel in the layout", near(name, made))
            continue
        try:
            changed = overridden(made[name], test.overrides)
        except ValueError as error:
            message, _, fix = str(error).partition("; ")
            yield node.problem(message, fix)
            continue
        for message, fix in (*gauge_faults(changed.gauge), *_named(changed, made)) if changed.gauge else ():
            yield node.problem(message, fix)


def _choices(reading: Reading, id: str, tests: dict[str, Test], made: dict[str, Channel]) -> Iterator[Problem]:
    """Choices of reduction.yaml on channels of one test; a name of no channel is told, for it does nothing."""
    root = reading.root("reduction.yaml")
    node = root.get("tests", id) if root is not None else None
    choice: Choice | None = reading.entries["reduction.yaml"].tests.get(id)
    if node is None or choice is None:
        return
    for pattern in CHOICES:
        for named in node.match(pattern):
            if named.text and named.text not in made:
                yield named.problem("there is no such channel in the layout", near(named.text, made), level="warning")
    for i, log in enumerate(choice.logs):
        yield from _map(node.nearest(("logs", i, "map"))[0], log.map, made)
    for i, window in enumerate(choice.zeros):
        place = node.nearest(("zeros", i))[0]
        if window.value is not None:
            units = {INTERNAL[c.quantity] for c in made.values() if window.fits(c.name, c.quantity, window.log or "")}
            yield from _value(place, window.value, units)
        if window.carry is not None:
            yield from _carry(place, window.carry.test, tests[id], tests)


def _event_strips(reading: Reading, id: str, strips: Sequence[float]) -> Iterator[Problem]:
    """Events of reduction.yaml happen on strips that the studied span has."""
    node, choice = _node(reading, "reduction.yaml", "tests", id), reading.entries["reduction.yaml"].tests.get(id)
    if node is None or choice is None or not strips:
        return
    for i, event in enumerate(choice.events):
        strip = event.leg[0]
        if strip is not None and not 1 <= strip <= len(strips):
            place = node.nearest(("events", i))[0]
            fix = f"the span has strips 1 to {len(strips)}"
            yield place.problem(f"there is no strip {strip}", fix, level="warning")


def _map(node: Node, columns: Mapping[str, str], made: dict[str, Channel]) -> Iterator[Problem]:
    """A map from columns to channels: channels that exist, each once."""
    names = {c.alias or c.name: c.name for c in made.values()} | {c.name: c.name for c in made.values()}
    taken: dict[str, str] = {}
    for column, said in columns.items():
        place = node.nearest((column,))[0]
        channel = names.get(said)
        if channel is None:
            yield place.problem("there is no such channel in the layout", near(said, made), level="warning")
            continue
        if channel in taken:
            told = f"column {taken[channel]!r} is mapped to {channel}, too; one of both is lost"
            yield place.problem(told, "keep one", level="warning")
        taken[channel] = column


def _value(node: Node, text: str, units: set[str]) -> Iterator[Problem]:
    if len(units) > 1:
        yield node.problem("value stands for channels of different units", "name the channels it belongs to")
        return
    for unit in units:
        try:
            parse(text, unit)
        except UnitError as error:
            yield node.nearest(("value",))[0].problem(error.message, error.fix)


def _carry(node: Node, name: str, test: Test, tests: dict[str, Test]) -> Iterator[Problem]:
    place = node.nearest(("carry", "test"))[0]
    if name not in tests:
        yield place.problem("there is no such test", near(name, tests))
        return
    if tests[name].specimen != test.specimen:
        yield place.problem(
            f"is a test of {tests[name].specimen}, this one of {test.specimen}", "name one of the same beam"
        )
    elif tests[name] is test or (tests[name].order or 0) >= (test.order or 0):
        yield place.problem("is no earlier test of the beam", "give both their order: 1, 2, ...")
