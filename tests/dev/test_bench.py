"""Rows of the bench table and how they are judged."""

import importlib
import json
import sys

import pytest
from bench import rows, startup
from bench.__main__ import bench_names, main, table

KEYS = {"name", "ours", "peer", "ratio", "target", "met"}


def test_ratio_decides():
    good = rows.ratio_row("x", 2.9, 1.0, at_most=3.0)
    assert good["met"] is True
    assert good["ratio"] == pytest.approx(2.9)
    assert set(good) == KEYS
    assert rows.ratio_row("x", 3.1, 1.0, at_most=3.0)["met"] is False


def test_absolute_time_is_scaled_by_the_reference_kernel():
    slow_machine = rows.time_row("x", 4.0, at_most=2.5, kernel=2 * rows.REFERENCE_SECONDS)
    assert slow_machine["ours"] == pytest.approx(2.0)
    assert slow_machine["met"] is True
    assert set(slow_machine) == KEYS
    assert rows.time_row("x", 4.0, at_most=2.5, kernel=rows.REFERENCE_SECONDS)["met"] is False


def test_alternating_calls_are_taken_in_turn_after_a_warm_up():
    calls: list[str] = []
    rows.alternate(lambda: calls.append("ours"), lambda: calls.append("peer"), runs=3)
    assert calls == ["ours", "peer"] * 4


def test_every_bench_has_rows():
    assert "startup" in bench_names()
    for name in bench_names():
        assert callable(importlib.import_module(f"bench.{name}").rows)


def test_startup_bench_gives_one_row(monkeypatch):
    monkeypatch.setattr(startup, "command_line", lambda: [sys.executable, "-c", "import decimal"])
    (row,) = startup.rows(runs=1)
    assert set(row) == KEYS
    assert row["peer"] is not None
    assert row["ours"] > 0 < row["peer"]


def test_table_shows_missed_targets():
    text = table(
        [
            rows.ratio_row("first", 0.004, 0.001, at_most=3.0),
            rows.time_row("second", 1.0, 2.0, kernel=rows.REFERENCE_SECONDS),
        ]
    )
    head, first, second = text.splitlines()
    assert head.split()[0] == "bench"
    assert first.split() == ["first", "4", "1", "4.00", "<=", "3", "x", "NO"]
    assert second.split() == ["second", "1e+03", "-", "-", "<=", "2", "s", "yes"]


def test_json_output_is_json_and_the_status_tells_of_a_missed_target(monkeypatch, capsys):
    monkeypatch.setattr(startup, "rows", lambda: [rows.ratio_row("x", 2.0, 1.0, at_most=3.0)])
    assert main(["--json", "startup"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert [row["name"] for row in content["rows"]] == ["x"]
    assert content["machine"]["kernel_seconds"] > 0
    monkeypatch.setattr(startup, "rows", lambda: [rows.ratio_row("x", 4.0, 1.0, at_most=3.0)])
    assert main(["--json", "startup"]) == 1
