"""Start cost of the command line: `cracktie --help` beside a Python that does nothing."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from bench.rows import Row, alternate, ratio_row

RUNS = 21
TARGET = 3.0


def command_line() -> list[str]:
    """The installed command of this environment, or the module where there is no such command."""
    program = shutil.which("cracktie", path=str(Path(sys.executable).parent))
    return [program] if program else [sys.executable, "-m", "cracktie"]


def starter(command: list[str]) -> Callable[[], object]:
    return lambda: subprocess.run(command, check=True, capture_output=True)


def rows(runs: int = RUNS) -> list[Row]:
    """One row: median wall time of `runs` alternating starts."""
    ours, peer = alternate(starter([*command_line(), "--help"]), starter([sys.executable, "-c", "pass"]), runs=runs)
    return [ratio_row("cracktie --help against python -c pass", ours, peer, at_most=TARGET)]
