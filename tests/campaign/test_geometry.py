from __future__ import annotations

import math

import pytest

from cracktie.campaign.geometry import (
    numbered,
    span_limits,
    stirrup_positions,
    strip_length,
    strip_positions,
    wrap_extent,
)
from cracktie.errors import UnknownName

from .beams import beam

STRIPS = {"system": "CF", "scheme": "u", "layout": "strips", "width": 60, "spacing": 120}


def wrapped(wrap: dict, key: str = "A"):
    spans = {"A": {"length": 900}, "B": {"length": 900}}
    spans[key] = spans[key] | {"wrap": wrap}
    return beam(spans=spans)


def test_span_limits_run_from_the_support_to_the_load():
    assert span_limits(beam(), "A") == (0.0, 900.0)
    assert span_limits(beam(), "B") == (2400.0, 1500.0)
    with pytest.raises(UnknownName, match="no span 'C'"):
        span_limits(beam(), "C")


def test_strips_from_first_go_on_while_they_lie_wholly_inside():
    found = strip_positions(wrapped(STRIPS | {"first": 150}), "A")
    assert found == (150, 270, 390, 510, 630, 750, 870)
    assert wrap_extent(wrapped(STRIPS | {"first": 150}), "A") == (120, 900)


def test_strips_without_first_are_centred():
    found = strip_positions(wrapped(STRIPS | {"count": 3}), "A")
    assert found == (330, 450, 570)
    free = strip_positions(wrapped(STRIPS), "A")
    assert free[0] + free[-1] == pytest.approx(900)
    assert len(free) == 8


def test_strips_of_the_right_span_use_the_x_of_the_beam():
    found = strip_positions(wrapped(STRIPS | {"first": 1600, "count": 4}, "B"), "B")
    assert found == (1600, 1720, 1840, 1960)
    assert strip_positions(wrapped(STRIPS, "B"), "A") == ()


def test_positions_are_taken_as_written_in_order_of_x():
    wrap = {**STRIPS, "spacing": None, "positions": [250, 150, 50]}
    assert strip_positions(wrapped(wrap), "A") == (50, 150, 250)


def test_an_inclined_strip_is_longer_along_the_axis():
    wrap = wrapped(STRIPS | {"beta": 45, "first": 150}).spans["A"].wrap
    assert strip_length(wrap) == pytest.approx(60 * math.sqrt(2))


def test_sheet_fills_the_span_unless_start_and_end_say_otherwise():
    sheet = {"system": "CF", "scheme": "u", "layout": "continuous"}
    assert wrap_extent(wrapped(sheet, "B"), "B") == (1500, 2400)
    assert wrap_extent(wrapped(sheet | {"start": 100, "end": 800}), "A") == (100, 800)
    assert wrap_extent(beam(), "A") is None


def test_stirrups_from_first_and_centred():
    spans = {
        "A": {"length": 900, "stirrups": {"material": "S8", "spacing": 300, "first": 100}},
        "B": {"length": 900, "stirrups": {"material": "S8", "spacing": 200}},
    }
    made = beam(spans=spans)
    assert stirrup_positions(made, "A") == (100, 400, 700)
    assert stirrup_positions(made, "B") == (1550, 1750, 1950, 2150, 2350)
    assert numbered(stirrup_positions(made, "A")) == {1: 100, 2: 400, 3: 700}
