"""Summaries of coupon tests: mean, scatter, uncertainty, fractiles by their rules; what no such material has."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from cracktie.campaign.coupon_rows import CouponRow
from cracktie.errors import CracktieError, Problem
from cracktie.stats.fractile import five_percent, five_percent_lognormal, guaranteed, tolerance_factor
from cracktie.units import Quantity

FEWEST = 3
"""Results a fractile with unknown scatter needs."""
ANCHOR_CONFIDENCE = 0.90
"""Confidence of the 5 % fractile in the qualification of anchors (EAD 330499, ACI 355; from memory)."""
POSSIBLE: Mapping[str, tuple[float, float, str]] = {
    "f_c": (1.0, 300.0, "MPa"), "E_c": (1e3, 1e5, "MPa"), "f_ct": (0.1, 30.0, "MPa"),
    "f_ct_split": (0.1, 30.0, "MPa"), "f_ct_fl": (0.1, 50.0, "MPa"), "pull_off": (0.02, 50.0, "MPa"),
    "f_y": (50.0, 3e3, "MPa"), "f_u": (50.0, 4e3, "MPa"), "E_s": (1e4, 4e5, "MPa"), "A_gt": (5e-4, 0.6, ""),
    "force_per_width": (5.0, 2e4, "N/mm"), "stiffness_per_width": (500.0, 2e6, "N/mm"), "eps_fu": (5e-4, 0.08, ""),
    "f_t": (0.5, 300.0, "MPa"), "E_a": (5.0, 5e4, "MPa"), "resistance": (50.0, 5e6, "N"),
}  # fmt: skip
"""Property -> least and largest value any such material has, wide on purpose: beyond them it is a slip of the unit, of
a size or of a column."""
USUAL: Mapping[str, tuple[float, float]] = {"E_c": (12e3, 55e3), "E_s": (180e3, 220e3)}
"""Range outside of which a value of the usual materials is worth a second look; common practice, no source."""
USUAL_CV = 0.15
PULL_OFF_CV = 0.35
"""Coefficients of variation above which the numbers are worth a second look; common practice, no source."""


@dataclass(frozen=True)
class Summary:
    """One property of one group of coupons, internal units.

    `u` is the standard uncertainty of the mean: u^2 = s^2/n + u_instrument^2, the scatter between specimens averaged
    over n, the instrument's (mean of those stated) not, because all specimens share machine and sensors. `s` is None
    for one specimen. `fractile` is the 5 % fractile (EN 1990 D.7, V_X unknown, not less than 0.10), normal, and
    `fractile_lognormal` the same for a log-normal one; `fractile_90` the 5 % fractile at 90 % confidence of anchor
    tests; `guaranteed` the mean less three standard deviations.
    """

    name: str
    unit: str
    n: int
    mean: float
    s: float | None
    u_instrument: float | None
    u: float | None
    fractile: float | None
    guaranteed: float | None
    group: str = ""
    fractile_lognormal: float | None = None
    fractile_90: float | None = None

    @property
    def cv(self) -> float | None:
        """Coefficient of variation between specimens."""
        return None if self.s is None else self.s / self.mean

    @property
    def value(self) -> Quantity:
        """Mean with its standard uncertainty."""
        return Quantity(self.mean, self.u)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        return {**self.__dict__, "cv": self.cv}


@dataclass(frozen=True)
class CouponSet:
    """What one material's file gave: its summaries, specimens left out with the reason, and remarks.

    `curves` holds the strains and stresses of every bar whose log was read, by specimen.
    """

    file: str
    summaries: tuple[Summary, ...]
    left_out: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    curves: Mapping[str, tuple[Any, Any]] = field(default_factory=dict, compare=False)

    def summary(self, name: str, group: str = "") -> Summary | None:
        """One property of one group; None where the file does not give it."""
        return next((s for s in self.summaries if s.name == name and s.group == group), None)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping; curves stay out."""
        summaries = [s.to_dict() for s in self.summaries]
        return {"file": self.file, "summaries": summaries, "left_out": dict(self.left_out), "notes": list(self.notes)}


Value = Callable[[CouponRow], Quantity | None]


