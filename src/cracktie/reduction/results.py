"""Results of one test from its signals: shears at events, deflections, strains, with uncertainty; curves."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import LOWER_BOUNDS, Test
from cracktie.lab.budget import Budget
from cracktie.lab.events import Event
from cracktie.reduced import Curve, Mark, TestResult
from cracktie.reduction.budgets import Found, RigSources, shear_budget
from cracktie.reduction.crossing import critical_crack
from cracktie.reduction.deflection import deflection
from cracktie.reduction.derived import derived
from cracktie.reduction.events import Events, find_events, marks, steps
from cracktie.reduction.modes import failure_modes
from cracktie.reduction.opening import Moment, openings
from cracktie.reduction.operator import operator_marks
from cracktie.reduction.profiles import profile_curves, profile_readings, profile_values
from cracktie.reduction.shares import shares
from cracktie.reduction.shear import ShearRule, setup_of, shear_rule
from cracktie.reduction.signals import NotReduced, Signal, Signals
from cracktie.reduction.strain_values import strain_values
from cracktie.results import Quantity

POINTS = 1200
"""Points a curve for figures keeps, at most."""
STAYS = 0.97
"""A fall to this share of the peak ends a test; own choice."""
EVENTS = {"V_cr": "first flexural crack", "V_dia": "first diagonal crack", "V_deb": "debonding"}
"""Results that are the shear at the first event of a kind."""


class _Reducer:
    """One test on its way from signals to results."""

    def __init__(self, campaign: Campaign, name: str, test: Test, span: str, signals: Signals) -> None:
        self.campaign, self.name, self.test, self.span, self.signals = campaign, name, test, span, signals
        self.rule: ShearRule = shear_rule(campaign, test, span)
        self.load: Signal = signals.of("load")[0]
        self.P = self.load.values
        self.time = signals.time
        self.simulated = any(log.simulated for log in signals.logs)
        self.bound = test.outcome in LOWER_BOUNDS or test.outcome is None
        self.values: dict[str, Quantity] = {}
        self.budgets: dict[str, Budget] = {}
        self.marks: list[Mark] = []
        self.more: list[Curve] = []
        self.P_cr: float | None = None
        self.moments: list[Moment] = []
        self.deflection = deflection(signals, setup_of(campaign, test))
        self.delta = None if self.deflection is None else self.deflection.values
        self.notes = list(signals.notes)

    def put(
        self, name: str, value: float | None, unit: str, u: float | None = None, how: str = "", bound: bool = False
    ) -> None:
        """Keep one value; nothing is kept for none and NaN."""
        if value is None or not math.isfinite(value):
            return
        self.values[name] = Quantity(
            self.name, name, "measured", float(value), unit, u, how, bound=bound, simulated=self.simulated
        )

    def run(self) -> TestResult:
        """All results."""
        events = find_events(self.campaign, self.name, self.test, self.span, self.signals, self.delta, self.notes)
        top = events.top.event
        self._peak(top)
        self._at_events(events)
        modes = failure_modes(
            self.campaign, self.name, self.test, self.span, self.signals, events, self.rule, self.notes
        )
        for found in strain_values(self.signals, top.row):
            self._found(found)
        self._derived(top)
        self.marks += operator_marks(self.campaign, self.test, self.time, self.P, self.rule.total, self.notes,
                                     self.signals.began)  # fmt: skip
        test = self.test
        if test.outcome is None:
            self.notes.append("no outcome is stated in tests.yaml: V_max is printed as a lower bound")
        return TestResult(
            test=self.name, specimen=test.specimen, span=self.span,
            batch=self.campaign.specimen(test.specimen).batch, outcome=test.outcome, state=test.state,
            bound=self.bound, fault=test.outcome == "test fault", simulated=self.simulated, values=self.values,
            marks=tuple(self.marks), curves=tuple(self._curves()), logs=tuple(self.signals.logs),
            trail=self.signals.trail.add("shear", {"rule": self.rule.text}, len(self.time)),
            notes=tuple(self.notes), section_text=self.rule.text, budgets=self.budgets,
            modes=modes,
        )  # fmt: skip

    def _peak(self, top: Event) -> None:
        P, u_reading = top.value, math.hypot(self.load.u_zero, top.u)
        rule = self.rule
        self.put("P_max", P, "N", math.hypot(rule.u_cell * P, u_reading), top.method, self.bound)
        self.put("V_max", rule.total(P), "N", rule.u(P, u_reading), top.method, self.bound)
        self.put("V_max_applied", rule.applied(P), "N", rule.u_applied(P, u_reading), top.method, self.bound)
        self._budget("V_max", P, top.u)
        self._budget("V_max_applied", P, top.u, total=False)
        noise = max(self.load.noise, abs(top.u))
        flat = top.value - 3.0 * noise <= self.P
        self._delta_at("V_max", top.row, self._spread(flat))
        self._tell_end(top.row)
        self.moments.append(Moment("V_max", top.row, flat))

    def _tell_end(self, row: int) -> None:
        """A record in which nothing falls after the largest load may end before the failure; one in which the load was
        larger elsewhere has its peak where the engineer put it."""
        P, after = self.P[row], self.P[row:]
        if np.nanmin(after) > STAYS * P and self.test.outcome not in (None, "stopped"):
            self.notes.append(
                f"the load never falls below {100 * STAYS:.0f} % of the peak before the record ends: if the failure is "
                "not in it, V_max is a lower bound (outcome: stopped)"
            )
        if np.nanmax(self.P) > P / STAYS:
            best = int(np.nanargmax(self.P))
            self.notes.append(
                f"V_max stands at {P / 1000:.1f} kN of load where it was placed; the log has "
                f"{self.P[best] / 1000:.1f} kN at {self.time[best]:.1f} s"
            )

    def _delta_at(self, name: str, row: int, u_place: float = 0.0, at: float | None = None) -> None:
        """Deflection at an event; `u_place` (mm) is what not knowing the row adds, `at` its time where it lies between
        the row and the one before."""
        if self.deflection is None:
            return
        value = float(self.deflection.values[row])
        if at is not None:
            value, u_place = self.deflection.between(self.time, row, at)
        if math.isfinite(value):
            how = "settlement taken off" if self.deflection.supports else "settlement not measured"
            self._found(Found(f"delta_{name}", value, "mm", self.deflection.budget(row, u_place), how))

    def _spread(self, rows: Any) -> float:
        """Standard uncertainty from not knowing which of these rows holds an event: their range, rectangular, mm.

        At the peak: rows whose load lies within three times its noise below the largest (a flat top has many). At an
        event: rows of the envelope whose load lies within two standard uncertainties of its place.
        """
        if self.delta is None:
            return 0.0
        near = self.delta[rows]
        near = near[np.isfinite(near)]
        return float(np.ptp(near)) / math.sqrt(12.0) if near.size > 1 else 0.0

    def _at_events(self, events: Events) -> None:
        """Shear and deflection at the first cracks and the first debonding, deflection at 85 %; marks and trail."""
        for name, kind in EVENTS.items():
            chosen = events.first(kind)
            if chosen is None:
                continue
            event, status = chosen.event, chosen.status
            u = self.rule.u(event.value, math.hypot(self.load.u_zero, event.u))
            self.put(name, self.rule.total(event.value), "N", u, f"{event.method}, {status}")
            self._budget(name, event.value, event.u)
            self.P_cr = event.value if name == "V_cr" else self.P_cr
            near = events.envelope & (np.abs(self.P - event.value) <= 2.0 * event.u)
            placed = status in ("moved", "added")
            self._delta_at(name, event.row, 0.0 if placed else self._spread(near))
            if name == "V_deb":
                self.moments.append(Moment(name, event.row, None if placed else near))
        after = events.first("85 % after the peak")
        if after is not None:
            self._delta_at("85", after.event.row, at=after.event.time)
        self.marks += marks(events, self.rule.total)
        for arguments, row in steps(events):
            self.signals.trail = self.signals.trail.add("event", arguments, row)

    def _found(self, found: Found) -> None:
        """Keep one value with its budget."""
        self.put(found.name, found.value, found.unit, None if found.budget is None else found.budget.u, found.how)
        if found.budget is not None and found.budget.components:
            self.budgets[found.name] = found.budget

    def _budget(self, name: str, P: float, u_row: float, *, total: bool = True) -> None:
        shared = RigSources.of(self.campaign, self.test)
        self.budgets[name] = shear_budget(
            self.rule, P, zero=self.load.u_zero, reading=u_row, total=total, shared=shared
        )

    def _derived(self, top: Event) -> None:
        """Stiffness, energy and the like; shares by measured strains at V_max, with their budgets."""
        V_max = self.values["V_max"]
        span = self.campaign.specimen(self.test.specimen).spans.get(self.span)
        length = float(span.length) if span is not None else 0.0
        shared = shares(
            self.campaign, self.name, self.test, self.span, self.signals, top.row, float(V_max.value or 0.0),
            self.budgets["V_max"],
        )  # fmt: skip
        signals, marks = self.signals, self.marks
        own = derived(signals, self.P, self.deflection, top.row, self.P_cr, length, marks, self.rule)
        lines = profile_values(profile_readings(self.campaign, self.test, self.signals, top.row, self.notes))
        for found in (*own, *shared.found, *self._openings(), *lines):
            self._found(found)
        self.notes += shared.notes
        for name, arguments in shared.steps:
            self.signals.trail = self.signals.trail.add(name, arguments, np.array([top.row]))
        self.more += profile_curves(self.campaign, self.test, self.signals, self.moments, self.P, self.notes)
        if shared.profile:
            along, strain = (np.array(part) for part in zip(*shared.profile, strict=True))
            self.more.append(Curve("strain along the critical crack at V_max", "s_cr", "eps_f", along, strain))

    def _openings(self) -> list[Found]:
        """Opening and sliding of the critical crack at V_max and at first debonding."""
        specimen = self.campaign.specimen(self.test.specimen)
        if specimen.kind != "beam" or specimen.section is None or not specimen.spans:
            return []
        crack = critical_crack(self.campaign, self.name, self.test, self.span)
        return list(openings(self.signals, self.moments, crack, self.span, self.notes))

    def _curves(self) -> list[Curve]:
        V = self.rule.influence * (self.P + self.rule.rig) + self.rule.own
        curves = []
        if self.delta is not None:
            curves.append(thinned("shear against deflection", "delta", "V", self.delta, V))
        for s in self.signals.of("FRP strain"):
            if np.isfinite(s.values).any():
                curves.append(thinned(s.channel.name, "eps_f", "V", s.values, V, POINTS // 3))
        return curves + self.more


def thinned(label: str, x_name: str, y_name: str, x: Any, y: Any, points: int = POINTS) -> Curve:
    """A curve with the extremes of every stretch of rows kept, so that no peak and no drop is lost."""
    good = np.isfinite(x) & np.isfinite(y)
    x, y = np.asarray(x)[good], np.asarray(y)[good]
    size = -(-len(x) // max(points // 4, 1))
    if len(x) > points and size > 1:
        whole = len(x) // size * size
        starts = np.arange(0, whole, size)
        rows = [np.array([0, len(x) - 1])]
        for part in (x, y):
            blocks = part[:whole].reshape(-1, size)
            rows += [starts + blocks.argmin(axis=1), starts + blocks.argmax(axis=1)]
            if whole < len(x):
                rest = part[whole:]
                rows.append(whole + np.array([rest.argmin(), rest.argmax()]))
        keep = np.unique(np.concatenate(rows))
        x, y = x[keep], y[keep]
    return Curve(label, x_name, y_name, x.copy(), y.copy())


def test_result(campaign: Campaign, name: str, test: Test, span: str, signals: Signals) -> TestResult:
    """Results of one test. Raises `NotReduced` where its load has no readings."""
    if not np.isfinite(signals.of("load")[0].values).any():
        raise NotReduced("the load has no readings")
    return _Reducer(campaign, name, test, span, signals).run()
