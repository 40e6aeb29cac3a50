"""Gauges and transducers from what a logger writes to what they measured: circuits, thermometers and rosettes are
computed here from their own physics, put into logs, and the planted strains come back within their uncertainty."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.reduction.gauges import absolute_components, accuracy, scale_components, u_reading
from cracktie.reduction.signals import read_signals

OHM, GF, TOP = 120.0, 2.12, 400  # row 400 is the last before the fall, at 200 s


def _signals(campaign):
    return read_signals(campaign, "T", campaign.tests["T"], "A")


@pytest.fixture
def gauged(build, plain, changed):
    """gauged(columns, G1={...}, channels=[...], layout={...}, choice={...}, units={...}): signals of an altered log."""
    record, csv = plain

    def make(columns=None, *, channels=(), layout=None, choice=None, units=None, state=None, **own):
        def alter(rig):
            found = rig["layouts"]["all"]
            for channel in found["channels"]:
                channel.update(own.get(channel["name"], {}))
            found["channels"] += channels
            found.update(layout or {})

        rig = changed("rig", alter)
        reduction = changed("reduction", lambda r: r["tests"]["T"].update(choice or {}))
        logs = {"logs/T.csv": csv(record() | (columns or {}), units)}
        return _signals(build(logs=logs, **rig, **reduction))

    return make


def output(strain, *, lead=0.0, wires=3):
    """Output of a quarter bridge in V/V in which tension raises it, by its resistors; the lead in the gauge's arm."""
    gauge = OHM * (1.0 + GF * np.asarray(strain))
    beside = OHM + (lead if wires == 3 else 0.0)
    active = gauge + lead * (1 if wires == 3 else 2)
    return 0.5 - beside / (active + beside)


def true(plain):
    return plain[0]()["G1"] * 1e-6


# bridges and gauge factors


@pytest.mark.parametrize(("lead", "wires"), [(0.0, 3), (0.6, 3), (0.6, 2)])
@pytest.mark.parametrize("big", [1.0, 6.0])
def test_output_of_a_bridge_in_millivolt_per_volt(gauged, plain, lead, wires, big):
    """-0.31 mV/V of unbalance, sign turned by the wiring; strains to 12 000 um/m, where a bridge is curved by 1.3 %.

    Two leads unbalance the bridge before its zero, which leaves r (r + eps GF)/4 (r = 1 % of leads).
    """
    strain = big * true(plain)
    logged = -1e3 * output(strain, lead=lead, wires=wires) - 0.31
    gauge = {"gauge_factor": GF, "resistance": "120 ohm", "lead_resistance": f"{lead} ohm", "wires": wires}
    if not lead:
        gauge = {"gauge_factor": GF}
    found = gauged({"G1": logged}, units={"G1": "mV/V"}, G1={"sign": -1, "gauge": gauge}).found["G1"]
    assert found.values[TOP] == pytest.approx(
        big * 2000e-6, rel=1.5e-4 if wires == 2 else 1e-5, abs=2e-9
    )  # 1e-6 mV/V in the log
    if big == 1.0 and not lead:
        assert found.values[TOP] != pytest.approx(4.0 * (-logged[TOP] - 0.31) / GF / 1e3, rel=1e-3)


def test_output_in_volt_needs_the_excitation(gauged, plain):
    volts = 5.0 * output(true(plain))
    found = gauged({"G1": 1e3 * volts}, units={"G1": "mV"}, G1={"gauge": {"gauge_factor": GF, "excitation": "5 V"}})
    assert found.found["G1"].values[TOP] == pytest.approx(2000e-6, rel=1e-5)
    missing = gauged({"G1": 1e3 * volts}, units={"G1": "mV"}, G1={"gauge": {"gauge_factor": GF}})
    assert "G1: left out, in mV: add gauge: {excitation: ...}, the supply of its bridge" in missing.notes
    assert "G1" not in missing.found


def test_noise_and_zero_of_a_bridge_are_strains(gauged, plain):
    """0.001 mV/V of noise is 4 x 1e-6/2.12 = 1.89 um/m; the median of 37 readings: 1.2533/root 37 of it."""
    rng = np.random.default_rng(2)
    logged = 1e3 * output(true(plain)) + rng.normal(0.0, 0.001, len(true(plain)))
    signal = gauged({"G1": logged}, units={"G1": "mV/V"}, G1={"gauge": {"gauge_factor": GF}}).found["G1"]
    assert signal.noise == pytest.approx(1.89e-6, rel=0.35)
    assert signal.u_zero == pytest.approx(1.2533 * signal.noise / math.sqrt(37), rel=1e-3)


