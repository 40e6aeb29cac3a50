"""The demo from end to end: wall time of the first run and of a later one, and the peak of its memory.

The first run compiles kernels into an empty cache folder; the later one finds them there. Each run is a process of
its own that writes into an empty folder.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from bench.rows import Row, time_row

FIRST, LATER = 30.0, 15.0
"""Targets in s on the machine of the reference kernel."""
MEMORY = 700.0
"""Target of the peak resident memory, MB of 1e6 bytes."""

_CHILD = """
import sys
from cracktie.cli import main
status = main(["demo", sys.argv[1]])
try:
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
except ImportError:  # no such module on Windows
    peak = 0
print(f"peak {peak}", file=sys.stderr)
sys.exit(status)
"""


def one_run(folder: Path, cache: Path) -> tuple[float, int]:
    """Wall time [s] and peak memory [bytes, 0 where unknown] of the demo in a process of its own."""
    place = {**os.environ, "NUMBA_CACHE_DIR": str(cache), "MPLCONFIGDIR": str(cache / "matplotlib")}
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", _CHILD, str(folder)], env=place, check=True, capture_output=True, text=True
    )
    return time.perf_counter() - begin, int(done.stderr.rsplit("peak ", 1)[1])


def rows(runs: int = 3) -> list[Row]:
    """First run, the fastest of `runs` later ones, and the largest memory of all (its row holds MB, not seconds).

    Other work on the machine only adds to a time, hence the fastest.
    """
    with tempfile.TemporaryDirectory() as base:
        cache = Path(base, "cache")
        cache.mkdir()
        made = [one_run(Path(base, f"demo-{number}"), cache) for number in range(runs + 1)]
    later = min(seconds for seconds, _ in made[1:])
    peak = max(size for _, size in made) / 1e6
    found = [
        time_row("cracktie demo, first run", made[0][0], FIRST),
        time_row("cracktie demo, later run", later, LATER),
    ]
    if peak > 0:
        # the table multiplies by 1000 and heads its column with ms
        found.append(
            Row(name="cracktie demo, peak memory in MB", ours=peak / 1e3, peer=None, ratio=None,
                target=f"<= {MEMORY:g} MB", met=peak <= MEMORY)
        )  # fmt: skip
    return found
