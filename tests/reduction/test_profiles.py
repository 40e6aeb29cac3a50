"""A profile along the crack becomes a curve at V_max, on the clock of the first log."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie import actions
from cracktie.errors import InputRefused
from cracktie.lab.profile import FILLED, SPIKE
from cracktie.reduction.profile_files import loaded_profiles
from cracktie.reduction.profiles import ProfileReading, profile_readings, profile_values
from cracktie.reduction.signals import read_signals

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
    (curve,) = [c for c in test.curves if "fibre" in c.label and "V_max" in c.label]
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


def field(place, time):
    """Strain of the planted fibre at places (mm) of a strip: a bump at 150 mm that follows the load, um/m."""
    up = np.interp(time, [0, 20, 200, 200.5, 300], [0, 0, 1, 0.6, 0.6])
    return np.multiply.outer(up, 2500.0 * np.exp(-(((np.asarray(place) - 150.0) / 60.0) ** 2)))


def fibre(rng, *, faults=True, shift=0.0, drift=True):
    """One fibre: loose for 200 mm, up strip 1 (500 to 800 mm is z = 20 to 320), down strip 2 (1000 to 1300 mm is
    z = 320 to 20). Its clock runs `shift` behind the log. 4 um/m noise, every place its own zero, warms by 60 um/m."""
    s = np.arange(0.0, 1400.0, 5.0)
    time = np.arange(0.0, 240.0, 0.8)
    true = np.zeros((time.size, s.size))
    one, two = (s >= 500) & (s <= 800), (s >= 1000) & (s <= 1300)
    true[:, one] = field(s[one] - 480.0, time + shift)
    true[:, two] = field(1320.0 - s[two], time + shift)
    read = true + rng.normal(0.0, 4.0, true.shape) + rng.normal(0.0, 300.0, s.size)
    if drift:
        read += np.linspace(0.0, 60.0, time.size)[:, None]
    text = np.char.mod("%.1f", read)
    if faults:
        text[rng.random(text.shape) < 0.01] = "NaN"
        text[rng.random(text.shape) < 0.002] = "-9999"
        text[:, 110] = ""
        spikes = rng.random(text.shape) < 0.002
        text[spikes] = np.char.mod("%.1f", read[spikes] + 1500.0)
    head = "time [s]," + ",".join(f"{p / 1000:.3f} m" for p in s)
    rows = [f"{t:.1f}," + ",".join(row) for t, row in zip(time, text, strict=True)]
    return "\n".join(["made by: a test", "unit: um/m", "", head, *rows]) + "\n"


LOOP = {
    "file": "logs/fibre.csv", "unit": "um/m", "loose": "0, 200 mm",
    "stretches": [
        {"fibre": "500, 800 mm", "place": "20, 320 mm", "strip": 1},
        {"fibre": "1000, 1300 mm", "place": "320, 20 mm", "strip": 2, "face": "back"},
    ],
}  # fmt: skip


def looped(build, changed, text, **more):
    tests = changed("tests", lambda t: t["tests"]["T"].update(profiles=[LOOP | more]))
    return build(**tests, logs={"logs/T.csv": csv(record()), "logs/fibre.csv": text})


def readings(made, time):
    """Readings at a time of the log, and the notes."""
    test, notes = made.tests["T"], []
    signals = read_signals(made, "T", test, "A")
    row = int(np.argmin(np.abs(signals.time - time)))
    return profile_readings(made, test, signals, row, notes), notes


def test_a_fibre_over_two_strips_gives_back_what_was_planted(build, changed):
    """Zero of every place, warming, dropouts, words for none, spikes, the way down the second strip: |error| < 2 u at
    the rate of a normal error (95.4 %; some 1200 places, so 93 to 98 % is three standard errors and the floor of u)."""
    made = looped(build, changed, fibre(np.random.default_rng(5)), clock_offset="0 s")
    inside = []
    for time in np.arange(80.0, 200.0, 12.0):  # moments of a reading, so that nothing runs on after it
        found, notes = readings(made, time)
        assert [(r.strip, r.face, r.along, r.time) for r in found] == [
            (1, "front", "strip", pytest.approx(time)), (2, "back", "strip", pytest.approx(time))]  # fmt: skip
        for reading in found:
            assert (np.diff(reading.position) > 0).all()
            assert reading.position[[0, -1]] == pytest.approx([20.0, 320.0])
            good = np.isfinite(reading.strain)
            error = reading.strain[good] * 1e6 - field(reading.position[good], time)
            inside.append(np.abs(error) < 2.0 * reading.u[good] * 1e6)
            assert np.abs(error).max() < 40.0
            assert 4e-6 < np.median(reading.u[good]) < 6e-6
        assert found[0].flags[10] == FILLED  # the silent place at 550 mm lies between two that read
    assert 0.93 < np.concatenate(inside).mean() < 0.98
    assert np.concatenate(inside).size > 1150
    assert any("taken for 'no reading'" in n and "-9999" in n for n in notes)


def test_what_the_strain_ran_on_after_the_reading_is_in_its_uncertainty(build, changed):
    """0.5 s after a reading: at the top of the bump the strain went on by 13.9 um/m a second."""
    made = looped(build, changed, fibre(np.random.default_rng(5), faults=False), clock_offset="0 s")
    (one, _), _ = readings(made, 100.5)
    top = int(np.argmin(np.abs(one.position - 150.0)))
    assert one.time == pytest.approx(100.0)
    assert one.u_common[top] * 1e6 == pytest.approx(2500.0 / 180.0 * 0.5 / np.sqrt(3.0), rel=0.25)
    assert abs(one.strain[top] * 1e6 - field(150.0, 100.5)) < 2.0 * one.u[top] * 1e6


def test_spikes_are_flagged_and_a_step_is_none(build, changed):
    rng = np.random.default_rng(6)
    quiet = readings(looped(build, changed, fibre(rng, faults=False), clock_offset="0 s"), 199.9)[0]
    assert not any((r.flags == SPIKE).any() for r in quiet)  # the fall at 200 s is just ahead
    text = fibre(np.random.default_rng(6), faults=False).splitlines()
    cells = text[4 + 125].split(",")  # 100.0 s
    cells[1 + 130] = f"{float(cells[1 + 130]) + 900.0:.1f}"  # 650 mm: z = 170 on strip 1
    text[4 + 125] = ",".join(cells)
    one, two = readings(looped(build, changed, "\n".join(text) + "\n", clock_offset="0 s", loose=None), 100.0)[0]
    assert one.position[one.flags == FILLED] == pytest.approx([170.0])
    assert not (two.flags != 0).any()


def test_the_clock_is_found_from_the_load(build, changed):
    """The fibre's clock runs 37.4 s behind: found within its u, which the step of the readings (0.8 s) rules."""
    text = fibre(np.random.default_rng(7), shift=37.4, drift=False)
    made = looped(build, changed, text)
    signals = read_signals(made, "T", made.tests["T"], "A")
    (loaded,) = loaded_profiles(made, made.tests["T"], signals, [])
    assert abs(loaded.offset - 37.4) < 3 * loaded.u_offset
    assert loaded.u_offset < 1.0


