"""The trail of a reduction on paper: routine steps counted with the arguments they share, all others one by one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from cracktie.report.blocks import Column, Table

if TYPE_CHECKING:
    from cracktie.lab.trail import Step
    from cracktie.reduced import Reduced

ROUTINE = 2
"""An operation done more often than this many times a test, on average, is routine."""


def step_tables(reduced: Reduced) -> Iterable[Table]:
    """Two tables: the routine steps of all tests together, and the other steps of each test."""
    steps = [(t.test, step) for t in reduced.tests.values() for step in t.trail]
    if not steps:
        return
    counts: dict[str, int] = {}
    for _, step in steps:
        counts[step.name] = counts.get(step.name, 0) + 1
    routine = [name for name, n in counts.items() if n > ROUTINE * len(reduced.tests)]
    single = tuple((test, str(step)) for test, step in steps if step.name not in routine)
    if single:
        what = Column("what was done, with its arguments and rows", "", "left", prose=True)
        yield Table("Steps of the reduction of single tests", (Column("test", "", "left"), what), single)
    if routine:
        rows = tuple(_routine_row(name, [(t, s) for t, s in steps if s.name == name]) for name in routine)
        columns = (
            Column("operation", "", "left"), Column("times"), Column("tests"),
            Column("same each time", "", "left", prose=True), Column("differs", "", "left", prose=True),
        )  # fmt: skip
        note = "Every step with its arguments and rows stands in reduced.json beside this report, under trail."
        yield Table("Routine steps of the reduction, channel by channel", columns, rows, (note,))


def _routine_row(name: str, steps: list[tuple[str, Step]]) -> tuple[str, ...]:
    values: dict[str, set[object]] = {}
    for _, step in steps:
        for key, value in step.arguments:
            values.setdefault(key, set()).add(value)
    same = [f"{key} = {_plain(next(iter(found)))}" for key, found in values.items() if len(found) == 1]
    differs = []
    for key, found in values.items():
        if 1 < len(found) <= 4:
            differs.append(f"{key}: {', '.join(sorted(map(_plain, found)))}")
        elif len(found) > 4:
            differs.append(f"{key}: {len(found)} values")
    tests = len({test for test, _ in steps})
    return name, str(len(steps)), str(tests), "; ".join(same) or "nothing", "; ".join(differs) or "nothing"


def _plain(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
