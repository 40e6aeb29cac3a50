"""Runs the benches and prints their rows: `python -m bench [--json] [NAME ...]`; status 1 if a target is missed."""

from __future__ import annotations

import argparse
import importlib
import json
import platform
import sys
from pathlib import Path

from bench.rows import REFERENCE_SECONDS, Row, kernel_seconds

FRAME = {"__init__", "__main__", "rows"}


def bench_names() -> list[str]:
    """Names of the modules that hold benches."""
    return sorted(path.stem for path in Path(__file__).parent.glob("*.py") if path.stem not in FRAME)


def table(rows: list[Row]) -> str:
    """Rows as aligned text; times in ms."""
    head = ["bench", "ours [ms]", "peer [ms]", "ratio", "target", "met"]
    body = [
        [
            row["name"],
            f"{row['ours'] * 1e3:.3g}",
            "-" if row["peer"] is None else f"{row['peer'] * 1e3:.3g}",
            "-" if row["ratio"] is None else f"{row['ratio']:.2f}",
            row["target"],
            "yes" if row["met"] else "NO",
        ]
        for row in rows
    ]
    widths = [max(len(line[column]) for line in [head, *body]) for column in range(len(head))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in [head, *body]
    )


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m bench")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("names", nargs="*")
    options = parser.parse_args(arguments)
    unknown = sorted(set(options.names) - set(bench_names()))
    if unknown:
        parser.error(f"no bench named {', '.join(unknown)}; there are: {', '.join(bench_names())}")
    rows: list[Row] = []
    for name in options.names or bench_names():
        rows += importlib.import_module(f"bench.{name}").rows()
    machine = {
        "python": platform.python_version(),
        "system": platform.system(),
        "processor": platform.machine(),
        "kernel_seconds": kernel_seconds(),
        "reference_seconds": REFERENCE_SECONDS,
    }
    if options.json:
        print(json.dumps({"machine": machine, "rows": rows}, indent=1))
    else:
        print(table(rows))
        print(
            f"times without a peer are scaled by {REFERENCE_SECONDS / kernel_seconds():.2f} "
            f"(reference kernel {kernel_seconds() * 1e3:.0f} ms here, {REFERENCE_SECONDS * 1e3:.0f} ms by definition)"
        )
    return 0 if all(row["met"] for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