def test_millivolt_per_volt_is_not_taken_for_a_strain(gauged, plain):
    found = gauged({"G1": 1e3 * output(true(plain))}, units={"G1": "mV/V"})
    assert "G1: left out, in mV/V, the output of a bridge: add gauge: {gauge_factor: ...} in the layout" in found.notes


def test_a_logger_set_to_another_factor_with_leads_and_a_straight_bridge(gauged, plain):
    """The logger shows 4 V/GF_set; 0.5 ohm in the arm; a strain of 10 000 um/m is shown 6.9 % wrong."""
    strain = 5.0 * true(plain)
    shown = 4.0 * output(strain, lead=0.5) / 2.0 * 1e6
    gauge = {"gauge_factor": GF, "gauge_factor_set": 2.0, "resistance": "120 ohm", "lead_resistance": "0.5 ohm",
             "linearised": False}  # fmt: skip
    signals = gauged({"G1": shown}, G1={"gauge": gauge})
    # leads lie in the arm, so the curvature acts on the change of the whole arm: a second-order rest
    assert signals.found["G1"].values[TOP] == pytest.approx(10_000e-6, rel=1e-4)
    assert abs(shown[TOP] / 10_000 - 1.0) > 0.04
    steps = [s.name for s in signals.trail if dict(s.arguments).get("channel") == "G1"]
    assert steps == ["apply_factor", "remove_zero", "bridge_curvature", "gauge_factor", "leads"]


def test_what_is_not_said_of_a_bridge_is_uncertain(gauged, plain):
    """Stated: tolerance 1 %, leads without their own; curvature not stated: half-width GF eps/2 of the reading."""
    gauge = {"gauge_factor": 2.0, "gauge_factor_tolerance": "1 %", "lot": "K7", "resistance": "120 ohm",
             "lead_resistance": "0.6 ohm"}  # fmt: skip
    signal = gauged(G1={"gauge": gauge}).found["G1"]
    e = 2000e-6 * 1.005
    parts = {c.name: c for c in scale_components(signal, TOP)}
    assert parts["gauge factor"].u == pytest.approx(0.01 / math.sqrt(3) * e, rel=1e-6)
    assert parts["gauge factor"].note == "tolerance of the packet; shared by gauges of lot K7"
    assert parts["leads"].u == pytest.approx(0.1 * 0.005 * 2000e-6, rel=1e-3)
    assert parts["curvature of the bridge"].u == pytest.approx(2000e-6**2 * 1.005 / math.sqrt(3), rel=1e-2)
    assert accuracy([signal], TOP) == pytest.approx(math.hypot(*(p.u for p in parts.values())) / e, rel=1e-6)


def test_the_worked_budget_of_a_gauge_is_regained(gauged, plain):
    """4800 um/m, factor 0.5 % and amplifier 0.2 % (standard), +-34.5 um/m of temperature (rectangular), by hand:
    24.0, 9.6 and 19.92 um/m, together 32.63 um/m."""
    gauge = {"gauge_factor": "2.0 +- 0.010", "linearised": True, "alpha_gauge": "11 um/m/K",
             "alpha_substrate": "-0.5 um/m/K", "temperature_change": "3 K"}  # fmt: skip
    stated = f"{0.2 * math.sqrt(3)} %"
    signal = gauged({"G1": 2.4 * plain[0]()["G1"]}, G1={"gauge": gauge, "uncertainty": stated}).found["G1"]
    assert signal.values[TOP] == pytest.approx(4800e-6)
    assert u_reading(signal, TOP) == pytest.approx(32.633e-6, rel=1e-4)


def test_a_gauge_that_states_nothing_keeps_the_judgement(gauged):
    signal = gauged().found["G1"]
    (one,) = scale_components(signal, TOP)
    assert (one.name, one.u) == ("gauge factor and amplifier", pytest.approx(0.01 * 2000e-6))
    assert accuracy([signal], TOP) == pytest.approx(0.01)


