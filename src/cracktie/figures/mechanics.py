"""Predicted shear over the crack opening, stacked by carrier, and predicted strain of gauges; one panel a beam."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from cracktie.figures.style import INK, LINES, QUIET, canvas, label_foot, line, svg_text
from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.prediction.mechanics import BeamMechanics, CaseMechanics

CARRIERS = (("V_c", "concrete", 0.6), ("V_s", "stirrups", 0.4), ("V_f", "FRP", 0.25))
"""Quantity, word and density from the bottom up, from dark to light so that greys tell them apart."""
A_ROW = 3


def stacked_shear(panels: Sequence[tuple[BeamMechanics, CaseMechanics]], *, system: str = "si") -> str:
    """SVG text: V_c, V_s and V_f over the opening at the mouth, a circle at the largest mean shear."""
    factor, unit = shown(1.0, "N", system)
    length, length_unit = shown(1.0, "mm", system)
    rows = max(1, math.ceil(len(panels) / A_ROW))
    with canvas(170, 19 + 40 * rows, nrows=rows, ncols=A_ROW, sharex=True, sharey=True, squeeze=False) as (fig, axes):
        for axis, (beam, case) in zip(axes.flat, panels, strict=False):
            _panel(axis, beam, case, factor, length)
        label_foot(axes, len(panels))
        axes[0, 0].set_xlim(left=0)
        axes[0, 0].set_ylim(bottom=0)
        fig.supxlabel(f"opening of the crack at its mouth [{length_unit}]", fontsize=8)
        fig.supylabel(f"predicted shear, mean over crack positions [{unit}]", fontsize=8)
        _legend(fig)
        return svg_text(fig)


def _panel(axis: Any, beam: BeamMechanics, case: CaseMechanics, factor: float, length: float) -> None:
    below = 0.0 * case.w
    w = case.w * length
    for i, (name, _, density) in enumerate(CARRIERS):
        above = below + getattr(case, name)
        axis.fill_between(w, below * factor, above * factor, facecolor=LINES[i][0], alpha=density, lw=0.0)
        axis.plot(w, above * factor, color=LINES[i][0], lw=0.8)
        below = above
    at = int(case.V.argmax())
    axis.plot([w[at]], [case.V[at] * factor], "o", ms=4.5, mfc="white", mec=INK, mew=1.1, zorder=4)
    for event, _ in beam.events:
        if event.strip is not None and case is beam.base:
            axis.axvline(event.w * length, color=QUIET, lw=0.5, ls=(0, (1, 2)))
    axis.set_title(f"{beam.item}, {case.name}" if beam.anchored else beam.item, fontsize=7)


def _legend(fig: Any) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    entries: list[Any] = [
        Patch(facecolor=LINES[i][0], alpha=density, label=word) for i, (_, word, density) in enumerate(CARRIERS)
    ]
    entries.append(Line2D([], [], marker="o", ls="", mfc="white", mec=INK, label="largest of the mean curve"))
    entries.append(Line2D([], [], color=QUIET, lw=0.8, ls=(0, (1, 2)), label="events of strips"))
    fig.legend(handles=entries, loc="outside upper left", ncols=5, handlelength=2.4)


def gauge_strains(beams: Sequence[BeamMechanics], *, system: str = "si") -> str:
    """SVG text: strain of every gauge on FRP over the opening, mean over crack positions, a colour and dash a strip.

    A gauge that no crack position reaches lies on the axis.
    """
    length, length_unit = shown(1.0, "mm", system)
    numbers = sorted({g.gauge.strip for b in beams for g in b.gauges if g.gauge.strip is not None})
    rows = max(1, math.ceil(len(beams) / A_ROW))
    with canvas(170, 19 + 40 * rows, nrows=rows, ncols=A_ROW, sharex=True, sharey=True, squeeze=False) as (fig, axes):
        for axis, beam in zip(axes.flat, beams, strict=False):
            _gauge_panel(axis, beam, numbers, length)
        label_foot(axes, len(beams))
        axes[0, 0].set_xlim(left=0)
        axes[0, 0].set_ylim(bottom=0)
        fig.supxlabel(f"opening of the crack at its mouth [{length_unit}]", fontsize=8)
        fig.supylabel("predicted strain of the FRP [µm/m]", fontsize=8)
        _strip_legend(fig, numbers)
        return svg_text(fig)


def _gauge_panel(axis: Any, beam: BeamMechanics, numbers: Sequence[int], length: float) -> None:
    assert beam.base is not None
    for found in beam.gauges:
        if found.gauge.strip is None:
            continue
        colour, dash = line(numbers.index(found.gauge.strip))
        axis.plot(beam.base.w * length, found.mean * 1e6, color=colour, ls=dash, lw=0.7)
    axis.axvline(beam.base.peaks["w"] * length, color=QUIET, lw=0.5, ls=(0, (1, 2)))
    axis.set_title(beam.item, fontsize=7)


def _strip_legend(fig: Any, numbers: Sequence[int]) -> None:
    from matplotlib.lines import Line2D

    entries = []
    for i, number in enumerate(numbers):
        colour, dash = line(i)
        entries.append(Line2D([], [], color=colour, ls=dash, lw=1.0, label=f"strip {number}"))
    entries.append(Line2D([], [], color=QUIET, lw=0.8, ls=(0, (1, 2)), label="opening at V_max"))
    fig.legend(handles=entries, loc="outside upper left", ncols=min(4, len(entries)), handlelength=3.2)
