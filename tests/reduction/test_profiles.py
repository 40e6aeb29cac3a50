"""A profile along the crack becomes a curve at V_max, on the clock of the first log."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie import actions
from cracktie.errors import InputRefused

from .conftest import csv, record


def campaign(build, changed, text, **more):
    entry = {"file": "logs/fibre.csv", "unit": "um/m", "along": "crack", "clock_offset": "0 s"} | more
    tests = changed("tests", lambda t: t["tests"]["T"].update(profiles=[entry]))
    return build(**tests, logs={"logs/T.csv": csv(record()), "logs/fibre.csv": text})


def table(end=300):
    """A bump of 3000 um/m at 200 mm that grows with time; its clock runs 50 s behind."""
    places = range(0, 401, 50)
    head = "time [s]," + ",".join(f"{s} mm" for s in places)
    rows = [f"{t}," + ",".join(f"{20 * t * np.exp(-(((s - 200) / 80) ** 2)):.3f}" for s in places)
            for t in range(0, end, 10)]  # fmt: skip
    return "\n".join([head, *rows]) + "\n"


def test_curve_at_V_max(build, changed):
    """V_max is at 200 s of the log, 150 s of the fibre: 3000 um/m at 200 mm."""
    test = actions.reduce(campaign(build, changed, table(), clock_offset="50 s")).test("T")
    (curve,) = [c for c in test.curves if "fibre" in c.label]
    assert curve.x_name == "s_cr"
    assert curve.x[np.argmax(curve.y)] == 200.0
    assert curve.y.max() == pytest.approx(3000e-6)
    assert any("reading at 200.0 s: largest 3000 um/m at 200.0 mm" in n for n in test.notes)


@pytest.mark.parametrize(("text", "said"), [(table(100), "lies outside"), ("a,b\n1,2\n", "neither a time nor a place")])
def test_a_profile_that_cannot_be_used_is_a_note(build, changed, text, said):
    test = actions.reduce(campaign(build, changed, text)).test("T")
    assert "V_max" in test.values
    assert any("profile not used" in n and said in n for n in test.notes)


def test_a_changed_profile_is_reduced_anew(build, changed):
    made = campaign(build, changed, table())
    actions.reduce(made)
    (made.folder / "logs/fibre.csv").write_text(table().replace("200 mm", "210 mm"))
    again = actions.reduce(actions.open_campaign(made.folder), fresh=False).test("T")
    assert any("at 210.0 mm" in n for n in again.notes)


def test_a_strip_needs_its_number(build, changed):
    with pytest.raises(InputRefused, match="needs the number of the strip"):
        campaign(build, changed, table(), along="strip")
