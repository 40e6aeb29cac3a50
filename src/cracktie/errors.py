"""Errors and problems: one message says what, where, what was given, what is needed and how to mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any


class CracktieError(Exception):
    """Base of every error this package raises on purpose; the command line shows it without a traceback."""


class UnknownName(CracktieError, LookupError):
    """A model, guideline set, specimen or quantity of that name does not exist."""


class ModelInputError(CracktieError, ValueError):
    """A model was called with missing, unknown or impossible inputs."""


class OutOfScope(CracktieError):
    """A member or loading this package deliberately does not treat."""


class FileTrouble(CracktieError, OSError):
    """A file cannot be read or written (missing, locked, no permission, disk full)."""


@dataclass(frozen=True)
class Problem:
    """One finding about an input file.

    `level` is 'error' or 'warning'; `line` and `column` count from 1 and are None where unknown;
    `key` is the dotted path inside the file; `value` the text as given; `fix` says how to mend it.
    """

    level: str
    file: str
    message: str
    line: int | None = None
    column: int | None = None
    key: str = ""
    value: str | None = None
    fix: str = ""

    def __str__(self) -> str:
        place = ":".join([self.file, *(str(n) for n in (self.line, self.column) if n is not None)])
        subject = self.key if self.value is None else f"{self.key} = {self.value!r}"
        parts = [place, *([subject] if subject else []), self.message]
        text = ": ".join(parts)
        return f"{text}; {self.fix}" if self.fix else text

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON output."""
        return dict(self.__dict__)


class InputRefused(CracktieError):
    """An input cannot be used; carries every problem found, not only the first."""

    def __init__(self, problems: Iterable[Problem] | Problem):
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))
