"""Notes taken by one key while a test runs: lines of an event log, with what places them on the clock of the log."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cracktie.campaign.write import write_text

KEYS = {
    "c": "crack seen", "d": "debonding heard", "b": "bang", "h": "hold", "u": "unloading", "g": "gauge lost",
    "s": "slip or settling of the rig", "x": "something else",
}  # fmt: skip
"""Keys and what they note."""


def time_of_day() -> float:
    """Seconds since midnight on this computer's clock."""
    now = time.time()
    at = time.localtime(now)
    return at.tm_hour * 3600.0 + at.tm_min * 60.0 + at.tm_sec + now % 1.0


@dataclass
class NoteTaker:
    """Writes one line a key, `hh:mm:ss.s, note`, into a file that is replaced whole each time.

    `rows` is how many rows the log had when it was last seen to grow, at `seen`; the pair goes before the note as a
    remark, `# 14:03:10.2: 3120 rows`. From these the time of day is placed on the clock of the log: row 3120 was
    written before.
    """

    path: Path
    now: Callable[[], float] = time_of_day
    seen: float = 0.0
    _rows: int = 0
    _kept: int = 0

    @property
    def rows(self) -> int:
        """Rows of the log at the last look."""
        return self._rows

    @rows.setter
    def rows(self, count: int) -> None:
        self._rows, self.seen = count, self.now()

    def key(self, key: str) -> str | None:
        """Note what a key stands for; what was noted in words, None for any other key. Raises `FileTrouble`."""
        words = KEYS.get(key)
        if words is None:
            return None
        text = self.path.read_text(encoding="utf-8") if self.path.exists() else "time, note\n"
        if text and not text.endswith("\n"):
            text += "\n"
        if self._rows != self._kept:
            text += f"# {_clock(self.seen)}: {self._rows} rows\n"
            self._kept = self._rows
        at = _clock(self.now())
        write_text(self.path, f"{text}{at}, {words}\n")
        return f"noted at {at}: {words}"


def _clock(seconds: float) -> str:
    tenths = round(seconds * 10.0)
    return f"{tenths // 36000 % 24:02d}:{tenths // 600 % 60:02d}:{tenths % 600 / 10.0:04.1f}"