class Collected:
    """Rows of one file on their way to summaries."""

    def __init__(self, file: str, rows: list[CouponRow], problems: list[Problem]):
        self.file, self.rows, self.problems = file, rows, problems
        self.summaries: list[Summary] = []
        self.notes: list[str] = []

    def one(self, row: CouponRow, value: Value) -> Quantity | None:
        """What `value` gives for a row; None where it gives nothing, or a problem (told once)."""
        try:
            return value(row)
        except CracktieError as error:
            told = row.problem(str(error))
            if told not in self.problems:
                self.problems.append(told)
            return None

    def checked(self, row: CouponRow, name: str, value: Value) -> Quantity | None:
        """The same, and a problem where no such material has that value."""
        found = self.one(row, value)
        if found is None:
            return None
        low, high, unit = POSSIBLE[name]
        if not low <= found <= high:
            said = f"{name} = {float(found):.4g} {unit}".rstrip()
            told = row.problem(
                f"{said} is not between {low:g} and {high:g}", "look for a slip of a unit, a size or a column"
            )
            if told not in self.problems:
                self.problems.append(told)
            return None
        return found

    def summarise(
        self, name: str, unit: str, value: Value, *, rows: Iterable[CouponRow] | None = None, group: str = "",
        anchors: bool = False,
    ) -> Summary | None:  # fmt: skip
        """Summary of what `value` gives for the rows; None where it gives nothing."""
        listed = self.rows if rows is None else rows
        found = [one for row in listed if (one := self.checked(row, name, value)) is not None]
        if not found:
            return None
        made = summary(name, unit, found, group, anchors=anchors)
        self.summaries.append(made)
        limit = PULL_OFF_CV if name == "pull_off" else USUAL_CV
        place = f"{name}, {group}" if group else name
        if made.cv is not None and made.cv > limit:
            said = f"{place}: a scatter of {100 * made.cv:.0f} % is unusual"
            self.problems.append(Problem("warning", self.file, said, fix="look at the single results"))
        if name in USUAL and not USUAL[name][0] <= made.mean <= USUAL[name][1]:
            low, high = (v / 1000 for v in USUAL[name])
            said = f"{place}: {made.mean / 1000:.1f} GPa is outside the usual {low:g} to {high:g} GPa"
            self.problems.append(Problem("warning", self.file, said, fix="check base length, area and units"))
        if made.n == 1:
            self.notes.append(f"{place}: one specimen says nothing about scatter, so u holds the instrument only")
        return made


def summary(name: str, unit: str, values: Sequence[Quantity], group: str = "", *, anchors: bool = False) -> Summary:
    """Mean, scatter, uncertainty and fractiles of one property; `anchors` adds the fractile at 90 % confidence."""
    n = len(values)
    mean = math.fsum(values) / n
    s = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)) if n > 1 else None
    stated = [v.u for v in values if v.u is not None]
    instrument = math.fsum(stated) / len(stated) if stated else None
    parts = [p for p in (None if s is None else s / math.sqrt(n), instrument) if p is not None]
    u = math.hypot(*parts) if parts else None
    sure = guaranteed(mean, s) if s is not None else None
    made = Summary(name, unit, n, mean, s, instrument, u, None, sure, group)
    if s is None or n < FEWEST:
        return made
    from dataclasses import replace

    low = mean - tolerance_factor(n, confidence=ANCHOR_CONFIDENCE) * s if anchors else None
    return replace(
        made, fractile=five_percent(mean, s, n), fractile_lognormal=five_percent_lognormal(values), fractile_90=low
    )


def product(*factors: tuple[Quantity, int]) -> Quantity:
    """Product of quantities raised to powers, with first-order uncertainty of independent inputs."""
    value = math.prod(float(q) ** power for q, power in factors)
    relative = math.hypot(*(power * (q.u or 0.0) / float(q) for q, power in factors))
    return Quantity(value, value * relative if any(q.u is not None for q, _ in factors) else None)


def times(q: Quantity, factor: float) -> Quantity:
    """A quantity times a number."""
    return Quantity(q * factor, None if q.u is None else q.u * factor)