# shunt steps


def _shunted(strain, resistor=59_880.0, rows=slice(20, 30)):
    """Rows from 10 to 15 s with a resistor across the gauge, by the parallel circuit."""
    gauge = OHM * (1.0 + GF * np.asarray(strain))
    gauge[rows] = gauge[rows] * resistor / (gauge[rows] + resistor)
    return 1e3 * (0.5 - OHM / (gauge + OHM))


SHUNT = {"gauge_factor": GF, "resistance": "120 ohm", "shunt": {"resistor": "59.88 kohm"}}
WINDOWS = {"zeros": [{"start": "0 s", "end": "9 s"}], "shunts": [{"start": "11 s", "end": "14 s"}]}


def test_a_right_shunt_step_says_nothing(gauged, plain):
    signals = gauged({"G1": _shunted(true(plain))}, units={"G1": "mV/V"}, choice=WINDOWS, G1={"gauge": SHUNT})
    assert signals.found["G1"].values[TOP] == pytest.approx(2000e-6, rel=1e-5)
    assert not [n for n in signals.notes if "shunt" in n]


def test_a_shunt_step_of_the_wrong_sign_is_told_and_the_gauge_left_out(gauged, plain):
    turned = -_shunted(true(plain))
    signals = gauged({"G1": turned}, units={"G1": "mV/V"}, choice=WINDOWS, G1={"gauge": SHUNT})
    assert "G1" not in signals.found
    (note,) = [n for n in signals.notes if n.startswith("G1")]
    assert note.startswith("G1: left out, the shunt of 59.88 kohm should read -943 um/m, compression, and reads +94")
    assert note.endswith("tension would count as compression; write sign: -1 for this channel, or correct the wiring")


def test_an_amplifier_that_is_off_is_told_or_scaled(gauged, plain):
    """An amplifier 4 % low: told; with scale: true the strains are right again."""
    low = 0.96 * _shunted(true(plain))
    told = gauged({"G1": low}, units={"G1": "mV/V"}, choice=WINDOWS, G1={"gauge": SHUNT})
    assert told.found["G1"].values[TOP] == pytest.approx(0.96 * 2000e-6, rel=1e-3)
    assert any("(-4.0 %); readings are not scaled by it" in n for n in told.notes)
    gauge = SHUNT | {"shunt": {"resistor": "59.88 kohm", "scale": True}}
    scaled = gauged({"G1": low}, units={"G1": "mV/V"}, choice=WINDOWS, G1={"gauge": gauge})
    assert scaled.found["G1"].values[TOP] == pytest.approx(2000e-6, rel=2e-4)


def test_a_shunt_step_read_off_the_logger(gauged):
    """A logger set to 2.0 in place of 2.12 shows -1000 um/m for what is -943.4 um/m."""
    shunt = {"resistor": "59.88 kohm", "reading": "-1000 um/m"}
    gauge = SHUNT | {"gauge_factor_set": 2.0, "shunt": shunt, "linearised": True}
    assert not [n for n in gauged(G1={"gauge": gauge}).notes if "shunt" in n]
    # 6 ohm of lead (5 %) in the arm: shown 5 % smaller, and right again with the lead
    led = gauge | {"lead_resistance": "6 ohm", "shunt": shunt | {"reading": "-952.4 um/m"}}
    assert not [n for n in gauged(G1={"gauge": led}).notes if "shunt" in n]
    gauge["shunt"] = shunt | {"reading": "1000 um/m"}
    assert any("tension would count as compression" in n for n in gauged(G1={"gauge": gauge}).notes)


# calibrations and ranges


def test_calibrations_of_transducers(gauged, plain):
    """4 to 20 mA over 0 to 50 mm (from 5 mm on), kN from mV/V by a polynomial, mm from V by a table with a kink."""
    columns = plain[0]()
    current = 4.0 + 16.0 * (columns["D"] + 5.0) / 50.0
    mv = columns["P"] / 250.0
    loop = {"calibration": {"input": "mA", "output": "mm", "points": [[4, 0], [20, 50]], "uncertainty": "0.2 %"}}
    cell = {"calibration": {"input": "mV/V", "output": "kN", "polynomial": [0.3, 248.0, 5.0], "uncertainty": "0.1 %"}}
    signals = gauged({"D": current, "P": mv}, units={"D": "mA", "P": "mV/V"}, D=loop, P=cell)
    assert signals.found["D"].values[TOP] == pytest.approx(9.0, abs=1e-5)
    assert signals.found["P"].values[TOP] == pytest.approx(1e3 * (248.0 * 0.4 + 5.0 * 0.16))
    assert u_reading(signals.found["D"], TOP) == pytest.approx(math.hypot(0.02, 0.018) / math.sqrt(3), rel=1e-4)


