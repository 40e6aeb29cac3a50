"""Cross-section of a beam in one span, seen from its left end: the front face is on the right."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

from cracktie.campaign.specimen import FACES, wrap_edges
from cracktie.draw import describe
from cracktie.draw import section_shapes as shapes
from cracktie.draw.describe import mm
from cracktie.draw.layout import SIZE, Sheet, choose_scale
from cracktie.draw.scene import Circle, Dimension, Item, Line, Point, Polygon, Polyline, Scene, Text, extent

if TYPE_CHECKING:
    from cracktie.campaign.materials import Materials
    from cracktie.campaign.specimen import Anchors, Section, Span, Specimen, Wrap

WIDE, HIGH = 88.0, 90.0
"""Paper mm for the width and the height of the section."""
ASSUMED_COVER = 25.0
SHEET = 0.65
"""Paper mm from the concrete to the middle of a sheet's line: its thickness cannot be shown at scale."""
FIRST_ROW, ROW, COLUMN = 9.0, 5.6, 6.0


def cross_section(specimen: Specimen, span_key: str, materials: Materials | None = None) -> Scene:
    """The section in a span ('A' or 'B'): y from the middle of the web to the front, z from the soffit, mm.

    Raises `OutOfScope` for a specimen of `kind: other` and `UnknownName` for an unknown span.
    """
    section = describe.drawable(specimen)
    span = specimen.spans[describe.span_of(specimen, span_key)]
    half = shapes.widest(section)
    reach = [half]
    if span.anchors is not None and span.wrap is not None:
        reach += [abs(anchor_axis(span.anchors, span.wrap, section, face)[1][0]) for face in FACES]
    sheet = Sheet(0.0, max(choose_scale(2 * max(reach), WIDE), choose_scale(section.h, HIGH)))
    sheet.add(Polygon("concrete", shapes.outline(section, span.wrap), "outline", "concrete", name="concrete"))
    _avoid_concrete(sheet, section)
    if span.wrap is not None:
        sheet.add(*_sheets(span.wrap, section, sheet.scale))
    if specimen.soffit is not None:
        z = -(2.4 if span.wrap is not None and span.wrap.scheme != "side" else 1.0) * SHEET * sheet.scale
        half_sheet = specimen.soffit.width / 2
        sheet.add(Line("FRP", (-half_sheet, z), (half_sheet, z), "frp cut", "sheet on the soffit"))
    stirrup = describe.stirrup_diameter(span.stirrups, materials) if span.stirrups is not None else None
    sheet.add(*_stirrups(span, section, stirrup or 8.0), *_bars(specimen, section, stirrup or 0.0))
    if span.anchors is not None and span.wrap is not None:
        _anchors(sheet, span.anchors, span.wrap, section)
    for side, word in ((-1.0, "back"), (1.0, "front")):
        align = "start" if side < 0 else "end"
        sheet.write([Text("text", (side * half, section.h + 2.2 * sheet.scale), word, SIZE, align)])
    _dimensions(sheet, specimen, span, section)
    return _finish(sheet, specimen, span_key, section, materials)


def _finish(sheet: Sheet, specimen: Specimen, key: str, section: Section, materials: Materials | None) -> Scene:
    span = specimen.spans[key]
    parts = _parts(specimen, span, section, materials)
    half = shapes.widest(section)
    for target, label, text in parts:
        low = target[1] < section.h / 2 and abs(target[0]) < half
        level = -1.8 * sheet.scale if low else section.h + 5.0 * sheet.scale
        if label in ("sheet", "strip") and sheet.beside(target, label, -1.0, name=text):
            continue
        sheet.callout(target, label, level, below=low, name=text)
    title = f"{specimen.name}: section in span {key}"
    words = describe.section_words(section)
    sheet.head(title, [f"{words}; seen from the left, front face at right"])
    sheet.columns("Parts", [*(text for _, _, text in parts), *_remarks(specimen, span, section)], 2)
    description = [f"Cross-section of beam {specimen.name} in span {key}", words, *(text for _, _, text in parts)]
    return sheet.finish(title, "; ".join(description) + ".")


def _avoid_concrete(sheet: Sheet, section: Section) -> None:
    corners = shapes.half_outline(section)
    for (y, low), (_, high) in itertools.pairwise(corners):
        if high > low:
            sheet.avoid((-y, low, y, high))


def cover_of(section: Section) -> float:
    """Cover to the stirrups, mm; assumed where the specimen does not state it (the drawing says so)."""
    return float(section.cover) if section.cover is not None else min(ASSUMED_COVER, section.b_w / 6)


