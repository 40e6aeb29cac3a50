"""Rehearsal: simulated logs agree with their planted truth; faults can be switched on and off."""

import numpy as np
import pytest

from cracktie.campaign.read import read_campaign
from cracktie.demo.scenario import FAULTS
from cracktie.demo.write import write_demo
from cracktie.lab.read import read_log_bytes
from cracktie.plan.instruments import Transducer, draw_instruments, draw_placing
from cracktie.plan.logfile import RAIL, SIMULATED, Faults
from cracktie.plan.rehearse import rehearse, simulate_test, without
from cracktie.plan.sensors import sensors
from cracktie.plan.statics import Placing, span_statics
from cracktie.plan.truth import Law, plant, plant_test

SEED = 31


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    return read_campaign(write_demo(tmp_path_factory.mktemp("plan") / "demo"))


@pytest.fixture(scope="module")
def simulated(campaign):
    return rehearse(campaign, SEED, FAULTS)


def _table(found, number=0):
    name, data = list(found.files.items())[number]
    return read_log_bytes(data, name).blocks[0]


def test_statics_of_the_short_span_by_hand(campaign):
    """Sizes as built; supports at 0 and 2500, load at 1040, overhangs 160 mm each, 24.6 kN/m3, rig 1.9 kN unseen."""
    area = 181.0 * (421.0 - 91.0) + 479.0 * 91.0
    w = 24.6e-6 * area
    reaction = w * 2820.0 / 2
    self_weight = reaction - w * (160.0 + 520.0)
    found = span_statics(campaign, campaign.tests["OV-01"])
    assert found.per_load == pytest.approx(1460.0 / 2500.0)
    assert found.self_weight == pytest.approx(self_weight)
    assert found.dead == pytest.approx(self_weight + 1900.0 * 0.584)
    assert found.load(found.shear(123e3)) == pytest.approx(123e3)


def test_statics_of_the_right_span_mirrors_the_left_one(campaign):
    left = span_statics(campaign, campaign.tests["OV-12-A"])
    right = span_statics(campaign, campaign.tests["OV-12-B"])
    assert right.dead == pytest.approx(left.dead)
    assert right.per_load == left.per_load == 0.5
    assert (left.toward, right.toward) == (1.0, -1.0)


def test_largest_clean_load_gives_the_planted_shear(campaign, simulated):
    planted = plant(campaign, SEED)
    for name, found in simulated.items():
        statics = span_statics(campaign, campaign.tests[name], Placing(**found.truth["placing"]))
        measured = statics.shear(1e3 * float(found.clean["P"].max()))
        assert measured == pytest.approx(found.truth["V_max"], rel=1e-12), name
        if found.truth["mode"] != "stopped":
            assert measured == pytest.approx(planted[name].V_max, rel=2e-3), name


def test_written_load_less_its_errors_gives_the_planted_shear(campaign, simulated):
    """From the file's own text: offset and gain taken off, only noise and rounding stand between."""
    for name in ("OV-01", "OV-07", "OV-11"):
        found = simulated[name]
        table = _table(found)
        column = "K01" if name == "OV-07" else "P"
        load = table.values(column) if hasattr(table, "values") else table.frame[column].to_numpy()
        peak = float(np.nanmax(load)) - found.truth["offsets"]["P"]
        peak /= 1.0 + found.truth["instrument_errors"]["cell_gain"]
        statics = span_statics(campaign, campaign.tests[name], Placing(**found.truth["placing"]))
        assert statics.shear(1e3 * peak) == pytest.approx(found.truth["V_max"], abs=200.0)


def test_order_of_tests_does_not_matter(campaign, simulated):
    alone = simulate_test(campaign, "OV-06", seed=SEED, faults=FAULTS["OV-06"])
    assert alone.files == simulated["OV-06"].files
    assert alone.truth == simulated["OV-06"].truth
    assert simulate_test(campaign, "OV-06", seed=SEED + 1, faults=FAULTS["OV-06"]).files != alone.files