def test_a_table_goes_straight_between_its_points_and_on_beyond(gauged, plain):
    V = np.interp(plain[0]()["D"], [0.0, 9.0], [0.0, 9.0])
    table = {"calibration": {"output": "mm", "points": [[0, 0], [4, 2], [6, 6]]}}
    found = gauged({"D": V}, units={"D": "V"}, D=table).found["D"]
    assert found.values[40 + 80] == pytest.approx(1.0)  # 2 V
    assert found.values[40 + 200] == pytest.approx(4.0)  # 5 V
    assert found.values[TOP] == pytest.approx(12.0)  # 9 V, beyond the last point


def test_a_unit_that_the_certificate_does_not_speak_of(gauged):
    table = {"calibration": {"input": "mA", "output": "mm", "factor": 2.0}}
    assert "D: left out, in mm, its calibration is for mA" in gauged(D=table).notes
    silent = {"calibration": {"output": "mm", "factor": 2.0}}
    told = "D: left out, in mm already: write calibration: {input: mm, ...} if it corrects that, or delete it"
    assert told in gauged(D=silent).notes
    stated = {"calibration": {"input": "mm", "output": "mm", "factor": 1.02}}
    assert gauged(D=stated).found["D"].values[TOP] == pytest.approx(9.18)


def test_readings_beyond_the_range(gauged, plain):
    """A transducer of 8 mm that stops there: left out; a load cell that stops is kept and told."""
    columns = plain[0]()
    stopped, capped = np.minimum(columns["D"], 8.0), np.minimum(columns["P"], 95.0)
    signals = gauged({"D": stopped, "P": capped}, D={"range": "0, 8 mm"}, P={"range": "95 kN"})
    assert np.isnan(signals.found["D"].values[TOP])
    assert signals.found["D"].values[300] == pytest.approx(9.0 * (150 - 20) / 180, abs=1e-6)
    assert signals.found["P"].values[TOP] == pytest.approx(95e3)
    assert any(n.startswith("P: ") and "kept, but the true load may be larger there" in n for n in signals.notes)
    assert any(n.startswith("D: ") and "left out" in n for n in signals.notes)


# temperature


def warm(time):
    """20 degC at rest, 26 degC at the end of loading, and on."""
    return 20.0 + 6.0 * np.maximum((time - 20.0) / 180.0, 0.0)


THERMOMETER = {"name": "TH", "quantity": "temperature", "unit": "degC"}


def test_a_dummy_takes_the_temperature_off(gauged, plain):
    columns = plain[0]()
    apparent = -11.5 * (warm(columns["Time"]) - 20.0)
    dummy = {"name": "GD", "quantity": "FRP strain"}
    signals = gauged({"G1": columns["G1"] + apparent, "GD": apparent + 40.0}, channels=[dummy], units={"GD": "um/m"},
                     G1={"gauge": {"dummy": "GD"}})  # fmt: skip
    assert signals.found["G1"].values[TOP] == pytest.approx(2000e-6)
    assert signals.found["GD"].values[TOP] == pytest.approx(-69e-6)


def test_a_thermometer_and_coefficients_take_it_off(gauged, plain):
    """Substrate -0.5, gauge 11 um/m/K, 6 K: -69 um/m; a thermometer of +-0.6 K leaves 11.5 x 0.6/sqrt 3 um/m."""
    columns = plain[0]()
    T = warm(columns["Time"])
    gauge = {"alpha_gauge": "11 um/m/K", "alpha_substrate": "-0.5 um/m/K", "temperature": "TH"}
    signals = gauged({"G1": columns["G1"] - 11.5 * (T - 20.0), "TH": T}, units={"TH": "degC"},
                     channels=[THERMOMETER | {"uncertainty": "0.6 degC"}], G1={"gauge": gauge})  # fmt: skip
    signal = signals.found["G1"]
    assert signal.values[TOP] == pytest.approx(2000e-6, abs=5e-7)
    (thermal,) = [c for c in absolute_components(signal, TOP) if c.name == "thermal output"]
    assert thermal.u == pytest.approx(11.5e-6 * 0.6 / math.sqrt(3))


