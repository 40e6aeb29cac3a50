"""Notes by one key: lines of an event log that find their place on the clock of the test by themselves."""

from __future__ import annotations

import os
import re
import sys
import time

import numpy as np
import pytest

from cracktie import actions
from cracktie.lab.eventlog import read_event_log, rows_seen
from cracktie.reduction.notes import KEYS, NoteTaker

from .conftest import csv, record


def take(path, start, events, *, look=2.0, late=0.7):
    """Follow the record (2 rows a second) from time of day `start` on, a row seen `late` s after it was read, and press
    keys at times of the log."""
    now = [0.0]
    taker = NoteTaker(path, now=lambda: now[0] % 86400.0)
    for at, key in sorted([*((t, None) for t in np.arange(0.0, 220.0, look)), *events], key=lambda e: e[0]):
        now[0] = start + at
        if key is None:
            taker.rows = int(np.floor(max(at - late, 0.0) / 0.5)) + 1
        else:
            assert taker.key(key) is not None
    assert taker.key("?") is None


@pytest.mark.parametrize("start", [50_590.4, 86_300.0])
def test_notes_find_their_place_on_the_clock_of_the_log(build, changed, start):
    """Late by at most a look and the delay of the logger; the second test runs over midnight."""
    events = [(60.3, "c"), (121.9, "d"), (188.2, "g")]
    tests = changed("tests", lambda t: t["tests"]["T"].update(event_log="logs/notes.csv"))
    made = build(**tests, logs={"logs/T.csv": csv(record()), "logs/notes.csv": "time, note\n"})
    take(made.folder / "logs/notes.csv", start, events)
    test = actions.reduce(actions.open_campaign(made.folder)).test("T")
    noted = [m for m in test.marks if m.status == "noted"]
    assert [m.kind for m in noted] == [KEYS[key] for _, key in events]
    for mark, (at, _) in zip(noted, events, strict=True):
        assert -2.8 <= mark.time - at <= 0.1
    assert any("placed by the rows that the log held" in n for n in test.notes)


def test_a_stated_offset_goes_first(build, changed):
    tests = changed("tests", lambda t: t["tests"]["T"].update(event_log="logs/n.csv", event_log_offset="-100 s"))
    text = "# 00:01:40.0: 400 rows\n00:03:00.0, bang\n"
    test = actions.reduce(build(**tests, logs={"logs/T.csv": csv(record()), "logs/n.csv": text})).test("T")
    (mark,) = [m for m in test.marks if m.status == "noted"]
    assert mark.time == pytest.approx(80.0)


def test_the_file_stays_an_event_log_of_its_own(tmp_path):
    path = tmp_path / "notes.csv"
    path.write_text("time, note\n12:00:00, by hand", encoding="utf-8")  # no line end
    take(path, 43_300.0, [(10.0, "b"), (10.0, "x")])
    entries = read_event_log(path, "notes.csv")
    assert [e.note for e in entries] == ["by hand", "bang", "something else"]
    assert entries[1].time == pytest.approx(43_310.0)
    assert [rows for _, rows in rows_seen(path)] == [19]  # once, before both
    assert path.read_text().splitlines()[2] == "# 12:01:50.0: 19 rows"


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="terminals of this kind are POSIX")
def test_a_key_pressed_on_a_terminal_is_noted(build):
    """A real terminal: `c` is written at once, Ctrl-C ends with a word and status 0, the terminal is as before."""
    import pty
    import termios
    from pathlib import Path

    from cracktie.campaign import write

    folder = build().folder
    source = str(Path(write.__file__).parents[2])
    child, terminal = pty.fork()
    if child == 0:
        os.environ["PYTHONPATH"] = source
        os.execv(sys.executable, [sys.executable, "-m", "cracktie", "reduce", str(folder), "--watch", "T"])
    before = termios.tcgetattr(terminal)
    said = ""

    def until(words):
        nonlocal said
        stop = time.monotonic() + 60.0
        while words not in said and time.monotonic() < stop:
            said += os.read(terminal, 4096).decode("utf-8", "replace")
        assert words in said

    until("440 rows")
    os.write(terminal, b"c")
    until("noted at")
    os.write(terminal, b"\x03")
    until("event_log: logs/T_notes.csv")
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    assert termios.tcgetattr(terminal)[3] == before[3]
    os.close(terminal)
    text = (folder / "logs/T_notes.csv").read_text()
    assert re.search(r"# \d\d:\d\d:\d\d\.\d: 440 rows\n\d\d:\d\d:\d\d\.\d, crack seen\n$", text)
    assert "keys for logs/T_notes.csv: c crack seen, d debonding heard" in said
