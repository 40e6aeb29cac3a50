"""One look for all figures: own palette, line styles that carry the meaning in greyscale, outlines instead of fonts."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MILLIMETRE = 1 / 25.4
INK = "#1d2b33"
QUIET = "#8a969c"
WARN = "#b4552d"
STRIP = 4.5
"""Height kept free for the stamp at the top of a picture, mm."""
LINES = (
    ("#12446b", "-"),
    ("#b4552d", (0, (5, 1.6))),
    ("#3f7a5a", (0, (1.2, 1.2))),
    ("#7b4f8a", (0, (6, 1.5, 1.2, 1.5))),
    ("#8c7a1f", (0, (3, 1, 1, 1, 1, 1))),
    ("#3c6e8f", (0, (8, 2))),
)
"""Colour and dash of the n-th line: the dash alone tells lines apart."""
MARKERS = ("o", "s", "^", "D", "v", "P")

_SETTINGS: Any = {
    "svg.hashsalt": "cracktie",
    "svg.fonttype": "path",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.direction": "out",
    "lines.linewidth": 1.2,
    "path.simplify_threshold": 0.25,
    "legend.frameon": False,
    "legend.fontsize": 7.5,
    "axes.titlesize": 8.5,
    "axes.titlelocation": "left",
    "axes.titleweight": "bold",
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
}


def line(number: int) -> tuple[str, Any]:
    """Colour and dash of the n-th line, counted from 0; the pairs repeat after the square of the palette only."""
    turn = number // len(LINES)
    return LINES[number % len(LINES)][0], LINES[(number + turn) % len(LINES)][1]


def label_foot(axes: Any, used: int) -> None:
    """Switch off the panels after the first `used`; the lowest panel of each column shows the numbers of its axis."""
    columns = axes.shape[1]
    for axis in axes.flat[used:]:
        axis.set_axis_off()
    for axis in axes.flat[max(0, used - columns) : used]:
        axis.tick_params(labelbottom=True)


@contextmanager
def canvas(width: float, height: float, **more: Any) -> Iterator[tuple[Figure, Any]]:
    """A figure of `width` x `height` mm with subplots; no window system is touched."""
    import matplotlib

    with matplotlib.rc_context(_SETTINGS):
        from matplotlib.backends.backend_svg import FigureCanvasSVG
        from matplotlib.figure import Figure

        figure = Figure(figsize=(width * MILLIMETRE, height * MILLIMETRE), layout="constrained")
        FigureCanvasSVG(figure)
        yield figure, figure.subplots(**more)


def svg_text(figure: Figure) -> str:
    """The figure as SVG text without date, so that the same data give the same bytes."""
    import matplotlib

    target = io.StringIO()
    with matplotlib.rc_context(_SETTINGS):
        figure.savefig(target, format="svg", metadata={"Date": None, "Creator": None})
    text = target.getvalue()
    return numbered_ids(text[text.index("<svg") :])


def numbered_ids(svg: str) -> str:
    """SVG text whose generated ids count from 1 in order of appearance.

    The library hashes coordinates for them, whose last bit may differ from run to run where a layout was solved.
    """
    names: dict[str, str] = {}
    for found in re.finditer(r'\bid="((?:[phm]|C[0-9a-z]+_[0-9a-z]+_)[0-9a-f]{10})"', svg):
        names.setdefault(found[1], f"{found[1][:-10]}{len(names) + 1}")
    return re.sub(r'(id="|#)([A-Za-z0-9_]+)', lambda m: m[1] + names.get(m[2], m[2]), svg)


def stamp(figure: Figure, simulated: bool) -> None:
    """Write 'simulated' into the picture itself, in a strip at its top that nothing else uses."""
    if not simulated:
        return
    layout: Any = figure.get_layout_engine()
    strip = STRIP * MILLIMETRE / figure.get_figheight()
    layout.set(rect=(0.0, 0.0, 1.0, 1.0 - strip))
    figure.text(
        0.995, 0.995, "SIMULATED DATA", ha="right", va="top", fontsize=7, weight="bold", color=WARN,
        bbox={"boxstyle": "square,pad=0.25", "fc": "white", "ec": WARN, "lw": 0.7}, in_layout=False,
    )  # fmt: skip