def test_events_come_in_the_order_of_a_beam_test(simulated):
    for found in simulated.values():
        times = {e["event"]: e["time"] for e in found.truth["events"]}
        wanted = ["first flexural crack", "first diagonal crack", "debonding 1", "debonding 2", "peak"]
        have = [times[w] for w in wanted if w in times]
        assert have == sorted(have)
        if found.truth["V_first_debonding"] is not None:
            assert found.truth["V_first_debonding"] < found.truth["V_max"]
        for event in found.truth["events"]:
            assert 0 <= event["time"] <= found.clean["time"][-1] + 0.2


def test_first_debonding_is_a_drop_of_load_and_of_one_gauge(simulated):
    for name in ("OV-03", "OV-08"):
        found = simulated[name]
        time, load = found.clean["time"], found.clean["P"]
        at = next(e["time"] for e in found.truth["events"] if e["event"] == "debonding 1")
        row = int(np.searchsorted(time, at - 1e-6))
        assert 0.005 < 1 - load[row] / load[row - 1] < 0.04
        gauges = [k for k in found.clean if k.startswith("S") and "F" in k]
        falls = {g: found.clean[g][row - 1] - found.clean[g][row] for g in gauges}
        worst = max(falls, key=lambda g: falls[g])
        assert falls[worst] > max(200.0, 0.1 * found.clean[worst][row - 1])
        assert sum(f > 200.0 for f in falls.values()) <= 3  # the rows of one leg
        left = found.clean[worst][row] / found.clean[worst][row - 1]
        if name == "OV-08":  # an anchored leg goes on carrying what its anchor holds
            assert 0.2 < left < 0.8
        else:
            assert left < 0.1


def test_strains_and_deflections_are_those_of_a_beam_test(simulated):
    for name, found in simulated.items():
        peak = int(np.argmax(found.clean["P"]))
        strip = [found.clean[k][: peak + 1].max() for k in found.clean if k[:1] == "S" and k[1:2].isdigit()]
        bars = [found.clean[k][: peak + 1].max() for k in found.clean if k[:1] == "W"]
        scheme, mode = found.truth["scheme"], found.truth["mode"]
        if mode == "shear":
            assert max(bars) > 600.0, name  # um/m: a gauge at mid-height is up to 110 mm from the crack
            assert 4.0 < found.truth["deflection_at_V_max"] < 15.0
        assert max(bars) < 15000.0
        if scheme != "bare":
            assert 2000.0 < max(strip) < 6500.0, name
    assert 15.0 < simulated["OV-11"].truth["deflection_at_V_max"] < 30.0


def test_settlement_is_in_the_displacements_and_can_be_taken_out(simulated):
    clean = simulated["OV-01"].clean
    mean = (clean["DF"] + clean["DB"]) / 2
    left, right = clean["SL"], -clean["SR"]  # SR carries sign -1 in rig.yaml
    really = simulated["OV-01"].truth["placing"]
    span = 2500 + really["right_support"] - really["left_support"]
    ratio = (1040 + really["load"] - really["left_support"]) / span
    settled = left * (1 - ratio) + right * ratio
    assert settled.max() > 0.2
    np.testing.assert_allclose(mean - settled, clean["deflection"], atol=1e-9)


def test_drawn_errors_are_rectangular_within_the_stated_half_widths(campaign):
    """Of 2000 draws: mean near 0, standard deviation near half-width/sqrt(3), none beyond the half-width."""
    test, rng = campaign.tests["OV-01"], np.random.default_rng(7)
    places = [s for s in sensors(campaign, test) if s.name in ("P", "DF")]
    drawn = [(draw_placing(campaign, test, rng), draw_instruments(campaign, test, places, rng)) for _ in range(2000)]
    columns = {
        3.0: [[p.left_support for p, _ in drawn], [p.right_support for p, _ in drawn], [p.load for p, _ in drawn]],
        0.05: [[p.weight for p, _ in drawn]],
        0.004: [[i.cell_gain for _, i in drawn]],
        0.02: [[i.channels["DF"].end for _, i in drawn]],
    }
    for half, lists in columns.items():
        for values in lists:
            assert max(map(abs, values)) <= half
            assert np.std(values) == pytest.approx(half / np.sqrt(3), rel=0.05)
            assert np.mean(values) == pytest.approx(0.0, abs=0.06 * half)
    assert "P" not in drawn[0][1].channels  # the cell's gain is the load's error