def test_a_makers_curve_and_the_gauge_factor_with_temperature(gauged, plain):
    """Shown by a gauge of factor GF(1 + 0.01 %/K (T - 24)) on its own material, the curve for factor 2.0:
    R changes by GF(T) eps + 2 P(T)."""
    columns = plain[0]()
    T = warm(columns["Time"])
    curve = [-30.0, 3.9, -0.07, 0.0003]
    P = np.polynomial.polynomial.polyval(T, curve)
    change = GF * (1.0 + 1e-4 * (T - 24.0)) * columns["G1"] + 2.0 * P
    gauge = {"gauge_factor": GF, "linearised": True, "thermal_curve": curve, "temperature": "TH",
             "gauge_factor_coefficient": "1 %/100K"}  # fmt: skip
    signals = gauged({"G1": change / GF, "TH": T}, units={"TH": "degC"}, channels=[THERMOMETER], G1={"gauge": gauge})
    at_zero = 2.0 * (P[TOP] - P[0])
    assert abs(change[TOP] / GF - (change[0] / GF) - 2000.0) > 2.0  # what would be shown otherwise
    assert at_zero != 0.0
    assert signals.found["G1"].values[TOP] == pytest.approx(2000e-6, abs=5e-7)


def test_a_temperature_that_is_not_taken_off_is_uncertain(gauged, plain):
    """|alpha| dT/sqrt 3 with the change the thermometer in the layout shows; none of it without coefficients."""
    columns = {"TH": warm(plain[0]()["Time"])}
    coefficients = {"alpha_gauge": "11 um/m/K", "alpha_substrate": "-0.5 um/m/K"}
    signals = gauged(columns, units={"TH": "degC"}, channels=[THERMOMETER], G1={"gauge": coefficients})
    found = {c.name: c.u for c in absolute_components(signals.found["G1"], TOP)}
    assert found["thermal output"] == pytest.approx(11.5e-6 * 6.0 / math.sqrt(3), rel=1e-6)
    assert "thermal output" not in {c.name for c in absolute_components(signals.found["G2"], TOP)}


# strain across


def test_the_channel_across_takes_transverse_sensitivity_off(gauged, plain):
    along, across = plain[0]()["G1"], -0.8 * plain[0]()["G1"]
    k, other, nu = 0.012, -0.004, 0.285
    shown = {"G1": (along + k * across) / (1 - nu * k), "G2": (across + other * along) / (1 - nu * other)}
    gauges = {"G1": {"gauge": {"transverse_sensitivity": "1.2 %", "across": "G2"}},
              "G2": {"gauge": {"transverse_sensitivity": "-0.4 %", "across": "G1"}}}  # fmt: skip
    signals = gauged(shown, **gauges)
    assert signals.found["G1"].values[TOP] == pytest.approx(2000e-6, rel=1e-6)
    assert signals.found["G2"].values[TOP] == pytest.approx(-1600e-6, rel=1e-6)


def test_a_stated_ratio_and_none(gauged, plain):
    """Shown 1 % wrong by K = 2 % and strain across -0.2 + 1/2; stated +- 0.05: u = K 0.05 of the reading."""
    along = plain[0]()["G1"]
    shown = (along + 0.02 * 0.3 * along) / (1 - 0.285 * 0.02)
    stated = gauged({"G1": shown}, G1={"gauge": {"transverse_sensitivity": "2 %", "strain_ratio": "0.3 +- 0.05"}})
    signal = stated.found["G1"]
    assert signal.values[TOP] == pytest.approx(2000e-6, rel=1e-6)
    parts = {c.name: c.u for c in scale_components(signal, TOP)}
    assert parts["transverse sensitivity"] == pytest.approx(0.02 * 0.05 * 2000e-6, rel=0.01)
    silent = gauged({"G1": shown}, G1={"gauge": {"transverse_sensitivity": "2 %"}}).found["G1"]
    assert silent.values[TOP] == pytest.approx(shown[TOP] * 1e-6, rel=1e-6)
    parts = {c.name: c.u for c in scale_components(silent, TOP)}
    assert parts["transverse sensitivity"] > abs(silent.values[TOP] - 2000e-6)


