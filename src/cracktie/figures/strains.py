"""Shear against FRP strain as small multiples: one panel a test on common axes, one colour and dash a strip."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cracktie.figures.curves import MARKS
from cracktie.figures.style import INK, QUIET, canvas, label_foot, line, stamp, svg_text
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.reduced import Curve, TestResult

A_ROW = 3
"""Panels side by side."""
ROWS = 3
"""Rows of panels a figure holds at most, so that it fits on a page with its caption."""
LEVELS = ("V_dia", "V_deb", "V_max")


def strip_strains(
    tests: Iterable[TestResult], strips: Mapping[str, Mapping[str, int]], *, system: str = "si"
) -> Iterable[tuple[str, tuple[str, ...]]]:
    """Figures as (SVG text, tests shown). `strips` maps test and channel to the number of the strip, from 1.

    Gauges without a strip are drawn in grey. Tests without FRP gauges are left out; axes are common to all figures.
    """
    shown_tests = [t for t in tests if _gauges(t)]
    if not shown_tests:
        return
    right = max(float(c.x.max()) for t in shown_tests for c in _gauges(t) if c.x.size) * 1e6
    top = max(float(c.y.max()) for t in shown_tests for c in _gauges(t) if c.y.size)
    numbers = sorted({n for t in shown_tests for n in strips.get(t.test, {}).values()})
    for part in _parts(shown_tests):
        yield _figure(part, strips, numbers, (1.04 * right, 1.06 * top), system), tuple(t.test for t in part)


def _gauges(test: TestResult) -> list[Curve]:
    return [c for c in test.curves if (c.x_name, c.y_name) == ("eps_f", "V")]


def _parts(tests: Sequence[TestResult]) -> list[Sequence[TestResult]]:
    """The tests shared out to figures in whole rows, about the same number of rows each."""
    rows = math.ceil(len(tests) / A_ROW)
    figures = math.ceil(rows / ROWS)
    each = math.ceil(rows / figures) * A_ROW
    return [tests[i : i + each] for i in range(0, len(tests), each)]


def _figure(
    tests: Sequence[TestResult],
    strips: Mapping[str, Mapping[str, int]],
    numbers: Sequence[int],
    limits: tuple[float, float],
    system: str,
) -> str:
    factor, unit = shown(1.0, "N", system)
    rows = math.ceil(len(tests) / A_ROW)
    with canvas(170, 19 + 38 * rows, nrows=rows, ncols=A_ROW, sharex=True, sharey=True, squeeze=False) as (fig, axes):
        for axis, test in zip(axes.flat, tests, strict=False):
            _panel(axis, test, strips.get(test.test, {}), numbers, factor)
        label_foot(axes, len(tests))
        axes[0, 0].set_xlim(0, limits[0])
        axes[0, 0].set_ylim(0, limits[1] * factor)
        fig.supxlabel("strain of the FRP [µm/m]", fontsize=8)
        fig.supylabel(f"shear, self-weight included [{unit}]", fontsize=8)
        _legend(fig, tests, strips, numbers)
        stamp(fig, any(t.simulated for t in tests))
        return svg_text(fig)


def _panel(axis: Any, test: TestResult, strip_of: Mapping[str, int], numbers: Sequence[int], factor: float) -> None:
    for curve in _gauges(test):
        number = strip_of.get(curve.label)
        colour, dash = (QUIET, "-") if number is None else line(numbers.index(number))
        axis.plot(curve.x * 1e6, curve.y * factor, color=colour, ls=dash, lw=0.6)
    for name in LEVELS:
        V = test.value(name)
        if V is not None:
            axis.axhline(V * factor, color=QUIET, lw=0.5, ls=(0, (1, 2)), zorder=0)
            axis.plot(
                [0.985], [V * factor], MARKS[name][1], transform=axis.get_yaxis_transform(), ms=4, mec=INK,
                mfc="white", mew=0.8, clip_on=False,
            )  # fmt: skip
    axis.set_title(test.test + (" (lower bound)" if test.bound else ""))


def _legend(
    fig: Any, tests: Sequence[TestResult], strips: Mapping[str, Mapping[str, int]], numbers: Sequence[int]
) -> None:
    from matplotlib.lines import Line2D

    entries = []
    for i, number in enumerate(numbers):
        colour, dash = line(i)
        entries.append(Line2D([], [], color=colour, ls=dash, lw=1.0, label=f"strip {number}"))
    if any(strips.get(t.test, {}).get(c.label) is None for t in tests for c in _gauges(t)):
        entries.append(Line2D([], [], color=QUIET, lw=1.0, label="strip not stated"))
    fig.legend(handles=entries, loc="outside upper left", ncols=min(6, len(entries)), handlelength=3.2)
