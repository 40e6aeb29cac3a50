"""Text metrics, hatching and resolving of the scene's primitives."""

from __future__ import annotations

import itertools
import math

import pytest

from cracktie.draw.layout import choose_scale, crosses, overlap
from cracktie.draw.metrics import ASCENT, BOLD, text_width, wrap_lines
from cracktie.draw.pdf import FONT
from cracktie.draw.scene import Arc, Circle, Dimension, Hatch, Polygon, Text, extent, hatch_lines, resolve


def test_widths_are_those_of_the_font() -> None:
    """Against the advance widths that matplotlib's font engine reads from the font file."""
    font_module = pytest.importorskip("matplotlib.ft2font")
    from matplotlib.font_manager import findfont

    font = font_module.FT2Font(findfont(FONT))
    font.set_size(1000, 72)
    for char in "0123456789 abcxyzABCMWmw,.:;=()°±×≥β":
        glyph = font.load_char(ord(char), flags=font_module.LoadFlags.NO_HINTING)
        assert text_width(char, 1.0) == pytest.approx(glyph.linearHoriAdvance / 65536e3, abs=6e-4), char


def test_bold_text_stays_within_its_allowance() -> None:
    font_module = pytest.importorskip("matplotlib.ft2font")
    from matplotlib.font_manager import FontProperties, findfont

    font = font_module.FT2Font(findfont(FontProperties(family=FONT, weight="bold")))
    font.set_size(1000, 72)
    for words in (
        "Parts",
        "Gauges: number, name, quantity (x, z), face",
        "T2 (batch 3): elevation",
        "section in span A",
    ):
        glyphs = (font.load_char(ord(char), flags=font_module.LoadFlags.NO_HINTING) for char in words)
        assert sum(glyph.linearHoriAdvance for glyph in glyphs) / 65536e3 <= BOLD * text_width(words, 1.0)


def test_unknown_characters_take_a_full_em() -> None:
    assert text_width("梁", 3.0) == 3.0


@pytest.mark.parametrize("width", [4.0, 12.0, 50.0])
def test_wrapped_lines_fit_and_lose_nothing(width: float) -> None:
    text = "A long sentence with one incomprehensibilities-sized-word in it"
    lines = wrap_lines(text, 2.6, width)
    assert all(text_width(line, 2.6) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_text_box_turns_with_the_text() -> None:
    flat = Text("text", (0.0, 0.0), "1000", 2.0, "middle").box(10.0)
    turned = Text("text", (0.0, 0.0), "1000", 2.0, "middle", 90).box(10.0)
    width = text_width("1000", 20.0)
    assert flat[2] - flat[0] == pytest.approx(width)
    assert turned[3] - turned[1] == pytest.approx(width)
    assert flat[3] == pytest.approx(ASCENT * 20.0)
    assert turned[0] == pytest.approx(-ASCENT * 20.0)


@pytest.mark.parametrize("angle", [90.0, 60.0, 120.0, 35.0])
def test_hatch_lines_lie_in_the_polygon_at_the_angle(angle: float) -> None:
    corners = ((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0))
    lines = hatch_lines(corners, Hatch(angle, 2.0, "fibre"), 4.0)
    assert len(lines) >= 3
    for (ax, az), (bx, bz) in lines:
        assert min(ax, bx) >= -1e-9
        assert max(ax, bx) <= 100 + 1e-9
        assert min(az, bz) >= -1e-9
        assert max(az, bz) <= 60 + 1e-9
        assert math.degrees(math.atan2(bz - az, bx - ax)) == pytest.approx(angle)
    offsets = [(-a[0] * math.sin(math.radians(angle)) + a[1] * math.cos(math.radians(angle))) for a, _ in lines]
    assert [b - a for a, b in itertools.pairwise(offsets)] == pytest.approx([8.0] * (len(lines) - 1))


def test_short_dimensions_have_dots_and_long_ones_arrowheads() -> None:
    def ends(length: float) -> list[type]:
        item = Dimension("dimensions", (0, 0), (length, 0), (0, -50), (length, -50), None)
        return [type(part) for part in resolve(item, 10.0) if isinstance(part, (Polygon, Circle))]

    assert ends(40.0) == [Circle, Circle]
    assert ends(60.0) == [Polygon, Polygon]


def test_arrowheads_touch_the_measured_points() -> None:
    item = Dimension("dimensions", (0, 0), (100, 0), (0, -50), (100, -50), None)
    tips = [part.points[0] for part in resolve(item, 10.0) if isinstance(part, Polygon)]
    assert tips == [(0, -50), (100, -50)]


def test_extent_of_an_arc() -> None:
    assert extent(Arc("concrete", (0, 0), 10, 0, 90, "edge"), 1.0) == pytest.approx((0, 0, 10, 10))


def test_boxes_and_segments() -> None:
    assert overlap((0, 0, 2, 2), (1, 1, 3, 3))
    assert not overlap((0, 0, 2, 2), (2, 0, 3, 2))
    assert crosses((-1, 1), (3, 1), (0, 0, 2, 2))
    assert not crosses((-1, 3), (3, 3), (0, 0, 2, 2))
    assert not crosses((-1, 1), (-0.5, 1), (0, 0, 2, 2))


def test_scale_is_the_least_that_fits() -> None:
    assert choose_scale(2600.0, 130.0) == 20.0
    assert choose_scale(2600.1, 130.0) == 25.0
    assert choose_scale(80000.0, 130.0) == 700.0
