"""Frame of the evidence scripts: seeded chunks that can be resumed, and result files with their circumstances.

A script `evidence/NAME.py` is run as `python -m evidence.NAME` and does, in outline:

    def work(rng, size): ...                     # -> JSON-able result of one chunk
    parts = run_chunks("NAME", work, samples=100_000, size=5_000, seed=1, settings={...})
    write_json("NAME", {...}, samples=100_000, seed=1)

Chunk k draws from its own stream (seed, k), so results depend neither on interruptions nor on the order of work.
Finished chunks lie in out/evidence/NAME/KEY/; KEY names the state of the sources, the seed, the sizes and the
settings, so a chunk made by other code is never taken up again.
"""

from __future__ import annotations

import datetime
import hashlib
import importlib.metadata
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
RESULTS = ROOT / "docs" / "evidence"
CHUNKS = ROOT / "out" / "evidence"
PACKAGES = ("cracktie", "numpy", "scipy", "numba", "polars", "pandas")


def git(*arguments: str) -> str:
    """Output of a git command in the project, '' where git cannot tell."""
    try:
        done = subprocess.run(["git", *arguments], cwd=ROOT, capture_output=True, text=True, check=False)
    except OSError:
        return ""
    return done.stdout.strip() if done.returncode == 0 else ""


def source_state() -> dict[str, Any]:
    """Commit, and whether src/ or evidence/ differ from it (`changed`); `sources` is a digest of their content."""
    digest = hashlib.sha256()
    for folder in ("src", "evidence"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return {
        "commit": git("rev-parse", "HEAD") or "unknown",
        "changed": bool(git("status", "--porcelain", "--", "src", "evidence")),
        "sources": digest.hexdigest()[:16],
    }


def machine_facts() -> dict[str, Any]:
    """Kind of machine and versions; no host, user or path."""
    versions = {}
    for name in PACKAGES:
        try:
            versions[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            versions[name] = "absent"
    return {
        "system": platform.system(),
        "processor": platform.machine(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "versions": versions,
    }


def write_text(path: Path, text: str) -> None:
    """Whole file or none: a temporary file beside it, then renamed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.part")
    temporary.write_text(text, encoding="utf-8", newline="\n")
    temporary.replace(path)


def run_chunks(
    name: str,
    work: Callable[[np.random.Generator, int], Any],
    *,
    samples: int,
    size: int,
    seed: int,
    settings: Mapping[str, Any] | None = None,
    folder: Path = CHUNKS,
) -> list[Any]:
    """Results of `work(rng, number of samples)` for chunks of `size` samples, in chunk order.

    A chunk that an interrupted run has finished is read, not computed again. `work` must give JSON-able values;
    they come back as JSON gives them (tuples as lists), whether read or computed.
    """
    if samples < 1 or size < 1:
        raise ValueError(f"samples and size must be at least 1, given samples={samples}, size={size}")
    described = [source_state()["sources"], seed, samples, size, dict(settings or {})]
    key = hashlib.sha256(json.dumps(described, sort_keys=True).encode()).hexdigest()[:12]
    results = []
    count = -(-samples // size)
    for number in range(count):
        path = folder / name / key / f"chunk-{number:05d}.json"
        if not path.exists():
            begin = time.perf_counter()
            result = work(np.random.default_rng((seed, number)), min(size, samples - number * size))
            write_text(path, json.dumps(result, allow_nan=False))
            print(f"{name}: chunk {number + 1} of {count}, {time.perf_counter() - begin:.1f} s", flush=True)
        results.append(json.loads(path.read_text(encoding="utf-8")))
    return results


def write_json(name: str, result: Any, *, samples: int, seed: int, folder: Path = RESULTS) -> Path:
    """Writes NAME.json: the result with commit, date, machine, seed and sample size beside it.

    Raises ValueError where `result` holds NaN or infinity.
    """
    state = source_state()
    if state["changed"]:
        print(f"{name}: src/ or evidence/ differ from the commit; the file says so", file=sys.stderr)
    content = {
        "name": name,
        **state,
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
        "seed": seed,
        "samples": samples,
        "machine": machine_facts(),
        "result": result,
    }
    path = folder / f"{name}.json"
    write_text(path, json.dumps(content, indent=1, sort_keys=True, allow_nan=False) + "\n")
    return path