def test_a_transducer_never_passes_its_accuracy_and_reads_zero_at_rest():
    travel = np.linspace(0.0, -8.0, 200)
    for end in (-1.0, -0.4, 0.0, 0.7, 1.0):
        for bow in (-0.5, 0.5):
            error = Transducer(0.02 * end, 0.02 * bow * (1 - abs(end))).error(travel)
            assert error[0] == 0.0
            assert error[-1] == pytest.approx(0.02 * end)
            assert np.abs(error).max() <= 0.02 + 1e-12


def test_a_mirrored_test_is_mirrored_in_the_statics(campaign):
    """Beam turned end for end: load at 1460 mm, so the studied left span gets 1040/2500 of it."""
    turned = campaign.tests["OV-01"].model_copy(update={"mirrored": True})
    assert span_statics(campaign, turned).per_load == pytest.approx(1040.0 / 2500.0)


def test_two_logs_share_the_load_at_the_planted_lag(simulated):
    found = simulated["OV-08"]
    lag = found.truth["clock_lag_of_second_log"]
    assert lag > 20
    one, two = _table(found, 0).frame, _table(found, 1).frame
    t1, p1 = one["Time"].to_numpy(), one["P"].to_numpy()
    t2, p2 = two["Clock"].to_numpy() - lag, two["K01"].to_numpy()
    inside = (t2 > 40) & (t2 < t1[-1] - 30)
    gap = np.abs(np.interp(t2[inside], t1, p1) - p2[inside])
    assert np.median(gap) < 0.15  # kN: noise of both loggers
    wrong = np.abs(np.interp(t2[inside] + 5.0, t1, p1) - p2[inside])
    assert np.median(wrong) > 0.5


def test_no_faults_gives_the_clean_channels_in_the_file(campaign):
    found = simulate_test(campaign, "OV-05", seed=SEED, faults=Faults.none())
    table = _table(found).frame
    for sensor in sensors(campaign, campaign.tests["OV-05"]):
        half_digit = {"um/m": 0.051, "mm": 0.00051, "kN": 0.0051, "degC": 0.051}[sensor.unit]
        gap = np.abs(table[sensor.name].to_numpy() - found.clean[sensor.name])
        assert gap.max() <= half_digit, sensor.name
    text = next(iter(found.files.values())).decode("utf-8")
    assert text.splitlines()[0] == f"# {SIMULATED}"
    assert text.splitlines()[1].startswith("Time [s],P [kN]")


@pytest.mark.parametrize(
    "fault", ["spike", "lost_gauge", "missing_words", "decimal_comma", "latin1", "offsets", "noise", "instruments"]
)
def test_each_fault_shows_only_when_it_is_on(campaign, fault):
    off = simulate_test(campaign, "OV-05", seed=SEED, faults=Faults.none())
    on = simulate_test(campaign, "OV-05", seed=SEED, faults=Faults(**{**vars(Faults.none()), fault: True}))
    assert on.files != off.files
    text = next(iter(on.files.values()))
    clean = next(iter(off.files.values()))
    if fault == "spike":
        (channel,) = on.truth["spikes"]
        jump = _table(on).frame[channel].to_numpy() - _table(off).frame[channel].to_numpy()
        assert np.flatnonzero(np.abs(jump) > 5).size == 1
    elif fault == "lost_gauge":
        (channel, at), *_ = on.truth["lost_gauges"].items()
        values, time = _table(on).frame[channel].to_numpy(), on.clean["time"]
        assert np.nanmin(values[time > at]) == RAIL
        assert np.nanmax(values[time < at - 0.2]) < RAIL
        assert b"OVER" in text
    elif fault == "missing_words":
        assert text.count(b"NaN") == 60  # six seconds at 10 Hz
        assert b"NaN" not in clean
    elif fault == "decimal_comma":
        assert text.splitlines()[5].count(b";") == clean.splitlines()[5].count(b",")
        assert text.splitlines()[5].replace(b",", b".").replace(b";", b",") == clean.splitlines()[5]
    elif fault == "latin1":
        with pytest.raises(UnicodeDecodeError):
            text.decode("utf-8")
        assert "[µm/m]" in text.decode("latin-1")
    elif fault == "offsets":
        assert on.truth["offsets"]["P"] != 0.0
        assert on.clean["P"] == pytest.approx(off.clean["P"])
    elif fault == "instruments":
        gain = on.truth["instrument_errors"]["cell_gain"]
        loaded = on.clean["P"] > 50.0
        read = _table(on).frame["P"].to_numpy()[loaded] / on.clean["P"][loaded] - 1
        assert 0 < abs(gain) <= 0.004  # 0.4 % in rig.yaml
        assert np.median(read) == pytest.approx(gain, abs=2e-5)
        for name, half in (("DF", 0.02), ("SL", 0.005)):
            moved = np.abs(_table(on).frame[name].to_numpy() - on.clean[name])
            assert 0.001 < moved.max() <= half + 0.0005, name
    else:
        spread = _table(on).frame["P"].to_numpy() - on.clean["P"]
        assert spread.std() == pytest.approx(0.05, rel=0.1)


