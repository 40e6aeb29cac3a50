"""Notes of the operator stand among the events, at their load."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from cracktie import actions
from cracktie.errors import InputRefused

from .conftest import csv, record


def noted(build, changed, text, **more):
    tests = changed("tests", lambda t: t["tests"]["T"].update(event_log="logs/notes.csv", **more))
    return build(**tests, logs={"logs/T.csv": csv(record()), "logs/notes.csv": text})


def test_notes_become_marks_and_others_are_told(build, changed):
    """110 s of the operator's watch is 50 % of the load: 20 s of rest and 90 of 180 s."""
    campaign = noted(build, changed, "210, first crack heard\n900, tea\n", event_log_offset="-100 s")
    test = actions.reduce(campaign).test("T")
    (mark,) = [m for m in test.marks if m.method == "operator's log"]
    assert (mark.kind, mark.time, mark.row, mark.status) == ("first crack heard", 110.0, 220, "noted")
    total = test.value("V_max")
    applied = test.value("V_max_applied")
    assert abs(mark.V - (total - applied / 2)) < 1e-4 * total
    assert any(n.startswith("logs/notes.csv:2: 'tea' at 800.0 s lies outside the record") for n in test.notes)


def test_a_changed_note_is_reduced_anew(build, changed):
    campaign = noted(build, changed, "110, crack\n")
    actions.reduce(campaign)
    (campaign.folder / "logs/notes.csv").write_text("110, bang\n")
    test = actions.reduce(actions.open_campaign(campaign.folder), fresh=False).test("T")
    assert "bang" in [m.kind for m in test.marks]


def test_a_missing_event_log_is_refused_with_its_line(build, changed):
    with pytest.raises(InputRefused, match=r"event_log = 'logs/gone\.csv': there is no such file"):
        build(**changed("tests", lambda t: t["tests"]["T"].update(event_log="logs/gone.csv")))


def test_a_bad_line_is_left_out_and_told(build, changed):
    """The readings of a test do not hang on its notes: one line without a time leaves the others and the results."""
    test = actions.reduce(noted(build, changed, "110, crack\nsoon, bang\n120\n")).test("T")
    assert "V_max" in test.values
    assert [m.kind for m in test.marks if m.method == "operator's log"] == ["crack"]
    told = [n for n in test.notes if n.startswith("left out of the event log: logs/notes.csv:")]
    assert [t.split(":")[2] for t in told] == ["2", "3"]


def test_notes_of_a_spreadsheet_are_read_in_its_encoding(build, changed):
    campaign = noted(build, changed, b"Uhrzeit;Bemerkung\n110;Ri\xdf\n")
    test = actions.reduce(campaign).test("T")
    assert [m.kind for m in test.marks if m.method == "operator's log"] == ["Riß"]
    assert not any("event log" in n for n in test.notes)


def test_an_event_log_that_is_no_text_is_a_note(build, changed):
    campaign = noted(build, changed, b"110, Ri\xdf\0\n")
    test = actions.reduce(campaign).test("T")
    assert "V_max" in test.values
    assert any(n.startswith("the event log is not used: ") and "UTF-8" in n for n in test.notes)


def test_times_of_day_lie_on_the_stamps_of_the_log(build, changed):
    """The log begins at 10:02:00; a note of 10:03:50,5 stands 110.5 s later. A stated offset goes before the stamps."""
    columns = record()
    rows = csv(columns).splitlines()
    start = datetime(2026, 5, 19, 10, 2)
    stamped = [f"{start + timedelta(seconds=float(r.split(',')[0]))}".ljust(26, "0") for r in rows[1:]]
    stamped = [s.replace("0000000", "") if "." not in s else s for s in stamped]
    text = rows[0].replace("Time [s]", "Time") + "\n"
    text += "\n".join(s + "," + r.split(",", 1)[1] for s, r in zip(stamped, rows[1:], strict=True)) + "\n"
    for offset, expected in ((None, 110.5), ("-36100 s", 130.5)):
        more = {"event_log": "logs/notes.csv"} | ({"event_log_offset": offset} if offset else {})
        tests = changed("tests", lambda t, more=more: t["tests"]["T"].update(more))
        logs = {"logs/T.csv": text, "logs/notes.csv": "10:03:50,5; bang\n"}
        campaign = build(**tests, logs=logs, folder=f"stamped {offset}")
        marks = actions.reduce(campaign).test("T").marks
        assert [m.time for m in marks if m.method == "operator's log"] == [expected]
