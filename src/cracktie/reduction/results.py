"""Results of one test from its signals: shears at events, deflections, strains, with uncertainty; curves."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import LOWER_BOUNDS, Choice, EventChoice, Test
from cracktie.lab import channels as lab
from cracktie.lab import events as lab_events
from cracktie.lab.derived import net_deflection, two_faces
from cracktie.reduced import Curve, Mark, TestResult
from cracktie.reduction.shear import ShearRule, setup_of, shear_rule
from cracktie.reduction.signals import NotReduced, Signal, Signals
from cracktie.results import Quantity
from cracktie.units import parse

POINTS = 1200
"""Points a curve for figures keeps, at most."""
_KINDS = {"V_cr": "first flexural crack", "V_dia": "first diagonal crack", "V_deb": "first debonding", "V_max": "V_max"}


class _Reducer:
    """One test on its way from signals to results."""

    def __init__(self, campaign: Campaign, name: str, test: Test, span: str, signals: Signals) -> None:
        self.campaign, self.name, self.test, self.span, self.signals = campaign, name, test, span, signals
        self.choice = campaign.reduction.tests.get(name, Choice())
        self.rule: ShearRule = shear_rule(campaign, test, span)
        self.load: Signal = signals.of("load")[0]
        self.P = self.load.values
        self.time = signals.time
        self.simulated = any(log.simulated for log in signals.logs)
        self.bound = test.outcome in LOWER_BOUNDS or test.outcome is None
        self.values: dict[str, Quantity] = {}
        self.marks: list[Mark] = []
        self.notes = list(signals.notes)
        self.delta, self.u_delta = self._deflection()

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
        top = lab_events.peak(self.time, self.P, u_reading=self.load.noise)
        self._peak(top)
        self._events(top)
        self._after_peak()
        self._strains(top.row)
        test = self.test
        if test.outcome is None:
            self.notes.append("no outcome is stated in tests.yaml: V_max is printed as a lower bound")
        return TestResult(
            test=self.name, specimen=test.specimen, span=self.span,
            batch=self.campaign.specimen(test.specimen).batch, outcome=test.outcome, state=test.state,
            bound=self.bound, fault=test.outcome == "test fault", simulated=self.simulated, values=self.values,
            marks=tuple(self.marks), curves=tuple(self._curves()), logs=tuple(self.signals.logs),
            trail=self.signals.trail.add("shear", {"rule": self.rule.text}, len(self.time)),
            notes=tuple(self.notes), section_text=self.rule.text,
        )  # fmt: skip

    def _deflection(self) -> tuple[Any, float]:
        at_load = self.signals.of("displacement", "load")
        if not at_load:
            self.notes.append("no displacement at the load: no deflection")
            return None, 0.0
        values = at_load[0].values
        if len(at_load) > 1:
            values = two_faces(at_load[0].values, at_load[1].values)[0]
            clean = [np.where(lab.hampel_flags(s.values), np.nan, s.values) for s in at_load[:2]]
            _, share, twisted = two_faces(*clean)
            if twisted:
                self.notes.append(f"the two faces differ by {100 * share:.0f} % of the deflection: twist")
        supports = [self.signals.of("displacement", f"{side} support") for side in ("left", "right")]
        u = math.sqrt(sum(_accuracy(s, "mm") ** 2 for s in at_load)) / len(at_load)
        if not all(supports):
            self.notes.append("support settlement is not measured: the deflection holds it")
            return values, u
        setup = setup_of(self.campaign, self.test)
        left, right = (float(s.x) for s in setup.supports)
        at = sum(float(load.x) for load in setup.loads) / len(setup.loads) - left
        u = math.hypot(u, max(_accuracy(s, "mm") for found in supports for s in found[:1]))
        return net_deflection(values, supports[0][0].values, supports[1][0].values, a=at, span=right - left), u

    def _peak(self, top: lab_events.Event) -> None:
        P, u = top.value, self.rule.u(top.value, self.load.u_zero)
        u_P = math.hypot(self.rule.u_cell * P, self.load.u_zero)
        self.put("P_max", P, "N", u_P, top.method, self.bound)
        self.put("V_max", self.rule.total(P), "N", u, top.method, self.bound)
        self.put("V_max_applied", self.rule.applied(P), "N", u, top.method, self.bound)
        self._delta_at("V_max", top.row, self._flat_top(top))
        self._mark("V_max", top)

    def _delta_at(self, name: str, row: int, u_place: float = 0.0) -> None:
        if self.delta is not None and math.isfinite(self.delta[row]):
            u = math.hypot(self.u_delta, u_place)
            self.put(f"delta_{name}", float(self.delta[row]), "mm", u, "settlement taken off")

    def _flat_top(self, top: lab_events.Event) -> float:
        """Standard uncertainty of the deflection at the peak from not knowing which row is the true one, mm.

        Rows whose load lies within three times its noise below the peak may all hold it; their range of deflection is
        read as rectangular.
        """
        if self.delta is None:
            return 0.0
        near = top.value - 3.0 * max(self.load.noise, abs(top.u)) <= self.P
        rows = self.delta[near]
        rows = rows[np.isfinite(rows)]
        return float(np.ptp(rows)) / math.sqrt(12.0) if rows.size > 1 else 0.0

    def _mark(self, name: str, event: lab_events.Event) -> None:
        V = self.rule.total(event.value)
        kind = _KINDS.get(name, name)
        self.marks.append(Mark(kind, event.time, V, "", event.method, event.confidence, event.evidence))

    def _events(self, top: lab_events.Event) -> None:
        bars = {s.channel.name: s.values for s in self.signals.of("bar strain") if s.channel.stirrup is not None}
        strips = {s.channel.name: s.values for s in self.signals.of("FRP strain")}
        found: dict[str, lab_events.Event | None] = {}
        if self.test.state != "virgin":
            self.notes.append(f"state {self.test.state}: cracked before, so no first cracks are sought")
        elif self.delta is not None:
            found["V_cr"] = lab_events.first_flexural_crack(self.time, self.delta, self.P)
        if self.test.state == "virgin":
            gauges = {**bars, **strips}
            found["V_dia"] = lab_events.first_diagonal_crack(self.time, self.P, gauges, deflection=self.delta)
        if strips:
            found["V_deb"] = lab_events.first_debonding(self.time, self.P, strips)[0]
        for name, proposal in found.items():
            if proposal is None:
                continue
            event, status = self._chosen(_KINDS[name], proposal)
            if event is None:
                continue
            u = math.hypot(self.rule.u(event.value, self.load.u_zero), abs(self.rule.influence) * event.u)
            self.put(name, self.rule.total(event.value), "N", u, f"{event.method}, {status}")
            self._delta_at(name, event.row)
            self._mark(name, event)

    def _chosen(self, kind: str, event: lab_events.Event) -> tuple[lab_events.Event | None, str]:
        """The event as the engineer accepted, moved or rejected it in reduction.yaml."""
        choices: Sequence[EventChoice] = [c for c in self.choice.events if c.event == kind]
        if not choices:
            return event, "proposed"
        choice = choices[-1]
        if choice.status == "rejected":
            self.notes.append(f"{kind} at {event.time:.1f} s rejected: {choice.reason or 'no reason given'}")
            return None, "rejected"
        if choice.status == "moved" and choice.time is not None:
            row = int(np.argmin(np.abs(self.time - float(choice.time))))
            self.notes.append(f"{kind} moved from {event.time:.1f} to {self.time[row]:.1f} s: {choice.reason or ''}")
            place, load = float(self.time[row]), float(self.P[row])
            return replace(event, row=row, time=place, value=load, confidence=1.0), "moved"
        return event, "accepted"

    def _after_peak(self) -> None:
        event = lab_events.after_peak(self.time, self.P, deflection=self.delta)
        if event is None:
            return
        self._delta_at("85", event.row)
        self.marks.append(
            Mark("85 % after the peak", event.time, self.rule.total(event.value), "", event.method, event.confidence,
                 event.evidence)
        )  # fmt: skip

    def _strains(self, row: int) -> None:
        gauges = self.signals.of("FRP strain")
        until = {s.channel.name: s.values[: row + 1] for s in gauges}
        peaks = {n: float(np.nanmax(v)) for n, v in until.items() if np.isfinite(v).any()}
        if not peaks:
            return
        name = max(peaks, key=lambda n: peaks[n])
        self.put("eps_f_max", peaks[name], "-", None, f"largest of {len(peaks)} gauges up to V_max: {name}")
        at_peak = [v[-1] for v in until.values() if np.isfinite(v[-1])]
        if at_peak:
            text = f"mean of {len(at_peak)} gauges at V_max, not of the strain along the crack"
            self.put("eps_f_mean", float(np.mean(at_peak)), "-", None, text)

    def _curves(self) -> list[Curve]:
        V = self.rule.influence * (self.P + self.rule.rig) + self.rule.own
        curves = []
        if self.delta is not None:
            curves.append(thinned("shear against deflection", "delta", "V", self.delta, V))
        for s in self.signals.of("FRP strain"):
            if np.isfinite(s.values).any():
                curves.append(thinned(s.channel.name, "eps_f", "V", s.values, V, POINTS // 3))
        return curves


def _accuracy(signal: Signal, unit: str) -> float:
    """Standard uncertainty of a channel: its stated accuracy (rectangular) and its zero."""
    stated = signal.channel.uncertainty
    half = float(parse(stated, unit)) if stated and not stated.strip().endswith("%") else 0.0
    return math.hypot(half / math.sqrt(3), signal.u_zero)


def thinned(label: str, x_name: str, y_name: str, x: Any, y: Any, points: int = POINTS) -> Curve:
    """A curve with the extremes of every stretch of rows kept, so that no peak and no drop is lost."""
    good = np.isfinite(x) & np.isfinite(y)
    x, y = np.asarray(x)[good], np.asarray(y)[good]
    if len(x) > points:
        edges = np.linspace(0, len(x), points // 4 + 1).astype(int)
        rows: set[int] = {0, len(x) - 1}
        for low, high in itertools.pairwise(edges):
            for part in (x[low:high], y[low:high]):
                rows.update((low + int(np.argmin(part)), low + int(np.argmax(part))))
        keep = np.array(sorted(rows))
        x, y = x[keep], y[keep]
    return Curve(label, x_name, y_name, x.copy(), y.copy())


def test_result(campaign: Campaign, name: str, test: Test, span: str, signals: Signals) -> TestResult:
    """Results of one test. Raises `NotReduced` where its load has no readings."""
    if not np.isfinite(signals.of("load")[0].values).any():
        raise NotReduced("the load has no readings")
    return _Reducer(campaign, name, test, span, signals).run()
