"""The drawing scene: frozen primitives in millimetres of the real object, on named layers.

x runs to the right, z upwards. Only what belongs to the sheet of paper is in paper millimetres: text sizes, line
widths, dash lengths, arrowheads; multiply by `Scene.scale` (the N of 1:N) to get millimetres of the real object.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from cracktie.draw.metrics import ASCENT, BOLD, DESCENT, text_width

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, lower, right, upper."""

LAYERS = ("concrete", "FRP", "stirrups", "bars", "anchors", "supports", "gauges", "dimensions", "text")
"""In drawing order: later layers lie on top."""


@dataclass(frozen=True)
class Pen:
    """Line width and dash lengths in paper mm, and a colour that keeps its place in greyscale."""

    width: float
    colour: str
    dash: tuple[float, ...] = ()


INK, SLATE, TEAL, UMBER = "#1d2025", "#5a5f66", "#17525c", "#7d3318"
PENS = {
    "outline": Pen(0.50, INK),
    "edge": Pen(0.25, INK),
    "hidden": Pen(0.25, INK, (1.2, 0.8)),
    "axis": Pen(0.18, SLATE, (4.0, 0.8, 0.6, 0.8)),
    "bar": Pen(0.45, INK, (5.0, 1.0)),
    "bar cut": Pen(0.25, INK),
    "stirrup": Pen(0.25, SLATE, (1.5, 0.9)),
    "stirrup cut": Pen(0.60, SLATE),
    "frp": Pen(0.35, TEAL),
    "frp cut": Pen(0.80, TEAL),
    "frp cut hidden": Pen(0.80, TEAL, (2.0, 1.4)),
    "fibre": Pen(0.13, TEAL),
    "anchor": Pen(0.40, UMBER),
    "anchor cut": Pen(0.70, UMBER),
    "fan": Pen(0.18, UMBER),
    "support": Pen(0.35, INK),
    "load": Pen(0.50, INK),
    "gauge": Pen(0.45, INK),
    "dimension": Pen(0.13, SLATE),
    "leader": Pen(0.13, SLATE),
    "scale bar": Pen(0.18, INK),
}
FILLS = {
    "concrete": "#efede8",
    "frp": "#c9d9da",
    "ink": INK,
    "slate": SLATE,
    "anchor": UMBER,
    "bar": "#4b4f57",
    "paper": "#ffffff",
}


@dataclass(frozen=True)
class Line:
    """Straight line from `a` to `b`."""

    layer: str
    a: Point
    b: Point
    pen: str
    name: str = ""


@dataclass(frozen=True)
class Polyline:
    """Open chain of straight lines."""

    layer: str
    points: tuple[Point, ...]
    pen: str
    name: str = ""


@dataclass(frozen=True)
class Hatch:
    """Parallel lines inside a convex polygon: angle to the x axis in degrees, spacing in paper mm."""

    angle: float
    spacing: float
    pen: str


@dataclass(frozen=True)
class Polygon:
    """Closed outline; `pen` None draws no edge, `fill` names an entry of `FILLS`."""

    layer: str
    points: tuple[Point, ...]
    pen: str | None
    fill: str | None = None
    hatch: Hatch | None = None
    name: str = ""


@dataclass(frozen=True)
class Circle:
    """Circle of a real radius."""

    layer: str
    centre: Point
    radius: float
    pen: str | None
    fill: str | None = None
    name: str = ""


@dataclass(frozen=True)
class Arc:
    """Circular arc, counter-clockwise from `start` to `end` (degrees from the x axis)."""

    layer: str
    centre: Point
    radius: float
    start: float
    end: float
    pen: str
    name: str = ""

    def points(self, steps: int = 24) -> tuple[Point, ...]:
        """The arc as a chain of points."""
        sweep = (self.end - self.start) % 360.0 or 360.0
        angles = (math.radians(self.start + sweep * i / steps) for i in range(steps + 1))
        cx, cz = self.centre
        return tuple((cx + self.radius * math.cos(a), cz + self.radius * math.sin(a)) for a in angles)