def test_every_log_says_simulated_whatever_the_faults(simulated):
    for found in simulated.values():
        for name, data in found.files.items():
            assert SIMULATED.encode() in data.splitlines()[0]
            assert read_log_bytes(data, name).simulated


def test_without_switches_faults_off():
    assert without(Faults(spike=True), "spike", "noise") == Faults(noise=False)


def test_scatter_is_that_of_the_law(campaign):
    """Standard deviation of ln(scatter) over many seeds against sqrt(ln(1 + 0.07^2)) = 0.0699; 300 seeds: +-4 %."""
    logs = [np.log(plant_test(campaign, "OV-01", seed).scatter) for seed in range(300)]
    assert np.std(logs) == pytest.approx(0.0699, rel=0.15)
    assert np.mean(logs) == pytest.approx(0.0, abs=0.016)


def test_law_without_scatter_ranks_the_schemes_and_the_levels(campaign):
    calm = plant(campaign, 1, Law(scatter=0.0))
    assert calm["OV-02"].V_max < calm["OV-04"].V_max < min(calm[f"OV-0{i}"].V_max for i in (5, 6, 7, 8))
    assert calm["OV-05"].V_max < calm["OV-07"].V_max < calm["OV-08"].V_max
    assert calm["OV-10"].V_max < calm["OV-09"].V_max  # pre-cracked
    assert calm["OV-11"].V_max == calm["OV-11"].V_bending < calm["OV-11"].V_shear


def test_the_two_loadings_of_one_span_share_their_scatter(campaign):
    planted = plant(campaign, SEED)
    assert planted["OV-10-pre"].scatter == planted["OV-10"].scatter
    assert planted["OV-12-A"].scatter != planted["OV-12-B"].scatter


def test_strength_on_the_day_lies_between_companion_tests(campaign):
    """mix-1 was cast on 2024-03-05; 2024-05-14 is day 70, a day with companion tests (28.8 MPa)."""
    assert plant_test(campaign, "OV-01", SEED).f_c == pytest.approx(28.8)


def test_a_test_without_history_is_loaded_by_the_usual_one(campaign):
    from dataclasses import replace

    bare = campaign.tests["OV-03"].model_copy(update={"history": ()})
    found = simulate_test(replace(campaign, tests={**campaign.tests, "OV-03": bare}), "OV-03", seed=SEED)
    names = [e["event"] for e in found.truth["events"]]
    assert names.count("hold") == 2
    assert names.count("unload") == 2  # once on the way, once at the end
    assert "peak" in names


def test_compliance_under_the_load_does_not_depend_on_the_studied_span(campaign):
    from dataclasses import replace

    other = campaign.tests["OV-01"].model_copy(update={"studied": "B"})
    turned = replace(campaign, tests={**campaign.tests, "OV-01": other})
    one, two = plant_test(campaign, "OV-01", SEED), plant_test(turned, "OV-01", SEED)
    assert two.span == "B"
    assert two.compliance == pytest.approx(one.compliance)


