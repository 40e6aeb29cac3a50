"""V_f where strains are read by profiles, and V_s of a bar that yielded and unloaded; numbers by hand."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from cracktie import actions

from .conftest import CHANNELS, MATERIALS, csv, record
from .test_shares import AREA, BAR_BOND, CAP, FRONT, LEG, OFF, TAU, K

CENTRES = range(0, 401, 10)


def profile(strain, places=CENTRES):
    """A table of um/m that grow in proportion to the load of `record`; `strain(place)` at V_max."""
    head = "time [s]," + ",".join(f"{z} mm" for z in places)
    rows = []
    for t in np.arange(0.0, 220.0, 5.0):
        up = float(np.clip((t - 20.0) / 180.0, 0.0, 1.0))
        rows.append(f"{t}," + ",".join(f"{1e6 * up * strain(z):.4f}" for z in places))
    return "\n".join([head, *rows]) + "\n"


@pytest.fixture
def reduced(build, changed):
    """reduced(entries, texts, **changes): the campaign with these profiles and the 45 degree line, reduced."""

    def make(entries, texts, *, wrap=None, log=None, rig=None, lines=(FRONT,)):
        told = [{"unit": "um/m", "clock_offset": "0 s", **e} for e in entries]
        changes = changed("tests", lambda t: t["tests"]["T"].update(profiles=told))
        if wrap is not None:
            changes |= changed("specimens", lambda s: s["S"]["spans"]["A"].update(wrap=wrap))
        if rig is not None:
            changes |= rig
        campaign = build(**changes, logs={"logs/T.csv": log or csv(record()), **texts})
        seen = {"specimens": {"S": {"crack_lines": list(lines)}}}
        (campaign.folder / "observations.yaml").write_text(json.dumps(seen))
        return actions.reduce(actions.open_campaign(campaign.folder)).test("T")

    return make


def test_a_profile_goes_before_the_gauges_of_its_strip(reduced):
    """Strip 2 front peaks with 1000 um/m at z = 300, where the line crosses it; strip 1 has one gauge, 100 mm off."""
    test = reduced(
        [{"file": "logs/f.csv", "along": "strip", "strip": 2}],
        {"logs/f.csv": profile(lambda z: 0.001 * math.exp(-abs(z - 300) / 40.0))},
    )
    at_profile = 0.001 + 0.5 * TAU / K * math.sqrt(3) * OFF / 2  # the line is known to that
    at_gauge = (0.002 + CAP) / 2
    assert test.value("V_f_strain") == pytest.approx(2 * LEG * (at_profile + at_gauge), rel=3e-3)
    assert test.value("V_f_gauge") == pytest.approx(2 * LEG * (0.001 + 0.002), rel=1e-3)
    step = next(s for s in test.trail if s.name == "V_f_strain")
    assert dict(step.arguments)["gauges"] == "G1, logs/f.csv"
    assert not any("strip 2 front" in n for n in test.notes)
    known, guessed = (0.5 * TAU / K * math.sqrt(3) * OFF / 2, (CAP - 0.002) / 2)
    parts = {c.name: c.u for c in test.budgets["V_f_strain"].by_name()}
    assert parts["strain at the crack between its bounds"] == pytest.approx(
        2 * LEG * (known + guessed) / math.sqrt(3), rel=5e-3
    )


def test_a_profile_along_the_crack_reads_every_strip(reduced):
    """3000 um/m along the whole line: at each of the two crossings of this face, the other face alike."""
    test = reduced(
        [{"file": "logs/f.csv", "along": "crack"}], {"logs/f.csv": profile(lambda s: 0.003, range(0, 571, 10))}
    )
    more = 0.5 * TAU / K * math.sqrt(3) * OFF / 2
    assert test.value("V_f_strain") == pytest.approx(4 * LEG * (0.003 + more), rel=3e-3)


def test_a_profile_along_the_crack_of_a_sheet_is_integrated(reduced):
    """2000 um/m over 400 sqrt(2) mm at 45 degrees, both faces alike: 2 t E eps 400 = 73.6 kN."""
    test = reduced(
        [{"file": "logs/f.csv", "along": "crack"}],
        {"logs/f.csv": profile(lambda s: 0.002, [*range(0, 561, 10), 565.685])},
        wrap={"system": "cf", "scheme": "u", "layout": "continuous"},
    )
    assert test.value("V_f_strain") == pytest.approx(73.6e3, rel=1e-3)
    parts = {c.name: c.u for c in test.budgets["V_f_strain"].by_name()}
    assert parts["legs without gauges"] == pytest.approx(73.6e3 / math.sqrt(3) / 2, rel=2e-3)
    assert "strain at the crack between its bounds" not in parts


def test_a_bar_that_yielded_and_unloaded_carries_less(reduced, changed, monkeypatch):
    """6000 um/m at 150 s, 4500 at V_max: 500 - 200 000 x 0.0015 = 200 MPa, not f_y."""
    bar = {"diameter": "8 mm", "measured": {"f_y": "500 +- 10 MPa", "E_s": "200 GPa"}}
    monkeypatch.setitem(MATERIALS["bars"], "w8", bar)
    gauge = {"name": "W1", "quantity": "bar strain", "stirrup": 1, "x": "250 mm", "z": "150 mm"}
    columns = record()
    time = columns["Time"]
    columns["W1"] = (
        np.interp(time, [20.0, 148.0, 152.0, 200.0, 220.0], [0.0, 6000.0, 6000.0, 4500.0, 4000.0]) + 0.001 * time
    )
    rig = changed("rig", lambda r: r["layouts"]["all"].update(channels=[*CHANNELS, gauge]))
    rig |= changed("specimens", lambda s: s["S"]["spans"]["A"].update(
        stirrups={"material": "w8", "positions": "250 mm", "legs": 2}))  # fmt: skip
    test = reduced([], {}, log=csv(columns, {"W1": "um/m"}), rig=rig)
    assert test.value("V_s_meas") == pytest.approx(AREA * (200 + BAR_BOND), rel=5e-3)
    assert "1 at yield" not in test.values["V_s_meas"].status
