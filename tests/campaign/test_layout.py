from __future__ import annotations

import math

import pytest

from cracktie.campaign.instruments import Layout
from cracktie.campaign.layout import channels
from cracktie.campaign.read import read_campaign
from cracktie.errors import InputRefused

from .beams import beam, folder

STRIPS = {"system": "CF", "scheme": "u", "layout": "strips", "width": 60, "spacing": 200, "first": 100, "count": 3}
STIRRUPS = {"material": "S8", "positions": [150, 450]}


def made(**span):
    spans = {"A": {"length": 900} | span, "B": {"length": 900} | span}
    return beam(spans=spans)


def layout(**keys) -> Layout:
    return Layout.model_validate(keys)


def test_a_grid_gives_a_channel_per_strip_face_row_and_column():
    grid = {
        "on": "strips",
        "columns": 2,
        "rows": [60, 200],
        "faces": ["front", "back"],
        "name": "{strip}{face}{row}-{column}",
    }
    found = channels(layout(grids=[grid]), made(wrap=STRIPS), "A")
    assert len(found) == 3 * 2 * 2 * 2
    assert [c.name for c in found[:5]] == ["1F1-1", "1F1-2", "1F2-1", "1F2-2", "1B1-1"]
    first = found[0]
    assert first.x == pytest.approx(85)
    assert (first.z, first.face, first.strip, first.quantity) == (60, "front", 1, "FRP strain")
    assert found[1].x == pytest.approx(115)
    assert found[-1].name == "3B2-2"
    assert found[-1].x == pytest.approx(515)
    assert all(c.direction == 90 for c in found)


@pytest.mark.parametrize(("span", "first", "sign", "direction"), [("A", 100, -1, 120), ("B", 1700, 1, 60)])
def test_gauges_on_inclined_strips_follow_the_fibre_towards_the_support(span, first, sign, direction):
    grid = {"on": "strips", "rows": [200, 300], "name": "{strip}-{row}"}
    inclined = STRIPS | {"beta": 60, "first": first}
    spans = {"A": {"length": 900}, "B": {"length": 900}}
    spans[span] = spans[span] | {"wrap": inclined}
    found = channels(layout(grids=[grid]), beam(spans=spans), span)
    assert found[0].x == pytest.approx(first)  # z = 200 mm is mid-height
    assert found[1].x == pytest.approx(first + sign * 100 / math.tan(math.radians(60)))
    assert found[0].direction == direction


def test_gauges_on_stirrups():
    grid = {"on": "stirrups", "rows": [200], "name": "s{stirrup}"}
    found = channels(layout(grids=[grid]), made(stirrups=STIRRUPS), "A")
    assert [(c.name, c.x, c.stirrup, c.strip, c.quantity) for c in found] == [
        ("s1", 150, 1, None, "bar strain"),
        ("s2", 450, 2, None, "bar strain"),
    ]
    assert channels(layout(grids=[grid]), made(), "A") == ()


def test_a_band_lies_on_the_crack_through_the_middle_of_the_span():
    band = {"along": "crack band", "rows": [100, 200, 300], "name": "k{row}"}
    left = channels(layout(bands=[band]), made(wrap=STRIPS), "A")
    assert [c.x for c in left] == pytest.approx([350, 450, 550])
    right = channels(layout(bands=[band]), made(), "B")
    assert [c.x for c in right] == pytest.approx([2050, 1950, 1850])
    assert {c.quantity for c in right} == {"concrete strain"}
    steep = channels(layout(bands=[band | {"angle": 60}]), made(), "A")
    assert steep[2].x - steep[1].x == pytest.approx(100 / math.tan(math.radians(60)))


def test_gauges_of_a_band_know_the_strip_they_lie_on():
    band = {"along": "crack band", "rows": [60, 200, 250], "name": "k{row}"}
    found = channels(layout(bands=[band]), made(wrap=STRIPS), "A")
    assert [(c.strip, c.quantity) for c in found] == [
        (2, "FRP strain"),
        (None, "concrete strain"),
        (3, "FRP strain"),
    ]
    sheet = {"system": "CF", "scheme": "u", "layout": "continuous"}
    assert {c.quantity for c in channels(layout(bands=[band]), made(wrap=sheet), "A")} == {"FRP strain"}


def test_listed_channels_come_first_and_unchanged():
    listed = {"name": "P", "quantity": "load", "unit": "kN", "alias": "AI 1"}
    found = channels(layout(channels=[listed]), made(), "A")
    assert found == layout(channels=[listed]).channels


RIG = """\
layouts:
  L1:
    channels: [{name: P, quantity: load}]
    grids: [{on: strips, rows: "100, 200 mm", name: "NAME"}]
"""


def problems(tmp_path, name: str, test: str) -> list[str]:
    made = folder(tmp_path, rig=RIG.replace("NAME", name), tests=f"tests:\n  T1: {test}\n")
    try:
        found = read_campaign(made).warnings
    except InputRefused as error:
        found = error.problems
    return [str(p) for p in found if p.file in ("rig.yaml", "tests.yaml")]


def test_names_given_twice_are_refused(tmp_path):
    assert problems(tmp_path, "{strip}", "{specimen: U1, layout: L1}") == [
        "tests.yaml:2:30: tests.T1.layout = 'L1': gives the name '1' to 2 channels of U1; "
        "use {strip}, {face}, {row}, {column} in the names of its grids"
    ]


def test_dead_channels_must_exist(tmp_path):
    assert problems(tmp_path, "g{strip}{row}", "{specimen: U1, layout: L1, dead_channels: [g11, q12]}") == [
        "tests.yaml:2:55: tests.T1.dead_channels.2 = 'q12': there is no such channel in the layout; did you mean 'g12'?"
    ]


def test_gauges_on_strips_of_a_beam_without_strips_are_a_warning(tmp_path):
    assert problems(tmp_path, "g{strip}{row}", "{specimen: REF, layout: L1}") == [
        "tests.yaml:2:31: tests.T1.layout = 'L1': has gauges on strips, but span A of REF has no strips; "
        "choose another layout, or the studied span"
    ]


def test_unknown_braces_are_refused(tmp_path):
    assert problems(tmp_path, "{gauge}{row}", "{specimen: U1, layout: L1}")[0] == (
        "rig.yaml:4:13: layouts.L1.grids.1: name = '{gauge}{row}' has braces that stand for nothing; "
        "possible: {strip}, {stirrup}, {face}, {row}, {column}"
    )
