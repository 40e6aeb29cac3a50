"""Failure modes in order: as observed, with what the readings say to each, and those that only the readings show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import FailureMode, Test
from cracktie.lab.events import Event
from cracktie.lab.legs import WRECKED
from cracktie.reduced import Mode
from cracktie.reduction.events import Events
from cracktie.reduction.shear import ShearRule
from cracktie.reduction.signals import Signals

FAMILIES: dict[str, tuple[str, ...]] = {
    "flexural crack": ("flexural crack",),
    "diagonal crack": ("diagonal crack",),
    "debonding": ("strip end debonding", "crack-induced debonding", "cover separation"),
    "strip rupture": ("strip rupture at corner", "strip rupture at crack"),
    "anchor failure": ("fan debonding", "fan splitting", "dowel rupture at bend", "dowel pull-out", "dowel cone",
                       "combined cone-pull-out", "hole edge crushing", "flange cracking at the anchor"),
    "stirrup yield": ("stirrup yield", "stirrup rupture"),
    "bar yield": ("bar yield",),
}  # fmt: skip
"""Modes that look alike to gauges."""
CANDIDATES: dict[tuple[str, str], tuple[str, ...]] = {
    ("first flexural crack", ""): ("flexural crack",),
    ("first diagonal crack", ""): ("diagonal crack",),
    ("debonding", ""): ("strip end debonding", "crack-induced debonding"),
    ("debonding", "strip end"): ("strip end debonding",),
    ("debonding", "crack-induced"): ("crack-induced debonding",),
    ("strip rupture", ""): ("strip rupture at corner", "strip rupture at crack"),
    ("anchor failure", ""): FAMILIES["anchor failure"],
    ("anchor failure", "fan"): ("fan debonding", "fan splitting"),
    ("anchor failure", "dowel"): ("dowel rupture at bend", "dowel pull-out", "dowel cone", "combined cone-pull-out"),
}
"""Modes of the closed list that an event may be; more than one where gauges cannot tell."""
NEAR = 0.06
"""An observed load and a measured one are of one event within this share of the largest load: judgement, no source."""
E_S = 200e3
"""Modulus of bars in MPa where the materials state none."""


@dataclass(frozen=True)
class _Seen:
    """A mode as the readings show it, with the load (N) to set it against what was observed."""

    modes: tuple[str, ...]
    load: float
    time: float
    strip: int | None
    face: str | None
    evidence: str
    confidence: float

    @property
    def family(self) -> str:
        return next(name for name, members in FAMILIES.items() if self.modes[0] in members)


def failure_modes(
    campaign: Campaign, name: str, test: Test, span: str, signals: Signals, events: Events, rule: ShearRule,
    notes: list[str],
) -> tuple[Mode, ...]:  # fmt: skip
    """Observed modes first and unchanged, each with what was measured; then measured ones nobody observed, by time."""
    seen = sorted([*_of_events(events), *_yielded(campaign, test, span, signals)], key=lambda one: one.time)
    peak = events.top.event
    used: set[int] = set()
    out = []
    for mode in _observed(campaign, name, test):
        match = _match(mode, seen, used, peak)
        if match is not None:
            used.add(match)
        said = _agreement(mode, None if match is None else seen[match])
        if said.startswith("otherwise"):
            notes.append(f"failure mode {mode.mode}{_at(mode.strip, mode.face)}: observed so, measured {said}")
        V = None if mode.load is None else rule.total(float(mode.load))
        time = None if match is None else seen[match].time
        out.append(
            Mode((mode.mode,), "observed", V, time, mode.strip, mode.face, mode.anchor, mode.confidence,
                 mode.evidence or "", said)
        )  # fmt: skip
    for i, one in enumerate(seen):
        if i not in used:
            out.append(
                Mode(one.modes, "measured", rule.total(one.load), one.time, one.strip, one.face, None,
                     f"{one.confidence:.2f}", one.evidence, "proposed, not among the observed")
            )  # fmt: skip
    return tuple(out)


def _of_events(events: Events) -> Iterator[_Seen]:
    for one in events.chosen:
        e = one.event
        modes = CANDIDATES.get((e.kind, e.detail), CANDIDATES.get((e.kind, "")))
        if one.used and modes is not None:
            yield _Seen(modes, e.value, e.time, e.strip, e.face, e.evidence, e.confidence)


def _yielded(campaign: Campaign, test: Test, span: str, signals: Signals) -> Iterator[_Seen]:
    """The first stirrup and the first bar whose gauge passes the yield strain."""
    specimen = campaign.specimen(test.specimen)
    stirrups = specimen.spans[span].stirrups if span in specimen.spans else None
    layers = specimen.tension_bars if specimen.section is not None else ()
    limits = {
        "stirrup yield": None if stirrups is None else _yield_strain(campaign, stirrups.material),
        "bar yield": _yield_strain(campaign, layers[0].material) if layers else None,
    }
    P = signals.of("load")[0].values
    top = float(np.nanmax(P))
    standing = int(np.flatnonzero(WRECKED * top <= P)[-1]) + 1
    for mode, limit in limits.items():
        if limit is None:
            continue
        gauges = [s for s in signals.of("bar strain") if (s.channel.stirrup is not None) == (mode == "stirrup yield")]
        passing = {s.channel.name: _passes(s.values[:standing], limit) for s in gauges}
        row, name = min(((r, n) for n, r in passing.items() if r is not None), default=(-1, ""))
        if row >= 0 and np.isfinite(P[row]):
            told = f"{name} passes f_y/E = {1e6 * limit:.0f} um/m"
            yield _Seen((mode,), float(P[row]), float(signals.time[row]), None, None, told, 0.8)


def _passes(values: Any, limit: float, rows: int = 3) -> int | None:
    """First row from which a gauge lies above a strain for some rows: a spike is no yield."""
    with np.errstate(invalid="ignore"):
        above = (values > limit).astype(int)
    if above.size < rows:
        return None
    whole = np.convolve(above, np.ones(rows, dtype=int), "valid") == rows
    return int(np.argmax(whole)) if whole.any() else None


def _yield_strain(campaign: Campaign, material: str) -> float | None:
    bar = campaign.materials.bars.get(material)
    for values in (None, None) if bar is None else (bar.measured, bar.nominal):
        if values is not None and values.f_y is not None:
            return float(values.f_y) / (E_S if values.E_s is None else float(values.E_s))
    return None


def _observed(campaign: Campaign, name: str, test: Test) -> Sequence[FailureMode]:
    """Modes written down for this test; those without a test belong to the specimen's only test."""
    observed = campaign.observations.specimens.get(test.specimen)
    only = len(campaign.tests_of(test.specimen)) == 1
    return [m for m in (observed.failure_modes if observed is not None else ()) if m.test == name or
            (m.test is None and only)]  # fmt: skip


