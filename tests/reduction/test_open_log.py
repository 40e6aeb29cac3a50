"""Logs opened for reduction: named loggers, restarts, lost times, several tables, and what is asked in which words."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import InputRefused
from cracktie.reduction import reduce_test
from cracktie.reduction.readings import NotReduced
from cracktie.reduction.signals import read_signals

OLD = {"Time": "Clock", "P": "K01", "D": "K02", "G1": "K03", "G2": "K04"}
UNITS = {"K01": "kN", "K02": "mm", "K03": "um/m", "K04": "um/m"}
CABINET = {"map": {"K01": "P", "K02": "D", "K03": "G1", "K04": "G2"}, "time": "Clock"}


@pytest.fixture
def cabinet(build, plain, changed):
    """A campaign whose log has the old logger's columns; loggers and choices as given."""
    record, csv = plain

    def make(loggers, choice=None, columns=None, encode="utf-8"):
        table = columns or {OLD[name]: values for name, values in record().items()}

        def choose(reduction):
            reduction["loggers"] = loggers
            reduction["tests"]["T"] = {**reduction["tests"].get("T", {}), **(choice or {})}

        data = csv(table, {k: u for k, u in UNITS.items() if k in table})
        data = data if isinstance(data, bytes) else data.encode(encode)
        return build(logs={"logs/T.csv": data}, **changed("reduction", choose))

    return make


def lines(columns):
    """A log of columns of texts or numbers."""
    head = ",".join(columns)
    return head + "\n" + "\n".join(",".join(map(str, row)) for row in zip(*columns.values(), strict=True)) + "\n"


def signals(campaign):
    return read_signals(campaign, "T", campaign.tests["T"], "A")


def test_the_only_logger_that_fits_is_used_and_told(cabinet):
    found = signals(cabinet({"cabinet": CABINET, "hall": {"map": {"AI1": "P"}}}))
    assert set(found.found) == {"P", "D", "G1", "G2"}
    assert np.nanmax(found.found["P"].values) == pytest.approx(100e3)
    assert "logs/T.csv: read as logger 'cabinet', whose columns it has" in found.notes
    (step,) = [s for s in found.trail.steps if s.name == "columns"]
    assert dict(step.arguments)["logger"] == "cabinet"


def test_two_loggers_that_fit_are_not_chosen_between(cabinet):
    turned = {"map": {"K01": "D", "K02": "P", "K03": "G1", "K04": "G2"}, "time": "Clock"}
    with pytest.raises(NotReduced, match="those of loggers 'cabinet', 'turned'; name one"):
        signals(cabinet({"cabinet": CABINET, "turned": turned}))
    choice = {"logs": [{"log": "logs/T.csv", "logger": "cabinet"}]}
    found = signals(cabinet({"cabinet": CABINET, "turned": turned}, choice))
    assert np.nanmax(found.found["P"].values) == pytest.approx(100e3)


def test_a_column_more_or_less_is_no_fit(cabinet):
    short = {"map": {"K01": "P", "K02": "D"}, "time": "Clock"}
    long = {"map": {**CABINET["map"], "K05": "G3"}, "time": "Clock"}
    with pytest.raises(NotReduced, match="no column is mapped"):
        signals(cabinet({"short": short, "long": long}))


def test_a_log_states_over_its_logger(cabinet):
    choice = {"logs": [{"log": "logs/T.csv", "logger": "cabinet", "map": {"K02": "none of the layout"}}]}
    found = signals(cabinet({"cabinet": CABINET}, choice))
    assert set(found.found) == {"P", "G1", "G2"}
    assert any("column 'K02'" in note for note in found.notes)


def test_an_own_map_is_not_joined_by_a_logger(cabinet):
    choice = {"logs": [{"log": "logs/T.csv", "map": {"K01": "P"}, "time": "Clock"}]}
    assert set(signals(cabinet({"cabinet": CABINET}, choice)).found) == {"P"}


