"""Detection and false-alarm rate of every event, on invented records with events and faults switched on and off.

Each record has its own rates, levels, stiffness, noise and gauges; every event is planted with probability one half
(the peak always), and faults are drawn for every second record: spikes, holds, an unloading, a lost gauge, a drifting
gauge, coarse resolution. Found: reported where planted, within 2 u or 3 % of the peak load of the planted load
(gauges: within 1 s). False alarm: reported in a record without it, or elsewhere. Rates say how the detectors do on such
records, nothing about any real beam.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.lab import events
from cracktie.lab.channels import find_gauge_loss
from cracktie.lab.debonding import first_debonding
from evidence._frame import run_chunks, write_json

RECORDS = 500
SEED = 7741
CHUNK = 20
EVENTS = ("flexural", "diagonal", "debonding", "peak", "85 %", "lost gauge")


@dataclass
class Planted:
    """One record: time s, load kN, deflection mm, gauges as strain ratio, and what was planted (load kN, time s)."""

    time: Any
    load: Any
    deflection: Any
    stirrups: dict[str, Any]
    strips: dict[str, Any]
    truth: dict[str, tuple[float, float]]
    faults: tuple[str, ...] = ()
    lost: str | None = None
    more: dict[str, Any] = field(default_factory=dict)


def plant(rng: np.random.Generator, *, faulty: bool) -> Planted:
    """One record with its own numbers; an event is in `truth` only where it was planted."""
    on = {name: bool(rng.random() < 0.5) for name in ("flexural", "diagonal", "debonding", "85 %")}
    on["debonding"] &= on["diagonal"]  # without a crack there is no strain that could be lost
    faults = tuple(
        f for f in ("spikes", "unloading", "hold", "lost", "drift", "coarse") if faulty and rng.random() < 0.5
    )
    top = rng.uniform(80, 500)
    crack = top * rng.uniform(0.08, 0.25)
    diagonal = top * rng.uniform(0.35, 0.6)
    letting_go = top * rng.uniform(0.7, 0.92)
    rate = float(rng.choice([2.0, 5.0, 10.0, 50.0]))
    speed = top / rng.uniform(200, 900)
    points = [(0.0, 0.0), (10.0, 0.0)]

    def go(load: float, rate_of: float = speed) -> None:
        points.append((points[-1][0] + max(abs(load - points[-1][1]) / rate_of, 0.2), load))

    if "hold" in faults:
        go(top * 0.3)
        points.append((points[-1][0] + 30.0, top * 0.3))
    if "unloading" in faults:
        turn = top * rng.uniform(0.62, 0.68)
        go(turn)
        go(turn * 0.4)
        go(turn)
    at_debonding = None
    if on["debonding"]:
        go(letting_go)
        at_debonding = points[-1][0]
        points.append((at_debonding + 0.2, letting_go * (1 - rng.uniform(0.0, 0.04))))
    go(top)
    at_top = points[-1][0]
    left = rng.uniform(0.3, 0.75) if on["85 %"] else rng.uniform(0.9, 0.97)
    points.append((at_top + rng.uniform(0.3, 20.0), top * left))
    points.append((points[-1][0] + 20.0, top * left * 0.99))
    times, loads = np.array(points).T
    t = np.arange(0.0, times[-1], 1.0 / rate)
    clean = np.interp(t, times, loads)
    reached = np.maximum.accumulate(clean)
    k = rng.uniform(30, 150)
    after = rng.uniform(0.3, 0.6) if on["flexural"] else 1.0
    soft = reached / k + np.maximum(reached - crack, 0.0) * (1 / (after * k) - 1 / k)
    back = np.where(t < at_top, (reached - clean) / k * (np.abs(np.gradient(clean, t)) < 10 * speed), 0.0)
    deflection = soft - back + np.maximum(t - at_top, 0.0) * 0.05
    start = diagonal if on["diagonal"] else math.inf
    stirrups, strips = _gauges(rng, t, clean, reached, start, at_debonding, top)
    truth = {"peak": (top, at_top)}
    if on["flexural"]:
        truth["flexural"] = (crack, math.nan)
    if on["diagonal"]:
        truth["diagonal"] = (diagonal, math.nan)
    if at_debonding is not None:
        truth["debonding"] = (letting_go, at_debonding)
    if on["85 %"]:
        truth["85 %"] = (0.85 * top, math.nan)
    made = Planted(t, clean, deflection, stirrups, strips, truth, faults)
    _measure(rng, made, top, at_top)
    return made


def _gauges(
    rng: np.random.Generator, t: Any, clean: Any, reached: Any, start: float, at_debonding: float | None, top: float
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Clean strains: nothing before the diagonal crack, growing after it; one leg falls when it debonds."""
    ratio = 1 - 0.7 * (reached - clean) / np.maximum(reached, 1e-9)
    grown = lambda late: np.maximum(reached - start * late, 0.0) / top if math.isfinite(start) else 0.0 * reached  # noqa: E731
    idle = 1e-5 * clean / top
    stirrups = {f"s{i}": idle + rng.uniform(2e-3, 5e-3) * grown(1 + 0.01 * i) * ratio for i in range(2)}
    strips = {f"f{i}": idle + rng.uniform(4e-3, 9e-3) * grown(1 + 0.015 * i) * ratio for i in range(4)}
    if at_debonding is not None:
        fallen = np.clip((t - at_debonding) / 0.2, 0.0, 1.0)
        strips["f1"] = strips["f1"] * (1 - rng.uniform(0.4, 0.8) * fallen)
        strips["f2"] = strips["f2"] + rng.uniform(1e-4, 4e-4) * fallen * (strips["f2"] > 1e-4)
    return stirrups, strips


