"""Standard output and error of the command line: width, plain signs, readers that go away, defects."""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False  # type checkers take it as true; importing typing here would slow --help
if TYPE_CHECKING:
    from typing import Any


def has_every_sign(stream: Any) -> bool:
    """Whether the encoding of a stream has every sign there is."""
    encoding = getattr(stream, "encoding", None) or "ascii"
    return encoding.lower().replace("-", "").replace("_", "") in ("utf8", "utf16", "utf8sig")


def safe_streams() -> None:
    """Signs the console's encoding lacks are replaced by plain ones instead of stopping the program."""
    for stream in (sys.stdout, sys.stderr):
        if not has_every_sign(stream) and hasattr(stream, "reconfigure"):
            from cracktie.console import register_plain_signs

            stream.reconfigure(errors=register_plain_signs())


def drop_output() -> None:
    """What is left in the buffer has nowhere to go; without this the interpreter would try again at its end."""
    import contextlib

    with contextlib.suppress(OSError):
        sys.stdout.close()
    sys.stdout = None  # type: ignore[assignment, unused-ignore]  # print then does nothing


def output_works() -> bool:
    """Whether what was printed so far reaches standard output; if not, the rest is dropped."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        drop_output()
        return False
    return True


def defect_line(error: Exception) -> str:
    """One line about an error nobody foresaw: a defect of this program, whatever the input was."""
    import traceback

    place = traceback.extract_tb(error.__traceback__)[-1]
    where = f"{place.filename.replace(os.sep, '/').rpartition('/')[2]}:{place.lineno}"
    said = f"{type(error).__name__}: {error}".splitlines()[0]
    return f"a defect in cracktie, please report it: {said} ({where}); CRACKTIE_TRACE=1 shows the whole trace"


def terminal_width() -> int:
    """Columns of the terminal: COLUMNS where set, else what the terminal says, else 80."""
    given = os.environ.get("COLUMNS", "")
    if given.isdigit() and int(given) > 0:
        return int(given)
    try:
        return (sys.__stdout__ and os.get_terminal_size(sys.__stdout__.fileno()).columns) or 80
    except (OSError, ValueError):
        return 80