def test_what_a_logger_answers_is_not_asked_and_read_again(cabinet, plain):
    """Points before three digits in every number: decimals, or thousands if the logger says so."""
    record, _ = plain
    load = [f"{1 + i % 9}.{100 + i}" for i in range(len(record()["Time"]))]
    text = lines({"Clock [s]": range(len(load)), "K01": load})
    text = text.replace(",", ";")
    cabinet({"cabinet": {"map": {"K01": "P"}, "time": "Clock"}})

    def found(**words):
        campaign = cabinet({"cabinet": {"map": {"K01": "P"}, "time": "Clock", **words}})
        (campaign.folder / "logs" / "T.csv").write_text(text, encoding="utf-8")
        return signals(campaign)

    asked, told = found(), found(decimal=",")
    assert any("decimal point or thousands mark" in note or "three digits" in note for note in asked.notes)
    assert not any("three digits" in note for note in told.notes)
    assert np.ptp(told.found["P"].values) == pytest.approx(1000 * np.ptp(asked.found["P"].values))


def test_no_map_lists_columns_channels_and_the_lines_to_write(cabinet, plain):
    record, _ = plain
    names = {"Time": "Time", "P": "Load cell", "D": "d", "G1": "g-1", "G2": "AI 4"}
    with pytest.raises(NotReduced) as caught:
        signals(cabinet({}, columns={names[n]: v for n, v in record().items()}))
    text = str(caught.value)
    assert "logs/T.csv has columns 'Time'" in text
    assert "'Load cell'" in text
    assert "channels without a column: P (load)" in text
    assert 'logs: [{log: logs/T.csv, map: {"Load cell": ...' in text


def test_a_map_that_names_absent_columns_says_so(cabinet):
    choice = {"logs": [{"log": "logs/T.csv", "time": "Clock", "map": {**CABINET["map"], "K00001": "P2"}}]}
    found = signals(cabinet({}, choice))
    assert any("the map has columns that the log has not: 'K00001'; did you mean 'K01'?" in n for n in found.notes)


def restarted(record, at):
    """The record with a logger that was started anew at a row: its time begins at zero again."""
    table = record()
    time = table["Time"].copy()
    time[at:] -= time[at]
    return {**table, "Time": time}


def test_a_restart_is_asked_and_the_answer_taken(build, plain, changed):
    record, csv = plain
    whole = record()
    table = restarted(record, 40)
    data = csv(table, {"P": "kN", "D": "mm", "G1": "um/m", "G2": "um/m"})

    def campaign(**words):
        choice = {"logs": [{"log": "logs/T.csv", **words}]}
        return build(logs={"logs/T.csv": data}, **changed("reduction", lambda r: r["tests"]["T"].update(choice)))

    with pytest.raises(NotReduced, match=r"runs backwards at row 41.*segment: 1.*1: rows 1 to 40.*2: rows 41 to"):
        signals(campaign())
    joined = signals(campaign(segment="all"))
    assert len(joined.time) == len(whole["Time"])
    assert (np.diff(joined.time) > 0).all()
    assert any(s.name == "join segments" for s in joined.trail.steps)
    second = signals(campaign(segment="2"))
    assert len(second.time) == len(whole["Time"]) - 40
    assert second.time[0] == 0.0
    (read,) = [s for s in second.trail.steps if s.name == "read"]
    (first,) = [s for s in joined.trail.steps if s.name == "read"]
    assert dict(read.arguments)["first_line"] == dict(first.arguments)["first_line"] + 40
    with pytest.raises(NotReduced, match="no segment 3; it has 1: rows 1 to 40"):
        signals(campaign(segment="3"))


def test_rows_without_a_time_are_put_between_their_neighbours(build, plain):
    record, _ = plain
    table = record()
    time = [*table["Time"][:50], "", *table["Time"][51:]]
    found = signals(build(logs={"logs/T.csv": lines({"Time [s]": time, "P [kN]": table["P"]})}))
    np.testing.assert_allclose(found.time, table["Time"], rtol=0, atol=1e-9)
    assert any("1 rows have no time" in note for note in found.notes)


def dated(plain, day):
    """The record with stamps of a day."""
    record, _ = plain
    table = record()
    clock = [f"{day} 10:{int(t) // 60:02d}:{t % 60:06.3f}" for t in table["Time"]]
    return lines({"Time": clock, "P [kN]": table["P"], "D [mm]": table["D"]})


def test_the_day_of_the_readings_against_the_day_of_the_test(build, plain, changed):
    stated = changed("tests", lambda t: t["tests"]["T"].update(date="2026-03-04"))
    found = signals(build(logs={"logs/T.csv": dated(plain, "2026-04-03")}, **stated))
    assert any("of 2026-04-03, the test of 2026-03-04: day and month are swapped" in note for note in found.notes)


