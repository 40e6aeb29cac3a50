"""The operator's log: forms it may have, and what is wrong with a line."""

from __future__ import annotations

import pytest

from cracktie.errors import FileTrouble, InputRefused
from cracktie.lab.eventlog import read_event_log


def entries(tmp_path, text):
    path = tmp_path / "notes.csv"
    path.write_text(text, encoding="utf-8")
    return [(e.time, e.note, e.line) for e in read_event_log(path, "logs/notes.csv")]


def test_seconds_with_header_remark_and_order(tmp_path):
    text = "time [s], note\n# quiet\n\n31.5, crack, front\n12, hold\n"
    assert entries(tmp_path, text) == [(12.0, "hold", 5), (31.5, "crack front", 4)]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_times_of_day(tmp_path, mark):
    assert entries(tmp_path, f"14:03:12.5{mark}bang\n") == [(14 * 3600 + 3 * 60 + 12.5, "bang", 1)]


def test_bad_lines_are_all_told(tmp_path):
    with pytest.raises(InputRefused) as caught:
        entries(tmp_path, "10, ok\nlater, bang\n20,\n")
    assert [p.line for p in caught.value.problems] == [2, 3]
    assert str(caught.value.problems[0]).startswith("logs/notes.csv:2: later, bang: no time and note")
    with pytest.raises(FileTrouble):
        read_event_log(tmp_path / "none.csv", "none.csv")
