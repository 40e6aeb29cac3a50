"""The elevation shows the beam that is described: positions, lean of the fibres, anchors, gauges, words."""

from __future__ import annotations

import math

import pytest

from cracktie.anchorage.inputs import anchor_places
from cracktie.campaign import geometry
from cracktie.campaign.geometry import span_limits, stirrup_positions, strip_length, strip_positions, wrap_extent
from cracktie.campaign.instruments import Channel
from cracktie.campaign.materials import Materials
from cracktie.campaign.specimen import Soffit, Specimen
from cracktie.campaign.testing import Setup, Test
from cracktie.draw.elevation import elevation
from cracktie.draw.places import anchor_points, lean
from cracktie.draw.scene import Circle, Dimension, Line, Polygon, Scene
from cracktie.draw.section import cross_section
from cracktie.errors import OutOfScope

from .conftest import RECTANGLE, STIRRUPS, STRIPS, TEE, beam


def named(scene: Scene, start: str) -> list[Polygon]:
    return [item for item in scene.items if isinstance(item, Polygon) and item.name.startswith(start)]


def words(scene: Scene) -> str:
    return " ".join(text.content for text in scene.texts())


def test_strips_and_stirrups_stand_where_geometry_says(beams: dict[str, Specimen]) -> None:
    specimen = beams["U with anchors"]
    scene = elevation(specimen)
    wrap = specimen.spans["A"].wrap
    assert wrap is not None
    strips = [item for item in named(scene, "strip A") if not item.name.endswith("back face")]
    centres = [sum(x for x, _ in item.points) / 4 for item in strips]
    assert centres == pytest.approx(strip_positions(specimen, "A"), abs=1e-9)
    for item in strips:
        xs = [x for x, _ in item.points]
        assert max(xs) - min(xs) == pytest.approx(strip_length(wrap), abs=1e-9)
    stirrups = [item.a[0] for item in scene.items if isinstance(item, Line) and item.name.startswith("stirrup A")]
    assert stirrups == pytest.approx(stirrup_positions(specimen, "A"), abs=1e-9)


def test_a_wider_spacing_moves_the_strips(beams: dict[str, Specimen]) -> None:
    specimen = beams["U with anchors"]
    span = specimen.spans["A"]
    assert span.wrap is not None
    wider = span.model_copy(update={"wrap": span.wrap.model_copy(update={"spacing": 160.0})})
    other = specimen.model_copy(update={"spans": {**specimen.spans, "A": wider}})
    before, after = elevation(specimen), elevation(other)
    assert [item.points for item in named(before, "strip A")] != [item.points for item in named(after, "strip A")]
    assert "x 130" in words(before)
    assert "x 160" in words(after)


@pytest.mark.parametrize(("beta", "steeper"), [(60.0, True), (120.0, False)])
@pytest.mark.parametrize("key", ["A", "B"])
def test_fibres_lean_across_the_crack_below_90_degrees(beta: float, steeper: bool, key: str) -> None:
    """The crack climbs from the support to the load; a fibre at beta meets it at the angle 180 - beta - theta."""
    theta = math.radians(40.0)
    crack = (math.cos(theta) if key == "A" else -math.cos(theta), math.sin(theta))
    fibre = (lean(beta, key), 1.0)
    cross = abs(crack[0] * fibre[1] - crack[1] * fibre[0]) / math.hypot(*fibre)
    assert math.degrees(math.asin(cross)) == pytest.approx(80.0 if steeper else 20.0)


def test_inclined_strips_lean_opposite_ways_in_the_two_spans(beams: dict[str, Specimen]) -> None:
    scene = elevation(beams["side, beta 60"])
    for start, sign in (("strip A", -1.0), ("strip B", 1.0)):
        for item in named(scene, start):
            (low_x, low_z), _, _, (high_x, high_z) = item.points
            assert (high_x - low_x) / (high_z - low_z) == pytest.approx(sign / math.tan(math.radians(60)))


def test_continuous_sheet_spans_its_extent(beams: dict[str, Specimen]) -> None:
    specimen = beams["U with anchors"]
    (sheet,) = named(elevation(specimen), "sheet B, front")
    assert (sheet.points[0][0], sheet.points[1][0]) == wrap_extent(specimen, "B")
    assert sheet.hatch is not None
    assert sheet.hatch.angle == pytest.approx(90.0)


def test_other_edges_of_the_back_leg_are_drawn_hidden(beams: dict[str, Specimen]) -> None:
    back = [item for item in named(elevation(beams["I"]), "strip B") if item.name.endswith("back face")]
    assert back
    assert {min(z for _, z in item.points) for item in back} == {130.0}
    assert {item.pen for item in back} == {"hidden"}


