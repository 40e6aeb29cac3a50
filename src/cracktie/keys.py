"""Single keys of a terminal, without the return key, on every system."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator

Wait = Callable[[float], "str | None"]
"""Waits so many seconds for a key: the key, or None when the time is over."""


def is_terminal() -> bool:
    """Whether somebody sits at the standard input."""
    return sys.stdin is not None and sys.stdin.isatty()


@contextlib.contextmanager
def single_keys() -> Iterator[Wait]:
    """Within it keys come at once and are not shown; afterwards the terminal is as it was. Ctrl-C stays Ctrl-C."""
    try:
        import termios
        import tty
    except ImportError:
        yield _windows
        return
    number = sys.stdin.fileno()
    kept = termios.tcgetattr(number)
    try:
        tty.setcbreak(number)
        yield _posix
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, kept)


def _posix(seconds: float) -> str | None:
    import os
    import select

    ready, _, _ = select.select([sys.stdin], [], [], max(seconds, 0.0))
    if not ready:
        return None
    key = os.read(sys.stdin.fileno(), 1).decode("ascii", "replace")
    if not key:  # the terminal went away
        time.sleep(max(seconds, 0.0))
        return None
    return key


def _windows(seconds: float) -> str | None:
    import importlib

    keyboard = importlib.import_module("msvcrt")
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if keyboard.kbhit():
            return str(keyboard.getwch())
        time.sleep(0.05)
    return None
