"""Run the Python blocks of a page one after the other in one namespace, from the top of the repository."""

from __future__ import annotations

import contextlib
import io
import os
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_BLOCK = re.compile(r"^```python\n(.*?)^```$", re.M | re.S)


def run_page(path: str) -> tuple[str, dict[str, object]]:
    """What the blocks of a page print, and their names afterwards; a failing line is reported with its line number."""
    text = (ROOT / path).read_text(encoding="utf-8")
    names: dict[str, object] = {"__name__": "page"}
    out = io.StringIO()
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        with contextlib.redirect_stdout(out):
            for block in _BLOCK.finditer(text):
                blank = "\n" * text.count("\n", 0, block.start(1))
                exec(compile(blank + block[1], path, "exec"), names)
    finally:
        os.chdir(before)
    return out.getvalue(), names
