"""The cross-section shows what is described."""

from __future__ import annotations

import math

import pytest

from cracktie.campaign.specimen import Specimen
from cracktie.draw.scene import Circle, Dimension, Polygon, Polyline, Scene
from cracktie.draw.section import anchor_axis, cross_section
from cracktie.draw.section_shapes import fillet, offset_path
from cracktie.errors import OutOfScope, UnknownName


def area(points: tuple[tuple[float, float], ...]) -> float:
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return abs(sum(ax * bz - bx * az for (ax, az), (bx, bz) in pairs)) / 2


def one(scene: Scene, name: str) -> Polygon:
    (found,) = [item for item in scene.items if isinstance(item, Polygon) and item.name == name]
    return found


def sheets(scene: Scene) -> dict[str, Polyline]:
    return {item.name: item for item in scene.items if isinstance(item, Polyline) and item.layer == "FRP"}


def test_the_outline_has_the_area_of_the_section(beams: dict[str, Specimen]) -> None:
    for specimen in beams.values():
        assert specimen.section is not None
        for key in ("A", "B"):
            wrap = specimen.spans[key].wrap
            radius = float(wrap.corner_radius or 0.0) if wrap is not None and wrap.scheme != "side" else 0.0
            corners = 4 if wrap is not None and wrap.scheme == "full" and specimen.section.shape == "rectangular" else 2
            lost = corners * radius**2 * (1 - math.pi / 4)
            drawn = area(one(cross_section(specimen, key), "concrete").points)
            # arcs are drawn with eight chords, which cut a little more off
            assert drawn == pytest.approx(specimen.section.area - lost, abs=0.01 * radius**2 * corners + 1e-6)


def test_bars_lie_at_their_depth_inside_the_concrete(beams: dict[str, Specimen]) -> None:
    for specimen in beams.values():
        assert specimen.section is not None
        bars = [i for i in cross_section(specimen, "A").items if isinstance(i, Circle) and i.layer == "bars"]
        layers = specimen.bars
        levels = sorted(specimen.section.h - y.depth for y in layers for _ in range(y.bars.count))
        assert sorted(bar.centre[1] for bar in bars) == pytest.approx(levels)
        assert {bar.radius for bar in bars} == {y.bars.diameter / 2 for y in layers}
        wide = max(specimen.section.b_w, specimen.section.b_bottom or 0.0) / 2
        assert all(abs(bar.centre[0]) + bar.radius <= wide for bar in bars)
        assert sum(bar.centre[0] for bar in bars) == pytest.approx(0.0)


def test_a_u_goes_round_the_soffit_and_a_side_sheet_does_not(beams: dict[str, Specimen]) -> None:
    u = sheets(cross_section(beams["U with anchors"], "A"))["sheet"]
    assert min(z for _, z in u.points) < 0.0
    assert (u.points[0][1], u.points[-1][1]) == (350.0, 350.0)
    assert u.points[0][0] == pytest.approx(-u.points[-1][0])
    side = sheets(cross_section(beams["side, beta 60"], "A"))
    assert set(side) == {"sheet, front leg", "sheet, back leg"}
    assert [z for _, z in side["sheet, front leg"].points] == [370.0, 30.0]


def test_legs_of_the_two_faces_keep_their_own_edges(beams: dict[str, Specimen]) -> None:
    side = sheets(cross_section(beams["I"], "B"))
    assert min(z for _, z in side["sheet, front leg"].points) == 120.0
    assert min(z for _, z in side["sheet, back leg"].points) == 130.0


def test_a_u_follows_the_lower_flange(beams: dict[str, Specimen]) -> None:
    u = sheets(cross_section(beams["I"], "A"))["sheet"]
    assert max(y for y, _ in u.points) > 150.0
    assert u.points[0][0] < 70.0


def test_lapped_soffit_shows_a_second_layer(beams: dict[str, Specimen]) -> None:
    scene = cross_section(beams["flange anchors, beta 120"], "B")
    assert any(getattr(item, "name", "") == "lap" for item in scene.items)


def test_full_wrap_is_closed(beams: dict[str, Specimen]) -> None:
    scene = cross_section(beams["full"], "B")
    sheet = one(scene, "sheet")
    assert min(z for _, z in sheet.points) < 0.0
    assert max(z for _, z in sheet.points) > 400.0
    assumed = sheets(cross_section(beams["full on T"], "A"))["assumed path of the sheet through the flange"]
    assert assumed.pen == "frp cut hidden"


