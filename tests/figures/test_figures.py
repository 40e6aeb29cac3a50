"""Figures of tests: deterministic, nothing cut off, common axes, and changed by every value they show."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from cracktie.figures import strains, style
from cracktie.figures.curves import gains, shear_deflection
from cracktie.figures.strains import strip_strains
from cracktie.lab.trail import Trail
from cracktie.reduced import Curve, TestResult
from cracktie.results import Quantity

STRIPS = {f"S{n}": n for n in range(1, 9)}


def curve(label: str, x_name: str, x: Any, y: Any) -> Curve:
    return Curve(label, x_name, "V", np.asarray(x, dtype=float), np.asarray(y, dtype=float))


def beam_test(
    name: str, *, peak: float = 100e3, gauges: int = 2, reach: float = 8.0, simulated: bool = False
) -> TestResult:
    shear = np.linspace(0.0, peak, 50)
    curves = [curve("shear against deflection", "delta", np.linspace(0.0, reach, 50), shear)]
    curves += [curve(f"S{n}", "eps_f", np.linspace(0.0, 1e-3 * n, 50), shear) for n in range(1, gauges + 1)]
    values = {
        "V_max": Quantity(name, "V_max", "measured", peak, "N", 1e3, ""),
        "delta_V_max": Quantity(name, "delta_V_max", "measured", reach, "mm", 0.1, ""),
        "V_deb": Quantity(name, "V_deb", "measured", 0.8 * peak, "N", 1e3, ""),
    }
    outcome, shown = "shear in studied span", tuple(curves)
    return TestResult(
        name, name, "A", None, outcome, "virgin", False, False, simulated, values, (), shown, (), Trail()
    )  # fmt: skip


def words(svg: str) -> list[str]:
    """Texts of a figure: its letters are outlines, with the wording as a comment."""
    return [w.strip() for w in re.findall(r"<!-- (.*?) -->", svg)]


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Matplotlib figures as they are turned into text."""
    seen: list[Any] = []
    plain = style.svg_text

    def kept(figure: Any) -> str:
        seen.append(figure)
        return plain(figure)

    monkeypatch.setattr("cracktie.figures.curves.svg_text", kept)
    monkeypatch.setattr("cracktie.figures.strains.svg_text", kept)
    return seen


def test_no_curve_leaves_its_panel(drawn: list[Any]) -> None:
    """The first panel must not set the limits of the others."""
    groups = {"low": [beam_test("T1", peak=50e3, reach=3.0)], "high": [beam_test("T2", peak=200e3, reach=20.0)]}
    shear_deflection(groups)
    (figure,) = drawn
    for axis in figure.axes:
        (left, right), (low, high) = axis.get_xlim(), axis.get_ylim()
        assert (left, low) == (0.0, 0.0)
        for line in axis.get_lines():
            assert np.max(line.get_xdata()) < right
            assert np.max(line.get_ydata()) < high


def test_same_data_same_bytes_and_one_value_changes_them() -> None:
    groups = {"a": [beam_test("T1")]}
    first = shear_deflection(groups)
    assert shear_deflection({"a": [beam_test("T1")]}) == first
    assert shear_deflection({"a": [beam_test("T1", peak=101e3)]}) != first
    marks = {**beam_test("T1").values, "V_max": Quantity("T1", "V_max", "measured", 95e3, "N", 1e3, "")}
    assert shear_deflection({"a": [replace(beam_test("T1"), values=marks)]}) != first


def test_strain_panels_share_axes_and_are_changed_by_every_gauge(drawn: list[Any]) -> None:
    tests = [beam_test("T1"), beam_test("T2", peak=300e3, gauges=5)]
    strips = {t.test: STRIPS for t in tests}
    ((svg, names),) = strip_strains(tests, strips)
    assert names == ("T1", "T2")
    panels = drawn[0].axes[:2]
    assert panels[0].get_xlim() == panels[1].get_xlim()
    assert panels[0].get_ylim() == panels[1].get_ylim()
    assert panels[0].get_xlim()[1] > 5000
    assert panels[0].get_ylim()[1] > 300
    moved = replace(tests[0], curves=(*tests[0].curves[:2], curve("S2", "eps_f", [0.0, 0.0021], [0.0, 100e3])))
    ((other, _),) = strip_strains([moved, tests[1]], strips)
    assert other != svg


def test_one_legend_names_the_strips(drawn: list[Any]) -> None:
    ((svg, _),) = strip_strains([beam_test("T1", gauges=7), beam_test("T2")], {"T1": STRIPS, "T2": STRIPS})
    found = words(svg)
    assert [w for w in found if w.startswith("strip")] == [f"strip {n}" for n in range(1, 9)]
    lines = [line for axis in drawn[0].axes for line in axis.get_lines() if line.get_label().startswith("_child")]
    looks = {(line.get_color(), str(line.get_linestyle()), str(line._dash_pattern)) for line in lines[:7]}
    assert len(looks) == 7


def test_a_gauge_without_strip_is_grey_and_named() -> None:
    ((svg, _),) = strip_strains([beam_test("T1")], {})
    assert "strip not stated" in words(svg)
    assert style.QUIET in svg


@pytest.mark.parametrize(("tests", "panels"), [(1, [1]), (9, [9]), (10, [6, 4]), (18, [9, 9]), (20, [9, 9, 2])])
def test_many_tests_are_shared_out_to_figures(tests: int, panels: list[int]) -> None:
    parts = strains._parts([beam_test(f"T{i}", gauges=1) for i in range(tests)])
    assert [len(p) for p in parts] == panels


def test_tests_without_gauges_have_no_strain_figure() -> None:
    assert list(strip_strains([beam_test("T1", gauges=0)], {})) == []


def test_simulated_is_written_into_the_picture(drawn: list[Any]) -> None:
    real, made = beam_test("T1"), beam_test("T1", simulated=True)
    assert "SIMULATED DATA" not in words(shear_deflection({"a": [real]}))
    assert "SIMULATED DATA" in words(shear_deflection({"a": [made]}, simulated=True))
    ((svg, _),) = strip_strains([made], {})
    assert "SIMULATED DATA" in words(svg)


def test_the_stamp_covers_nothing(drawn: list[Any]) -> None:
    shear_deflection({"a": [beam_test("T1")], "b": [beam_test("T2")], "c": [beam_test("T3")]}, simulated=True)
    figure = drawn[0]
    renderer = figure._get_renderer()
    (stamp,) = [t for t in figure.texts if t.get_text() == "SIMULATED DATA"]
    box = stamp.get_window_extent(renderer)
    for axis in figure.axes:
        assert not box.overlaps(axis.get_tightbbox(renderer))


def test_lines_differ_by_dash_and_colour() -> None:
    pairs = [str(style.line(n)) for n in range(36)]
    assert len(set(pairs)) == 36
    first = [str(style.line(n)[1]) for n in range(6)]
    assert len(set(first)) == 6, "in greyscale the dash alone tells lines apart"


def test_a_lower_bound_is_an_arrow_without_end(drawn: list[Any]) -> None:
    from cracktie.compared import Comparison, Gain
    from cracktie.stats.contrast import ratio
    from cracktie.stats.scatter import Scatter

    spread = Scatter(0.08, 20.0, "made for tests")
    rows = tuple(Gain("W1", ("W1",), "control", ("C1",), ratio([1.5], [1.0], spread, bound=b)) for b in (False, True))
    found = [gains(Comparison("", False, spread, (), (), (), (row,), (), ())) for row in rows]
    assert found[0] is not None
    assert found[0] != found[1]
    assert [len(f.axes[0].texts) for f in drawn] == [0, 1]