# rosettes


def _rosette(gauged, plain, state, angles, K=0.0, first=0.0):
    """Gauges RA, RB, RC in a field that grows with the load; `first` turns the rosette from the x axis."""
    up = plain[0]()["G1"] / 2000.0
    x, y, xy = state

    def along(angle):
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        return x * c * c + y * s * s + xy * s * c

    columns, channels = {}, []
    for name, angle in zip(("RA", "RB", "RC"), angles, strict=True):
        columns[name] = up * (along(angle + first) + K * along(angle + first + 90.0)) / (1.0 - 0.285 * K)
        channels.append({"name": name, "quantity": "concrete strain", "direction": f"{angle + first} deg",
                         "uncertainty": "1 %", "gauge": {"transverse_sensitivity": K}})  # fmt: skip
    layout = {"rosettes": [{"name": "R", "channels": ["RA", "RB", "RC"], "angles": "/".join(f"{a:g}" for a in angles)}]}
    return gauged(columns, channels=channels, layout=layout, units=dict.fromkeys(columns, "um/m"))


@pytest.mark.parametrize("angles", [(0.0, 45.0, 90.0), (0.0, 60.0, 120.0)])
@pytest.mark.parametrize("K", [0.0, 0.013])
def test_a_rosette_gives_the_planted_field_back(gauged, plain, angles, K):
    state = (300.0, -500.0, 600.0)
    signals = _rosette(gauged, plain, state, angles, K, first=25.0)
    values, vectors = np.linalg.eigh(np.array([[300.0, 300.0], [300.0, -500.0]]))
    found = {name: signals.found[f"R {name}"].values[TOP] for name in ("larger", "smaller", "shear", "angle")}
    assert found["larger"] == pytest.approx(values[1] * 1e-6, abs=1e-11)
    assert found["smaller"] == pytest.approx(values[0] * 1e-6, abs=1e-11)
    assert found["shear"] == pytest.approx((values[1] - values[0]) * 1e-6, abs=1e-11)
    turn = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
    assert (found["angle"] - turn + 90.0) % 180.0 - 90.0 == pytest.approx(0.0, abs=1e-4)
    (note,) = [n for n in signals.notes if n.startswith("rosette R at the largest load")]
    assert "principal strains 400 and -600 um/m" in note
    assert "transverse sensitivity" not in {c.name for c in scale_components(signals.found["RA"], TOP)}
    assert "the larger at 18.4 deg from the x axis" in note


def test_equal_principal_strains_have_no_direction(gauged, plain):
    signals = _rosette(gauged, plain, (400.0, 400.0, 1.0), (0.0, 45.0, 90.0))
    (note,) = [n for n in signals.notes if n.startswith("rosette R")]
    assert note.endswith("they are equal within their uncertainty, so they have no direction")


def test_the_uncertainty_of_a_rosette_by_random_draws():
    from cracktie.lab.strain import principal, tensor
    from cracktie.reduction.corrections import rosette_uncertainty

    readings, u, angles = (300e-6, 100e-6, -400e-6), (4e-6, 9e-6, 6e-6), (0.0, 45.0, 90.0)
    drawn = np.random.default_rng(7).normal(readings, u, (40_000, 3)).T
    big, small, angle = principal(*tensor(tuple(drawn), angles))
    spread = [np.std(v) for v in (big, small, big - small, angle)]
    assert rosette_uncertainty(readings, u, angles) == pytest.approx(spread, rel=0.03)


def test_a_rosette_without_one_gauge_is_told(gauged, plain):
    channels = [{"name": n, "quantity": "concrete strain"} for n in ("RA", "RB", "RC")]
    layout = {"rosettes": [{"name": "R", "channels": ["RA", "RB", "RC"]}]}
    signals = gauged({"RA": plain[0]()["G1"]}, channels=channels, layout=layout, units={"RA": "um/m"})
    assert "rosette R: not read, no readings of RB, RC" in signals.notes
