"""Instruments and readings as the campaign files state them: what is taken and what is refused, in words."""

from __future__ import annotations

import pytest

from cracktie.campaign.geometry import strip_positions
from cracktie.campaign.read import read_campaign
from cracktie.errors import InputRefused
from cracktie.reduction.signals import layout_of

from .beams import folder


def refused(place, **files) -> list[str]:
    with pytest.raises(InputRefused) as caught:
        read_campaign(folder(place, **files))
    return [str(p) for p in caught.value.problems if p.level == "error"]


def test_the_peak_that_the_controller_kept(tmp_path):
    campaign = read_campaign(folder(tmp_path, tests="tests: {T: {specimen: S1, peak_hold: 312.4 kN}}\n"))
    assert campaign.tests["T"].peak_hold == pytest.approx(312_400.0)


def test_a_peak_with_a_sign_is_refused(tmp_path):
    (told,) = refused(tmp_path, tests="tests: {T: {specimen: S1, peak_hold: -312.4 kN}}\n")
    assert told.startswith("tests.yaml:1:9: tests.T: peak_hold is the largest force the controller kept, written with")


RIG = """\
layouts:
  L:
    gauge: {gauge_factor: 2.10, gauge_factor_tolerance: 1 %, resistance: 120 ohm, lead_resistance: 0.5 ohm}
    grids:
      - {on: strips, rows: 200 mm, name: "W{strip}", uncertainty: 0.5 %, gauge: {gauge_factor: 2.12, lot: K7}}
    channels:
      - {name: P, quantity: load, unit: kN}
      - {name: T, quantity: temperature, unit: degC}
      - {name: S1, quantity: bar strain, gauge: {transverse_sensitivity: -0.3 %}}
      - name: D
        quantity: displacement
        calibration: {input: V, output: mm, points: [[0, 0], [5, 50.1], [10, 100]], uncertainty: 0.2 %}
        range: 0, 100 mm
    overrides:
      W1: {alias: AI 3, gauge: {wires: 2}}
"""
TESTS = "tests: {T1: {specimen: U1, order: 1, studied: A}, T2: {specimen: U1, order: 2, state: precracked}}\n"


def channels(place, rig=RIG, tests=TESTS, test="T1"):
    campaign = read_campaign(folder(place, rig=rig, tests=tests))
    return layout_of(campaign, campaign.tests[test], "A")


def told(place, old, new, **files):
    assert RIG.count(old) == 1
    return refused(place, rig=RIG.replace(old, new), tests=TESTS, **files)


def test_the_nearest_word_on_a_gauge_counts(tmp_path):
    found = channels(tmp_path)
    assert found["AI 3"].name == "W1"
    one, two, bar = found["W1"].gauge, found["W2"].gauge, found["S1"].gauge
    assert (one.gauge_factor, one.wires, one.resistance, one.lot) == (2.12, 2, 120.0, "K7")
    assert (two.gauge_factor, two.wires, two.leads) == (2.12, None, 3)
    assert (bar.gauge_factor, bar.transverse_sensitivity, bar.lot) == (2.10, -0.003, None)
    assert (found["W2"].uncertainty, found["P"].gauge, found["D"].gauge) == ("0.5 %", None, None)


def test_a_test_has_its_own_overrides(tmp_path):
    tests = TESTS.replace("studied: A", "studied: A, overrides: {W2: {gauge: {gauge_factor: 2.08}}, D: {sign: -1}}")
    found = channels(tmp_path, tests=tests)
    assert (found["W2"].gauge.gauge_factor, found["W3"].gauge.gauge_factor, found["D"].sign) == (2.08, 2.12, -1)
    assert found["W2"].gauge.resistance == 120.0