def test_anchors_sit_on_their_strips(beams: dict[str, Specimen]) -> None:
    specimen = beams["flange anchors, beta 120"]
    anchors = [item for item in elevation(specimen).items if isinstance(item, Circle) and item.fill == "anchor"]
    assert [item.centre for item in anchors] == anchor_points(specimen, "A")
    assert len(anchors) == 2 * len(strip_positions(specimen, "A"))
    across = anchors[1].centre[0] - anchors[0].centre[0]
    assert across == pytest.approx(30 / math.sin(math.radians(120)))
    middle = (anchors[0].centre[0] + anchors[1].centre[0]) / 2
    assert middle - strip_positions(specimen, "A")[0] == pytest.approx(lean(120.0, "A") * (345 - 225))
    assert sorted(point[0] for point in anchor_points(specimen, "A")) == pytest.approx(anchor_places(specimen, "A"))


@pytest.mark.parametrize("key", ["A", "B"])
def test_inclined_strips_below_a_flange_are_drawn_where_the_numbers_see_them(key: str) -> None:
    """Their x holds at mid-height of the section (225 mm here), not of the web face (175 mm)."""
    leaning = {"wrap": {**STRIPS, "scheme": "u", "beta": 60, "back": {"bottom_edge": 90}}}
    specimen = beam(TEE, leaning, leaning)
    drawn = named(elevation(specimen), f"strip {key}")
    assert len(drawn) == 2 * len(strip_positions(specimen, key))
    for item, x in zip(drawn, (x for x in strip_positions(specimen, key) for _ in range(2)), strict=True):
        for one, two in ((0, 1), (3, 2)):
            z = item.points[one][1]
            middle = (item.points[one][0] + item.points[two][0]) / 2
            assert middle - x == pytest.approx(geometry.lean(specimen, key, 60.0, z))
    top = max(z for _, z in drawn[0].points)
    assert top == 350.0
    assert abs(geometry.lean(specimen, key, 60.0, top)) == pytest.approx(125.0 / math.tan(math.radians(60.0)))


def test_width_of_an_inclined_strip_is_measured_at_its_foot() -> None:
    specimen = beam(TEE, {"wrap": {**STRIPS, "scheme": "u", "beta": 60}}, {})
    (strip, *_) = named(elevation(specimen), "strip A5")
    (width,) = [i for i in elevation(specimen).items if getattr(i, "name", "") == "strip width, span A"]
    assert isinstance(width, Dimension)
    feet = {round(x, 6) for x, z in strip.points if z == 0.0}
    assert {round(width.a[0], 6), round(width.b[0], 6)} == feet


def test_gauges_on_inclined_stirrups_follow_the_stirrup() -> None:
    leaning = {"stirrups": {**STIRRUPS, "angle": 45}}
    specimen = beam(RECTANGLE, leaning, leaning, tested_span="A")
    scene = elevation(specimen, channels=[Channel(name="B3", quantity="bar strain", stirrup=3, z=300)])
    (mark,) = [item for item in scene.items if isinstance(item, Line) and item.name == "1 B3"]
    middle = (mark.a[0] + mark.b[0]) / 2
    assert middle == pytest.approx(stirrup_positions(specimen, "A")[2] - 100.0)


def test_fan_points_away_from_the_free_end(beams: dict[str, Specimen]) -> None:
    fans = named(elevation(beams["U with anchors"]), "anchor A")
    assert fans
    for fan in fans:
        top = max(z for _, z in fan.points)
        assert top == 300.0
        assert min(z for _, z in fan.points) == pytest.approx(200.0)


def test_dimensions_measure_the_beam(beams: dict[str, Specimen]) -> None:
    specimen = beams["side, beta 60"]
    found = {item.name: item.measured for item in elevation(specimen).items if isinstance(item, Dimension)}
    assert found["span A"] == span_limits(specimen, "A")[1]
    assert found["between supports"] == specimen.distance_between_supports
    assert found["left overhang"] == 150
    assert found["height h"] == 400
    assert found["height of the sheet, span A"] == 340
    assert found["strip width, span A"] == pytest.approx(60 / math.sin(math.radians(60)))


def test_every_dimension_without_room_is_written_in_the_notes(beams: dict[str, Specimen]) -> None:
    specimen = beams["bare"].model_copy(update={"overhang_left": 1.0, "overhang_right": 1.0})
    scene = elevation(specimen)
    silent = [item for item in scene.items if isinstance(item, Dimension) and item.text is None]
    assert all(item.name in words(scene) for item in silent)


