"""Opening and sliding of the crack: channels on it, and two rigid blocks moved apart by hand."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from cracktie import actions
from cracktie.reduction.opening import U_ASSUMED

from .conftest import CHANNELS, csv, record

W, V = 0.6, 0.25
"""Opening and sliding at V_max, mm."""


def up(columns):
    return np.clip((columns["Time"] - 20.0) / 180.0, 0.0, 1.0)


def reduced(build, changed, channels, columns, lines=(), span="A"):
    units = {c["name"]: "mm" for c in channels}
    rig = changed("rig", lambda r: r["layouts"].update(all={"channels": [*CHANNELS, *channels]}))
    tests = changed("tests", lambda t: t["tests"]["T"].update(studied=span))
    campaign = build(**rig, **tests, logs={"logs/T.csv": csv(columns, units)})
    if lines:
        seen = {"specimens": {"S": {"crack_lines": list(lines)}}}
        (campaign.folder / "observations.yaml").write_text(json.dumps(seen))
        campaign = actions.open_campaign(campaign.folder)
    return campaign, actions.reduce(campaign).test("T")


def on_the_crack(name, quantity="crack opening", **more):
    return {"name": name, "quantity": quantity, "unit": "mm", "at": "crack", "uncertainty": "0.01 mm"} | more


def test_two_channels_are_averaged_and_the_largest_is_named(build, changed):
    columns = record()
    columns |= {"W1": 0.5 * up(columns), "W2": 0.7 * up(columns), "S1": 0.2 * up(columns)}
    channels = [on_the_crack("W1"), on_the_crack("W2"), on_the_crack("S1", "crack sliding")]
    campaign, test = reduced(build, changed, channels, columns)
    w, v = test.values["w_cr_V_max"], test.values["v_cr_V_max"]
    assert w.value == pytest.approx(0.6, abs=1e-3)
    assert v.value == pytest.approx(0.2, abs=1e-3)
    assert "largest 0.700 mm (W2)" in w.status
    parts = {c.name: c.u for c in test.budgets["w_cr_V_max"].components}
    assert parts["transducers, zero and noise"] == pytest.approx(0.01 / math.sqrt(3) / math.sqrt(2), rel=1e-3)
    assert w.u == pytest.approx(test.budgets["w_cr_V_max"].u)
    told = "\n".join(actions.explain(campaign, "T", "w_cr_V_max").lines())
    assert "channel=W2" in told
    assert "channel=S1" not in told
    assert "V_max at 200.000 s" in told


def blocks(theta, direction, span):
    """Elongation of a gauge when the block of the load moves against that of the support, by vectors.

    The crack of span A rises to the right: t = (cos, sin) along it, n = (sin, -cos) square to it towards the block of
    the load. Opening moves that block along n, shear moves it down the crack, along -t. Span B is its mirror.
    """
    angle, phi = math.radians(theta), math.radians(direction)
    n, t = np.array([math.sin(angle), -math.cos(angle)]), np.array([math.cos(angle), math.sin(angle)])
    e = np.array([math.cos(phi), math.sin(phi)])
    if span == "B":
        e[0] *= -1.0
    e = e if e @ n > 0 else -e  # from the block of the support to that of the load
    return float((W * n - V * t) @ e)


@pytest.mark.parametrize("span", ["A", "B"])
@pytest.mark.parametrize("theta", [26.565, 33.69])
def test_rigid_blocks_come_back(build, changed, theta, span):
    """Diagonals at 45 and 135 deg, a crack of 400 mm over 800 or 600 mm: 26.565 and 33.690 deg."""
    columns = record()
    run = 400.0 / math.tan(math.radians(theta))
    middle = 500.0 if span == "A" else 1750.0
    ends = (middle - run / 2, middle + run / 2) if span == "A" else (middle + run / 2, middle - run / 2)
    channels = []
    for name, direction in (("X1", 45.0), ("X2", 135.0)):
        columns[name] = blocks(theta, direction, span) * up(columns)
        place = {"x": f"{middle} mm", "z": "200 mm", "face": "back", "gauge_length": "300 mm"}
        channels.append(on_the_crack(name, "diagonal displacement", direction=f"{direction} deg", **place))
    for channel in channels:
        del channel["at"]
    line = {"test": "T", "face": "front", "x": f"{ends[0]}, {ends[1]} mm", "z": "0, 400 mm", "critical": True}
    _, test = reduced(build, changed, channels, columns, [line], span)
    assert test.values["theta"].value == pytest.approx(theta, abs=0.01)
    assert test.values["w_cr_V_max"].value == pytest.approx(W, abs=2e-3)
    assert test.values["v_cr_V_max"].value == pytest.approx(V, abs=2e-3)
    names = [c.name for c in test.budgets["v_cr_V_max"].components]
    assert "angle of the crack" in names


def test_a_diagonal_along_the_crack_measures_nothing(build, changed):
    """Nobody digitised a line: 45 deg is assumed, and the gauge at 45 deg runs along it."""
    columns = record() | {"X1": 0.1 * up(record()), "X2": 0.5 * up(record())}
    channels = [
        {"name": name, "quantity": "diagonal displacement", "unit": "mm", "direction": f"{d} deg"}
        for name, d in (("X1", 45), ("X2", 135))
    ]
    _, test = reduced(build, changed, channels, columns)
    assert "w_cr_V_max" not in test.values
    assert any("X1 lies within 10 deg of the assumed crack at 45 deg" in note for note in test.notes)


def test_a_gauge_beside_the_crack_measures_nothing(build, changed):
    columns = record() | {"X1": 0.1 * up(record()), "X2": 0.5 * up(record())}
    place = {"unit": "mm", "x": "900 mm", "z": "100 mm", "gauge_length": "100 mm"}
    channels = [
        {"name": name, "quantity": "diagonal displacement", "direction": f"{d} deg", **place}
        for name, d in (("X1", 45), ("X2", 135))
    ]
    line = {"test": "T", "face": "front", "x": "100, 900 mm", "z": "0, 400 mm", "critical": True}
    _, test = reduced(build, changed, channels, columns, [line])
    assert "w_cr_V_max" not in test.values
    assert any("does not cross the digitised crack" in note for note in test.notes)


def test_opening_at_first_debonding(build, changed):
    """G1 lets go at 120 s, 55.6 % of the way: the opening there is 0.556 of that at V_max."""
    columns = record()
    gone = columns["Time"] > 120.0
    columns["G1"] = np.where(gone, 300.0 - 0.1 * (columns["Time"] - 120.0), columns["G1"])
    columns["G2"] = columns["G2"] + np.where(gone, 150.0, 0.0)
    columns["W1"] = 0.9 * up(columns)
    campaign, test = reduced(build, changed, [on_the_crack("W1")], columns)
    assert test.values["w_cr_V_deb"].value == pytest.approx(0.9 * 100 / 180, rel=0.02)
    assert "first debonding at" in "\n".join(actions.explain(campaign, "T", "w_cr_V_deb").lines())


def crossed_off_middle(build, changed, turning, line=True):
    """A crack at atan(1/2) that passes 60 mm above the middle of the gauges; opening W at their mean height.

    By hand, in axes of the crack through the middle of the panel: a gauge at phi meets the line at 60 cos(theta) off
    its middle, r = 60 cos(theta)/sin(phi - theta). `turning` 1 lets the opening fall to zero at the top of the line.
    """
    theta, x, z = math.degrees(math.atan(0.5)), 500.0, 200.0
    heights = [z + 60.0 * math.cos(math.radians(theta)) * math.sin(math.radians(phi))
               / math.sin(math.radians(phi - theta)) for phi in (60.0, 120.0)]  # fmt: skip
    middle, top = sum(heights) / 2, 400.0
    columns, channels = record(), []
    for name, phi, at in zip(("X1", "X2"), (60.0, 120.0), heights, strict=True):
        here = W * (1.0 + turning * (middle - at) / (top - middle))
        stretch = here * abs(math.sin(math.radians(phi - theta)))  # no sliding
        columns[name] = stretch * up(columns)
        place = {"unit": "mm", "x": f"{x} mm", "z": f"{z} mm", "face": "back", "gauge_length": "400 mm"}
        channels.append({"name": name, "quantity": "diagonal displacement", "direction": f"{phi} deg"} | place)
    lines = [{"test": "T", "face": "front", "x": "-20, 780 mm", "z": "0, 400 mm", "critical": True}]
    return reduced(build, changed, channels, columns, lines if line else ())[1]


def test_an_opening_that_falls_towards_the_tip_is_in_the_budget(build, changed):
    """Blocks that turn about the tip stand at the edge of a rectangle about parallel ones: sqrt(3) u off."""
    test = crossed_off_middle(build, changed, turning=1.0)
    for name, planted in (("w_cr_V_max", W), ("v_cr_V_max", 0.0)):
        parts = {c.name: c.u for c in test.budgets[name].components}
        off = abs(test.value(name) - planted)
        assert off > 0.03
        assert parts["opening falls towards the tip"] == pytest.approx(off / math.sqrt(3.0), rel=0.15)
    parallel = crossed_off_middle(build, changed, turning=0.0)
    assert parallel.value("w_cr_V_max") == pytest.approx(W, abs=2e-3)
    assert parallel.value("v_cr_V_max") == pytest.approx(0.0, abs=2e-3)


def test_concrete_between_the_ends_of_the_gauges_is_in_the_budget(build, changed):
    """1e-4 over 400 mm in each gauge: 0.04 mm, rectangular; (w, v) from gauges 60 degrees apart, by hand.

    w = (e1 sin b + e2 sin a)/sin(a + b) with a, b between each gauge and the crack's normal, on either side of it.
    """
    test = crossed_off_middle(build, changed, turning=0.0)
    theta = math.atan(0.5)
    a, b = math.radians(90.0 - 60.0) + theta, math.radians(120.0 - 90.0) - theta
    expected = 0.04 / math.sqrt(3.0) * math.hypot(math.sin(a), math.sin(b)) / math.sin(a + b)
    parts = {c.name: c.u for c in test.budgets["w_cr_V_max"].components}
    assert parts["concrete between the gauges' ends"] == pytest.approx(expected, rel=1e-3)


def test_an_assumed_crack_may_lie_anywhere_at_any_angle(build, changed):
    """Angles of 25 to 50 deg alike are 10 deg from 45 (root mean square); the place adds a fall of the opening."""
    guess, seen = (crossed_off_middle(build, changed, turning=0.0, line=line) for line in (False, True))
    angles = np.linspace(25.0, 50.0, 2001)
    square = math.sqrt(float(np.mean((angles - 45.0) ** 2)))
    known, unknown = ({c.name: c.u for c in t.budgets["v_cr_V_max"].components} for t in (seen, guess))
    assert pytest.approx(square, abs=0.5) == U_ASSUMED
    assert unknown["angle of the crack"] > 2.0 * known["angle of the crack"]
    assert unknown["opening falls towards the tip"] > 0.0