def test_a_clock_that_nothing_places_is_asked(build, changed):
    rng = np.random.default_rng(8)
    rows = [f"{t:.1f}," + ",".join(f"{v:.1f}" for v in rng.normal(0, 5, 9)) for t in np.arange(0, 220, 0.8)]
    text = "time [s]," + ",".join(f"{p} mm" for p in range(0, 401, 50)) + "\n" + "\n".join(rows) + "\n"
    test = actions.reduce(campaign(build, changed, text, clock_offset=None)).test("T")
    assert any("clock could not be placed" in n and "state clock_offset" in n for n in test.notes)
    assert not any("fibre" in c.label for c in test.curves)


def test_growth_is_shown_and_the_reading_before_the_moment_is_taken(build, changed):
    """The planted strain follows the load: 40, 60, 80 % of P_max have that share of the strain, within a reading."""
    test = actions.reduce(looped(build, changed, fibre(np.random.default_rng(9)), clock_offset="0 s")).test("T")
    largest = {c.label: c.y.max() * 1e6 for c in test.curves if "strip 1" in c.label and "fibre" in c.label}
    assert len(largest) == 4
    for label, value in largest.items():
        share = 1.0 if "V_max" in label else float(label.split("at ")[1].split(" %")[0]) / 100.0
        assert value == pytest.approx(2500.0 * share, abs=25.0)