def _stirrups(span: Span, section: Section, diameter: float) -> list[Item]:
    if span.stirrups is None:
        return []
    cover = cover_of(section)
    y = max(section.b_w / 2 - cover - diameter / 2, section.b_w / 20)
    low, high = cover + diameter / 2, section.h - cover - diameter / 2
    legs = span.stirrups.legs
    if legs == 1:
        return [Line("stirrups", (0.0, low), (0.0, high), "stirrup cut", "stirrup leg")]
    corners = [(y, low), (y, high), (-y, high), (-y, low)]
    hoop = shapes.fillet(corners, 2.5 * diameter, lambda _: True, closed=True)
    inner = [-y + 2 * y * i / (legs - 1) for i in range(1, legs - 1)]
    return [
        Polygon("stirrups", tuple(hoop), "stirrup cut", name="stirrup"),
        *(Line("stirrups", (at, low), (at, high), "stirrup cut", "stirrup leg") for at in inner),
    ]


def _bars(specimen: Specimen, section: Section, stirrup: float) -> list[Item]:
    return [
        Circle("bars", (y, float(section.h - layer.depth)), layer.bars.diameter / 2, "bar cut", "bar", "bar")
        for layer in specimen.bars
        for y in shapes.bar_places(layer, section, cover_of(section), stirrup)
    ]


def _sheets(wrap: Wrap, section: Section, n: float) -> list[Item]:
    """The bonded sheet along the outline, a little outside of it."""
    gap, radius = SHEET * n, float(wrap.corner_radius or 0.0)
    front, back = (shapes.leg(section, _sheet_edges(wrap, section, face)) for face in FACES)
    mirrored = [(-y, z) for y, z in reversed(back)]

    def drawn(points: list[Point], name: str, pen: str = "frp cut") -> Polyline:
        bent = shapes.fillet(shapes.offset_path(points, gap), radius + gap if radius else 0.0, _low)
        return Polyline("FRP", tuple(bent), pen, name)

    if wrap.scheme == "side":
        return [drawn(front, "sheet, front leg"), drawn(mirrored, "sheet, back leg")]
    if wrap.scheme == "full":
        return _closed(wrap, section, gap)
    half = front[-1][0]
    if wrap.soffit in ("lapped", "open"):
        reach = half * (0.35 if wrap.soffit == "open" else -0.3)
        items: list[Item] = [drawn([*front, (reach, 0.0)], "sheet, front leg")]
        if wrap.soffit == "open":
            return [*items, drawn([(-reach, 0.0), *mirrored], "sheet, back leg")]
        lap = -2.4 * gap
        items.append(drawn([(half * 0.5, 0.0), *mirrored], "sheet, back leg"))
        return [*items, Line("FRP", (half * 0.5, lap), (-half * 0.3, lap), "frp cut", "lap")]
    return [drawn([*front, *mirrored], "sheet")]


def _sheet_edges(wrap: Wrap, section: Section, face: str) -> tuple[float, float]:
    """Edges of a leg; a U always goes down to the soffit."""
    low, high = wrap_edges(wrap, section, face)
    return (low if wrap.scheme == "side" else 0.0), high


def _low(point: Point) -> bool:
    """Is a corner of a sheet's path at the soffit (the path lies just outside of it)?"""
    return point[1] < 0.0


def _closed(wrap: Wrap, section: Section, gap: float) -> list[Item]:
    radius = float(wrap.corner_radius or 0.0)
    rim = radius + gap if radius else 0.0
    y, top = section.b_w / 2 + gap, section.h + gap
    if section.shape == "rectangular":
        corners = [(y, -gap), (y, top), (-y, top), (-y, -gap)]
        return [Polygon("FRP", tuple(shapes.fillet(corners, rim, lambda _: True, True)), "frp cut", name="sheet")]
    front = shapes.leg(section, (0.0, section.web_top))
    path = [*front, *((-a, z) for a, z in reversed(front))]
    legs = shapes.fillet(shapes.offset_path(path, gap), rim, _low)
    over = ((y, section.web_top), (y, top), (-y, top), (-y, section.web_top))
    return [
        Polyline("FRP", tuple(legs), "frp cut", "sheet"),
        Polyline("FRP", over, "frp cut hidden", "assumed path of the sheet through the flange"),
    ]


