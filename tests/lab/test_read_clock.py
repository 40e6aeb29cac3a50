"""Clocks of logs: stamps in many forms, several rows a stamp, counts since 1970, day numbers, summer time, restarts.

The expected times are those the lines were written with.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

import numpy as np
import pytest

from cracktie.errors import InputRefused
from cracktie.lab.read import read_log_bytes

START = datetime(2024, 3, 15, 10, 0)


def read(stamps, *, name="log.csv", unit="", values=None, **stated):
    values = range(len(stamps)) if values is None else values
    rows = "".join(f"{stamp};{value * 1.5 + 0.25}\n" for stamp, value in zip(stamps, values, strict=True))
    return read_log_bytes(f"time{unit};load [kN]\n{rows}".encode(), name, **stated)


def times(log):
    block = log.blocks[0]
    return block.values(block.time)


def asked(log, kind):
    (question,) = [q for q in log.report.questions if q.kind == kind]
    return question


@pytest.mark.parametrize(
    "form",
    [
        "15-Mar-2024 10:00:%S", "Mar 15 2024 10:00:%S", "March 15, 2024 10:00:%S", "15. März 2024 10:00:%S",
        "15 mars 2024 10:00:%S", "Fri Mar 15 10:00:%S 2024", "20240315T1000%S", "20240315 1000%S", "15/Mar/24 10:00:%S",
    ],
)  # fmt: skip
def test_named_months_and_compact_stamps(form):
    log = read([form.replace("%S", f"{i:02d}") for i in range(20)])
    assert log.blocks[0].origins["time"] == START
    assert times(log).tolist() == list(range(20))
    assert log.report.questions == ()


@pytest.mark.parametrize("rows", [2, 5, 10])
def test_rows_of_one_stamp_are_spread_after_counting(rows):
    whole = [START + timedelta(seconds=i / rows) for i in range(3, 12 * rows - 1)]  # begins and ends within a second
    log = read([f"{moment:%Y-%m-%d %H:%M:%S}" for moment in whole])
    np.testing.assert_allclose(np.diff(times(log)), 1 / rows, rtol=0, atol=1e-9)
    # the stamps hold no fractions: the first reading lies where its place within the second puts it
    assert times(log)[0] == pytest.approx((3 % rows) / rows)
    assert log.report.blocks[0].duplicated_times == len(whole) - len({m.replace(microsecond=0) for m in whole})
    assert any("spread evenly" in note for note in log.report.blocks[0].notes)


def test_uneven_rows_of_one_stamp_stay_as_they_are():
    counts = (3, 10, 9, 10, 4, 10, 10)
    stamps = [f"2024-03-15 10:00:{second:02d}" for second, n in enumerate(counts) for _ in range(n)]
    log = read(stamps)
    assert set(times(log)) == set(range(7))
    assert any("4 to 10 rows a stamp: too uneven" in note for note in log.report.blocks[0].notes)


def test_rows_written_twice_are_told_from_fast_rows():
    log = read([i // 2 * 0.1 for i in range(60)], values=[i // 2 for i in range(60)], unit=" [s]")
    assert any("rows written twice" in note for note in log.report.blocks[0].notes)
    assert times(log)[:4].tolist() == [0.0, 0.0, 0.1, 0.1]


@pytest.mark.parametrize(("unit", "scale"), [("", 1), (" [ms]", 1000), ("", 1000)])
def test_counts_since_1970(unit, scale):
    first = 1710496800  # date -u -d @1710496800: Fri Mar 15 10:00:00 UTC 2024
    log = read([(first * 10 + i) * scale // 10 if scale > 1 else first + i for i in range(30)], unit=unit)
    assert log.blocks[0].origins["time"] == START
    assert times(log)[-1] == pytest.approx(2.9 if scale > 1 else 29.0, abs=1e-9)


def test_day_numbers_without_a_unit_are_asked():
    """45366 is 2024-03-15 in the spreadsheet's count (45370 = 2024-03-19 stands beside its date in a real log)."""
    stamps = [f"{45366 + (36000 + i) / 86400:.9f}" for i in range(30)]
    log = read(stamps)
    assert log.blocks[0].origins["time"] == START
    np.testing.assert_allclose(times(log), np.arange(30), rtol=0, atol=1e-3)
    assert asked(log, "time unit").answers == ("time_unit: d", "time_unit: s")
    assert read(stamps, time_unit="d").report.questions == ()
    assert times(read(stamps, time_unit="s"))[0] == pytest.approx(45366 + 36000 / 86400)


def test_seconds_of_the_day_are_no_day_numbers():
    log = read([36000 + i * 0.1 for i in range(50)])
    assert (times(log)[0], log.report.questions) == (36000.0, ())


