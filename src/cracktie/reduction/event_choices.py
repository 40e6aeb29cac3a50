"""Events as the engineer accepted, moved, rejected or added them in reduction.yaml, each beside what was proposed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice, EventChoice
from cracktie.campaign.schema import Campaign
from cracktie.errors import CracktieError
from cracktie.lab import channels as lab
from cracktie.lab.events import Event
from cracktie.reduction.signals import Signals

FILE = "reduction.yaml"
SINGLE = ("first flexural crack", "first diagonal crack", "V_max", "85 % after the peak", "80 % after the peak")
"""Events that a test has once."""
NEAR, NEAR_SHARE = 5.0, 0.01
"""A time speaks of a proposal within so many s of it, or within that share of the record."""
PLACED = 1.0
"""An event placed by hand is taken to be right within this many s (rectangular): judgement, no source."""


@dataclass(frozen=True)
class Chosen:
    """One event as used (`event`; of a rejected one, the proposal), its status, and what was proposed."""

    event: Event
    status: str = "proposed"
    proposed: Event | None = None
    reason: str | None = None

    @property
    def used(self) -> bool:
        """Whether the event counts."""
        return self.status != "rejected"


class Chooser:
    """Applies the choices on the events of one test; what matches nothing becomes a note with its place in the file."""

    def __init__(self, campaign: Campaign, name: str, time: Any, load: Any, noise: float, notes: list[str]) -> None:
        self.campaign, self.name, self.time, self.load, self.noise = campaign, name, time, load, noise
        self.notes = notes
        self.choices = tuple(enumerate(campaign.reduction.tests.get(name, Choice()).events))

    def apply(self, kinds: Sequence[str], proposals: Sequence[Event]) -> list[Chosen]:
        """Proposals of some kinds (one of them, or names of one and the same) with the choices on them, by time."""
        chosen: dict[int, Chosen] = {i: Chosen(p, "proposed", p) for i, p in enumerate(proposals)}
        more: list[Chosen] = []
        for number, choice in self.choices:
            if choice.event not in kinds:
                continue
            found = None if choice.status == "added" else self._meant(number, choice, proposals)
            if found is not None:
                chosen[found] = self._changed(choice, proposals[found])
            elif choice.status in ("moved", "added"):
                placed = self._placed(number, choice, None)
                more += [] if placed is None else [Chosen(placed, choice.status, None, choice.reason)]
                if placed is not None and choice.status == "moved":
                    self._tell(number, "nothing is proposed any more; the event stays where it was moved to")
        return sorted([*chosen.values(), *more], key=lambda one: one.event.time)

    def _meant(self, number: int, choice: EventChoice, proposals: Sequence[Event]) -> int | None:
        """The proposal that a choice speaks of; None, and told, where there is none or more than one."""
        fit = [i for i, p in enumerate(proposals) if _fits(choice, p)]
        wanted = choice.proposed_at
        if wanted is None and choice.status != "moved" and choice.event not in SINGLE:
            wanted = choice.time
        if wanted is not None:
            limit = max(NEAR, NEAR_SHARE * float(self.time[-1] - self.time[0]))
            fit = [i for i in fit if abs(proposals[i].time - float(wanted)) <= limit]
            fit = sorted(fit, key=lambda i: abs(proposals[i].time - float(wanted)))[:1]
        elif choice.event == "first debonding":
            fit = sorted(fit, key=lambda i: proposals[i].time)[:1]
        if len(fit) == 1:
            return fit[0]
        if fit and choice.status == "moved":
            return min(fit, key=lambda i: abs(proposals[i].time - float(choice.time or 0.0)))
        if fit:
            at = ", ".join(f"{proposals[i].time:.1f} s" for i in fit[:6])
            self._tell(number, f"{len(fit)} events of that kind are proposed, at {at}",
                       "name strip and face, or proposed_at")  # fmt: skip
        elif choice.status != "moved":
            others = [p for p in proposals if choice.event in (p.kind, f"first {p.kind}")]
            at = ", ".join(f"{_place(p)} at {p.time:.1f} s".strip() for p in others[:6])
            self._tell(number, f"no such event is proposed{f'; proposed: {at}' if at else ''}",
                       "correct it, or write status: added with its time")  # fmt: skip
        return None

    def _changed(self, choice: EventChoice, proposal: Event) -> Chosen:
        """A proposal with the choice on it."""
        label = _label(choice, proposal)
        because = f": {choice.reason}" if choice.reason else ""
        if choice.status == "rejected":
            self.notes.append(f"{label} at {proposal.time:.1f} s rejected{because or ': no reason given'}")
            return Chosen(proposal, "rejected", proposal, choice.reason)
        if choice.status == "moved":
            number = next(n for n, c in self.choices if c is choice)
            placed = self._placed(number, choice, proposal)
            if placed is None:
                return Chosen(proposal, "proposed", proposal)
            self.notes.append(f"{label} moved from {proposal.time:.1f} to {placed.time:.1f} s{because}")
            return Chosen(placed, "moved", proposal, choice.reason)
        detail = choice.detail or proposal.detail
        return Chosen(replace(proposal, detail=detail), "accepted", proposal, choice.reason)

    def _placed(self, number: int, choice: EventChoice, proposal: Event | None) -> Event | None:
        """The event at the time the engineer gives; None, and told, where the record does not reach."""
        at = float(choice.time or 0.0)
        if not self.time[0] <= at <= self.time[-1]:
            self._tell(number, f"time {at:g} s lies outside the record ({self.time[0]:.1f} to {self.time[-1]:.1f} s)",
                       "times count on the clock of the first log")  # fmt: skip
            return None
        good = np.flatnonzero(np.isfinite(self.load))
        row = int(good[np.argmin(np.abs(self.time[good] - at))])
        near = self.load[(self.time >= self.time[row] - PLACED) & (self.time <= self.time[row] + PLACED)]
        half = 0.5 * float(np.nanmax(near) - np.nanmin(near))
        strip, face = choice.leg
        base = proposal or Event(choice.event.removeprefix("first ") if choice.event == "first debonding"
                                 else choice.event, row, 0.0, 0.0, 0.0, "", 1.0, "")  # fmt: skip
        told = f"placed by the engineer{f', {choice.reason}' if choice.reason else ''}; right within {PLACED:g} s taken"
        return replace(
            base, row=row, time=float(self.time[row]), value=float(self.load[row]), confidence=1.0,
            u=math.hypot(self.noise, half / math.sqrt(3.0)), method="placed by the engineer", evidence=told,
            strip=base.strip if strip is None else strip, face=base.face if face is None else face,
            detail=choice.detail or base.detail, channel=choice.channel or base.channel,
        )  # fmt: skip

    def _tell(self, number: int, message: str, fix: str = "") -> None:
        choice = self.choices[number][1]
        where = f"{_line(self.campaign, self.name, number)}: " if self.campaign.folder is not None else ""
        leg = _leg_words(*choice.leg)
        said = " ".join(w for w in (choice.event, leg, choice.status) if w)
        self.notes.append(
            f"{where}tests.{self.name}.events.{number + 1} ({said}): {message}{f'; {fix}' if fix else ''}"
        )


def _fits(choice: EventChoice, proposal: Event) -> bool:
    strip, face = choice.leg
    return (
        strip in (None, proposal.strip)
        and face in (None, proposal.face)
        and (choice.channel is None or choice.channel == proposal.channel)
    )


def _leg_words(strip: int | None, face: str | None) -> str:
    if strip is None:
        return face or ""
    return f"strip {strip}" + (f" {face}" if face else "")


def _place(event: Event) -> str:
    return _leg_words(event.strip, event.face) or (event.channel if event.kind == "gauge loss" else "")


def _label(choice: EventChoice, proposal: Event) -> str:
    """Words for an event in a note."""
    place = _place(proposal) if choice.event not in SINGLE else ""
    return choice.event + (f" ({place})" if place and choice.event != "first debonding" else "")


def _line(campaign: Campaign, name: str, number: int) -> str:
    """Place of a choice in reduction.yaml: FILE:LINE:COLUMN, the file alone where it cannot be found."""
    from cracktie.campaign.positions import load

    assert campaign.folder is not None
    try:
        root = load(campaign.folder / FILE, FILE).root
    except CracktieError:
        return FILE
    node = root.get("tests", name, "events") if root is not None else None
    if node is None or node.parts is None or number >= len(node.parts):
        return FILE
    return f"{FILE}:{node.parts[number].line}:{node.parts[number].column}"


# gauges: whether their readings end


def end_gauges(signals: Signals, chosen: Sequence[Chosen]) -> None:
    """Ends the readings of gauges where the engineer places their loss, in place; a rejected loss is forgotten."""
    for one in chosen:
        signal = signals.found.get(one.event.channel)
        if signal is None or one.status not in ("moved", "added", "rejected"):
            continue
        if not one.used:
            signals.found[signal.channel.name] = replace(signal, lost=None)
            continue
        dead = np.arange(len(signals.time)) >= one.event.row
        lost = lab.GaugeLoss(one.event.row, one.event.time, one.reason or "placed by the engineer")
        signals.found[signal.channel.name] = replace(signal, values=np.where(dead, np.nan, signal.values), lost=lost)
        signals.trail = signals.trail.add("drop_dead", {"channel": signal.channel.name, "reason": lost.reason}, dead)


def loss_events(signals: Signals, load: Any) -> list[Event]:
    """Losses that were found in the readings as events, at the load of their moment."""
    out = []
    for name, signal in signals.found.items():
        if signal.lost is None:
            continue
        row = min(max(signal.lost.row, 0), len(load) - 1)
        good = np.flatnonzero(np.isfinite(load[: row + 1]))
        value = float(load[good[-1]]) if good.size else 0.0
        c = signal.channel
        face = c.face if c.face in ("front", "back") else None
        out.append(
            Event("gauge loss", row, signal.lost.time, value, 0.0, "readings of the gauge", 0.9, signal.lost.reason,
                  channel=name, strip=c.strip, face=face)
        )  # fmt: skip
    return sorted(out, key=lambda event: event.row)