def _measure(rng: np.random.Generator, made: Planted, top: float, at_top: float) -> None:
    """Noise and faults of the instruments, in place."""
    n = made.time.size
    quiet = rng.uniform(0.3, 1.5)
    made.load = made.load + rng.normal(0, 4e-4 * top * quiet, n)
    made.deflection = made.deflection + rng.normal(0, 0.003 * quiet, n)
    for group in (made.stirrups, made.strips):
        for name in group:
            group[name] = group[name] + rng.normal(0, 3e-6 * quiet, n)
    gauges = {**made.stirrups, **made.strips}
    if "drift" in made.faults:
        made.strips["f0"] = made.strips["f0"] + 6e-5 * made.time / made.time[-1]
    if "spikes" in made.faults:
        for name in rng.choice(list(gauges), 3):
            group = made.stirrups if name in made.stirrups else made.strips
            group[name][int(rng.integers(5, n - 5))] += float(rng.choice([-1, 1])) * rng.uniform(5e-4, 5e-3)
    if "lost" in made.faults:
        at = at_top * rng.uniform(0.3, 0.9)
        made.strips["f3"] = np.where(made.time >= at, float(rng.choice([-0.04, 0.06])), made.strips["f3"])
        made.lost, made.truth["lost gauge"] = "f3", (math.nan, float(at))
    if "coarse" in made.faults:
        made.load = np.round(made.load / (top / 2000)) * (top / 2000)
        for group in (made.stirrups, made.strips):
            for name in group:
                group[name] = np.round(group[name] / 2e-6) * 2e-6


def judge(made: Planted) -> dict[str, dict[str, Any]]:
    """By event: planted, found (reported in the right place) and false (reported where it is not)."""
    gauges = {n: _alive(made.time, g) for n, g in {**made.stirrups, **made.strips}.items()}
    diagonal = events.first_diagonal_crack(made.time, made.load, gauges, deflection=made.deflection)
    top = float(np.nanmax(made.load))
    below = 0.4 if diagonal is None else min(0.4, 0.95 * diagonal.value / top)
    debonding, losses = first_debonding(made.time, made.load, made.strips)
    reported = {
        "flexural": events.first_flexural_crack(made.time, made.deflection, made.load, below=below),
        "diagonal": diagonal,
        "debonding": debonding,
        "peak": events.peak(made.time, made.load),
        "85 %": events.after_peak(made.time, made.load, deflection=made.deflection),
    }
    out = {}
    for name, event in reported.items():
        planted = made.truth.get(name)
        near = planted is not None and event is not None and _near(event, planted, top)
        out[name] = {"planted": planted is not None, "found": near, "false": event is not None and not near}
    times = {n: loss.time for n, loss in losses.items()}
    right = made.lost in times and abs(times[made.lost] - made.truth["lost gauge"][1]) <= 1.0 if made.lost else False
    wrong = any(n != made.lost for n in times)
    out["lost gauge"] = {"planted": made.lost is not None, "found": right, "false": wrong}
    return out


def _alive(t: Any, gauge: Any) -> Any:
    """A gauge without its rows after a loss, as the reduction takes it."""
    loss = find_gauge_loss(t, gauge)
    return gauge if loss is None else np.where(t >= loss.time, np.nan, gauge)


def _near(event: events.Event, planted: tuple[float, float], top: float) -> bool:
    load, _ = planted
    return abs(event.value - load) <= max(2.0 * event.u, 0.03 * top)


def work(rng: np.random.Generator, size: int) -> list[dict[str, Any]]:
    """`size` records, every second one with faults."""
    out = []
    for number in range(size):
        faulty = number % 2 == 1
        out.append({"faults": faulty, "events": judge(plant(rng, faulty=faulty))})
    return out


def summary(rows: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Rates by event, without and with faults. A false alarm is counted over all records."""
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
                "false_alarm": _share(sum(e[name]["false"] for e in part), len(part)),
            }
            for name in EVENTS
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
