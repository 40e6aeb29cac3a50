"""Reduction of the whole demo: fourteen tests, sixteen logs, about 25 MB of text."""

from __future__ import annotations

import statistics
import tempfile
from collections.abc import Callable
from pathlib import Path

from bench.rows import Row, kernel_seconds, seconds, time_row
from cracktie.actions import open_campaign, reduce
from cracktie.demo.write import write_demo

RUNS = 3
TARGET = 3.0


def beside_kernel(work: Callable[[], object], runs: int) -> tuple[float, float]:
    """Median wall time of the work, and of the reference kernel timed in turn with it: a busy machine slows both."""
    times, kernels = [], []
    for _ in range(runs):
        kernels.append(kernel_seconds.__wrapped__())
        times.append(seconds(work))
    kernels.append(kernel_seconds.__wrapped__())
    return statistics.median(times), statistics.median(kernels)


def rows(runs: int = RUNS) -> list[Row]:
    """Scaled wall times of writing the demo, and of reducing it after one untimed reduction."""
    with tempfile.TemporaryDirectory() as folder:
        count = iter(range(runs))
        written, kernel = beside_kernel(lambda: write_demo(Path(folder) / f"demo-{next(count)}"), runs)
        found = [time_row("demo written with its logs", written, TARGET, kernel)]
        campaign = open_campaign(Path(folder) / "demo-0")
        reduce(campaign)
        reduced, kernel = beside_kernel(lambda: reduce(campaign), runs)
        found.append(time_row("demo reduced, 14 tests", reduced, TARGET, kernel))
    return found
