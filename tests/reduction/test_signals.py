"""From logs to channels: units, signs, maps, zeros, choices, clocks, and logs that cannot be used."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
import pytest

from cracktie.actions import reduce
from cracktie.campaign.choices import Excluded
from cracktie.reduction import reduce_test
from cracktie.reduction.signals import NotReduced, read_signals


def _signals(campaign):
    return read_signals(campaign, "T", campaign.tests["T"], "A")


def _hashes(folder):
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in (folder / "logs").iterdir()}


def _choose(changed, **choice):
    return changed("reduction", lambda r: r["tests"]["T"].update(choice))


def test_units_become_newton_millimetre_and_ratio(build):
    found = _signals(build()).found
    assert np.nanmax(found["P"].values) == pytest.approx(100e3)
    assert np.nanmax(found["G1"].values) == pytest.approx(2000e-6)
    assert found["D"].values[400] == pytest.approx(9.0)


@pytest.mark.parametrize(("unit", "scale"), [("", 1e-6), ("um/m", 1.0), ("mm/m", 1e-3)])
def test_strain_in_ratio_or_micrometre_per_metre_or_permille(build, plain, unit, scale):
    record, csv = plain
    columns = record()
    columns["G1"] = columns["G1"] * scale if unit else columns["G1"]
    rig_unit = {} if unit else {"G1": "um/m"}
    found = _signals(build(logs={"logs/T.csv": csv(columns, {"G1": unit} if unit else rig_unit)})).found
    assert np.nanmax(found["G1"].values) == pytest.approx(2000e-6, rel=1e-3)


def test_a_channel_whose_unit_fits_no_strain_is_left_out_with_a_note(build, plain):
    record, csv = plain
    signals = _signals(build(logs={"logs/T.csv": csv(record(), {"G1": "mm"})}))
    assert "G1" not in signals.found
    assert any("column 'G1' is left out" in note for note in signals.notes)


def test_sign_and_factor(build, changed):
    def wired(rig):
        rig["layouts"]["all"]["channels"][1].update(sign=-1, factor=2.5)

    assert _signals(build(**changed("rig", wired))).found["D"].values[400] == pytest.approx(-22.5)


def test_unmapped_columns_are_told_in_one_note(build, plain):
    record, csv = plain
    signals = _signals(build(logs={"logs/T.csv": csv(record() | {"X": record()["P"], "Y": record()["P"]})}))
    assert signals.notes == ["logs/T.csv: not used, of no channel of the layout: column 'X', 'Y'"]


def test_a_map_and_an_alias_name_columns(build, plain, changed):
    record, csv = plain
    columns = record()
    renamed = {"Time": columns["Time"], "K1": columns["P"], "AI 2": columns["D"]}
    units = {"K1": "kN", "AI 2": "mm"}
    choice = _choose(changed, logs=[{"log": "logs/T.csv", "map": {"K1": "P"}}])
    rig = changed("rig", lambda r: r["layouts"]["all"]["channels"][1].update(alias="AI 2"))
    found = _signals(build(logs={"logs/T.csv": csv(renamed, units)}, **choice, **rig)).found
    assert set(found) == {"P", "D"}
    assert np.nanmax(found["P"].values) == pytest.approx(100e3)


def test_zero_windows_by_channel_and_by_log(build, plain, changed):
    """Rest reads 5 kN and 3 mm; the window of D lies where D is 4.5 mm higher than at rest (110 s)."""
    record, csv = plain
    columns = record()
    columns["P"], columns["D"] = columns["P"] + 5.0, columns["D"] + 3.0
    zeros = [
        {"start": "0 s", "end": "18 s"},
        {"start": "109 s", "end": "111 s", "channels": ["D"]},
        {"start": "50 s", "end": "60 s", "log": "logs/T.csv", "channels": ["G2"]},
    ]
    found = _signals(build(logs={"logs/T.csv": csv(columns)}, **_choose(changed, zeros=zeros))).found
    assert found["P"].values[400] == pytest.approx(100e3)
    assert found["D"].values[400] == pytest.approx(4.5)
    assert found["G1"].values[400] == pytest.approx(2000e-6)
    assert found["G2"].values[400] == pytest.approx(1500e-6 * (1 - 35 / 180))


def test_without_a_zero_window_the_first_rows_are_taken_and_told_once(build, changed):
    signals = _signals(build(**changed("reduction", lambda r: r["tests"].clear())))
    told = [note for note in signals.notes if "no zero window is named" in note]
    assert len(told) == 1
    assert signals.found["P"].values[400] == pytest.approx(100e3)


def test_excluded_and_dead_channels(build, changed):
    choice = _choose(changed, excluded=[{"channel": "G1", "reason": "wet", "after": "100 s"}])
    dead = changed("tests", lambda t: t["tests"]["T"].update(dead_channels=["G2"]))
    signals = _signals(build(**choice, **dead))
    values = signals.found["G1"].values
    assert np.isfinite(values[:200]).all()
    assert np.isnan(values[200:]).all()
    assert "G2" not in signals.found
    assert signals.notes == ["G1: left out by choice from 100 s on, wet"]


@pytest.mark.parametrize(("after", "before", "out"), [(100, 110, (200, 220)), (110, 100, (220, 440, 0, 200))])
def test_two_times_leave_out_what_lies_between_or_both_ends(build, changed, after, before, out):
    choice = {"channel": "D", "reason": "wet", "after": f"{after} s", "before": f"{before} s"}
    missing = np.flatnonzero(np.isnan(_signals(build(**_choose(changed, excluded=[choice]))).found["D"].values))
    expected = sorted(i for a, b in zip(out[::2], out[1::2], strict=True) for i in range(a, b))
    assert missing.tolist() == expected


def test_a_lost_gauge_is_cut_and_told_in_one_line_with_the_choice(build, plain, changed):
    record, csv = plain
    columns = record()
    columns["G1"] = np.where(columns["Time"] >= 120.0, 19999.0, columns["G1"])
    choice = _choose(changed, excluded=[{"channel": "G1", "reason": "wet", "after": "119 s"}])
    signals = _signals(build(logs={"logs/T.csv": csv(columns)}, **choice))
    assert signals.found["G1"].lost.time == pytest.approx(120.0)
    (note,) = signals.notes
    assert note.startswith("G1: left out by choice from 119 s on, wet; lost at 120.0 s")


def test_an_unknown_encoding_is_one_short_note(build, plain):
    record, csv = plain
    data = csv(record(), {"G1": "µm/m"}).encode("latin-1")
    result = reduce_test(build(logs={"logs/T.csv": data}), "T")
    said = "logs/T.csv: read as cp1252; numbers are not affected (`encoding: cp1252` in reduction.yaml settles it)"
    assert result.notes == (said,) + result.notes[1:]
    assert not any("cp1252" in line for log in result.logs for line in log.report)
    assert sum("cp1252" in note for note in result.notes) == 1


# two loggers


def _two_logs(plain, lag=33.0, load=True):
    record, csv = plain
    columns = record()
    late = {"Time": columns["Time"] + lag, "G1": columns["G1"], "G2": columns["G2"]}
    if load:
        late["P"] = columns["P"]
    return {"logs/T.csv": csv({n: columns[n] for n in ("Time", "P", "D")}), "logs/U.csv": csv(late)}


def _with_two(changed, **log):
    zeros = [
        {"start": "0 s", "end": "18 s", "log": "logs/T.csv"},
        {"start": "34 s", "end": "50 s", "log": "logs/U.csv"},
    ]
    logs = [{"log": "logs/U.csv", **log}] if log else []
    return {
        **changed("tests", lambda t: t["tests"]["T"].update(logs=["logs/T.csv", "logs/U.csv"])),
        **changed("reduction", lambda r: r["tests"]["T"].update(zeros=zeros, logs=logs)),
    }


def test_a_stated_clock_offset_is_taken_as_stated(build, plain, changed):
    signals = _signals(build(logs=_two_logs(plain, load=False), **_with_two(changed, clock_offset="-33 s")))
    assert signals.found["G1"].values[300] == pytest.approx(2000e-6 * (150 - 20) / 180)
    assert signals.notes[-1] == "logs/U.csv: clock moved by -33.000 s (stated in reduction.yaml)"


def test_a_log_whose_clock_cannot_be_placed_is_left_out(build, plain, changed):
    signals = _signals(build(logs=_two_logs(plain, load=False), **_with_two(changed)))
    assert "G1" not in signals.found
    assert signals.notes[-1] == (
        "logs/U.csv: left out, its clock could not be placed: falls of P against jumps of gauges: 1 and 1 sudden events"
        ", no two go together; were the last of each one event, clock_offset would be -33.00 s; state clock_offset"
    )
    assert len(signals.logs) == 2  # read, so its hash belongs to the result


def test_a_shared_load_places_the_second_clock(build, plain, changed):
    signals = _signals(build(logs=_two_logs(plain), **_with_two(changed)))
    step = next(s for s in signals.trail if s.name == "synchronise")
    assert dict(step.arguments)["offset_s"] == pytest.approx(-33.0, abs=0.3)
    assert dict(step.arguments)["u_s"] > 0


def test_choices_and_losses_of_the_second_log_are_in_times_of_the_first(build, plain, changed):
    """G1 of the second log ends at 153 s of its clock, 33 s ahead: 120 s of the first. G2 is left out from 100 s."""
    record, csv = plain
    logs = _two_logs(plain)
    columns = record()
    lost = np.where(columns["Time"] >= 120.0, 19999.0, columns["G1"])
    logs["logs/U.csv"] = csv({"Time": columns["Time"] + 33.0, "G1": lost, "G2": columns["G2"], "P": columns["P"]})
    campaign = build(logs=logs, **_with_two(changed, clock_offset="-33 s"))
    wet = [Excluded(channel="G2", reason="wet", after="100 s")]
    chosen = {"T": campaign.reduction.tests["T"].model_copy(update={"excluded": wet})}
    campaign = replace(campaign, reduction=campaign.reduction.model_copy(update={"tests": chosen}))
    signals = _signals(campaign)
    assert signals.found["G1"].lost.time == pytest.approx(120.0)
    assert signals.time[signals.found["G1"].lost.row] == pytest.approx(120.0)
    assert any(note.startswith("G1: lost at 120.0 s") for note in signals.notes)
    values = signals.found["G2"].values
    assert np.isfinite(values[signals.time < 100.0][1:]).all()
    assert np.isnan(values[signals.time >= 100.0]).all()


# logs that cannot be used


def test_raw_logs_are_only_read(build, plain):
    campaign = build()
    before = _hashes(campaign.folder)
    stamp = (campaign.folder / "logs" / "T.csv").stat().st_mtime_ns
    result = reduce(campaign)
    assert result.tests["T"].logs[0].sha256 == before["T.csv"]
    assert _hashes(campaign.folder) == before
    assert (campaign.folder / "logs" / "T.csv").stat().st_mtime_ns == stamp


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "empty"),
        (b"\n\n\n", "blanks"),
        (bytes(range(256)) * 40, "binary"),
        (b"Time [s],P [kN]\n", "none of them readings"),
        (b"Time [s],P [kN]\n0,1\n1,2\n", "no usable load: P: not zeroed"),
        (b"Time [s],D [mm]\n0,1\n1,2\n2,3\n3,4\n4,5\n", "no column is mapped to a load"),
        (b"A [mm],P [kN]\n9,1\n1,2\n8,3\n3,4\n0,5\n", "no time column"),
        (b"Time [s],P [kN]\n0,x\n1,x\n2,x\n3,x\n4,x\n", "none of them readings"),
    ],
)
def test_a_log_that_cannot_be_used_is_skipped_with_its_reason(build, content, reason):
    result = reduce(build(logs={"logs/T.csv": content}))
    assert result.tests == {}
    assert set(result.skipped) == {"T"}
    assert reason in result.skipped["T"]
    (warning,) = result.warnings
    assert "not reduced" in str(warning)


def test_damaged_logs_reduce_or_say_why(build, plain):
    """Sixty damaged copies of a log: cut, bytes changed, lines doubled, swapped, dropped; never an exception."""
    record, csv = plain
    whole = csv(record()).encode()
    campaign, reasons = build(), 0
    for seed in range(60):
        (campaign.folder / "logs" / "T.csv").write_bytes(_damaged(whole, seed))
        result = reduce(campaign)
        assert set(result.tests) | set(result.skipped) == {"T"}
        for reason in result.skipped.values():
            reasons += 1
            assert len(reason) > 20
            assert "\n" not in reason
    assert 0 < reasons < 60


def _damaged(data: bytes, seed: int) -> bytes:
    rng = np.random.default_rng(seed)
    lines = data.split(b"\n")
    i, j = sorted(int(k) for k in rng.integers(0, len(lines), 2))
    kind = seed % 6
    if kind == 0:
        return data[: int(rng.integers(0, len(data)))]
    if kind == 1:
        changed = bytearray(data)
        for place in rng.integers(0, len(data), 1 + seed):
            changed[place] = int(rng.integers(0, 256))
        return bytes(changed)
    if kind == 2:
        lines[i], lines[j] = lines[j], lines[i]
    elif kind == 3:
        lines[i:i] = lines[i : j + 1]
    elif kind == 4:
        del lines[i:j]
    else:
        lines = [line.replace(b",", b";", 1) if n % 3 == 0 else line for n, line in enumerate(lines)]
    return b"\n".join(lines)


def test_a_log_that_is_gone_is_skipped(build):
    campaign = build()
    (campaign.folder / "logs" / "T.csv").unlink()
    assert "T" in reduce(campaign).skipped


def test_a_test_without_a_log_is_skipped_without_a_warning(build, changed):
    result = reduce(build(**changed("tests", lambda t: t["tests"]["T"].pop("logs"))))
    assert result.skipped == {"T": "no log"}
    assert result.warnings == ()


def test_time_that_runs_backwards_is_refused(build, plain):
    record, csv = plain
    columns = record()
    columns["Time"] = columns["Time"].copy()
    columns["Time"][100] = 10.0
    with pytest.raises(NotReduced, match="runs backwards"):
        _signals(build(logs={"logs/T.csv": csv(columns)}))


def test_channels_that_a_window_leaves_without_a_zero_share_one_note(build, changed):
    """The window lies outside the record for gauges and deflection, the load has its own."""
    windows = [{"start": "900 s", "end": "910 s"}, {"start": "0 s", "end": "18 s", "quantities": ["load"]}]
    reduction = changed("reduction", lambda r: r["tests"]["T"].update(zeros=windows))
    notes = reduce(build(**reduction)).test("T").notes
    told = [n for n in notes if "not zeroed" in n]
    assert len(told) == 1
    assert told[0].startswith("D, G1, G2: not zeroed, so left out: zero window from 900 s to 910 s holds 0 readings")


def test_a_zero_window_under_load_is_told(build, changed):
    """From 56 to 64 s the load passes 22.2 kN in the middle, so the rest before reads -22.2 kN."""
    window = changed("reduction", lambda r: r["tests"]["T"].update(zeros=[{"start": "56 s", "end": "64 s"}]))
    notes = reduce(build(**window)).test("T").notes
    assert any(n.startswith("P: 2 % of the readings lie below -22.22 kN: the zero window stands under") for n in notes)
    assert not any("stands under load" in n for n in reduce(build(folder="right")).test("T").notes)


def test_a_load_that_was_left_out_whole_is_refused_in_words(build, changed):
    choice = _choose(changed, excluded=[{"channel": "P", "reason": "wet"}])
    assert "the load (P) has no readings left" in reduce(build(**choice)).skipped["T"]


@pytest.mark.parametrize(("last", "told"), [(200.0, True), (219.5, False)])
def test_a_record_that_ends_at_its_peak_is_told(build, plain, last, told):
    record, csv = plain
    columns = record()
    kept = {name: values[columns["Time"] <= last] for name, values in columns.items()}
    notes = reduce(build(logs={"logs/T.csv": csv(kept)})).test("T").notes
    assert any("before the record ends: if the failure is not in it" in n for n in notes) is told


def test_a_peak_placed_below_the_largest_load_is_told(build, changed):
    choice = _choose(changed, events=[{"event": "V_max", "status": "moved", "time": "110 s"}])
    notes = reduce(build(**choice)).test("T").notes
    assert any(n.startswith("V_max stands at 50.0 kN of load") and "100.0 kN at 200.0 s" in n for n in notes)


@pytest.mark.parametrize(("size", "lost"), [(20000.0, True), (14000.0, False)])
def test_a_gauge_that_reads_more_than_fibres_bear_is_lost(build, plain, size, lost):
    """3500 MPa over 230 GPa break at 15217 um/m. The rise takes 2 s, so no sudden step tells the loss."""
    record, csv = plain
    columns = record()
    columns["G1"] += size * np.clip((columns["Time"] - 150.0) / 2.0, 0.0, 1.0)
    signals = _signals(build(logs={"logs/T.csv": csv(columns)}))
    told = [n for n in signals.notes if n.startswith("G1: lost at 15") and "the fibres break at 15217" in n]
    assert bool(told) is lost
    assert np.isnan(signals.found["G1"].values[310:]).all() == lost