def anchor_axis(anchors: Anchors, wrap: Wrap, section: Section, face: str) -> tuple[Point, Point]:
    """Entry point and tip (y, z) of an anchor's dowel on a face, projected on the section, mm.

    `bend_angle` turns the dowel from the direction of the fibre towards the free end (0) to normal to the face (90).
    A `through_` host ends the dowel where it leaves the concrete.
    """
    side = 1.0 if face == "front" else -1.0
    z = float(anchors.back_z if face == "back" and anchors.back_z is not None else anchors.z)
    low, high = wrap_edges(wrap, section, face)
    free_end = 1.0 if z >= (low + high) / 2 else -1.0
    bend = math.radians(anchors.bend_angle)
    rise = free_end * math.cos(bend) * math.sin(math.radians(wrap.beta)) * math.cos(math.radians(anchors.azimuth))
    inward = math.sin(bend)
    entry = (side * section.b_w / 2, z)
    length = float(anchors.embedment)
    if anchors.host.startswith("through"):
        half = section.b_w / 2 if anchors.host == "through_web" else shapes.widest(section)
        ways = [(half + section.b_w / 2) / inward if inward > 1e-9 else math.inf]
        ways += [(section.h - z) / rise] if rise > 1e-9 else [-z / rise] if rise < -1e-9 else []
        length = min(ways)
    return entry, (entry[0] - side * inward * length, z + rise * length)


def _anchors(sheet: Sheet, anchors: Anchors, wrap: Wrap, section: Section) -> None:
    n = sheet.scale
    for face in FACES if anchors.host != "through_web" else ("front",):
        entry, tip = anchor_axis(anchors, wrap, section, face)
        sheet.add(_rod(entry, tip, anchors.hole_diameter, "edge", "paper", f"hole, {face}"))
        sheet.add(_rod(entry, tip, anchors.dowel_diameter, None, "anchor", f"dowel, {face}"))
    for face in FACES:
        entry, _ = anchor_axis(anchors, wrap, section, face)
        fan = _fan(anchors, wrap, section, entry, face, n)
        sheet.add(*fan)
        for item in fan:
            sheet.avoid(extent(item, n))
    if anchors.host in ("web", "flange"):
        _embedment(sheet, anchors, *anchor_axis(anchors, wrap, section, "front"))


def _rod(a: Point, b: Point, width: float, pen: str | None, fill: str, name: str) -> Polygon:
    length = math.dist(a, b) or 1.0
    across = (-(b[1] - a[1]) / length * width / 2, (b[0] - a[0]) / length * width / 2)
    corners = tuple((p[0] + s * across[0], p[1] + s * across[1]) for p, s in ((a, 1), (b, 1), (b, -1), (a, -1)))
    return Polygon("anchors", corners, pen, fill, name=name)


def _fan(anchors: Anchors, wrap: Wrap, section: Section, entry: Point, face: str, n: float) -> list[Item]:
    """The fan as a line on the face: away from the free end, or to both sides."""
    low, high = wrap_edges(wrap, section, face)
    away = -1.0 if entry[1] >= (low + high) / 2 else 1.0
    y = math.copysign(abs(entry[0]) + 2.4 * SHEET * n, entry[0])
    reach = anchors.fan.length * math.sin(math.radians(wrap.beta))
    both = anchors.fan.form != "one_way"
    start = (y, entry[1] - (away * reach if both else 0.0))
    items: list[Item] = [Line("anchors", start, (y, entry[1] + away * reach), "anchor cut", f"fan, {face}")]
    return [*items, Line("anchors", entry, (y, entry[1]), "anchor", f"bend, {face}")]