@dataclass(frozen=True)
class Text:
    """One line of text: `at` is on the base line; `size` in paper mm; `align` start, middle or end; turned 0 or 90."""

    layer: str
    at: Point
    content: str
    size: float
    align: str = "start"
    rotation: int = 0
    bold: bool = False

    def box(self, scale: float) -> Box:
        """Space the text needs, mm of the real object."""
        width = text_width(self.content, self.size) * scale * (BOLD if self.bold else 1.0)
        start = -{"start": 0.0, "middle": 0.5, "end": 1.0}[self.align] * width
        up, down = ASCENT * self.size * scale, DESCENT * self.size * scale
        x, z = self.at
        if self.rotation == 90:
            return (x - up, z + start, x + down, z + start + width)
        return (x + start, z - down, x + start + width, z + up)


@dataclass(frozen=True)
class Dimension:
    """Distance between two measured points, drawn along `line_a`-`line_b`; `text` has its place already.

    Arrowheads where they fit, else dots.
    """

    layer: str
    a: Point
    b: Point
    line_a: Point
    line_b: Point
    text: Text | None
    name: str = ""

    @property
    def measured(self) -> float:
        """Length of the dimension line, mm."""
        return math.dist(self.line_a, self.line_b)


@dataclass(frozen=True)
class Leader:
    """Thin line from a point of the object (marked by a dot) to its text lines."""

    layer: str
    points: tuple[Point, ...]
    texts: tuple[Text, ...]
    name: str = ""


Item = Line | Polyline | Polygon | Circle | Arc | Text | Dimension | Leader
Simple = Line | Polyline | Polygon | Circle | Arc | Text

TRUE_SCALE = "true scale 1:{scale:g} when printed {width:g} mm wide"
NOT_TO_SCALE = "not to scale"


@dataclass(frozen=True)
class Scene:
    """A finished sheet.

    `sheet` is the paper's edge in mm of the real object, `scale` the N of 1:N. `note` is where the output writes
    whether it is at true scale (the scene cannot know).
    """

    title: str
    description: str
    scale: float
    sheet: Box
    items: tuple[Item, ...]
    note: Text

    @property
    def paper(self) -> tuple[float, float]:
        """Width and height of the sheet in paper mm."""
        left, low, right, high = self.sheet
        return (right - left) / self.scale, (high - low) / self.scale

    def scale_note(self, true_scale: bool) -> Text:
        """The note on scale: a ratio only where the output really is at that scale."""
        words = TRUE_SCALE.format(scale=self.scale, width=self.paper[0]) if true_scale else NOT_TO_SCALE
        return Text(self.note.layer, self.note.at, words, self.note.size, self.note.align)

    def simple(self) -> Iterator[Simple]:
        """All items in drawing order (in each layer the texts last), with dimensions, leaders and hatches resolved."""
        for layer in LAYERS:
            parts = [part for item in self.items if item.layer == layer for part in resolve(item, self.scale)]
            yield from (part for part in parts if not isinstance(part, Text))
            yield from (part for part in parts if isinstance(part, Text))

    def texts(self) -> list[Text]:
        """Every text of the sheet, the scale note with its longest wording."""
        return [*(i for i in self.simple() if isinstance(i, Text)), self.note]


def resolve(item: Item, scale: float) -> Iterator[Simple]:
    """The simple primitives an item consists of."""
    if isinstance(item, Dimension):
        yield from _dimension(item, scale)
    elif isinstance(item, Leader):
        dot = item.points[0]
        yield Polyline(item.layer, item.points, "leader")
        yield Circle(item.layer, dot, 0.45 * scale, None, "slate")
        yield from item.texts
    elif isinstance(item, Polygon) and item.hatch is not None:
        yield Polygon(item.layer, item.points, None, item.fill, None, item.name)
        for a, b in hatch_lines(item.points, item.hatch, scale):
            yield Line(item.layer, a, b, item.hatch.pen)
        if item.pen is not None:
            yield Polygon(item.layer, item.points, item.pen, None, None, item.name)
    else:
        yield item


