"""Reading of long logs: an hour of 40 channels at 100 Hz, ten million rows beside a plain polars read; the demo.

The files are written once a run into a temporary folder: commas between cells, decimal points, one header row, the form
a logger's CSV has most often. The large pair is timed in turn in fresh processes, so that memory is that of one read
alone; its rows are fewer where CRACKTIE_BENCH_ROWS says so.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from bench.rows import Row, ratio_row, seconds, time_row

HOUR = (360_000, 40)
LARGE = (10_000_000, 20)
AT_MOST = 3.0
RATIO = 2.5
MEMORY = 3.0

_CODE = """
import json, resource, sys, time
begin = time.perf_counter()
if sys.argv[1] == "ours":
    from cracktie.lab.read import read_log
    begin = time.perf_counter()
    frame = read_log(sys.argv[2]).blocks[0].frame
else:
    import polars
    begin = time.perf_counter()
    frame = polars.read_csv(sys.argv[2])
used = time.perf_counter() - begin
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
print(json.dumps({"seconds": used, "GiB": peak, "shape": frame.shape}))
"""


def write(path: Path, rows: int, columns: int) -> Path:
    """A log of that size: time in s and ramps with noise, six significant digits."""
    import numpy as np
    import polars as pl

    rng = np.random.default_rng(1)
    step = 250_000
    with path.open("wb") as stream:
        for start in range(0, rows, step):
            t = np.arange(start, min(start + step, rows)) / 100.0
            made = {"Time [s]": t}
            for c in range(columns - 1):
                made[f"c{c} [mm]"] = np.round(t * 1e-3 * (c + 1) + rng.normal(0, 1e-2, t.size), 4)
            pl.DataFrame(made).write_csv(stream, include_header=start == 0)
    return path


def measured(what: str, path: Path) -> dict[str, float]:
    """Seconds and peak memory (GiB) of one read in a fresh process."""
    done = subprocess.run([sys.executable, "-c", _CODE, what, str(path)], check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def rows(large: bool = True) -> list[Row]:
    """An hour's log by scaled time; the large one by its ratio to polars, and by memory."""
    from cracktie.lab.read import read_log

    with tempfile.TemporaryDirectory() as folder:
        hour = write(Path(folder) / "hour.csv", *HOUR)
        read_log(hour)
        best = min(seconds(lambda: read_log(hour)) for _ in range(3))
        found = [time_row(f"log of {HOUR[0]} x {HOUR[1]}", best, AT_MOST)]
        hour.unlink()
        found.append(_demo(Path(folder)))
        if large:
            found += _large(Path(folder))
    return found


def _demo(folder: Path) -> Row:
    """All fourteen loadings of the twelve-beam demo, logs to results."""
    from cracktie import actions
    from cracktie.demo.write import write_demo

    campaign = actions.open_campaign(write_demo(folder / "demo"))
    actions.reduce(campaign)
    return time_row(
        "demo of twelve beams reduced", min(seconds(lambda: actions.reduce(campaign)) for _ in range(3)), AT_MOST
    )


def _large(folder: Path) -> list[Row]:
    count = int(os.environ.get("CRACKTIE_BENCH_ROWS", LARGE[0]))
    path = write(folder / "large.csv", count, LARGE[1])
    pairs = [(measured("ours", path), measured("polars", path)) for _ in range(3)]
    ours = min(p[0]["seconds"] for p in pairs)
    peer = min(p[1]["seconds"] for p in pairs)
    name = f"log of {count} x {LARGE[1]}"
    memory = max(p[0]["GiB"] for p in pairs)
    told = Row(
        name=f"{name}: memory {memory:.2f} GiB", ours=ours, peer=None, ratio=None, target=f"< {MEMORY:g} GiB",
        met=memory < MEMORY,
    )  # fmt: skip
    return [ratio_row(f"{name} against polars", ours, peer, at_most=RATIO), told]