def _embedment(sheet: Sheet, anchors: Anchors, entry: Point, tip: Point) -> None:
    """The embedment along the dowel, beside the front dowel inside the concrete."""
    n, length = sheet.scale, math.dist(entry, tip)
    if length == 0.0:
        return
    shift = anchors.hole_diameter / 2 + 2.2 * n
    turn = -1.0 if anchors.host == "flange" else 1.0  # where the bars are not
    across = (-turn * (tip[1] - entry[1]) / length, turn * (tip[0] - entry[0]) / length)
    line = [(p[0] + across[0] * shift, p[1] + across[1] * shift) for p in (entry, tip)]
    middle = ((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2)
    words = mm(anchors.embedment)
    places = [
        Text("dimensions", (middle[0] + across[0] * d * n, middle[1] + across[1] * d * n - 0.9 * n), words, SIZE, align)
        for d, align in ((2.2, "middle"), (2.0, "end"), (2.0, "start"), (4.0, "middle"))
    ]
    text = sheet.put(places, on_object=True)
    if text is None:
        sheet.notes.append(f"embedment: {words} mm")
    sheet.add(Dimension("dimensions", entry, tip, line[0], line[1], text, "embedment"))


def _dimensions(sheet: Sheet, specimen: Specimen, span: Span, section: Section) -> None:
    n = sheet.scale
    half = shapes.widest(section)
    widths = [(section.b_bottom, "b_bottom"), (section.b_w, "b_w"), (section.b_flange, "b_flange")]
    known = [(float(width), name) for width, name in widths if width is not None]
    for i, (width, name) in enumerate(known):
        level = -(FIRST_ROW + i * ROW) * n
        words = (f"{name} = {mm(width)}", mm(width))
        sheet.across(-width / 2, width / 2, 0.0 if i == 0 else level + 2.5 * n, level, words, name)
    out = half + COLUMN * n
    sheet.upright(0.0, section.h, -half, -out, f"h = {mm(section.h)}", "h")
    column = 1
    if section.h_flange is not None or section.h_bottom is not None:
        x = -out - COLUMN * n
        if section.h_flange is not None:
            sheet.upright(section.web_top, section.h, -half, x, mm(section.h_flange), "flange")
        if section.h_bottom is not None:
            sheet.upright(0.0, section.web_bottom, -half, x, mm(section.h_bottom), "lower flange")
        column += 1
    depths = sorted({float(layer.depth) for layer in specimen.bars})
    for i, depth in enumerate(depths):
        sheet.upright(section.h - depth, section.h, half, out + i * COLUMN * n, mm(depth), "depth of the bars")
    if span.wrap is not None:
        front, back = wrap_edges(span.wrap, section, "front"), wrap_edges(span.wrap, section, "back")
        whole = (0.0, float(section.h))
        if front != whole:
            _edges(sheet, front, half, out + len(depths) * COLUMN * n, "front leg")
        if back not in (front, whole):
            _edges(sheet, back, -half, -out - (column) * COLUMN * n, "back leg")


def _edges(sheet: Sheet, edges: tuple[float, float], x: float, x_line: float, name: str) -> None:
    low, high = edges
    sheet.upright(low, high, x, x_line, mm(high - low), name)
    if low > 0.0:
        sheet.upright(0.0, low, x, x_line, mm(low), f"{name}, lower edge")


def _parts(
    specimen: Specimen, span: Span, section: Section, materials: Materials | None
) -> list[tuple[Point, str, str]]:
    """What is pointed at, its short label, and all that is said of it."""
    parts: list[tuple[Point, str, str]] = []
    cover = cover_of(section)
    stirrup = describe.stirrup_diameter(span.stirrups, materials) if span.stirrups is not None else None
    for layer in specimen.bars:
        places = shapes.bar_places(layer, section, cover, stirrup or 0.0)
        z = float(section.h - layer.depth)
        y = places[0] if z < section.h / 2 else places[-1]
        parts.append(((y, z), *describe.bar_label(layer)))
    if span.stirrups is not None:
        size = stirrup or 8.0
        y = 0.0 if span.stirrups.legs == 1 else -0.4 * (section.b_w / 2 - cover - size / 2)
        parts.append(
            (
                (y, section.h - cover - size / 2),
                "stirrup",
                f"stirrup: {describe.stirrup_words(span.stirrups, materials)}",
            )
        )
    if span.wrap is not None:
        low, high = wrap_edges(span.wrap, section, "back")
        label = "sheet" if span.wrap.layout == "continuous" else "strip"
        target = (-section.b_w / 2, low + 0.35 * (high - low))
        parts.append((target, label, f"{label}: {describe.wrap_words(span.wrap, materials)}"))
    if span.anchors is not None and span.wrap is not None:
        entry, tip = anchor_axis(span.anchors, span.wrap, section, "back")
        target = ((entry[0] + tip[0]) / 2, (entry[1] + tip[1]) / 2)
        parts.append((target, "anchor", f"anchors: {describe.anchor_words(span.anchors)}"))
    return parts


def _remarks(specimen: Specimen, span: Span, section: Section) -> list[str]:
    """What the drawing shows otherwise than it is, and what it had to assume."""
    remarks = []
    if specimen.soffit is not None:
        remarks.append(f"soffit sheet: {describe.soffit_words(specimen.soffit).split(';')[0]}")
    remarks += ["bars of a layer are spread evenly over the width"]
    if section.cover is None:
        remarks.append(f"cover not stated; drawn as {mm(cover_of(section))} mm")
    wrap = span.wrap
    if wrap is None:
        return remarks
    remarks.append("thickness of sheets and fans exaggerated")
    if wrap.corner_radius and wrap.scheme != "side":
        remarks.append(f"corner radius {mm(wrap.corner_radius)} mm")
    if wrap.scheme == "u":
        remarks.append(f"soffit: {wrap.soffit or 'continuous'}")
    if wrap.scheme == "full" and section.shape != "rectangular":
        remarks.append("the path of the sheet through the flange is assumed (dashed)")
    return remarks
