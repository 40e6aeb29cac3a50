"""SVG, DXF and PDF: the same geometry, the same bytes each time, and no scale where there is none."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import ezdxf
import pytest

from cracktie.campaign.geometry import strip_positions
from cracktie.campaign.specimen import Specimen
from cracktie.draw.dxf import DRAWN, dxf
from cracktie.draw.elevation import elevation
from cracktie.draw.pdf import pdf, png
from cracktie.draw.scene import FILLS, LAYERS, PENS, Arc, Scene, Text
from cracktie.draw.section import cross_section
from cracktie.draw.svg import svg

NS = {"s": "http://www.w3.org/2000/svg"}


@pytest.fixture(scope="module")
def scene(beams: dict[str, Specimen]) -> Scene:
    return elevation(beams["U with anchors"])


def test_strips_in_the_svg_stand_where_geometry_says(scene: Scene, beams: dict[str, Specimen]) -> None:
    root = ET.fromstring(svg(scene))
    centres = []
    for item in root.iterfind(".//s:polygon[@data-name]", NS):
        if re.match(r"strip A\d", item.attrib["data-name"]) and "fill" in item.attrib:
            xs = [float(pair.split(",")[0]) for pair in item.attrib["points"].split()]
            centres.append((min(xs) + max(xs)) / 2)
    assert centres == pytest.approx(strip_positions(beams["U with anchors"], "A"), abs=1e-9)


def test_svg_is_accessible_and_self_contained(beams: dict[str, Specimen]) -> None:
    for specimen in beams.values():
        for drawing in (elevation(specimen), cross_section(specimen, "A")):
            text = svg(drawing)
            root = ET.fromstring(text)
            title, desc = root.find("s:title", NS), root.find("s:desc", NS)
            assert title is not None
            assert desc is not None
            assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], desc.attrib["id"]]
            assert specimen.name in (desc.text or "")
            assert not re.search(r"href|url\(|@import|<script|<style", text)


def test_odd_names_stay_well_formed(beams: dict[str, Specimen]) -> None:
    odd = beams["bare"].model_copy(update={"label": 'B<1> & "β" \\ #x'})
    root = ET.fromstring(svg(elevation(odd)))
    assert (root.findtext("s:title", namespaces=NS) or "").startswith('B<1> & "β" \\ #x')
    assert pdf(elevation(odd)).startswith(b"%PDF")


def test_two_drawings_on_a_page_have_their_own_ids(scene: Scene) -> None:
    ids = [set(re.findall(r'id="([^"]+)"', svg(scene, prefix=prefix))) for prefix in ("one", "two")]
    assert not ids[0] & ids[1]


def test_scale_is_stated_only_where_it_is_true(scene: Scene) -> None:
    loose, sized = svg(scene), svg(scene, true_scale=True)
    assert "not to scale" in loose
    assert not re.search(r"1:\d", loose)
    assert "width" not in ET.fromstring(loose).attrib
    assert f"true scale 1:{scene.scale:g}" in sized
    assert "not to scale" not in sized
    head = ET.fromstring(sized).attrib
    box = [float(value) for value in head["viewBox"].split()]
    for side, length in (("width", box[2]), ("height", box[3])):
        assert length / float(head[side].removesuffix("mm")) == pytest.approx(scene.scale)
    assert DRAWN in dxf(scene)
    assert "true scale" not in dxf(scene)


def test_pdf_page_has_the_size_of_the_sheet(scene: Scene) -> None:
    pypdf = pytest.importorskip("pypdf")
    page = pypdf.PdfReader(io.BytesIO(pdf(scene))).pages[0]
    width, height = scene.paper
    assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(width, abs=0.01)
    assert float(page.mediabox.height) / 72 * 25.4 == pytest.approx(height, abs=0.01)
    text = page.extract_text()
    assert f"true scale 1:{scene.scale:g}" in text
    assert "span A, tested: 1000" in text


def test_png_has_whole_pixels(scene: Scene) -> None:
    data = png(scene, 2)
    size = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    assert size == tuple(round(2 * side) for side in scene.paper)
    assert scene.paper[1] == pytest.approx(round(scene.paper[1]))


def test_dxf_is_read_back_with_the_same_geometry(beams: dict[str, Specimen]) -> None:
    for specimen in beams.values():
        for drawing in (elevation(specimen), cross_section(specimen, "B")):
            document = ezdxf.read(io.StringIO(dxf(drawing)))
            audit = document.audit()
            assert not audit.errors
            assert not audit.fixes
            assert document.units == ezdxf.units.MM
            space = document.modelspace()
            assert {entity.dxf.layer for entity in space} <= set(LAYERS)
            assert _texts(space) == sorted([*_content(drawing), DRAWN])


def _content(drawing: Scene) -> list[str]:
    return [item.content for item in drawing.simple() if isinstance(item, Text)]


def _texts(space: ezdxf.layouts.Modelspace) -> list[str]:
    return sorted(entity.dxf.text for entity in space.query("TEXT"))


def test_strips_in_the_dxf_stand_where_geometry_says(scene: Scene, beams: dict[str, Specimen]) -> None:
    space = ezdxf.read(io.StringIO(dxf(scene))).modelspace()
    specimen = beams["U with anchors"]
    outlines = [[p[0] for p in line.get_points()] for line in space.query('LWPOLYLINE[layer=="FRP"]')]
    centres = sorted((min(xs) + max(xs)) / 2 for xs in outlines)
    strips = strip_positions(specimen, "A")
    assert centres[: len(strips)] == pytest.approx(strips, abs=1e-9)
    bars = [line.dxf.start.y for line in space.query('LINE[layer=="bars"]')]
    assert bars == [450.0 - 40.0, 45.0]


def test_same_scene_same_bytes_in_another_process(scene: Scene) -> None:
    """Hash seeds differ between processes, so an order taken from a set would show."""
    code = (
        "import hashlib, sys; sys.path.insert(0, sys.argv[1]); from conftest import *\n"
        "from cracktie.draw.elevation import elevation\n"
        "from cracktie.draw.svg import svg\nfrom cracktie.draw.dxf import dxf\nfrom cracktie.draw.pdf import pdf\n"
        "s = elevation(beam(TEE, {'wrap': {**STRIPS, 'scheme': 'u'}, 'anchors': ANCHOR}, {}))\n"
        "parts = (svg(s).encode(), dxf(s).encode(), pdf(s))\n"
        "print([hashlib.sha256(part).hexdigest() for part in parts])"
    )
    here = os.path.dirname(__file__)
    found = {
        subprocess.run(
            [sys.executable, "-c", code, here],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1
    assert len(eval(found.pop())) == 3


def test_no_date_and_no_id_of_the_day_in_the_files(scene: Scene) -> None:
    for text in (svg(scene), dxf(scene)):
        assert not re.search(r"20(1|2[4-9]|[3-9]\d)\d?-\d\d-\d\d", text)
    assert b"CreationDate" not in pdf(scene)


def test_pens_are_told_apart_without_colour() -> None:
    """Lines that meet in one drawing differ in weight or in dashes, not only in colour."""
    cut = ("outline", "bar", "stirrup", "frp", "fibre", "anchor", "fan")
    marks = {(PENS[name].width, PENS[name].dash) for name in cut}
    assert len(marks) == len(cut)


def test_tints_differ_in_greyscale() -> None:
    def grey(colour: str) -> float:
        red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
        return 0.299 * red + 0.587 * green + 0.114 * blue

    shades = sorted(grey(FILLS[name]) for name in ("paper", "concrete", "frp", "anchor"))
    assert all(b - a > 10 for a, b in zip(shades, shades[1:], strict=False))  # noqa: RUF007


def test_arc_of_the_svg_ends_where_it_should() -> None:
    note = Text("text", (0, 0), "", 2.0)
    drawing = Scene("t", "d", 1.0, (0, 0, 10, 10), (Arc("concrete", (5, 5), 3, 0, 90, "edge"),), note)
    path = ET.fromstring(svg(drawing)).find(".//s:path", NS)
    assert path is not None
    assert path.attrib["d"] == "M 8 -5 A 3 3 0 0 0 5 -8"
