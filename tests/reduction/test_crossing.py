"""Where inclined strips and stirrups cross a digitised crack: intersections of straight lines by hand."""

from __future__ import annotations

import math

import pytest

from cracktie.reduction.crossing import CriticalCrack, crossed_stirrups, crossed_strips


def line(*points):
    x, z = zip(*points, strict=True)
    return CriticalCrack({"front": (x, z)}, False, 45.0, 3.0, "by hand")


def beam(build, changed, beta, span="A"):
    """400 mm high; strips and stirrups at 200, 400 and 600 mm from the support of a span, places at mid-height."""

    def inclined(s):
        spans, at = s["S"]["spans"], "200, 400, 600 mm" if span == "A" else "1900, 2100, 2300 mm"
        wrap = {**spans["A"].pop("wrap"), "beta": f"{beta} deg", "positions": at}
        stirrups = {"material": "d20", "positions": at, "legs": 2, "angle": f"{min(beta, 90)} deg"}
        spans[span] |= {"wrap": wrap, "stirrups": stirrups}

    return build(**changed("specimens", inclined)).specimen("S")


CASES = [
    # crack from (100, 0) to (end, 400), fibres x = c - (z - 200) cot(beta); heights of the crossings
    (90, 500.0, {1: 100.0, 2: 300.0}),
    (45, 500.0, {1: 150.0, 2: 250.0, 3: 350.0}),  # z = x - 100: z = (c + 100)/2
    (45, 300.0, {1: 200.0, 2: 1000 / 3}),  # z = 2 (x - 100): z = 2 (c + 100)/3; the third passes above the end
    (45, 900.0, {1: 100.0, 2: 500 / 3, 3: 700 / 3}),  # z = (x - 100)/2: z = (c + 100)/3
    (135, 900.0, {1: -100.0, 2: 100.0, 3: 300.0}),  # leaning with the crack: z = c - 300
]


@pytest.mark.parametrize("span", ["A", "B"])
@pytest.mark.parametrize(("beta", "end", "heights"), CASES)
def test_heights_by_hand(build, changed, beta, end, heights, span):
    specimen = beam(build, changed, beta, span)
    heights = {n: z for n, z in heights.items() if z >= 0.0}
    x = (100.0, end)
    if span == "B":  # the same beam seen from its other support, at 2500 mm; numbers run from the left
        x, heights = (2400.0, 2500.0 - end), {4 - n: z for n, z in heights.items()}
    found = line((x[0], 0.0), (x[1], 400.0))
    slope = math.hypot(1.0, (end - 100.0) / 400.0)
    legs = crossed_strips(specimen, span, found)
    for face in ("front", "back"):
        assert {leg.number: leg.z for leg in legs if leg.face == face} == pytest.approx(heights)
    for bar in crossed_stirrups(specimen, span, found) if beta <= 90 else ():  # stirrups never lean with the crack
        assert bar.z == pytest.approx(heights[bar.number])
        assert bar.x == pytest.approx(x[0] + bar.z / 400.0 * (x[1] - x[0]))
        assert bar.along == pytest.approx(bar.z * slope)


def test_distance_along_a_line_drawn_downwards_with_a_vertical_piece(build, changed):
    """(400, 400) (300, 300) (300, 100) (200, 0): the second strip, x = 600 - z, meets the upper piece at z = 300;
    the first, x = 400 - z, the vertical one at z = 100, 141.4 mm from the lower end; the third its end at z = 400."""
    found = line((400.0, 400.0), (300.0, 300.0), (300.0, 100.0), (200.0, 0.0))
    legs = {leg.number: leg for leg in crossed_strips(beam(build, changed, 45), "A", found) if leg.face == "front"}
    assert legs[1].z == pytest.approx(100.0)
    assert legs[1].along == pytest.approx(100.0 * math.sqrt(2.0))
    assert legs[2].along == pytest.approx(100.0 * math.sqrt(2.0) + 200.0)
    assert legs[3].along == pytest.approx(200.0 * math.sqrt(2.0) + 200.0)
    assert sorted(legs) == [1, 2, 3]