@pytest.mark.parametrize(("bend", "expected"), [(90.0, (10.0, 300.0)), (0.0, (90.0, 380.0)), (60.0, (20.718, 340.0))])
def test_dowel_turns_from_the_fibre_to_the_normal(beams: dict[str, Specimen], bend: float, expected: tuple) -> None:
    """b_w = 180, so the front face is at y = 90; 80 mm of embedment from z = 300."""
    span, section = beams["U with anchors"].spans["A"], beams["U with anchors"].section
    assert span.anchors is not None
    assert span.wrap is not None
    assert section is not None
    anchors = span.anchors.model_copy(update={"bend_angle": bend})
    entry, tip = anchor_axis(anchors, span.wrap, section, "front")
    assert entry == (90.0, 300.0)
    assert tip == pytest.approx(expected, abs=5e-4)
    back = anchor_axis(anchors, span.wrap, section, "back")[1]
    assert back == pytest.approx((-tip[0], tip[1]))


def test_dowel_and_hole_have_their_diameters_and_embedment(beams: dict[str, Specimen]) -> None:
    scene = cross_section(beams["U with anchors"], "A")
    for name, width in (("dowel, front", 12.0), ("hole, back", 14.0)):
        a, b, _, d = one(scene, name).points
        assert math.dist(a, b) == pytest.approx(80.0)
        assert math.dist(a, d) == pytest.approx(width)
    (embedment,) = [i for i in scene.items if isinstance(i, Dimension) and i.name == "embedment"]
    assert embedment.measured == pytest.approx(80.0)


def test_a_dowel_through_the_web_ends_at_the_other_face(beams: dict[str, Specimen]) -> None:
    span, section = beams["U with anchors"].spans["A"], beams["U with anchors"].section
    assert span.anchors is not None
    assert span.wrap is not None
    assert section is not None
    anchors = span.anchors.model_copy(update={"host": "through_web", "bend_angle": 90.0})
    assert anchor_axis(anchors, span.wrap, section, "front")[1] == pytest.approx((-90.0, 300.0))


def test_dimensions_measure_the_section(beams: dict[str, Specimen]) -> None:
    found: dict[str, list[float]] = {}
    for item in cross_section(beams["I"], "A").items:
        if isinstance(item, Dimension):
            found.setdefault(item.name, []).append(item.measured)
    assert (found["b_w"], found["b_flange"], found["b_bottom"]) == ([120], [400], [300])
    assert (found["h"], found["flange"], found["lower flange"]) == ([500], [90], [110])
    assert found["depth of the bars"] == pytest.approx([40, 455])


def test_assumptions_are_written_on_the_drawing(beams: dict[str, Specimen]) -> None:
    text = " ".join(t.content for t in cross_section(beams["I"], "A").texts())
    assert "cover not stated; drawn as 20 mm" in text
    assert "thickness of sheets and fans exaggerated" in text
    assert "cover not stated" not in " ".join(t.content for t in cross_section(beams["bare"], "A").texts())


def test_unknown_span_and_other_kinds_are_refused(beams: dict[str, Specimen]) -> None:
    with pytest.raises(UnknownName, match="no span 'C'; spans: A, B"):
        cross_section(beams["bare"], "C")
    with pytest.raises(OutOfScope, match="kind: other"):
        cross_section(Specimen(id="S9", kind="other"), "A")


def test_offset_of_a_square_corner() -> None:
    moved = offset_path([(0.0, 10.0), (0.0, 0.0), (-10.0, 0.0)], 2.0)
    assert moved == [(2.0, 10.0), (2.0, -2.0), (-10.0, -2.0)]


def test_fillet_is_an_arc_of_its_radius() -> None:
    bent = fillet([(0.0, 50.0), (0.0, 0.0), (-50.0, 0.0)], 10.0, lambda _: True)
    arc = bent[1:-1]
    assert [math.dist(point, (-10.0, 10.0)) for point in arc] == pytest.approx([10.0] * 9)
    assert (arc[0], arc[-1]) == (pytest.approx((0.0, 10.0)), pytest.approx((-10.0, 0.0)))