def test_the_day_of_the_test_settles_ambiguous_dates(build, plain, changed):
    logs = {"logs/T.csv": dated(plain, "03.04.2026")}
    stated = changed("tests", lambda t: t["tests"]["T"].update(date="2026-04-03"))
    assert not any("day-month" in note for note in signals(build(logs=logs, **stated)).notes)
    asked = signals(build(logs=logs)).notes
    assert any("answer with `date_order: dmy` or `date_order: mdy` at this log in reduction.yaml" in n for n in asked)


def test_channels_of_a_slower_table_come_onto_the_clock_of_the_fast_one(build, plain, changed):
    """A container with two rates: the slow gauge reads the same straight line as it would at the fast rate."""
    nptdms = pytest.importorskip("nptdms")
    import io

    record, _ = plain
    table = record()
    step = float(table["Time"][1] - table["Time"][0])
    stream = io.BytesIO()
    with nptdms.TdmsWriter(stream) as writer:
        fast = [nptdms.ChannelObject("rig", n, table[n].astype(float), {"unit_string": u, "wf_increment": step})
                for n, u in (("P", "kN"), ("D", "mm"), ("G1", "um/m"))]  # fmt: skip
        kept = {"unit_string": "um/m", "wf_increment": 2 * step}
        slow = nptdms.ChannelObject("gauges", "G2", table["G2"][::2].astype(float), kept)
        writer.write_segment([*fast, slow])
    tests = changed("tests", lambda t: t["tests"]["T"].update(logs=["logs/T.tdms"]))
    campaign = build(logs={"logs/T.tdms": stream.getvalue()}, **tests)
    found = signals(campaign)
    assert set(found.found) == {"P", "D", "G1", "G2"}
    before = table["Time"] < 200.0  # the fall at the peak lies between two slow readings
    np.testing.assert_allclose(found.found["G2"].values[before], table["G2"][before] * 1e-6, rtol=0, atol=1e-6)
    assert any("of block 'gauges', G2: put onto the clock" in note for note in found.notes)


def test_a_whole_test_reduces_by_its_logger(cabinet):
    assert reduce_test(cabinet({"cabinet": CABINET}), "T").value("V_max") is not None


def test_an_unknown_logger_is_refused(cabinet):
    with pytest.raises(InputRefused, match="no such logger; did you mean 'cabinet'"):
        cabinet({"cabinet": CABINET}, {"logs": [{"log": "logs/T.csv", "logger": "cabinett"}]})


def test_a_log_in_newtons_among_kilonewtons_is_told(build, plain, changed):
    """The header says kN and the readings are N: the series tells."""
    from cracktie.reduction import reduce_campaign

    record, csv = plain
    wrong = record()
    wrong["P"] = wrong["P"] * 1000.0
    logs = {"logs/T.csv": csv(record()), "logs/U.csv": csv(record()), "logs/W.csv": csv(wrong)}

    def more(tests):
        for name in "UW":
            tests["tests"][name] = {**tests["tests"]["T"], "logs": [f"logs/{name}.csv"]}

    reduced = reduce_campaign(build(logs=logs, **changed("tests", more)))
    (told,) = [w for w in reduced.warnings if "times the median of the tests" in w.message]
    assert (told.key, "N for kN" in told.message) == ("W", True)


@pytest.mark.parametrize(("map_", "taken"), [({"E": "D"}, "E"), ({}, "D"), ({"D": "G1"}, "D")])
def test_of_two_columns_for_one_channel_that_of_the_map_counts_and_both_are_told(build, plain, changed, map_, taken):
    """Column E holds twice the deflection; the map, or its name as an alias, makes it that of channel D."""
    record, csv = plain
    columns = record()
    columns["E"] = 2.0 * columns["D"]
    text = csv(columns, {"E": "mm"})
    choice = {"logs": [{"log": "logs/T.csv", "map": map_}]} if map_ else {}
    reduction = changed("reduction", lambda r: r["tests"]["T"].update(choice))
    rig = changed("rig", lambda r: r["layouts"]["all"]["channels"][1].update(alias="E" if not map_ else "D"))
    found = signals(build(logs={"logs/T.csv": text}, **reduction, **rig))
    told = [n for n in found.notes if "both carry" in n]
    assert len(told) == 1
    assert f"{taken!r} is taken" in told[0]
    if map_ != {"D": "G1"}:
        assert found.found["D"].values[400] == pytest.approx({"E": 18.0, "D": 9.0}[taken])
