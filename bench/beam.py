"""Shear of wrapped beams over the crack opening: time of a million beams on two cores, of a what-if, and memory.

Timed on a share of the million and scaled up; samples come in chunks, so that memory does not grow with their number.
"""

from __future__ import annotations

import resource
import sys
from typing import Any

import numpy as np

from bench.rows import Row, seconds, time_row
from cracktie.beam.response import FAST, Fineness, peaks

MILLION = 1_000_000
CHUNK, CHUNKS = 4096, 3
WHAT_IF = 2000
MEMORY = 500.0
COARSE = Fineness(slices=8, points=48, openings=32)
"""For one crack position in a million beams; errs by about 2 % in a beam, less in statistics."""


def beams(count: int, *, anchored: bool, seed: int = 3) -> tuple[dict[str, Any], dict[str, Any]]:
    """Invented T-beams with strips, and coefficients over their ranges."""
    rng = np.random.default_rng(seed)
    inputs: dict[str, Any] = {
        "h": rng.uniform(400, 440, count), "d": 360.0, "f_c": rng.uniform(25, 40, count), "V_c0": 60e3, "A_sw": 56.5,
        "s_w": 220.0, "f_yw": 320.0, "d_w": 6.0, "scheme": "u", "layout": "strips",
        "E_f": rng.uniform(220e3, 250e3, count),
        "f_fu": 3880.0, "t_f": 0.167, "n": 1, "w_f": 60.0, "s_f": 150.0, "beta": 90.0, "z_t": 100.0,
    }  # fmt: skip
    inputs["d_frp"] = inputs["h"]
    if anchored:
        inputs |= {"anchored": True, "k_leg": 60e3, "F_leg": rng.uniform(10e3, 35e3, count), "soft_slip": 0.5,
                   "residual": 0.2, "z_anchor": inputs["h"] - 100.0}  # fmt: skip
    coefficients = {"k_tau": rng.uniform(0.4, 1.0, count), "theta": rng.uniform(30, 45, count)}
    return inputs, coefficients


def million_row(name: str, target: float, *, offsets: int, fineness: Fineness, anchored: bool = False) -> Row:
    """Time for a million beams, from a few chunks."""
    chunks = [beams(CHUNK, anchored=anchored, seed=i) for i in range(CHUNKS)]

    def run() -> None:
        for inputs, coefficients in chunks:
            peaks(inputs, coefficients=coefficients, offsets=offsets, fineness=fineness, workers=2)

    run()
    measured = sorted(seconds(run) for _ in range(3))[1]
    return time_row(name, measured * MILLION / (CHUNK * CHUNKS), target)


def what_if_row(name: str, *, anchored: bool, below: float = 0.0) -> Row:
    """Samples of one question; anchors sit `below` the edge of the strip [mm]."""
    inputs, coefficients = beams(WHAT_IF, anchored=anchored)
    if anchored:
        inputs["z_anchor"] = inputs["z_anchor"] - below

    def run() -> None:
        peaks(inputs, coefficients=coefficients, fineness=FAST, workers=2)

    run()
    return time_row(name, sorted(seconds(run) for _ in range(5))[2], 0.3)


def memory_row() -> Row:
    """Largest memory of this process in MB in place of a time; the whole bench so far counts."""
    scale = 1e6 if sys.platform == "darwin" else 1e3
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / scale
    return Row(name="memory of the process [MB, in the column of ms / 1000]", ours=used, peer=None, ratio=None,
               target=f"<= {MEMORY:g} MB", met=used <= MEMORY)  # fmt: skip


def rows() -> list[Row]:
    """Million beams with one and with seven crack positions, what-ifs, memory."""
    return [
        million_row("1e6 U-wraps, one crack position", 25.0, offsets=1, fineness=COARSE),
        million_row("1e6 anchored U-wraps, one crack position", 25.0, offsets=1, fineness=COARSE, anchored=True),
        million_row("1e6 U-wraps, 7 crack positions", 120.0, offsets=7, fineness=FAST),
        million_row("1e6 anchored U-wraps, 7 crack positions", 120.0, offsets=7, fineness=FAST, anchored=True),
        what_if_row(f"what-if of {WHAT_IF} U-wraps, 8 crack positions", anchored=False),
        what_if_row(f"what-if of {WHAT_IF} anchored U-wraps, 8 crack positions", anchored=True),
        what_if_row(f"what-if of {WHAT_IF} U-wraps anchored 30 mm below the edge", anchored=True, below=30.0),
        memory_row(),
    ]