ARROW = 2.0
"""Length of an arrowhead, paper mm."""


def _dimension(item: Dimension, scale: float) -> Iterator[Simple]:
    for end, foot in ((item.line_a, item.a), (item.line_b, item.b)):
        reach = math.dist(end, foot)
        gap, over = 1.0 * scale, 0.9 * scale
        if reach > gap:
            ux, uz = (end[0] - foot[0]) / reach, (end[1] - foot[1]) / reach
            start = (foot[0] + ux * gap, foot[1] + uz * gap)
            yield Line(item.layer, start, (end[0] + ux * over, end[1] + uz * over), "dimension")
    yield Line(item.layer, item.line_a, item.line_b, "dimension", item.name)
    length = item.measured
    if length < 2.6 * ARROW * scale:
        yield from (Circle(item.layer, end, 0.4 * scale, None, "slate") for end in (item.line_a, item.line_b))
    else:
        yield from (_arrowhead(item.layer, *pair, scale) for pair in _ends(item))
    if item.text is not None:
        yield item.text


def _ends(item: Dimension) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    return (item.line_a, item.line_b), (item.line_b, item.line_a)


def _arrowhead(layer: str, tip: Point, other: Point, scale: float) -> Polygon:
    length = math.dist(tip, other)
    ux, uz = (other[0] - tip[0]) / length, (other[1] - tip[1]) / length
    long, half = ARROW * scale, 0.3 * scale
    base = (tip[0] + ux * long, tip[1] + uz * long)
    left = (base[0] - uz * half, base[1] + ux * half)
    right = (base[0] + uz * half, base[1] - ux * half)
    return Polygon(layer, (tip, left, right), None, "slate")


def hatch_lines(points: tuple[Point, ...], hatch: Hatch, scale: float) -> list[tuple[Point, Point]]:
    """Hatch lines of a convex polygon, clipped to it, centred about its middle."""
    angle = math.radians(hatch.angle)
    along, across = (math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))
    offsets = [x * across[0] + z * across[1] for x, z in points]
    low, high = min(offsets), max(offsets)
    step = hatch.spacing * scale
    count = max(1, math.floor((high - low) / step))
    start = (low + high - (count - 1) * step) / 2
    lines = (_clip(points, across, along, start + i * step) for i in range(count))
    return [line for line in lines if line is not None]


def _clip(points: tuple[Point, ...], across: Point, along: Point, offset: float) -> tuple[Point, Point] | None:
    hits: list[Point] = []
    for (ax, az), (bx, bz) in zip(points, points[1:] + points[:1], strict=True):
        da = ax * across[0] + az * across[1] - offset
        db = bx * across[0] + bz * across[1] - offset
        if (da < 0) != (db < 0):
            t = da / (da - db)
            hits.append((ax + t * (bx - ax), az + t * (bz - az)))
    if len(hits) != 2:
        return None
    hits.sort(key=lambda p: p[0] * along[0] + p[1] * along[1])
    return hits[0], hits[1]


def extent(item: Item, scale: float) -> Box:
    """Box around an item, mm of the real object (line widths left out)."""
    boxes = [_simple_extent(part, scale) for part in resolve(item, scale)]
    return around(boxes)


def _simple_extent(item: Simple, scale: float) -> Box:
    if isinstance(item, Text):
        return item.box(scale)
    if isinstance(item, Circle):
        (x, z), r = item.centre, item.radius
        return (x - r, z - r, x + r, z + r)
    points = (item.a, item.b) if isinstance(item, Line) else item.points() if isinstance(item, Arc) else item.points
    xs, zs = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(zs), max(xs), max(zs))


def around(boxes: list[Box]) -> Box:
    """The box around several."""
    left, low, right, high = zip(*boxes, strict=True)
    return (min(left), min(low), max(right), max(high))