def test_a_gauge_factor_stays_what_it_is_in_a_file_with_units_of_strain(tmp_path):
    assert channels(tmp_path, "units: {strain: um/m}\n" + RIG)["W2"].gauge.gauge_factor == 2.12


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "resistance: 120 ohm, ",
            "",
            "rig.yaml:3:5: layouts.L.gauge: leads and shunt need the resistance of the gauge; "
            "add for example resistance: 120 ohm",
        ),
        (
            "wires: 2",
            "wires: 4",
            "rig.yaml:15:25: layouts.L.overrides.W1.gauge: W1: 4 wires do not fit a quarter bridge; "
            "write 2 or 3 for a quarter bridge, 3 for a half one, 4 or 6 (sensed) for a full one",
        ),
        (
            "transverse_sensitivity: -0.3 %",
            "dummy: X9",
            "rig.yaml:9:42: layouts.L.channels.3.gauge: S1: dummy: there is no channel 'X9'; possible: "
            "W1, W2, W3, W4, W5, W6, W7",
        ),
        (
            "transverse_sensitivity: -0.3 %",
            "temperature: W1, alpha_gauge: 11 um/m/K, alpha_substrate: 11 um/m/K",
            "rig.yaml:9:42: layouts.L.channels.3.gauge: S1: temperature: W1 measures FRP strain; "
            "name a channel of quantity: temperature",
        ),
        (
            "transverse_sensitivity: -0.3 %",
            "temperature: T",
            "rig.yaml:9:42: layouts.L.channels.3.gauge: S1: a temperature says nothing without coefficients; "
            "add alpha_gauge and alpha_substrate, or the maker's thermal_curve",
        ),
        (
            "transverse_sensitivity: -0.3 %",
            "alpha_gauge: 11e-6",
            "rig.yaml:9:63: layouts.L.channels.3.gauge.alpha_gauge = '11e-6': is no change per degree; "
            "write for example '11 um/m/K', '0.9 %/100K' or '11 ppm/K'",
        ),
        (
            "[5, 50.1], [10, 100]",
            "[5, 50.1], [3, 100]",
            "rig.yaml:12:9: layouts.L.channels.4.calibration: points need two rows or more in rising order of input; "
            "sort [input, output] rows",
        ),
        (
            "output: mm",
            "output: kN",
            "rig.yaml:10:9: layouts.L.channels.4: calibration.output = 'kN': 'kN' does not measure a length; "
            "write for example '60 mm'",
        ),
        (
            "range: 0, 100 mm",
            "range: 100, 0 mm",
            "rig.yaml:10:9: layouts.L.channels.4: range = '100, 0 mm': a range goes from the lower to the higher end; "
            "write for example '0, 100 mm'",
        ),
        (
            "uncertainty: 0.5 %",
            "uncertainty: 0.5 mm",
            "rig.yaml:5:9: layouts.L.grids.1: uncertainty = '0.5 mm': 'mm' does not measure a ratio or strain; "
            "write for example '12 %'",
        ),
        (
            "quantity: load, unit: kN}",
            "quantity: load, gauge: {gauge_factor: 2.0}}",
            "rig.yaml:7:9: layouts.L.channels.1: a load has no strain gauge; write calibration: {...} for a transducer",
        ),
        (
            "gauge: {wires: 2}",
            "calibration: {output: um/m, factor: 2}",
            "rig.yaml:14:5: layouts.L.overrides: W1: gauge and calibration both make strain of the readings; keep one",
        ),
    ],
)
def test_slips_of_instruments(tmp_path, old, new, message):
    assert message in told(tmp_path, old, new)


def test_rosettes_name_strain_gauges(tmp_path):
    rosettes = "    rosettes: [{name: R, channels: [W1, W2, P]}, {name: Q, channels: [W1, W2, W22]}]\n    overrides:\n"
    assert told(tmp_path, "    overrides:\n", rosettes) == [
        "rig.yaml:14:45: layouts.L.rosettes.1.channels.3 = 'P': measures load, no strain; name three strain gauges",
        "rig.yaml:14:79: layouts.L.rosettes.2.channels.3 = 'W22': there is no such channel in the layout; "
        "did you mean 'W2'?",
    ]