def test_minutes_and_seconds_or_hours_and_minutes():
    stamps = [f"{i // 60:02d}:{i % 60:02d}" for i in range(150)]
    question = asked(read(stamps), "clock")
    assert question.answers == ("clock: h:m", "clock: m:s")
    assert times(read(stamps))[-1] == 149 * 60
    stated = read(stamps, clock="m:s")
    assert times(stated)[-1] == 149
    assert stated.report.questions == ()


def test_minutes_seconds_and_tenths_run_on_over_the_hour():
    tenths = range(35_950, 36_100)
    log = read([f"{t // 600 % 60:02d}:{t % 600 // 10:02d}.{t % 10}" for t in tenths])
    np.testing.assert_allclose(times(log), np.array(tenths) / 10, rtol=0, atol=1e-9)


AUTUMN = [datetime(2024, 10, 27, 0, 59, 0) + timedelta(seconds=10 * i) for i in range(30)]  # UTC; 01:00 is the change


def local(moment):
    """Central European time of those nights: two hours ahead of UTC before the change in autumn, one after it."""
    ahead = 2 if moment < datetime(2024, 10, 27, 1) else 1
    return f"{moment + timedelta(hours=ahead):%Y-%m-%d %H:%M:%S}"


def test_the_end_of_summer_time_is_asked_and_meanwhile_undone():
    log = read([local(m) for m in AUTUMN])
    assert times(log).tolist() == [10.0 * i for i in range(30)]
    assert asked(log, "clock change").answers == ("clock_change: undo", "clock_change: keep")
    assert len(log.report.blocks[0].segments) == 1
    kept = read([local(m) for m in AUTUMN], clock_change="keep")
    assert len(kept.report.blocks[0].segments) == 2
    assert read([local(m) for m in AUTUMN], clock_change="undo").report.questions == ()


def test_the_beginning_of_summer_time():
    night = [datetime(2024, 3, 31, 1, 59) + timedelta(seconds=10 * i) for i in range(12)]
    shown = [m if m < datetime(2024, 3, 31, 2) else m + timedelta(hours=1) for m in night]
    log = read([f"{m:%Y-%m-%d %H:%M:%S}" for m in shown])
    assert times(log).tolist() == [10.0 * i for i in range(12)]
    assert asked(log, "clock change")


def test_an_hour_missing_in_the_afternoon_is_a_gap():
    moments = [START + timedelta(seconds=10 * i + (3600 if i > 10 else 0)) for i in range(30)]
    log = read([f"{m:%Y-%m-%d %H:%M:%S}" for m in moments])
    assert [g.length for g in log.report.blocks[0].gaps] == [3610.0]
    assert log.report.questions == ()


def test_a_restart_makes_segments():
    log = read([i % 40 * 0.1 for i in range(100)], unit=" [s]")
    assert log.report.blocks[0].segments == ((0, 39), (40, 79), (80, 99))


AMBIGUOUS = [f"03.04.2024 10:00:{i:02d}" for i in range(20)]


def test_a_known_day_settles_the_order():
    assert asked(read(AMBIGUOUS), "date order").answers == ("date_order: dmy", "date_order: mdy")
    log = read(AMBIGUOUS, dates=[date(2024, 4, 3)])
    assert log.report.questions == ()
    assert log.blocks[0].origins["time"] == datetime(2024, 4, 3, 10)
    assert read(AMBIGUOUS, dates=[date(2024, 3, 4)]).blocks[0].origins["time"] == datetime(2024, 3, 4, 10)
    assert asked(read(AMBIGUOUS, dates=[date(2024, 5, 5)]), "date order")
    assert asked(read(AMBIGUOUS, dates=[date(2024, 4, 3), date(2024, 3, 4)]), "date order")
    assert read(AMBIGUOUS, name="2024-04-03_OV-1.csv").blocks[0].origins["time"] == datetime(2024, 4, 3, 10)
    assert read(AMBIGUOUS, name="20240304.csv").blocks[0].origins["time"] == datetime(2024, 3, 4, 10)


def test_a_year_of_two_digits_in_front_is_asked_and_stated():
    stamps = [f"24-03-15 10:00:{i:02d}" for i in range(20)]
    assert asked(read(stamps), "date order").options == ("dmy", "ymd")
    assert read(stamps, date_order="ymd").blocks[0].origins["time"] == START
    with pytest.raises(InputRefused, match="no such day"):
        read(stamps, date_order="mdy")


@pytest.mark.parametrize(
    ("key", "word"), [("date_order", "ddmm"), ("time_unit", "weeks"), ("clock", "s:m"), ("clock_change", "yes")]
)
def test_answers_that_are_none(key, word):
    with pytest.raises(InputRefused, match=f"{key.replace('_', ' ')} '{word}' is not known; state "):
        read(AMBIGUOUS, **{key: word})