def test_tested_span_comes_from_the_tests_first(beams: dict[str, Specimen]) -> None:
    specimen = beams["U with anchors"]
    assert "tested span: A (left)" in words(elevation(specimen))
    both = [Test(specimen="X1", studied="B"), Test(specimen="Y7", studied="A")]
    scene = elevation(specimen, tests=both)
    assert "tested span: B (right)" in words(scene)
    assert "span B, tested: 1000" in words(scene)
    assert "tested span not stated" in words(elevation(beams["bare"]))


def test_materials_give_fibre_words(beams: dict[str, Specimen]) -> None:
    system = {"fibre": "carbon", "form": "sheet", "thickness": 0.167, "convention": "fibre"}
    materials = Materials(frp_systems={"C1": {**system, "mean": {"E_f": 230e3, "f_fu": 3800}}})
    assert "carbon sheet" in elevation(beams["full"], materials).description
    assert "system C1" in elevation(beams["full"]).description


def test_setup_places_supports_and_loads(beams: dict[str, Specimen]) -> None:
    setup = Setup(
        supports=({"x": 20, "kind": "roller"}, {"x": 1980, "kind": "pin", "plate": 100}),
        loads=({"x": 700, "share": 0.25}, {"x": 1100, "share": 0.75, "plate": 80}),
    )
    scene = elevation(beams["bare"], setup=setup)
    (roller,) = [item for item in scene.items if isinstance(item, Circle) and item.name == "roller support"]
    (pin,) = named(scene, "pinned support")
    assert (roller.centre[0], pin.points[0][0]) == (20.0, 1980.0)
    loads = [item.a[0] for item in scene.items if isinstance(item, Line) and item.name == "load"]
    assert loads == [700.0, 1100.0]
    assert "0.25 P" in words(scene)


def test_gauges_are_marked_and_listed(beams: dict[str, Specimen]) -> None:
    specimen = beams["side, beta 60"]
    channels = [
        Channel(name="S2", quantity="FRP strain", strip=2, z=100, face="front"),
        Channel(name="D", quantity="displacement", at="midspan"),
        Channel(name="P", quantity="load", at="load"),
        Channel(name="lost", quantity="bar strain"),
    ]
    scene = elevation(specimen, channels=channels)
    (mark,) = [item for item in scene.items if isinstance(item, Line) and item.name == "1 S2"]
    middle = (mark.a[0] + mark.b[0]) / 2, (mark.a[1] + mark.b[1]) / 2
    expected = strip_positions(specimen, "A")[1] + lean(60.0, "A") * (100 - 200)
    assert middle == pytest.approx((expected, 100.0))
    (triangle,) = named(scene, "2 D")
    assert triangle.points[0] == (specimen.distance_between_supports / 2, 0.0)
    assert "not drawn, no place given: lost" in words(scene)
    assert "P: load" not in words(scene)


def test_anchors_on_a_continuous_sheet_are_named_and_left_out(beams: dict[str, Specimen]) -> None:
    specimen = beams["U with anchors"]
    anchored = specimen.spans["B"].model_copy(update={"anchors": specimen.spans["A"].anchors})
    scene = elevation(specimen.model_copy(update={"spans": {**specimen.spans, "B": anchored}}))
    assert "anchors along the continuous sheet are not described and not drawn" in words(scene)


def test_soffit_sheet_is_drawn_and_named(beams: dict[str, Specimen]) -> None:
    soffit = {"system": "C1", "width": 120, "start": 100, "end": 1900}
    bare = beams["bare"]
    specimen = bare.model_copy(update={"soffit": Soffit.model_validate(soffit)})
    (line,) = [i for i in elevation(specimen).items if isinstance(i, Line) and i.name == "sheet on the soffit"]
    assert (line.a, line.b) == ((100.0, 0.0), (1900.0, 0.0))
    assert "soffit sheet: 1 ply 120 wide" in words(elevation(specimen))
    (cut,) = [i for i in cross_section(specimen, "A").items if getattr(i, "name", "") == "sheet on the soffit"]
    assert isinstance(cut, Line)
    assert cut.b[0] - cut.a[0] == 120.0
    assert "soffit sheet" not in words(elevation(bare))


def test_a_specimen_that_is_no_beam_is_refused() -> None:
    with pytest.raises(OutOfScope, match=r"specimen S9: kind: other .* write kind: beam"):
        elevation(Specimen(id="S9", kind="other"))
