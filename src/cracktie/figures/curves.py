"""Figures of tests: shear against deflection, gains and test/prediction ratios."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cracktie.figures.style import INK, LINES, MARKERS, QUIET, canvas, label_foot, line, stamp, svg_text
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.compared import Comparison
    from cracktie.reduced import TestResult

MARKS = {
    "V_cr": ("flexural crack", "|"),
    "V_dia": ("diagonal crack", "x"),
    "V_deb": ("first debonding", "v"),
    "V_max": ("V_max", "o"),
}
"""Event -> its words and its marker in every figure."""


def shear_deflection(groups: Mapping[str, Sequence[TestResult]], *, system: str = "si", simulated: bool = False) -> str:
    """Shear against deflection, one panel a design group on common axes; marks at the events. SVG text."""
    factor, unit = shown(1.0, "N", system)
    length, length_unit = shown(1.0, "mm", system)
    names = [n for n, tests in groups.items() if any(_curve(t) for t in tests)]
    columns = min(3, max(1, len(names)))
    rows = max(1, math.ceil(len(names) / columns))
    with canvas(170, 14 + 37 * rows, nrows=rows, ncols=columns, sharex=True, sharey=True, squeeze=False) as (fig, axes):
        for axis, name in zip(axes.flat, names, strict=False):
            for i, test in enumerate(groups[name]):
                curve = _curve(test)
                if curve is None:
                    continue
                colour, dash = line(i)
                label = test.test + (" ≥" if test.bound else "")
                axis.plot(curve.x * length, curve.y * factor, color=colour, ls=dash, lw=1.1, label=label)
                _event_marks(axis, test, colour, factor, length)
            axis.set_title(name)
            axis.legend(loc="best", handlelength=2.2, fontsize=6.5)
        axes[0, 0].set_ylim(bottom=0)  # after all curves: setting one limit fixes the shared other one
        axes[0, 0].set_xlim(left=0)
        label_foot(axes, len(names))
        fig.supxlabel(f"deflection at the load, settlement taken off [{length_unit}]", fontsize=8)
        fig.supylabel(f"shear, self-weight included [{unit}]", fontsize=8)
        stamp(fig, simulated)
        return svg_text(fig)


def _curve(test: TestResult) -> Any:
    return next((c for c in test.curves if (c.x_name, c.y_name) == ("delta", "V")), None)


def _event_marks(axis: Any, test: TestResult, colour: str, factor: float, length: float) -> None:
    for name, (_, marker) in MARKS.items():
        V, at = test.values.get(name), test.values.get(f"delta_{name}")
        if V is None or V.value is None or at is None or at.value is None:
            continue
        fill = colour if marker in "x|" else "white"
        axis.plot([at.value * length], [V.value * factor], marker, ms=4.5, mfc=fill, mec=colour, mew=1.1, zorder=3)


def test_prediction(comparison: Comparison) -> str | None:
    """Test/prediction of every test and set; lower bounds as arrows. SVG text, None without data."""
    rows = comparison.predictions
    if not rows:
        return None
    tests = list(dict.fromkeys(r.test for r in rows))
    sets = list(dict.fromkeys(r.set for r in rows))
    with canvas(170, 26 + 5.2 * len(tests)) as (fig, axis):
        for i, name in enumerate(sets):
            found = [r for r in rows if r.set == name]
            y = [tests.index(r.test) + 0.18 * (i - (len(sets) - 1) / 2) for r in found]
            colour = LINES[i % len(LINES)][0]
            axis.plot(
                [r.ratio for r in found], y, MARKERS[i % len(MARKERS)], color=colour, ms=4.5, mfc="white", mew=1.1,
                label=found[0].title, ls="none",
            )  # fmt: skip
            for r, height in zip(found, y, strict=True):
                if r.bound:
                    arrow = {"arrowstyle": "->", "color": colour, "lw": 0.9}
                    axis.annotate("", (r.ratio * 1.09, height), (r.ratio, height), arrowprops=arrow)
        axis.axvline(1.0, color=INK, lw=0.7)
        axis.set_yticks(range(len(tests)), tests)
        axis.set_ylim(len(tests) - 0.4, -0.6)
        axis.set_xlabel("V_max measured / V_R predicted (arrow: lower bound)")
        axis.grid(axis="x", color=QUIET, lw=0.3, alpha=0.6)
        fig.legend(loc="outside lower center", ncols=2)
        stamp(fig, comparison.simulated)
        return svg_text(fig)


def gains(comparison: Comparison) -> str | None:
    """Ratios over each reference role with their intervals; open-ended for lower bounds. SVG text."""
    if not comparison.gains:
        return None
    roles = list(dict.fromkeys(g.role for g in comparison.gains))
    most = max(sum(g.role == r for g in comparison.gains) for r in roles)
    with canvas(170, 22 + 6.0 * most, ncols=len(roles), squeeze=False) as (fig, axes):
        for axis, role in zip(axes.flat, roles, strict=True):
            found = [g for g in comparison.gains if g.role == role]
            for y, g in enumerate(found):
                high = g.ratio.high
                if high is None:
                    arrow = {"arrowstyle": "->", "color": LINES[0][0], "lw": 1.0}
                    axis.annotate("", (g.ratio.value * 1.25, y), (g.ratio.low, y), arrowprops=arrow)
                    axis.plot([g.ratio.low, g.ratio.value * 1.25], [y, y], alpha=0)
                else:
                    axis.plot([g.ratio.low, high], [y, y], color=LINES[0][0], lw=1.3)
                axis.plot([g.ratio.value], [y], "o", ms=5, mfc="white", mec=LINES[0][0], mew=1.2)
            axis.axvline(1.0, color=INK, lw=0.7)
            axis.set_yticks(range(len(found)), [g.item for g in found])
            axis.set_ylim(len(found) - 0.4, -0.6)
            axis.set_title(f"over {role}")
            axis.set_xlabel("ratio of V_max, 95 % interval")
            axis.grid(axis="x", color=QUIET, lw=0.3, alpha=0.6)
        stamp(fig, comparison.simulated)
        return svg_text(fig)