def test_shear_is_what_concrete_stirrups_and_fibres_carry(campaign, simulated):
    """At every reading; the fibres' part is that of the legs listed in truth.json, E t w = 236 GPa x 0.167 x 60 mm."""
    for name, found in simulated.items():
        clean, results = found.clean, found.truth["results"]
        np.testing.assert_allclose(clean["V_c"] + clean["V_s"] + clean["V_f"], clean["V"], rtol=1e-12, atol=1e-6)
        peak = int(np.argmax(clean["P"]))
        legs = sum(leg["strain_at_V_max"] for leg in found.truth["legs"]) * 236e3 * 0.167 * 60.0
        assert clean["V_f"][peak] == pytest.approx(legs)
        assert (results["V_c_eq"], results["V_s_meas"]) == (clean["V_c"][peak], clean["V_s"][peak])
        envelope = clean["P"] >= 0.97 * np.maximum.accumulate(clean["P"])
        loading = (clean["V"] > 30e3) & (np.arange(len(clean["P"])) <= peak) & envelope
        assert clean["V_c"][loading].min() > 0.0, name
        assert 0.2 < results["V_c_eq"] / found.truth["V_max"] < 0.95, name
        if found.truth["scheme"] != "bare":
            assert 0.05 < results["V_f_strain"] / found.truth["V_max"] < 0.6, name


def test_stirrups_that_yield_carry_their_yield_strength(simulated):
    """Two legs of 6 mm at 324 MPa: 18.3 kN a stirrup; one or two are crossed."""
    one = 2 * np.pi * 9.0 * 324.0
    for found in simulated.values():
        if found.truth["mode"] == "shear":
            assert round(found.truth["results"]["V_s_meas"] / one, 6) in (1.0, 2.0)


def test_the_crack_opens_and_slides_and_diagonals_show_it(simulated):
    """Opening and sliding solved from the two clean diagonals by hand, elastic strain of the panel aside."""
    for name, found in simulated.items():
        truth, clean = found.truth, found.clean
        peak = int(np.argmax(clean["P"]))
        w, v = truth["results"]["w_cr_V_max"], truth["results"]["v_cr_V_max"]
        assert 0.15 < v / w < 0.6
        theta = np.radians(truth["crack_angle"])
        rows = []
        for angle in np.radians((60.0, 120.0)):  # towards the load, in either span
            sign = np.sign(np.sin(angle - theta))
            rows.append((sign * np.sin(angle - theta), sign * np.cos(angle - theta)))
        solved = np.linalg.solve(np.array(rows), [clean["X2"][peak], clean["X1"][peak]])
        assert solved[0] == pytest.approx(w, rel=0.12, abs=0.03), name
        assert solved[1] == pytest.approx(v, rel=0.35, abs=0.03), name


def test_planted_stiffness_and_energy_are_those_of_the_curve(simulated):
    """Uncracked: the beam's own compliance, but for the scaling of the envelope to its peak. Energy: loops of unloading
    are small, so it lies near the area under the envelope; late deflections lie on the fall behind the peak."""
    for name, found in simulated.items():
        truth, clean, results = found.truth, found.clean, found.truth["results"]
        if "K_uncracked" in results:
            assert results["K_uncracked"] * truth["compliance"] == pytest.approx(1.0, abs=0.05), name
            assert 0.1 < results["K_cracked"] / results["K_uncracked"] < 0.8, name
        peak = int(np.argmax(clean["P"]))
        top = np.maximum.accumulate(clean["P"][: peak + 1])
        on = clean["P"][: peak + 1] >= top
        d = clean["deflection"][: peak + 1][on]
        area = 1e3 * float(np.sum(np.diff(d) * (top[on][1:] + top[on][:-1]) / 2))
        assert results["W_V_max"] == pytest.approx(area, rel=0.12), name
        if truth["mode"] == "shear":
            assert results["delta_V_max"] < results["delta_85"] <= results["delta_80"], name
            assert results["delta_80"] < results["delta_V_max"] + 0.36, name  # the fall takes 0.35 mm
            assert results["mu_delta"] > 1.0
