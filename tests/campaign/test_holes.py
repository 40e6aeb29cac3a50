"""Holes of both faces inside the web: whether they meet follows from their real shape."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from cracktie.campaign.holes import between_faces
from cracktie.campaign.read import read_campaign
from cracktie.campaign.specimen import Specimen

from .beams import SPECIMENS, beam, folder

D_0 = 14.0
ANCHORS = {
    "fibre": "tow", "host": "web", "z": 200, "embedment": 60, "dowel_diameter": 10, "hole_diameter": D_0,
    "fibre_area": 60, "fan": {"length": 100},
}  # fmt: skip
STRIPS = {"system": "CF", "scheme": "u", "layout": "strips", "width": 60, "spacing": 120}


def made(**anchors: Any) -> Specimen:
    """A web 200 mm thick with anchors from both faces."""
    return beam(spans={"A": {"length": 900, "wrap": STRIPS, "anchors": {**ANCHORS, **anchors}}, "B": {"length": 900}})


def left(specimen: Specimen) -> float:
    span, section = specimen.spans["A"], specimen.section
    assert span.anchors is not None
    assert span.wrap is not None
    assert section is not None
    found = between_faces(span.anchors, span.wrap, section, "A")
    assert found is not None
    return found


def test_square_holes_that_face_one_another_meet_at_half_the_web() -> None:
    assert left(made(embedment=98)) == pytest.approx(4.0)
    with pytest.raises(ValidationError, match="opposite holes meet"):
        made(embedment=100.5)


@pytest.mark.parametrize("bend", [30.0, 60.0, 120.0, 135.0])
def test_inclined_holes_meet_by_their_rims_before_their_axes(bend: float) -> None:
    """Tips closer than d_0 |cos|: each end face leans by 90 - bend, so its rim reaches d_0/2 |cos| past the axis."""
    turn = math.radians(bend)
    apart = D_0 * abs(math.cos(turn))
    longest = (200.0 - apart) / 2.0 / math.sin(turn)
    assert left(made(bend_angle=bend, embedment=longest - 0.5)) == pytest.approx(math.sin(turn), rel=1e-6)
    with pytest.raises(ValidationError, match="opposite holes meet"):
        made(bend_angle=bend, embedment=longest + 0.1)


def test_holes_that_pass_side_by_side_need_one_diameter_of_shift() -> None:
    """Square holes longer than half the web, staggered: parallel axes 15 or 13 mm apart."""
    assert left(made(embedment=150, back_z=215)) == pytest.approx(1.0)
    with pytest.raises(ValidationError, match="opposite holes meet"):
        made(embedment=150, back_z=213)


def test_a_shift_does_not_help_dowels_that_rise_into_one_another() -> None:
    """Both rise at 45 deg and cross in the middle; the back ones enter 40 mm lower and cross past the front ones' axis.

    Axes in one plane meet where both are as high: 20 mm beyond the middle of the web for one of them.
    """
    long = {"bend_angle": 45.0, "embedment": 190.0, "z": 150.0}
    with pytest.raises(ValidationError, match="opposite holes meet"):
        made(**long)
    with pytest.raises(ValidationError, match="opposite holes meet"):
        made(**long, back_z=110.0)
    assert left(made(**{**long, "embedment": 120.0}, back_z=110.0)) > 0.0


def test_dowels_that_fall_meet_as_those_that_rise() -> None:
    for bend in (70.0, 110.0):
        with pytest.raises(ValidationError, match="opposite holes meet"):
            made(bend_angle=bend, embedment=106)
    assert left(made(bend_angle=70.0, embedment=90)) == pytest.approx(left(made(bend_angle=110.0, embedment=90)))


def test_dowels_through_the_web_or_into_a_flange_are_no_case() -> None:
    through = made(host="through_web", embedment=200).spans["A"]
    assert through.anchors is not None
    assert through.wrap is not None
    section = beam().section
    assert section is not None
    assert between_faces(through.anchors, through.wrap, section, "A") is None


def test_a_thin_rest_of_concrete_is_a_warning(tmp_path: Path) -> None:
    """Less than the hole's diameter: possible on paper, but the drill may break through."""
    for embedment, told in ((97, True), (92, False)):
        text = SPECIMENS.replace("embedment: 60 mm", f"embedment: {embedment} mm")
        found = read_campaign(folder(tmp_path / str(embedment), specimens=text)).warnings
        warned = [str(w) for w in found if "holes of both faces" in str(w)]
        assert len(warned) == told
        if told:
            assert "specimens.S1.spans.A.anchors: 6 mm of concrete between the holes of both faces" in warned[0]
            assert "less than the hole diameter 14 mm" in warned[0]
