"""The record of a reduction: every step that changed or flagged numbers, in order, never edited."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

Argument: TypeAlias = str | float | int | bool | None


@dataclass(frozen=True)
class Step:
    """One operation: its name, the arguments it was called with and the rows it touched.

    `first` and `last` are row indices counted from 0 (None where no row was touched).
    """

    name: str
    arguments: tuple[tuple[str, Argument], ...] = ()
    rows: int = 0
    first: int | None = None
    last: int | None = None

    def __str__(self) -> str:
        listed = ", ".join(
            f"{key}={value:.6g}" if isinstance(value, float) else f"{key}={value}" for key, value in self.arguments
        )
        where = f", rows {self.first} to {self.last}" if self.first is not None else ""
        return f"{self.name}({listed}): {self.rows} rows{where}"

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON output."""
        return {
            "name": self.name,
            "arguments": dict(self.arguments),
            "rows": self.rows,
            "first": self.first,
            "last": self.last,
        }


@dataclass(frozen=True)
class Trail:
    """An immutable list of steps; `add` gives a new, longer trail."""

    steps: tuple[Step, ...] = ()

    def add(self, name: str, arguments: Mapping[str, Argument] | None = None, rows: Any = 0) -> Trail:
        """A trail with one more step.

        `rows` is a boolean mask or an array of row indices (both counted and bounded), or a plain number.
        """
        count, first, last = _bounds(rows)
        step = Step(name, tuple((arguments or {}).items()), count, first, last)
        return Trail((*self.steps, step))

    def __iter__(self) -> Iterator[Step]:
        return iter(self.steps)

    def __len__(self) -> int:
        return len(self.steps)

    def to_list(self) -> list[dict[str, Any]]:
        """Plain list for JSON output."""
        return [step.to_dict() for step in self.steps]


def _bounds(rows: Any) -> tuple[int, int | None, int | None]:
    import numpy as np

    if isinstance(rows, int):
        return rows, None, None
    array = np.asarray(rows)
    index = np.flatnonzero(array) if array.dtype == bool else np.sort(array)
    if index.size == 0:
        return 0, None, None
    return int(index.size), int(index[0]), int(index[-1])
