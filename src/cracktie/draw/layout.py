"""Placing texts: no two of them overlap and none leaves the sheet.

A `Sheet` has a fixed width; it grows upwards and downwards. Each text is offered a list of places and takes the first
free one. A text that finds none becomes a line of the notes below the drawing, where there is always room.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence

from cracktie.draw.metrics import ASCENT, BOLD, DESCENT, LINE_PITCH, text_width, wrap_lines
from cracktie.draw.scene import (
    TRUE_SCALE,
    Box,
    Dimension,
    Item,
    Leader,
    Line,
    Point,
    Polygon,
    Scene,
    Text,
    around,
    extent,
)

PAPER_WIDTH = 170.0
"""Width of every sheet: the text width of an A4 page, paper mm."""
MARGIN = 4.0
SIZE, SMALL, TITLE = 2.6, 2.3, 3.6
"""Text sizes, paper mm."""
SCALES = (1.0, 2.0, 2.5, 4.0, 5.0, 6.0, 7.5, 10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0, 150.0, 200.0)


def choose_scale(width: float, room: float) -> float:
    """Least N of the usual scales 1:N at which `width` (real mm) fits into `room` (paper mm)."""
    for scale in SCALES:
        if width / scale <= room:
            return scale
    return math.ceil(width / room / 100.0) * 100.0


def overlap(one: Box, other: Box) -> bool:
    """Do two boxes share an area?"""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def crosses(a: Point, b: Point, box: Box) -> bool:
    """Does the segment a-b pass through the inside of the box?"""
    low, high = 0.0, 1.0
    for axis in (0, 1):
        start, step = a[axis], b[axis] - a[axis]
        if abs(step) < 1e-12:
            if not box[axis] < start < box[axis + 2]:
                return False
            continue
        t = sorted(((box[axis] - start) / step, (box[axis + 2] - start) / step))
        low, high = max(low, t[0]), min(high, t[1])
    return low < high


class Sheet:
    """A sheet being drawn: `centre` is the real x of its middle."""

    def __init__(self, centre: float, scale: float) -> None:
        self.scale = scale
        self.left = centre - PAPER_WIDTH / 2 * scale
        self.right = centre + PAPER_WIDTH / 2 * scale
        self.items: list[Item] = []
        self.notes: list[str] = []
        self._taken: list[Box] = []
        self._avoided: list[Box] = []
        self._barriers: list[Box] = []
        self._leaders: list[tuple[Point, Point]] = []
        self._extensions: list[tuple[Point, Point]] = []

    @property
    def inner(self) -> tuple[float, float]:
        """Left and right limit of texts, mm of the real object."""
        return self.left + MARGIN * self.scale, self.right - MARGIN * self.scale

    def add(self, *items: Item) -> None:
        """Draw items that hold no text."""
        self.items.extend(items)

    def avoid(self, box: Box) -> None:
        """Keep texts off a part of the drawing."""
        self._avoided.append(box)

    def avoid_items(self, *items: Item) -> None:
        """Draw items and keep texts and leaders off the box around each."""
        self.add(*items)
        self._barriers.extend(extent(item, self.scale) for item in items)

    def free(self, box: Box, on_object: bool = False) -> bool:
        """Is the box inside the sheet and clear of texts and leaders, and of avoided parts unless `on_object`?"""
        left, right = self.inner
        if box[0] < left - 1e-6 or box[2] > right + 1e-6:
            return False
        parts = self._taken if on_object else (*self._taken, *self._avoided, *self._barriers)
        if any(overlap(box, other) for other in parts):
            return False
        return not any(crosses(a, b, box) for a, b in (*self._leaders, *self._extensions))

    def take(self, texts: Sequence[Text]) -> None:
        """Reserve the boxes of texts that are drawn as a part of some item."""
        self._taken.extend(text.box(self.scale) for text in texts)

    def put(self, candidates: Iterable[Text], on_object: bool = False) -> Text | None:
        """Reserve the first candidate that is free; None where all are taken. The caller draws it."""
        for text in candidates:
            if self.free(text.box(self.scale), on_object):
                self.take([text])
                return text
        return None

    def write(self, candidates: Iterable[Text], on_object: bool = False) -> bool:
        """Draw the first free candidate; False where all are taken."""
        text = self.put(candidates, on_object)
        if text is not None:
            self.add(text)
        return text is not None

    # -- dimensions -------------------------------------------------------------------------------------------

    def across(self, x_a: float, x_b: float, z_a: float, z_line: float, wordings: Sequence[str], name: str) -> None:
        """Horizontal dimension from x_a to x_b of points at z_a, drawn at z_line; the longest wording that fits."""
        n = self.scale
        low, high = sorted((x_a, x_b))
        middle, up, down = (low + high) / 2, z_line + 0.95 * n, z_line - (ASCENT * SIZE + 0.5) * n
        level = z_line - 0.3 * SIZE * n
        fitting = [words for words in wordings if text_width(words, SIZE) * n <= high - low]
        places = [Text("dimensions", (middle, up), words, SIZE, "middle") for words in fitting]
        places += [Text("dimensions", (middle, down), words, SIZE, "middle") for words in fitting]
        for step in (1.5, 4.0):
            places.append(Text("dimensions", (high + step * n, level), wordings[-1], SIZE, "start"))
            places.append(Text("dimensions", (low - step * n, level), wordings[-1], SIZE, "end"))
        line = ((low, z_line), (high, z_line))
        self._dimension(((low, z_a), (high, z_a)), line, places, wordings[0], name)

    def upright(self, z_a: float, z_b: float, x_a: float, x_line: float, words: str, name: str) -> None:
        """Vertical dimension from z_a to z_b of points at x_a, drawn at x_line; the text reads from the right.

        A text too long to stand along the line goes beside it, on the side away from the object.
        """
        n = self.scale
        low, high = sorted((z_a, z_b))
        middle, out = (low + high) / 2, math.copysign(1.0, x_line - x_a)
        level = middle - 0.3 * SIZE * n
        places = [
            Text("dimensions", (x_line - 0.7 * n, middle), words, SIZE, "middle", 90),
            Text("dimensions", (x_line + out * 1.2 * n, level), words, SIZE, "start" if out > 0 else "end"),
            *(Text("dimensions", (x_line, z), words, SIZE, "middle") for z in (high + 1.6 * n, low - 3.4 * n)),
            Text("dimensions", (x_line - out * 1.2 * n, level), words, SIZE, "end" if out > 0 else "start"),
        ]
        if text_width(words, SIZE) * n > high - low:
            places = places[1:]
        self._dimension(((x_a, low), (x_a, high)), ((x_line, low), (x_line, high)), places, words, name)

    def _dimension(
        self, feet: tuple[Point, Point], line: tuple[Point, Point], places: list[Text], words: str, name: str
    ) -> None:
        text = self.put(places)
        if text is None:
            self.notes.append(f"{name}: {words} mm")
        item = Dimension("dimensions", *feet, *line, text, name)
        self.add(item)
        self._extensions += zip(feet, line, strict=True)
        pad = 0.3 * self.scale
        xs, zs = sorted(p[0] for p in line), sorted(p[1] for p in line)
        self.avoid((xs[0] - pad, zs[0] - pad, xs[1] + pad, zs[1] + pad))

    # -- callouts ---------------------------------------------------------------------------------------------

    def callout(self, target: Point, words: str, level: float, *, below: bool = False, name: str = "") -> bool:
        """One line of words above (or below) `level` with a leader to `target`; False where no place is free."""
        for text, foot in self._callout_places(target, words, level, below):
            if self._callout_fits(text, target, foot):
                self.take([text])
                self._leaders.append((target, foot))
                self.add(Leader("text", (target, foot), (text,), name or words))
                return True
        return False

    def beside(self, target: Point, words: str, side: float, *, name: str = "") -> bool:
        """One line of words to the left (side -1) or right (1) of `target`; False where no place is free."""
        n, align = self.scale, "start" if side > 0 else "end"
        for reach, drop in itertools.product((5.0, 7.0, 10.0, 14.0), (0.0, -3.0, 3.0, -6.0, 6.0)):
            end = (target[0] + side * reach * n, target[1] + drop * n)
            text = Text("text", (end[0] + side * 0.6 * n, end[1] - 0.3 * SIZE * n), words, SIZE, align)
            if self._callout_fits(text, target, end):
                self.take([text])
                self._leaders.append((target, end))
                self.add(Leader("text", (target, end), (text,), name or words))
                return True
        return False

    def _callout_places(self, target: Point, words: str, level: float, below: bool) -> Iterable[tuple[Text, Point]]:
        """Places of the text with the leader's end; short and straight leaders first."""
        n, width = self.scale, text_width(words, SIZE) * self.scale
        left, right = self.inner
        inset = min(2.0 * n, width / 2)
        steps = range(-12, 13)
        rows = range(1) if below else range(6)
        for row, step in sorted(itertools.product(rows, steps), key=lambda p: (4 * p[0] + 3 * abs(p[1]), p)):
            high = level if below else level + (row * 3.8 + SIZE) * n
            foot = target[0] + step * 3.0 * n
            for start in (foot - width / 2, foot - inset, foot - width + inset):
                x = min(max(start, left), right - width)
                if x <= foot <= x + width:
                    end = (foot, high + 0.3 * n if below else high - SIZE * n - 0.3 * n)
                    yield Text("text", (x, high - ASCENT * SIZE * n), words, SIZE), end

    def _callout_fits(self, text: Text, target: Point, foot: Point) -> bool:
        box = text.box(self.scale)
        room = (box[0] - 2.0 * self.scale, box[1], box[2] + 2.0 * self.scale, box[3])
        if not self.free(box) or any(overlap(room, other) for other in self._taken):
            return False
        if any(crosses(target, foot, part) for part in (*self._taken, *self._barriers)):
            return False
        return not any(_meet(target, foot, a, b) for a, b in self._leaders)

    def _block(self, lines: list[str], corner: Point, layer: str, size: float = SIZE, bold: bool = False) -> list[Text]:
        """Texts of a block whose lower left corner is given."""
        n, pitch = self.scale, size * LINE_PITCH * self.scale
        base = corner[1] + DESCENT * size * n
        last = len(lines) - 1
        return [
            Text(layer, (corner[0], base + (last - i) * pitch), line, size, bold=bold) for i, line in enumerate(lines)
        ]

    # -- the ends of the sheet --------------------------------------------------------------------------------

    def _extent(self) -> Box:
        return around([extent(item, self.scale) for item in self.items])

    def head(self, title: str, subtitle: Sequence[str]) -> None:
        """Title and sub-titles above everything drawn so far, wrapped to the width of the sheet."""
        n = self.scale
        width = PAPER_WIDTH - 2 * MARGIN
        small = [line for text in subtitle for line in wrap_lines(text, SIZE, width)]
        large = wrap_lines(title, TITLE, width / BOLD)
        z = self._extent()[3] + 4.0 * n
        lower = self._block(small, (self.inner[0], z), "text")
        z += (len(small) * SIZE * LINE_PITCH + 0.8) * n
        upper = self._block(large, (self.inner[0], z), "text", TITLE, bold=True)
        self.take([*lower, *upper])
        self.add(*upper, *lower)

    def columns(self, heading: str, entries: Sequence[str], count: int) -> None:
        """A list in columns below everything drawn so far, read down each column."""
        if not entries:
            return
        n, gutter = self.scale, 4.0
        width = (PAPER_WIDTH - 2 * MARGIN - (count - 1) * gutter) / count
        title = Text("text", (self.inner[0], self._extent()[1] - 5.5 * n), heading, SMALL, bold=True)
        self.take([title])
        self.add(title)
        top = title.at[1] - 0.9 * n
        for column, lines in enumerate(_share_out([wrap_lines(entry, SMALL, width) for entry in entries], count)):
            low = top - len(lines) * SMALL * LINE_PITCH * n
            texts = self._block(lines, (self.inner[0] + column * (width + gutter) * n, low), "text", SMALL)
            self.take(texts)
            self.add(*texts)

    def finish(self, title: str, description: str) -> Scene:
        """Write the notes and the foot of the sheet (scale bar, unit, note on scale), and close the sheet."""
        n = self.scale
        self.columns("Dimensions without room in the drawing", list(dict.fromkeys(self.notes)), 2)
        z = self._extent()[1] - 7.0 * n
        bar = _round_length(24.0 * n)
        self._scale_bar(bar, z)
        note = TRUE_SCALE.format(scale=n, width=PAPER_WIDTH)
        right = Text("text", (self.inner[1], z), note, SMALL, "end")
        unit = Text("text", (self.inner[0] + 48.0 * n, z), "dimensions in mm", SMALL)
        self.take([unit, right])
        self.add(unit)
        box = around([self._extent(), right.box(n)])
        height = math.ceil((box[3] - box[1]) / n + 2 * MARGIN)  # whole mm: pictures come out in whole pixels
        high = box[3] + MARGIN * n
        sheet = (self.left, high - height * n, self.right, high)
        return Scene(title, description, n, sheet, tuple(self.items), right)

    def _scale_bar(self, length: float, z: float) -> None:
        """A bar that stays true however the picture is scaled."""
        n, x = self.scale, self.inner[0] + 1.0 * self.scale
        thick = 1.1 * n
        for i in range(4):
            corners = _rectangle(x + i * length / 4, z, x + (i + 1) * length / 4, z + thick)
            self.add(Polygon("text", corners, "scale bar", "ink" if i % 2 == 0 else "paper"))
        self.add(Line("text", (x, z), (x + length, z), "scale bar", f"scale bar {length:g} mm"))
        text = Text("text", (x + length + 1.5 * n, z), f"{length:g} mm", SMALL)
        self.take([text])
        self.add(text)


def _share_out(entries: Sequence[list[str]], count: int) -> list[list[str]]:
    """Entries in their order, filled into `count` columns of about equal numbers of lines; no entry is split."""
    total = sum(len(lines) for lines in entries)
    columns: list[list[str]] = [[] for _ in range(count)]
    done, column = 0, 0
    for lines in entries:
        if columns[column] and done + len(lines) / 2 > total * (column + 1) / count and column < count - 1:
            column += 1
        columns[column] += lines
        done += len(lines)
    return columns


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Do two segments cross?"""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def _round_length(length: float) -> float:
    """Largest of 1, 2, 4, 5 x 10^k that is no longer than `length`."""
    power = 10.0 ** math.floor(math.log10(length))
    return max(factor * power for factor in (1.0, 2.0, 4.0, 5.0) if factor * power <= length)


def _rectangle(left: float, low: float, right: float, high: float) -> tuple[Point, ...]:
    return ((left, low), (right, low), (right, high), (left, high))