@pytest.mark.parametrize(
    ("choice", "message"),
    [
        (
            "zeros: [{start: 9 s, end: 2 s}]",
            "reduction.yaml:1:22: tests.T2.zeros.1: a window from 9 s to 2 s has no readings; put the earlier first",
        ),
        (
            "zeros: [{start: 0 s, end: 2 s, channels: [P], value: 60 mm}]",
            "reduction.yaml:1:67: tests.T2.zeros.1.value = '60 mm': 'mm' does not measure a force; "
            "write for example '120 kN'",
        ),
        (
            "zeros: [{start: 0 s, end: 2 s, value: 60 kN}]",
            "reduction.yaml:1:22: tests.T2.zeros.1: value stands for channels of different units; "
            "name the channels it belongs to",
        ),
        (
            "zeros: [{start: 0 s, end: 2 s, channels: [S1], carry: {test: T3}}]",
            "reduction.yaml:1:75: tests.T2.zeros.1.carry.test = 'T3': there is no such test; possible: T1, T2",
        ),
        (
            "zeros: [{start: 0 s, end: 2 s, channels: [S1], carry: {test: T2}}]",
            "reduction.yaml:1:75: tests.T2.zeros.1.carry.test = 'T2': is no earlier test of the beam; "
            "give both their order: 1, 2, ...",
        ),
        (
            "flags: [{channel: W1}]",
            "reduction.yaml:1:22: tests.T2.flags.1: a flag has its time, or start and end; "
            "write for example time: 312.4 s",
        ),
        (
            "flags: [{channel: W1, start: 9 s, end: 2 s}]",
            "reduction.yaml:1:22: tests.T2.flags.1: a window from 9 s to 2 s has no readings; put the earlier first",
        ),
    ],
)
def test_slips_of_choices(tmp_path, choice, message):
    assert refused(tmp_path, rig=RIG, tests=TESTS, reduction=f"tests: {{T2: {{{choice}}}}}\n") == [message]


def test_a_choice_on_no_channel_is_told(tmp_path):
    text = "tests: {T1: {excluded: [{channel: W21, reason: wet}], absolute: [P]}}\n"
    campaign = read_campaign(folder(tmp_path, rig=RIG, tests=TESTS, reduction=text))
    assert [str(w) for w in campaign.warnings if w.file == "reduction.yaml"] == [
        "reduction.yaml:1:35: tests.T1.excluded.1.channel = 'W21': there is no such channel in the layout; "
        "did you mean 'W2'?"
    ]


def test_a_map_names_channels_of_the_layout_each_once(tmp_path):
    text = "tests: {T1: {logs: [{log: logs/T1.csv, map: {A: W21, B: P, C: P}}]}}\n"
    (tmp_path / "logs").mkdir(exist_ok=True)
    tests = TESTS.replace("T1: {", "T1: {logs: [logs/T1.csv], ")
    place = folder(tmp_path, rig=RIG, tests=tests, reduction=text)
    (place / "logs").mkdir(exist_ok=True)
    (place / "logs/T1.csv").write_text("Time [s],A,B,C\n0,1,1,1\n")
    said = [str(w) for w in read_campaign(place).warnings if w.file == "reduction.yaml"]
    assert [s.removeprefix("reduction.yaml:1:").replace("tests.T1.logs.1.map.", "") for s in said] == [
        "49: A = 'W21': there is no such channel in the layout; did you mean 'W2'?",
        "63: C = 'P': column 'B' is mapped to P, too; one of both is lost; keep one",
    ]


def test_an_event_on_a_strip_that_is_not_there_is_told(tmp_path):
    events = "{event: debonding, strip: 9, face: front, status: added, time: 6 s}, {event: anchor failure, anchor: 1F}"
    text = f"tests: {{T1: {{events: [{events}]}}}}\n"
    campaign = read_campaign(folder(tmp_path, rig=RIG, tests=TESTS, reduction=text))
    test = campaign.tests["T1"]
    count = len(strip_positions(campaign.specimen(test.specimen), test.studied or "A"))
    said = [str(w) for w in campaign.warnings if w.file == "reduction.yaml"]
    assert said == [f"reduction.yaml:1:23: tests.T1.events.1: there is no strip 9; the span has strips 1 to {count}"]
