"""Detection and false-alarm rate of every event, on invented records with events and faults switched on and off.

How the records are made, and what that assumes, stands in `evidence._planted_record`. Faults are drawn for every second
record: spikes, holds, an unloading, a lost gauge, drifting gauges (alone or all at once), coarse resolution, a step of
an amplifier's range. Found: reported on the planted leg within 2 u or 3 % of the peak load of the planted load (lost
gauges: within 1 s). False alarm: a record with a report that is nowhere near a planted event of its kind. What happens
behind the peak, and a debonding together with the failure of its anchor, is neither asked for nor a false alarm.
Rates say how the detectors do on such records, nothing about any real beam.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from cracktie.lab import events
from cracktie.lab.channels import find_gauge_loss
from cracktie.lab.cracks import first_diagonal_crack, first_flexural_crack
from cracktie.lab.debonding import leg_events
from cracktie.lab.load_drops import load_drops
from evidence._frame import run_chunks, write_json
from evidence._planted_record import Planted, Truth, plant

RECORDS = 500
SEED = 7741
CHUNK = 20
EVENTS = (
    "flexural", "diagonal", "debonding", "first debonding", "anchor failure", "load drop", "peak", "85 %", "80 %",
    "lost gauge",
)  # fmt: skip
WORDS = ("fan", "dowel", "strip end", "crack-induced")
"""Finer kinds, asked for on legs with two gauges or more: found where the word is right, false where it stands for
another; no word is neither."""


def judge(made: Planted) -> dict[str, dict[str, int]]:
    """By event: planted, found (reported in the right place), reported, and false reports, as numbers."""
    top = float(np.nanmax(made.load))
    leg, losses = leg_events(made.time, made.load, made.legs, deflection=made.deflection)
    debonded = [e for e in leg if e.kind == "debonding"]
    reported: dict[str, Sequence[events.Event]] = {
        **_cracks(made, top),
        "debonding": debonded,
        "first debonding": debonded[:1],
        "anchor failure": [e for e in leg if e.kind == "anchor failure"],
        "load drop": load_drops(made.time, made.load, deflection=made.deflection),
        "peak": [events.peak(made.time, made.load)],
    }
    for share in (0.85, 0.80):
        event = events.after_peak(made.time, made.load, fraction=share, deflection=made.deflection)
        reported[f"{100 * share:.0f} %"] = [] if event is None else [event]
    out = {name: _judged(_planted(made, name), found, top) for name, found in reported.items()}
    out["lost gauge"] = _judged_losses(made, {n: loss.time for n, loss in losses.items()})
    out |= {word: _judged_word(made, word, leg, top) for word in WORDS}
    return out


def _cracks(made: Planted, top: float) -> dict[str, Sequence[events.Event]]:
    strips = {g.name: g.values for leg in made.legs for g in leg.gauges}
    gauges = {n: _alive(made.time, g) for n, g in {**made.stirrups, **strips}.items()}
    diagonal = first_diagonal_crack(made.time, made.load, gauges, deflection=made.deflection)
    below = 0.4 if diagonal is None else min(0.4, 0.95 * diagonal.value / top)
    flexural = first_flexural_crack(made.time, made.deflection, made.load, below=below)
    return {n: [] if e is None else [e] for n, e in (("diagonal", diagonal), ("flexural", flexural))}


def _alive(t: Any, gauge: Any) -> Any:
    """A gauge without its rows after a loss, as the reduction takes it."""
    loss = find_gauge_loss(t, gauge)
    return gauge if loss is None else np.where(t >= loss.time, np.nan, gauge)


def _planted(made: Planted, name: str) -> list[Truth]:
    """What was planted; of first debondings the earliest is asked for and all others are excused."""
    if name != "first debonding":
        return made.of(name)
    known = sorted(made.of("debonding"), key=lambda e: e.time)
    return [replace(e, strip=None, counted=i == 0 and e.counted) for i, e in enumerate(known)]


def _judged(planted: Sequence[Truth], found: Sequence[events.Event], top: float) -> dict[str, int]:
    hits = [any(_near(e, one, top) for e in found) for one in planted]
    false = sum(not any(_near(e, one, top) for one in planted) for e in found)
    counted = [hit for hit, one in zip(hits, planted, strict=True) if one.counted]
    return {"planted": len(counted), "found": sum(counted), "reported": len(found), "false": false}


def _near(event: events.Event, planted: Truth, top: float) -> bool:
    same_leg = planted.strip is None or (event.strip, event.face) == (planted.strip, planted.face)
    tolerance = max(2.0 * event.u, 0.03 * top)
    to = planted.load if planted.to is None else planted.to
    return same_leg and min(planted.load, to) - tolerance <= event.value <= max(planted.load, to) + tolerance


def _judged_losses(made: Planted, found: Mapping[str, float]) -> dict[str, int]:
    right = [e for e in made.of("lost gauge") if abs(found.get(e.detail, math.inf) - e.time) <= 1.0]
    wrong = [name for name in found if name != made.lost]
    return {"planted": int(made.lost is not None), "found": len(right), "reported": len(found), "false": len(wrong)}


def _judged_word(made: Planted, word: str, found: Sequence[events.Event], top: float) -> dict[str, int]:
    """Of the planted events of that finer kind: reported with the word; false: reported with it on others."""
    kind = "anchor failure" if word in ("fan", "dowel") else "debonding"
    mine = [e for e in found if e.kind == kind]
    several = {(leg.strip, leg.face) for leg in made.legs if len(leg.gauges) + len(leg.anchor) > 1}
    asked = [one for one in made.of(kind) if one.counted and one.detail == word and (one.strip, one.face) in several]
    told = [any(e.detail == word and _near(e, one, top) for e in mine) for one in asked]
    wrong = 0
    for e in mine:
        near = [one for one in made.of(kind) if _near(e, one, top)]
        wrong += e.detail == word and bool(near) and not any(one.detail.startswith(word) for one in near)
    return {"planted": len(asked), "found": sum(told), "reported": sum(e.detail == word for e in mine), "false": wrong}


def work(rng: np.random.Generator, size: int) -> list[dict[str, Any]]:
    """`size` records, every second one with faults."""
    out = []
    for number in range(size):
        faulty = number % 2 == 1
        out.append({"faults": faulty, "events": judge(plant(rng, faulty=faulty))})
    return out


def summary(rows: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Rates by event, without and with faults. A false alarm is a record with a false report."""
    listed = list(rows)
    found: dict[str, Any] = {}
    for faulty in (False, True):
        part = [r["events"] for r in listed if r["faults"] is faulty]
        found["with faults" if faulty else "without faults"] = {
            name: {
                "records": len(part),
                "planted": sum(e[name]["planted"] for e in part),
                "found": sum(e[name]["found"] for e in part),
                "detection": _share(sum(e[name]["found"] for e in part), sum(e[name]["planted"] for e in part)),
                "false": sum(e[name]["false"] for e in part),
                "false_alarm": _share(sum(e[name]["false"] > 0 for e in part), len(part)),
            }
            for name in (*EVENTS, *WORDS)
        }
    return found


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None


def main() -> int:
    """All records; writes docs/evidence/event_detection.json."""
    parts = run_chunks("event_detection", work, samples=RECORDS, size=CHUNK, seed=SEED)
    found = summary(row for part in parts for row in part)
    write_json("event_detection", found, samples=RECORDS, seed=SEED)
    print(json.dumps(found, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
