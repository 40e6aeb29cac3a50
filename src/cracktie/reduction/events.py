"""All events of one test: sought in its readings, then as the engineer chose, in order of time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import LEG_EVENTS
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.lab.cracks import first_diagonal_crack
from cracktie.lab.debonding import leg_events
from cracktie.lab.events import Event, after_peak, listed, loading_envelope, peak
from cracktie.lab.load_drops import load_drops
from cracktie.reduced import Mark
from cracktie.reduction.event_choices import Chooser, Chosen, end_gauges, loss_events
from cracktie.reduction.flexural import flexural_crack
from cracktie.reduction.signals import Signals
from cracktie.reduction.wrap_legs import legs_of

FRACTIONS = (0.85, 0.80)
"""Falls after the peak that are marked."""
TOGETHER = 1.0
"""What happens within so many s of a load drop is named with it."""


@dataclass(frozen=True)
class Events:
    """Events of a test by time; `top` is V_max, `envelope` the mask of rows on the loading envelope."""

    chosen: tuple[Chosen, ...]
    top: Chosen
    envelope: Any

    def first(self, *kinds: str) -> Chosen | None:
        """The first event of some kinds that counts."""
        return next((c for c in self.chosen if c.used and c.event.kind in kinds), None)

    def of(self, *kinds: str) -> list[Chosen]:
        """All events of some kinds that count."""
        return [c for c in self.chosen if c.used and c.event.kind in kinds]

    def kind(self, one: Chosen) -> str:
        """The kind as it is shown: the first debonding has a name of its own."""
        return "first debonding" if one is self.first("debonding") else one.event.kind


def find_events(
    campaign: Campaign, name: str, test: Test, span: str, signals: Signals, delta: Any, notes: list[str]
) -> Events:
    """Seek all events of a test and apply the choices of reduction.yaml; losses end the readings of their gauges."""
    time, load = signals.time, signals.of("load")[0]
    P = load.values
    chooser = Chooser(campaign, name, time, P, load.noise, notes)
    losses = chooser.apply(("gauge loss",), loss_events(signals, P))
    end_gauges(signals, losses)
    hold = None if test.peak_hold is None else float(test.peak_hold)
    proposed = peak(time, P, peak_hold=hold, u_reading=load.noise)
    if hold is not None:
        notes.append(f"V_max: {proposed.method}; {proposed.evidence}".replace("V_max: peak", "P_max: peak", 1))
    top = chooser.apply(("V_max",), [proposed])[0]
    found = [top, *losses]
    for fraction in FRACTIONS:
        event = after_peak(time, P, fraction=fraction, deflection=delta, top=top.event.row)
        found += chooser.apply((f"{100 * fraction:.0f} % after the peak",), [] if event is None else [event])
    found += _cracks(chooser, test, signals, delta, notes)
    legs = legs_of(campaign, test, span, signals)
    sought, _ = leg_events(time, P, legs, deflection=delta)
    found += chooser.apply(("debonding", "first debonding"), [e for e in sought if e.kind == "debonding"])
    for kind in LEG_EVENTS[2:]:
        found += chooser.apply((kind,), [e for e in sought if e.kind == kind])
    drops = [_with_company(e, found) for e in load_drops(time, P, deflection=delta)]
    found += chooser.apply(("load drop",), drops)
    found.sort(key=lambda one: one.event.time)
    return Events(tuple(found), top, loading_envelope(P)[1])


def _cracks(chooser: Chooser, test: Test, signals: Signals, delta: Any, notes: list[str]) -> list[Chosen]:
    """First cracks; in a beam that was cracked before only those the engineer adds."""
    diagonal = flexural = None
    if test.state == "virgin":
        gauges = {s.channel.name: s.values for s in signals.of("bar strain") if s.channel.stirrup is not None}
        gauges |= {s.channel.name: s.values for s in signals.of("FRP strain")}
        diagonal = first_diagonal_crack(signals.time, chooser.load, gauges, deflection=delta)
    else:
        notes.append(f"state {test.state}: cracked before, so no first cracks are sought")
    chosen = chooser.apply(("first diagonal crack",), [] if diagonal is None else [diagonal])
    if test.state == "virgin":
        used = next((c.event for c in chosen if c.used), None)
        flexural = flexural_crack(signals.time, delta, chooser.load, used)
    return [*chooser.apply(("first flexural crack",), [] if flexural is None else [flexural]), *chosen]


def _with_company(drop: Event, found: Sequence[Chosen]) -> Event:
    """A load drop with what else happened at its moment."""
    near = [_words(c.event) for c in found if c.used and c.event.kind in _BRITTLE
            and abs(c.event.time - drop.time) <= TOGETHER]  # fmt: skip
    return replace(drop, evidence=f"{drop.evidence}; with {listed(near)}" if near else drop.evidence)


_BRITTLE = ("debonding", "strip rupture", "anchor failure", "first diagonal crack", "V_max")


def _words(event: Event) -> str:
    place = f" of strip {event.strip}" + (f" {event.face}" if event.face else "") if event.strip is not None else ""
    return f"{event.kind}{place}"


def marks(events: Events, shear: Callable[[float], float]) -> Iterator[Mark]:
    """Events for results, with the shear at each and the proposal behind what the engineer moved."""
    for one in events.chosen:
        e, p = one.event, one.proposed
        proposed = None
        if p is not None and one.status != "proposed":
            proposed = {"time": p.time, "V": shear(p.value), "row": p.row, "confidence": p.confidence,
                        "evidence": p.evidence}  # fmt: skip
        yield Mark(
            events.kind(one), e.time, shear(e.value), e.channel, e.method, e.confidence, e.evidence, one.status, e.row,
            e.strip, e.face, e.detail, proposed, one.reason,
        )  # fmt: skip


def steps(events: Events) -> Iterator[tuple[dict[str, Any], Any]]:
    """Arguments and row of the trail's step for each event: what was proposed, what is used."""
    for one in events.chosen:
        e = one.event
        arguments: dict[str, Any] = {"event": events.kind(one), "status": one.status}
        arguments |= {k: v for k, v in (("strip", e.strip), ("face", e.face), ("channel", e.channel)) if v}
        arguments["proposed_s"] = None if one.proposed is None else one.proposed.time
        arguments["used_s"] = e.time if one.used else None
        yield arguments, np.array([e.row])
