"""Results of reduced tests: numbers with uncertainty and origin, curves for figures, and the trail back to the rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from cracktie.errors import Problem, UnknownName
from cracktie.lab.budget import Budget
from cracktie.lab.trail import Trail
from cracktie.results import Quantity, finite, frame, versioned

if TYPE_CHECKING:
    import numpy as np
    import pandas


@dataclass(frozen=True)
class Curve:
    """A curve for figures, thinned so that no peak is lost: x and y arrays with their names (glossary) and label."""

    label: str
    x_name: str
    y_name: str
    x: np.ndarray
    y: np.ndarray


@dataclass(frozen=True)
class Mark:
    """An event: when, in which row of the first log (from 0), at which shear (N), how found, how sure (0 to 1).

    `strip`, `face` and `detail` ('fan', 'strip end', ...) where it has them; `proposed` is what was proposed (time, V,
    row, confidence, evidence) where the engineer accepted, moved or rejected it, `reason` what was written beside.
    """

    kind: str
    time: float
    V: float | None
    channel: str
    method: str
    confidence: float
    evidence: str
    status: str = "proposed"
    row: int | None = None
    strip: int | None = None
    face: str | None = None
    detail: str = ""
    proposed: Mapping[str, Any] | None = None
    reason: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        return {**self.__dict__, "V": finite(self.V), "time": finite(self.time)}


@dataclass(frozen=True)
class Mode:
    """A failure mode: `modes` of the closed list, several where gauges cannot tell them apart; V in N, time in s.

    `source` is 'observed' or 'measured'; `confidence` the observer's word, or that of the event (0 to 1) as text;
    `agreement` what the other source says to it.
    """

    modes: tuple[str, ...]
    source: str
    V: float | None
    time: float | None
    strip: int | None
    face: str | None
    anchor: str | None
    confidence: str
    evidence: str
    agreement: str = ""

    @property
    def shown(self) -> str:
        """Words for a table: the modes it may be, of an anchor that is not told apart only that it failed."""
        return " or ".join(self.modes) if len(self.modes) <= 4 else "anchor failure, not told apart"

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        return {**self.__dict__, "modes": list(self.modes), "V": finite(self.V), "time": finite(self.time)}


@dataclass(frozen=True)
class LogUse:
    """A raw log as used: its hash, rows read and what the import reported."""

    name: str
    sha256: str
    rows: int
    report: tuple[str, ...]
    simulated: bool


@dataclass(frozen=True)
class TestResult:
    """One reduced test.

    `values` maps a glossary name to its quantity; `bound` says that V_max is only a lower bound of the studied span's
    resistance (outcome); `fault` takes the test out of every statistic. `budgets` holds, by the same names, what the
    uncertainty of a value is made of: instruments and readings of this test, never the scatter between specimens.
    """

    __test__ = False

    test: str
    specimen: str
    span: str
    batch: str | None
    outcome: str | None
    state: str
    bound: bool
    fault: bool
    simulated: bool
    values: Mapping[str, Quantity]
    marks: tuple[Mark, ...]
    curves: tuple[Curve, ...]
    logs: tuple[LogUse, ...]
    trail: Trail
    notes: tuple[str, ...] = ()
    section_text: str = ""
    budgets: Mapping[str, Budget] = field(default_factory=dict)
    modes: tuple[Mode, ...] = ()

    def value(self, name: str) -> float | None:
        """A value, None where the test has none."""
        found = self.values.get(name)
        return None if found is None else found.value

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping without the curves."""
        return {
            "test": self.test, "specimen": self.specimen, "span": self.span, "batch": self.batch,
            "outcome": self.outcome, "state": self.state, "lower_bound": self.bound, "fault": self.fault,
            "simulated": self.simulated, "values": [q.to_dict() for q in self.values.values()],
            "events": [m.to_dict() for m in self.marks], "failure_modes": [m.to_dict() for m in self.modes],
            "notes": list(self.notes), "section": self.section_text,
            "budgets": {name: budget.to_list() for name, budget in self.budgets.items()},
            "logs": [{**log.__dict__, "report": list(log.report)} for log in self.logs], "trail": self.trail.to_list(),
        }  # fmt: skip


@dataclass(frozen=True)
class Reduced:
    """All reduced tests of a campaign; `skipped` names tests without a result and why."""

    title: str
    tests: Mapping[str, TestResult]
    warnings: tuple[Problem, ...] = ()
    skipped: Mapping[str, str] = field(default_factory=dict)

    @property
    def simulated(self) -> bool:
        """Whether any test comes from simulated logs."""
        return any(t.simulated for t in self.tests.values())

    def test(self, name: str) -> TestResult:
        """One test; raises `UnknownName`."""
        if name not in self.tests:
            raise UnknownName(f"no reduced test {name!r}; there are {', '.join(self.tests) or 'none'}")
        return self.tests[name]

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows of all tests."""
        for test in self.tests.values():
            yield from test.values.values()

    def to_frame(self, *, wide: bool = False) -> pandas.DataFrame:
        """Tidy pandas table, or one row a test."""
        return frame(self.quantities(), wide=wide)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        tests = [t.to_dict() for t in self.tests.values()]
        problems = [p.to_dict() for p in self.warnings]
        body = {"title": self.title, "simulated": self.simulated, "tests": tests}
        return versioned("reduced", {**body, "skipped": dict(self.skipped), "warnings": problems})
