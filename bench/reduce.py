"""Reduction of the whole demo: fourteen tests, sixteen logs, about 25 MB of text."""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path

from bench.rows import Row, kernel_seconds, seconds, time_row
from cracktie.actions import open_campaign, reduce
from cracktie.demo.write import write_demo

RUNS = 3
TARGET = 3.0


def rows(runs: int = RUNS) -> list[Row]:
    """Scaled wall times of writing the demo and of reducing it, median of `runs` after one untimed reduction."""
    with tempfile.TemporaryDirectory() as folder:
        written = seconds(lambda: write_demo(Path(folder) / "demo"))
        campaign = open_campaign(Path(folder) / "demo")
        reduce(campaign)
        times = [seconds(lambda: reduce(campaign)) for _ in range(runs)]
    kernel = kernel_seconds()
    return [
        time_row("demo written with its logs", written, TARGET, kernel),
        time_row("demo reduced, 14 tests", statistics.median(times), TARGET, kernel),
    ]
