"""A whole run killed at random moments: files in out/ are whole, inputs untouched, and the next run makes all."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cracktie.campaign import write

SOURCE = Path(write.__file__).parents[2]
COMMAND = [sys.executable, "-m", "cracktie"]


def contents(folder, *, without=("run.json",)):
    files = (p for p in sorted(folder.rglob("*")) if p.is_file() and p.name not in without)
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in files}


def whole(path):
    """Whether a file of a known kind ends as its kind does."""
    data = path.read_bytes()
    if path.suffix == ".json":
        return isinstance(json.loads(data), dict)
    ends = {".csv": b"\n", ".svg": b"</svg>", ".html": b"</html>", ".pdf": b"%%EOF", ".dxf": b"EOF"}
    return (
        data.rstrip(b"\r\n\t ").endswith(ends[path.suffix].strip()) if path.suffix != ".csv" else data.endswith(b"\n")
    )


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="kills are POSIX")
def test_a_killed_run_leaves_whole_files(build):
    campaign = build()
    folder, env = campaign.folder, os.environ | {"PYTHONPATH": str(SOURCE)}
    inputs = contents(folder)

    def start():
        return subprocess.Popen([*COMMAND, "run", str(folder), "--fresh"], stdout=subprocess.DEVNULL, env=env)

    begun = time.monotonic()
    assert start().wait() in (0, 1)
    longest = time.monotonic() - begun
    undisturbed = contents(folder / "out")
    assert undisturbed
    rng = random.Random(4)
    for _ in range(4):
        child = start()
        time.sleep(rng.uniform(0.4, 1.0) * longest)
        child.send_signal(signal.SIGKILL)
        child.wait()
        seen = [p for p in (folder / "out").rglob("*") if p.is_file() and not p.name.endswith(".tmp")]
        assert len(seen) >= len(undisturbed)
        assert [p.name for p in seen if not whole(p)] == []
    assert start().wait() in (0, 1)
    after = {k: v for k, v in contents(folder / "out").items() if not k.endswith(".tmp")}
    assert after == undisturbed
    now = contents(folder)
    assert {k: v for k, v in now.items() if not k.startswith("out/")} == inputs