def _match(mode: FailureMode, seen: Sequence[_Seen], used: set[int], peak: Event) -> int | None:
    """The measured mode an observed one belongs to: of its family and leg, nearest in load.

    What happens behind the peak is noted with the peak load as a rule, so that counts as its load too.
    """
    strip, face = _leg(mode)
    near = []
    for i, one in enumerate(seen):
        if i in used or mode.mode not in FAMILIES[one.family]:
            continue
        if strip is not None and one.strip is not None and strip != one.strip:
            continue
        if face is not None and one.face is not None and face != one.face:
            continue
        loads = (one.load, peak.value) if one.time >= peak.time else (one.load,)
        apart = 0.0 if mode.load is None else min(abs(load - float(mode.load)) for load in loads)
        if apart <= NEAR * peak.value:
            near.append((apart, i))
    return min(near)[1] if near else None


def _leg(mode: FailureMode) -> tuple[int | None, str | None]:
    """Strip and face of an observed mode, from its anchor ('3F') where not stated."""
    strip, face = mode.strip, mode.face
    name = mode.anchor or ""
    if strip is None and name[:-1].isdecimal() and name[-1:] in ("F", "B"):
        return int(name[:-1]), "front" if name[-1] == "F" else "back"
    return strip, face


def _agreement(mode: FailureMode, one: _Seen | None) -> str:
    if one is None:
        return ""
    if mode.mode in one.modes:
        return f"measured as well at {one.time:.1f} s" + (", undivided" if len(one.modes) > 1 else "")
    return f"otherwise at {one.time:.1f} s: {' or '.join(one.modes)} ({one.evidence})"


def _at(strip: int | None, face: str | None) -> str:
    return "" if strip is None else f" of strip {strip}" + (f" {face}" if face else "")
