"""Dimensions of the elevation: rows below the beam, columns beside it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING

from cracktie.campaign.geometry import span_limits, stirrup_positions, strip_length, strip_positions, wrap_extent
from cracktie.campaign.specimen import wrap_edges
from cracktie.draw.describe import is_even, mm
from cracktie.draw.layout import Sheet
from cracktie.draw.places import strip_shift

if TYPE_CHECKING:
    from cracktie.campaign.specimen import Section, Specimen

FIRST_ROW, ROW = 10.5, 5.6
"""Paper mm from the soffit to the first row, and from row to row."""
COLUMN = 6.0


def dimensions(sheet: Sheet, specimen: Specimen, section: Section, tested: Sequence[str]) -> None:
    """Rows of horizontal dimensions (strips or sheet, stirrups, spans, whole beam) and the heights."""
    rows = [_strips, _stirrups]
    used = [row for row in rows if any(row(None, specimen, key, 0.0) for key in ("A", "B"))]
    n = sheet.scale
    level = -(FIRST_ROW + len(used) * ROW) * n
    _spans(sheet, specimen, level, tested)
    for i, row in enumerate(used):
        for key in ("A", "B"):
            row(sheet, specimen, key, -(FIRST_ROW + i * ROW) * n)
    _widths(sheet, specimen, section)
    _heights(sheet, specimen, section)


def _spans(sheet: Sheet, specimen: Specimen, level: float, tested: Sequence[str]) -> None:
    n = sheet.scale
    total = specimen.distance_between_supports
    left, right = -float(specimen.overhang_left), total + specimen.overhang_right
    x_a, x_b = span_limits(specimen, "A")[1], span_limits(specimen, "B")[1]
    foot = level + 3.0 * n
    mark = {key: ", tested" if key in tested else "" for key in ("A", "B")}
    a, b = mm(x_a), mm(total - x_b)
    sheet.across(0.0, x_a, foot, level, (f"span A{mark['A']}: {a}", f"A: {a}", a), "span A")
    sheet.across(x_b, total, foot, level, (f"span B{mark['B']}: {b}", f"B: {b}", b), "span B")
    if x_b > x_a:
        sheet.across(x_a, x_b, foot, level, (mm(x_b - x_a),), "distance between loads")
    if left < 0.0:
        sheet.across(left, 0.0, foot, level, (mm(-left),), "left overhang")
    if right > total:
        sheet.across(total, right, foot, level, (mm(right - total),), "right overhang")
    below = level - ROW * n
    words = (f"between supports: {mm(total)}", mm(total))
    sheet.across(0.0, total, below + 3.0 * n, below, words, "between supports")
    if right - left > total:
        lowest = below - ROW * n
        words = (f"length of the beam: {mm(right - left)}", mm(right - left))
        sheet.across(left, right, lowest + 3.0 * n, lowest, words, "length of the beam")


def _strips(sheet: Sheet | None, specimen: Specimen, key: str, level: float) -> bool:
    positions = strip_positions(specimen, key)
    ends = wrap_extent(specimen, key)
    if sheet is None or ends is None:
        return ends is not None
    support = span_limits(specimen, key)[0]
    if not positions:
        near = ends[0] if key == "A" else ends[1]
        words = (f"sheet {key}: {mm(ends[1] - ends[0])}", mm(ends[1] - ends[0]))
        sheet.across(*ends, 0.0, level, words, f"sheet {key}")
        if abs(near - support) > 0.05:
            sheet.across(support, near, level, level, (mm(abs(near - support)),), f"support to sheet {key}")
        return True
    _row(sheet, positions, key, "strips", support, level)
    return True


def _stirrups(sheet: Sheet | None, specimen: Specimen, key: str, level: float) -> bool:
    positions = stirrup_positions(specimen, key)
    if sheet is not None and positions:
        _row(sheet, positions, key, "stirrups", span_limits(specimen, key)[0], level)
    return bool(positions)


def _row(sheet: Sheet, positions: Sequence[float], key: str, noun: str, support: float, level: float) -> None:
    """Support to the first, then the spacing: in one dimension where even, one by one elsewhere."""
    first, last = positions[0], positions[-1]
    foot = level + 2.0 * sheet.scale
    count = len(positions) - 1
    if count and is_even(positions):
        step = f"{count} x {mm((last - first) / count)}"
        words = (f"{noun} {step} = {mm(last - first)}", f"{noun} {step}", step)
        sheet.across(first, last, foot, level, words, f"{noun} of span {key}")
    else:
        for i, (x_a, x_b) in enumerate(itertools.pairwise(positions), start=1):
            sheet.across(x_a, x_b, foot, level, (mm(x_b - x_a),), f"{noun} {key}{i} to {key}{i + 1}")
    near = first if key == "A" else last
    if abs(near - support) > 0.05:
        name = f"support to the nearest of the {noun} of span {key}"
        sheet.across(support, near, foot, level, (mm(abs(near - support)),), name)


def _widths(sheet: Sheet, specimen: Specimen, section: Section) -> None:
    """Width of one strip of each different wrap, along the axis below the soffit."""
    n = sheet.scale
    said: list[tuple[float, float]] = []
    for key in ("A", "B"):
        wrap, positions = specimen.spans[key].wrap, strip_positions(specimen, key)
        if wrap is None or not positions or (wrap.width or 0.0, wrap.beta) in said:
            continue
        said.append((wrap.width or 0.0, wrap.beta))
        low, _ = wrap_edges(wrap, section)
        centre = positions[len(positions) // 2] + strip_shift(specimen, key, low)
        half = strip_length(wrap) / 2
        words = mm(wrap.width or 0.0)
        if wrap.beta != 90.0:
            words = f"{words} ({mm(2 * half)} along the axis)"
        sheet.across(centre - half, centre + half, 0.0, -3.4 * n, (words,), f"strip width, span {key}")


def _heights(sheet: Sheet, specimen: Specimen, section: Section) -> None:
    n = sheet.scale
    left = -float(specimen.overhang_left)
    right = specimen.distance_between_supports + specimen.overhang_right
    sheet.upright(0.0, section.h, left, left - COLUMN * n, mm(section.h), "height h")
    outer = left - 2 * COLUMN * n
    if section.h_flange is not None:
        sheet.upright(section.web_top, section.h, left, outer, mm(section.h_flange), "flange")
    if section.h_bottom is not None:
        sheet.upright(0.0, section.web_bottom, left, outer, mm(section.h_bottom), "lower flange")
    wraps = [(key, specimen.spans[key].wrap) for key in ("B", "A")]
    edges = {wrap_edges(wrap, section): key for key, wrap in wraps if wrap is not None}
    edges.pop((0.0, float(section.h)), None)
    for i, ((low, high), key) in enumerate(edges.items()):
        x = right + (1 + i) * COLUMN * n
        sheet.upright(low, high, right, x, mm(high - low), f"height of the sheet, span {key}")
        if low > 0.0:
            sheet.upright(0.0, low, right, x, mm(low), f"lower edge of the sheet, span {key}")
