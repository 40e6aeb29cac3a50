"""Texts never overlap and nothing leaves the sheet, whatever the beam."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from cracktie.campaign.instruments import Channel
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Setup
from cracktie.draw.elevation import elevation
from cracktie.draw.layout import overlap
from cracktie.draw.scene import Scene, extent
from cracktie.draw.section import cross_section

pytestmark = pytest.mark.slow


def check(scene: Scene) -> None:
    left, low, right, high = scene.sheet
    for item in scene.items:
        box = extent(item, scene.scale)
        assert left <= box[0], item
        assert box[2] <= right, item
        assert low <= box[1], item
        assert box[3] <= high, item
    boxes = [(text.content, text.box(scene.scale)) for text in scene.texts()]
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        assert not overlap(_shrunk(a), _shrunk(b)), f"{one!r} on {two!r}"


def _shrunk(box: tuple[float, ...]) -> tuple[float, float, float, float]:
    return (box[0] + 1e-6, box[1] + 1e-6, box[2] - 1e-6, box[3] - 1e-6)


def test_every_family(beams: dict[str, Specimen]) -> None:
    for specimen in beams.values():
        check(elevation(specimen))
        for key in ("A", "B"):
            check(cross_section(specimen, key))


def test_gauges_crowded_on_one_spot(beams: dict[str, Specimen]) -> None:
    channels = [Channel(name=f"G{i}", quantity="FRP strain", x=400 + i, z=200) for i in range(30)]
    scene = elevation(beams["U with anchors"], channels=channels)
    check(scene)
    listed = " ".join(text.content for text in scene.texts())
    assert all(f"{i + 1} G{i}: FRP strain" in listed for i in range(30))


def test_long_names_are_wrapped(beams: dict[str, Specimen]) -> None:
    specimen = beams["bare"].model_copy(update={"label": "beam with a very long name " * 8 + "x" * 200})
    check(elevation(specimen))
    check(cross_section(specimen, "A"))


def test_supports_beyond_the_beam_still_lie_on_the_sheet(beams: dict[str, Specimen]) -> None:
    setup = Setup(supports=({"x": -900}, {"x": 3500}), loads=({"x": 300}, {"x": 1500}))
    check(elevation(beams["bare"], setup=setup))


def test_the_check_can_fail(beams: dict[str, Specimen]) -> None:
    scene = elevation(beams["bare"])
    moved = Scene(scene.title, scene.description, scene.scale, scene.sheet, scene.items * 2, scene.note)
    with pytest.raises(AssertionError, match=" on "):
        check(moved)
    narrow = (scene.sheet[0], scene.sheet[1], 1000.0, scene.sheet[3])
    with pytest.raises(AssertionError):
        check(Scene(scene.title, scene.description, scene.scale, narrow, scene.items, scene.note))


@st.composite
def specimens(draw: st.DrawFn) -> Specimen:
    """A random beam; combinations the schema refuses are passed over."""
    h = draw(st.integers(200, 900))
    shape = draw(st.sampled_from(["rectangular", "T", "I"]))
    section: dict[str, Any] = {"shape": shape, "b_w": draw(st.integers(80, 400)), "h": h}
    if shape != "rectangular":
        section |= {"b_flange": section["b_w"] + draw(st.integers(0, 900)), "h_flange": draw(st.integers(30, h // 3))}
    if shape == "I":
        section |= {"b_bottom": section["b_w"] + draw(st.integers(0, 300)), "h_bottom": draw(st.integers(30, h // 3))}
    layers = [{"bars": f"{draw(st.integers(1, 9))} x {draw(st.integers(8, 32))} mm", "depth": h - 50, "material": "s"}]
    for depth in draw(st.lists(st.integers(30, h - 90), max_size=3)):
        layers.append({"bars": f"{draw(st.integers(1, 6))} x 12 mm", "depth": depth, "material": "s"})
    try:
        return Specimen(
            id="R1",
            section=section,
            bars=layers,
            spans={"A": draw(spans(section)), "B": draw(spans(section))},
            between_loads=draw(st.sampled_from([0, 40, 300, 1500])),
            overhang_left=draw(st.integers(0, 600)),
            overhang_right=draw(st.integers(0, 600)),
            soffit=draw(st.sampled_from([None, {"system": "C1", "width": 60}])),
            tested_span=draw(st.sampled_from([None, "A", "B"])),
        )
    except ValidationError:
        assume(False)
        raise


@st.composite
def spans(draw: st.DrawFn, section: dict[str, Any]) -> dict[str, Any]:
    span: dict[str, Any] = {"length": draw(st.integers(300, 3000))}
    if draw(st.booleans()):
        legs, angle = draw(st.integers(1, 5)), draw(st.sampled_from([45, 90]))
        span["stirrups"] = {"material": "s", "legs": legs, "spacing": draw(st.integers(60, 500)), "angle": angle}
    scheme = draw(st.sampled_from([None, "side", "u", "full"]))
    if scheme is None:
        return span
    wrap: dict[str, Any] = {"system": "C1", "scheme": scheme, "layout": draw(st.sampled_from(["strips", "continuous"]))}
    wrap |= {"beta": draw(st.sampled_from([45, 60, 90, 120])), "corner_radius": draw(st.integers(0, 60))}
    if wrap["layout"] == "strips":
        wrap["width"] = draw(st.integers(20, 150))
        if draw(st.booleans()):
            wrap["spacing"] = 2 * wrap["width"]
        else:
            wrap["positions"] = tuple(draw(st.lists(st.integers(50, 280), min_size=1, max_size=3, unique=True)))
    span["wrap"] = wrap
    if scheme != "full" and draw(st.booleans()):
        span["anchors"] = {
            "fibre": "T1",
            "host": draw(st.sampled_from(["web", "flange", "through_flange", "through_web"])),
            "z": draw(st.integers(20, section["h"] - 20)),
            "bend_angle": draw(st.sampled_from([0, 15, 70, 90, 120])),
            "embedment": draw(st.integers(30, 150)),
            "dowel_diameter": 12,
            "hole_diameter": 14,
            "fibre_area": 60,
            "fan": {"length": 100, "form": draw(st.sampled_from(["one_way", "two_way", "round"]))},
        }
    return span


@settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(specimen=specimens())
def test_random_beams(specimen: Specimen) -> None:
    check(elevation(specimen))
    check(cross_section(specimen, "A"))
    check(cross_section(specimen, "B"))