def test_mean_and_largest_along_the_crack():
    """A parabola over 300 mm: mean 2/3 of the largest (closed form), u of the mean falls with the number of places but
    for the part they share."""
    s = np.linspace(0.0, 300.0, 601)
    e = 4e-3 * s * (300.0 - s) / 300.0**2 * 4
    u, common = np.full(s.size, 50e-6), np.full(s.size, 30e-6)
    one = ProfileReading("crack", None, "front", s, e, u, "f.csv", 0.0, np.zeros(s.size, dtype=int), common)
    found = {f.name: f for f in profile_values([one])}
    assert found["eps_f_line_max"].value == pytest.approx(4e-3)
    assert found["eps_f_line_mean"].value == pytest.approx(4e-3 * 2 / 3, rel=1e-5)
    assert found["D_f_line"].value == pytest.approx(2 / 3, rel=1e-5)
    assert found["eps_f_line_max"].budget.u == pytest.approx(50e-6)
    assert found["eps_f_line_mean"].budget.u == pytest.approx(np.hypot(30e-6, 40e-6 / np.sqrt(600)), rel=1e-3)


def test_points_of_an_optical_system_along_a_strip(build, changed):
    """Points 8 mm apart, strain rising with z and time; strip 2 at x = 400 mm gives the z part, zeroed at rest."""
    times = [0, 5, 10, 15, 100, 200]
    head = "x [mm],y [mm]," + ",".join(f"{t} s" for t in times)
    rows = [f"{x},{z}," + ",".join(f"{(20 + max(t - 20, 0)) * 0.05 * z:.2f}" for t in times)
            for x in range(300, 501, 8) for z in range(0, 401, 8)]  # fmt: skip
    made = campaign(build, changed, "\n".join([head, *rows]) + "\n", along="strip", strip=2)
    found, notes = readings(made, 200.0)
    assert len(found) == 1, notes
    (reading,) = found
    assert reading.strain * 1e6 == pytest.approx(180.0 * 0.05 * reading.position, abs=0.5)
    assert reading.position[0] >= 0.0
    assert any("points about 8.0 mm apart" in n for n in notes)


def test_points_along_a_crack_that_nobody_digitised(build, changed):
    text = "x [mm],y [mm],0 s\n0,0,1\n10,0,1\n0,10,1\n"
    test = actions.reduce(campaign(build, changed, text)).test("T")
    assert any("no critical crack is digitised" in n for n in test.notes)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"along": None}, "names its stretches; one of the two"),
        ({"loose": "0 mm"}, "the two ends of the stretch that carries no strain"),
        ({"sign": 2}, "sign is 1 or -1"),
        ({"along": None, "stretches": [{"fibre": "0 mm", "place": "0, 3 mm", "strip": 1}]}, "two ends of the stretch"),
    ],
)
def test_a_profile_entry_that_cannot_be(build, changed, more, said):
    with pytest.raises(InputRefused, match=said):
        campaign(build, changed, table(), **more)


def test_a_profile_is_explained_down_to_its_file(build, changed):
    """The chain of the largest strain on the crack names file, hash, clock and places; that of V_max does not."""
    import hashlib

    made = campaign(build, changed, table(), clock_offset="50 s")
    lines = actions.explain(made, "T", "eps_f_line_max").lines()
    (step,) = [line for line in lines if "profile" in line and "logs/fibre.csv" in line and "time_s" in line]
    assert hashlib.sha256(table().encode()).hexdigest()[:16] in step
    assert "offset_s=50" in step
    assert not any("time_s" in line for line in actions.explain(made, "T", "V_max").lines())
