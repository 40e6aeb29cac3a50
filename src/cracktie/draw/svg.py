"""A scene as SVG: one self-contained text, the same bytes for the same scene.

The coordinates are those of the scene (x unchanged, y = -z), so that a position in the file can be read off directly.
"""

from __future__ import annotations

import re
from html import escape

from cracktie.draw.scene import (
    FILLS,
    INK,
    LAYERS,
    PENS,
    Arc,
    Circle,
    Line,
    Point,
    Polygon,
    Polyline,
    Scene,
    Simple,
    Text,
)


def svg(scene: Scene, *, true_scale: bool = False, font: str = "sans-serif", prefix: str | None = None) -> str:
    """The scene as an SVG document.

    With `true_scale` the document states its size in mm and prints the scale; without, it fills the width it is given
    and says 'not to scale'. `font` is the font family; `prefix` starts the ids (two drawings on one page need two
    prefixes; by default it is made from the title).
    """
    left, low, right, high = scene.sheet
    box = f"{number(left)} {number(-high)} {number(right - left)} {number(high - low)}"
    width, height = scene.paper
    size = f'width="{number(width)}mm" height="{number(height)}mm" ' if true_scale else ""
    mark = prefix or re.sub(r"[^A-Za-z0-9]+", "-", scene.title).strip("-").lower() or "drawing"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}viewBox="{box}" role="img" '
        f'aria-labelledby="{mark}-title {mark}-desc" font-family="{escape(font)}" '
        'stroke-linejoin="round" stroke-linecap="butt" fill="none">',
        f'<title id="{mark}-title">{escape(scene.title)}</title>',
        f'<desc id="{mark}-desc">{escape(scene.description)}</desc>',
        f'<rect x="{number(left)}" y="{number(-high)}" width="{number(right - left)}" '
        f'height="{number(high - low)}" fill="{FILLS["paper"]}"/>',
    ]
    parts = [*scene.simple(), scene.scale_note(true_scale)]
    for layer in LAYERS:
        mine = [_element(part, scene.scale) for part in parts if part.layer == layer]
        if mine:
            lines += [f'<g data-layer="{layer}">', *mine, "</g>"]
    return "\n".join([*lines, "</svg>", ""])


def number(value: float) -> str:
    """A coordinate to 1e-10 mm without trailing zeros."""
    text = f"{value:.10f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _element(item: Simple, scale: float) -> str:
    if isinstance(item, Text):
        return _text(item, scale)
    if isinstance(item, Line):
        (ax, az), (bx, bz) = item.a, item.b
        shape = f'line x1="{number(ax)}" y1="{number(-az)}" x2="{number(bx)}" y2="{number(-bz)}"'
    elif isinstance(item, Circle):
        x, z = item.centre
        shape = f'circle cx="{number(x)}" cy="{number(-z)}" r="{number(item.radius)}"'
    elif isinstance(item, Polygon):
        shape = f'polygon points="{_points(item.points)}"'
    elif isinstance(item, Polyline):
        shape = f'polyline points="{_points(item.points)}"'
    else:
        shape = f'path d="{_arc(item)}"'
    fill = FILLS[item.fill] if isinstance(item, (Polygon, Circle)) and item.fill else None
    style = _stroke(item.pen, scale) + (f' fill="{fill}"' if fill else "")
    if item.name:
        tag = shape.split(" ", 1)[0]
        return f'<{shape}{style} data-name="{escape(item.name)}"><title>{escape(item.name)}</title></{tag}>'
    return f"<{shape}{style}/>"


def _points(points: tuple[Point, ...]) -> str:
    return " ".join(f"{number(x)},{number(-z)}" for x, z in points)


def _arc(item: Arc) -> str:
    start, end = item.points()[0], item.points()[-1]
    sweep = (item.end - item.start) % 360.0
    radius = number(item.radius)
    far = int(sweep > 180.0)
    return f"M {number(start[0])} {number(-start[1])} A {radius} {radius} 0 {far} 0 {number(end[0])} {number(-end[1])}"


def _stroke(pen: str | None, scale: float) -> str:
    if pen is None:
        return ""
    style = PENS[pen]
    dash = " ".join(number(part * scale) for part in style.dash)
    return f' stroke="{style.colour}" stroke-width="{number(style.width * scale)}"' + (
        f' stroke-dasharray="{dash}"' if dash else ""
    )


def _text(item: Text, scale: float) -> str:
    x, y = number(item.at[0]), number(-item.at[1])
    turn = f' transform="rotate(-90 {x} {y})"' if item.rotation == 90 else ""
    anchor = "" if item.align == "start" else f' text-anchor="{item.align}"'
    weight = ' font-weight="bold"' if item.bold else ""
    size = number(item.size * scale)
    # texts on top of lines get a rim of paper
    halo = f' stroke="{FILLS["paper"]}" stroke-width="{number(0.5 * scale)}" paint-order="stroke"'
    rim = "" if item.layer == "text" else halo
    return (
        f'<text x="{x}" y="{y}" font-size="{size}" fill="{INK}"{rim}{anchor}{weight}{turn}>'
        f"{escape(item.content)}</text>"
    )
