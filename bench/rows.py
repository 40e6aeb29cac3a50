"""Rows of the bench table, timing in alternation, and the reference kernel that absolute times are scaled by.

A ratio compares two things timed in turn in one run, so that a slow or busy machine slows both. An absolute
time has no such partner; it is scaled by a fixed numpy kernel timed in the same run:

    scaled time = measured time * REFERENCE_SECONDS / kernel time in this run

so that a target in seconds means seconds on a machine that needs REFERENCE_SECONDS for the kernel.
"""

from __future__ import annotations

import functools
import statistics
import time
from collections.abc import Callable
from typing import TypedDict

import numpy as np

REFERENCE_SECONDS = 0.04
"""Kernel time [s] of the machine that absolute targets are meant for. A round number near the 0.036 s measured on
a virtual server with two x86-64 cores; what matters is that it stays the same."""


class Row(TypedDict):
    """One comparison. Times in s; `peer` and `ratio` are None where a bench is judged by its scaled time."""

    name: str
    ours: float
    peer: float | None
    ratio: float | None
    target: str
    met: bool


def seconds(work: Callable[[], object]) -> float:
    """Wall time [s] of one call."""
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def alternate(ours: Callable[[], object], peer: Callable[[], object], runs: int) -> tuple[float, float]:
    """Median wall times [s] of `ours` and `peer`, timed in turn `runs` times after one untimed call of each."""
    ours()
    peer()
    times = [(seconds(ours), seconds(peer)) for _ in range(runs)]
    return statistics.median(t[0] for t in times), statistics.median(t[1] for t in times)


def ratio_row(name: str, ours: float, peer: float, at_most: float) -> Row:
    """Row judged by ours/peer: met when the ratio is at most `at_most`."""
    ratio = ours / peer
    return Row(name=name, ours=ours, peer=peer, ratio=ratio, target=f"<= {at_most:g} x", met=ratio <= at_most)


def time_row(name: str, measured: float, at_most: float, kernel: float | None = None) -> Row:
    """Row judged by its scaled time: met when that is at most `at_most` [s]. `kernel`: kernel time [s]."""
    scaled = measured * REFERENCE_SECONDS / (kernel or kernel_seconds())
    return Row(name=name, ours=scaled, peer=None, ratio=None, target=f"<= {at_most:g} s", met=scaled <= at_most)


@functools.cache
def kernel_seconds() -> float:
    """Median time [s] of the reference kernel in this run: ufuncs, a sort and a scalar loop, one thread each.

    No matrix product: its time depends on the linear algebra library and on the number of its threads.
    """
    values = np.random.default_rng(20260101).random(400_000)

    def kernel() -> float:
        total = 0.0
        for _ in range(4):
            total += float(np.sort(np.sqrt(values) * np.exp(-values) + np.log1p(values)).sum())
        for number in range(200_000):
            total += number * 0.5
        return total

    kernel()
    return statistics.median(seconds(kernel) for _ in range(5))
