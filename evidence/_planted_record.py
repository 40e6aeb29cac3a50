"""Invented records of beam tests whose events are known, for the rates at which the detectors find them.

What the planting assumes. The load rises in a straight line, with an unloading and holds where they are drawn; behind
the diagonal crack its opening grows with a power of the load. Every leg of every strip is a strip across that crack
after `cracktie.mechanics.crossing`: two bonded lengths with a bond law, widths, stiffnesses and anchors drawn for each
record, followed through their equilibrium path; gauges read its strains at their heights. So no strain is made from
what a detector looks for. Truth is read off the mechanics: a free leg debonds where its force falls below half of its
largest; an anchored one between the moments at which the bond at its anchored end passes its largest stress and at
which it has softened through; an anchor fails where its slip passes its strength. Beside the mechanics these are
assumed: strains follow the load in an unloading with a residual; the load drops by up to 4.5 % when a leg lets go;
three of four fans that fail peel for 1 to 8 s before, which takes the strain from the sheet under them first, while the
gauge on the anchor follows the force in it; dowels fail at once; a strip that peels from its end does so over up to
20 s. None of this says how a real beam behaves.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from cracktie.lab.legs import Leg, LegGauge
from cracktie.mechanics import bond_law
from cracktie.mechanics.crossing import StripPath, at_openings, follow_strip, strains_at
from cracktie.mechanics.strip import Anchor, Side

FAULTS = ("spikes", "unloading", "hold", "lost", "drift", "coarse", "range step")
NODES = 260
"""Openings at which a leg's states are taken; jumps between them are kept sharp."""

SEEN = 300e-6
"""Change of a gauge of the leg from before to behind an event, below which the event is not asked for."""


@dataclass(frozen=True)
class Truth:
    """One planted event: load (kN) and time (s) it begins at, leg, finer kind; `to` and `done`: where it is complete.

    `counted` False where it is only excused: behind the peak, together with another event of its leg, not complete.
    """

    kind: str
    load: float
    time: float
    strip: int | None = None
    face: str | None = None
    detail: str = ""
    size: float = 0.0
    counted: bool = True
    to: float | None = None
    done: float | None = None


@dataclass
class Planted:
    """One record: time s, load kN, deflection mm, gauges as strain ratio, legs, and what was planted."""

    time: Any
    load: Any
    deflection: Any
    stirrups: dict[str, Any]
    legs: list[Leg]
    truth: list[Truth]
    faults: tuple[str, ...] = ()
    lost: str | None = None

    def of(self, kind: str) -> list[Truth]:
        """Planted events of one kind."""
        return [e for e in self.truth if e.kind == kind]


@dataclass
class _Story:
    """The test without gauges: progress 0 to 1 (peak) and beyond, envelope of the load, opening, by row."""

    top: float
    diagonal: float | None
    at_top: float
    t: Any
    progress: Any
    envelope: Any
    ratio: Any
    opening: Any
    drops: list[tuple[float, float]] = field(default_factory=list)

    def time_of(self, progress: float) -> float:
        """First time at which the progress is reached."""
        return float(self.t[min(int(np.searchsorted(self.progress, progress)), self.t.size - 1)])


def plant(rng: np.random.Generator, *, faulty: bool) -> Planted:
    """One record with its own numbers; an event is in `truth` only where it was planted."""
    faults = tuple(f for f in FAULTS if faulty and rng.random() < 0.5)
    on = {name: bool(rng.random() < p) for name, p in (("flexural", 0.5), ("diagonal", 0.7), ("falls", 0.5))}
    story = _story(rng, faults, diagonal=on["diagonal"], falls=on["falls"])
    truth = [Truth("peak", story.top, story.at_top)]
    anchored = bool(rng.random() < 0.6)
    legs, noted = _legs(rng, story, anchored)
    truth += noted
    load = story.envelope * story.ratio
    for at, size in story.drops:
        behind = story.progress > at
        load = load * np.where(behind, 1.0 - size * np.exp(-(story.progress - at) / 0.02), 1.0)
    for at, _ in story.drops:
        row = min(int(np.searchsorted(story.t, story.time_of(at))), story.t.size - 2)
        window = load[row : int(np.searchsorted(story.t, story.t[row] + 1.0, side="right"))]
        lost = 1.0 - float(window.min()) / float(load[row])
        truth.append(Truth("load drop", float(load[row]), float(story.t[row]), size=lost, counted=lost > 0.025))
    deflection, crack = _deflection(rng, story, on["flexural"])
    if crack is not None:
        truth.append(Truth("flexural", crack, math.nan))
    if story.diagonal is not None:
        truth.append(Truth("diagonal", story.diagonal, math.nan))
    left = float(load[-1]) / story.top
    truth += [Truth(f"{100 * f:.0f} %", f * story.top, math.nan) for f in (0.85, 0.80) if left < f]
    truth.append(Truth("load drop", story.top, story.at_top, counted=False))
    made = Planted(story.t, load, deflection, _stirrups(rng, story), legs, truth, faults)
    _measure(rng, made, story)
    made.truth = [_as_seen(made, load, e) if e.strip is not None else e for e in made.truth]
    return made


def _as_seen(made: Planted, load: Any, event: Truth) -> Truth:
    """An event of a leg at the loads the record has there; not asked for where no gauge of the leg shows `SEEN`."""
    first, last = (int(np.searchsorted(made.time, t)) for t in (event.time, event.done or event.time))
    rows = [min(row, made.time.size - 1) for row in (first, last)]
    leg = next(one for one in made.legs if (one.strip, one.face) == (event.strip, event.face))
    changes = [0.0]
    for gauge in (*leg.gauges, *leg.anchor):
        before, after = gauge.values[max(0, rows[0] - 2) : rows[0] + 1], gauge.values[rows[1] + 1 : rows[1] + 5]
        if after.size and not (gauge.name == made.lost and np.abs(after).max() > 0.03):
            changes.append(abs(float(np.median(after)) - float(np.median(before))))
    seen = max(changes) >= SEEN
    loads = [float(load[row]) for row in rows]
    return replace(event, load=loads[0], to=loads[1], counted=event.counted and seen)


def _story(rng: np.random.Generator, faults: tuple[str, ...], *, diagonal: bool, falls: bool) -> _Story:
    top = rng.uniform(80, 500)
    speed = 1.0 / rng.uniform(200, 900)
    points = [(0.0, 0.0, 1.0), (10.0, 0.0, 1.0)]  # time, progress, load over that of the envelope

    def go(progress: float) -> None:
        at, was, _ = points[-1]
        points.append((at + (progress - was) / speed, progress, 1.0))

    def rest(progress: float, seconds: float, least: float) -> None:
        """Progress stands while the load goes down to `least` of its level and back: a hold or an unloading."""
        go(progress)
        at = points[-1][0]
        points.extend([(at + 0.5 * seconds, progress, least), (at + seconds, progress, least if least > 0.9 else 1.0)])
        points.append((points[-1][0] + 0.5, progress, 1.0))

    if "hold" in faults:
        rest(rng.uniform(0.25, 0.35), 30.0, 1.0 - rng.uniform(0.0, 0.02))
        rest(rng.uniform(0.7, 0.75), 30.0, 1.0 - rng.uniform(0.0, 0.02))
    if "unloading" in faults:
        turn = rng.uniform(0.76, 0.8) if "hold" in faults else rng.uniform(0.62, 0.68)
        rest(turn, 1.2 * turn / speed, 0.4)
    go(1.0)
    at_top = points[-1][0]
    left = rng.uniform(0.3, 0.75) if falls else rng.uniform(0.9, 0.97)
    seconds = float(rng.uniform(0.3, 20.0))
    points += [(at_top + seconds, 1.03, left), (at_top + seconds + 20.0, 1.05, left * 0.99)]
    rate = float(rng.choice([2.0, 5.0, 10.0, 50.0]))
    times, marks, shares = np.array(points).T
    t = np.arange(0.0, times[-1], 1.0 / rate)
    progress, ratio = np.interp(t, times, marks), np.interp(t, times, shares)
    start = rng.uniform(0.35, 0.6) if diagonal else None
    opening = np.zeros(t.size)
    if start is not None:
        grown = np.maximum(progress - start, 0.0) / (1.0 - start)
        opening = rng.uniform(0.8, 4.0) * grown ** rng.uniform(0.9, 1.4)
    envelope = top * np.minimum(progress, 1.0)
    return _Story(top, None if start is None else start * top, at_top, t, progress, envelope, ratio, opening)


def _deflection(rng: np.random.Generator, story: _Story, cracks: bool) -> tuple[Any, float | None]:
    """Two straight lines where a flexural crack is planted, one where not, softer behind the diagonal crack."""
    k = rng.uniform(30, 150)
    crack = story.top * rng.uniform(0.08, 0.25)
    after = rng.uniform(0.3, 0.6) if cracks else 1.0
    reached = story.envelope
    soft = reached / k + np.maximum(reached - crack, 0.0) * (1 / (after * k) - 1 / k)
    back = np.where(story.progress < 1.0, reached * (1.0 - story.ratio) / k, 0.0)
    beyond = np.maximum(story.progress - 1.0, 0.0) * 20.0 * story.top / k
    return soft - back + 0.1 * story.opening + beyond, crack if cracks else None


def _stirrups(rng: np.random.Generator, story: _Story) -> dict[str, Any]:
    idle = 1e-5 * story.envelope * story.ratio / story.top
    closing = 0.3 + 0.7 * story.ratio
    return {f"W{i}": idle + rng.uniform(1.0e-3, 4e-3) * story.opening ** rng.uniform(0.7, 1.0) * closing
            for i in (1, 2)}  # fmt: skip


# legs


def _legs(rng: np.random.Generator, story: _Story, anchored: bool) -> tuple[list[Leg], list[Truth]]:
    legs, truth = [], []
    material = _material(rng, anchored)
    for strip in range(1, int(rng.integers(2, 4)) + 1):
        crossing, share = rng.uniform(90, 220), rng.uniform(0.5, 1.0)
        end = crossing + rng.uniform(80, 240)
        for face in ("front", "back"):
            if face == "back" and rng.random() < 0.3:
                continue
            made = _leg(rng, story, material, strip, face, float(crossing), float(end), share * rng.uniform(0.9, 1.1))
            legs.append(made[0])
            truth += made[1]
    return legs, truth


def _material(rng: np.random.Generator, anchored: bool) -> dict[str, Any]:
    tau, energy = rng.uniform(2.0, 6.0), rng.uniform(0.4, 1.2)
    width, stiffness = rng.uniform(40, 100), rng.uniform(0.11, 0.35) * rng.uniform(75e3, 240e3)
    slip_0, slip_f = rng.uniform(0.02, 0.08), 2.0 * energy / tau
    if anchored or rng.random() < 0.7:
        law = bond_law.bilinear(tau, slip_0, slip_f, rng.uniform(0.0, 0.04) * tau)
    else:
        law = bond_law.double_exponential(energy, 2.0 * tau / energy)
    held = width * math.sqrt(2.0 * energy * stiffness)
    return {
        "law": law,
        "width": width,
        "stiffness": stiffness,
        "slip_0": slip_0,
        "slip_f": slip_f,
        "held": held,
        "anchored": anchored,
    }


def _leg(
    rng: np.random.Generator, story: _Story, material: dict[str, Any], strip: int, face: str, crossing: float,
    end: float, share: float,
) -> tuple[Leg, list[Truth]]:  # fmt: skip
    """One leg: its path over its own opening, strains of its gauges by row, and what happens to it."""
    springs: tuple[Anchor, ...] = ()
    if material["anchored"]:
        strength = rng.uniform(0.4, 1.6) * material["held"]
        springs = (Anchor(strength / rng.uniform(0.2, 1.2), strength, rng.uniform(0.02, 0.3), rng.uniform(0.0, 0.12)),)
    length = end - crossing
    upper = Side(length, material["stiffness"], material["width"], material["law"], anchors=springs)
    lower = Side(crossing, material["stiffness"], material["width"], material["law"], fixed=True)
    opening = story.opening * share
    names = 3 if face == "front" else int(rng.integers(1, 3))
    fractions = np.sort(rng.uniform(0.05, 0.95, names)) if names < 3 else np.array([
        rng.uniform(0.1, 0.3), rng.uniform(0.4, 0.6), rng.uniform(0.75, 0.95)])  # fmt: skip
    heights = [float(crossing + f * length) for f in fractions]
    if rng.random() < 0.4:
        heights.append(float(rng.uniform(0.4, 0.9) * crossing))
    on_anchor = bool(springs) and rng.random() < 0.5
    if opening.max() < 0.02:
        flat = [0.0 * opening for _ in heights]
        return _as_leg(material, strip, face, heights, flat, end, [flat[0]] if on_anchor else []), []
    path = follow_strip(upper, lower, opening_max=float(opening.max()) * 1.02)
    nodes = _with_jumps(path, np.linspace(float(opening.max()) * 1e-4, float(opening.max()), NODES))
    strains = _gauges(upper, lower, nodes, heights, end)
    anchor_force = _spring_force(springs[0], nodes.upper) if springs else None
    values = [np.interp(opening, nodes.opening, e) for e in strains]
    force = None if anchor_force is None else np.interp(opening, nodes.opening, anchor_force)
    held = None if force is None else force / (material["width"] * material["stiffness"])
    truth = _what_happens(rng, story, opening, nodes, material, springs, strip, face)
    if springs:
        _fan_or_dowel(rng, story, truth, heights, values, end, on_anchor)
    elif rng.random() < 0.35 and opening.max() > 0.1 and length > 90.0:
        truth = _peel(rng, story, opening, upper, lower, heights, values, end, strip, face) or truth
    closing = 0.15 + 0.85 * story.ratio
    own = _as_leg(material, strip, face, heights, [v * closing for v in values], end,
                  [held * closing] if on_anchor and held is not None else [])  # fmt: skip
    return own, truth


def _as_leg(
    material: dict[str, Any], strip: int, face: str, heights: list[float], values: list[Any], end: float,
    anchor: list[Any],
) -> Leg:  # fmt: skip
    name = f"S{strip}{face[0].upper()}"
    gauges = [LegGauge(f"{name}{i}", v, z) for i, (z, v) in enumerate(zip(heights, values, strict=True), start=1)]
    held = "anchor" if material["anchored"] else "free"
    return Leg(strip, face, gauges, held, (end,), None, [LegGauge(f"A{name[1:]}", v, end) for v in anchor])


def _with_jumps(path: StripPath, openings: Any) -> StripPath:
    """States at the openings; where the force falls by an eighth of its largest between two, both within a hair."""
    s = at_openings(path, openings)
    top = float(np.nanmax(s.force))
    jump = np.flatnonzero(s.force[:-1] - s.force[1:] > 0.12 * top)
    where = np.sort(np.concatenate([np.arange(openings.size), jump + 1]))
    opening = s.opening[where].copy()
    doubled = np.flatnonzero(np.diff(where) == 0)
    opening[doubled] = opening[doubled - 1] * (1.0 + 1e-9)
    good = np.isfinite(s.force[where])
    return StripPath(opening[good], s.force[where][good], s.upper[where][good], s.lower[where][good])


def _gauges(upper: Side, lower: Side, nodes: StripPath, heights: list[float], end: float) -> list[Any]:
    crossing = float(np.asarray(lower.length))
    out = []
    for z in heights:
        side, states, x = (upper, nodes.upper, end - z) if z >= crossing else (lower, nodes.lower, z)
        reach = float(np.asarray(side.length))
        out.append(strains_at(side, states, np.array([min(max(x, 3.0), reach - 3.0)]), 5.0)[:, 0])
    return out


def _spring_force(anchor: Anchor, states: Any) -> Any:
    """Force of an end anchor at the far slip of its state, unloading in proportion."""
    slip, soft = states[:, 0], float(anchor.F_u) / float(anchor.k_a)
    falling = float(anchor.F_u) * (1.0 - (1.0 - float(anchor.residual)) * np.clip(
        (slip - soft) / float(anchor.soft_slip), 0.0, 1.0))  # fmt: skip
    return np.where(slip <= soft, slip * float(anchor.k_a), falling) * states[:, 3]


def _what_happens(
    rng: np.random.Generator, story: _Story, opening: Any, nodes: StripPath, material: dict[str, Any],
    springs: tuple[Anchor, ...], strip: int, face: str,
) -> list[Truth]:  # fmt: skip
    """Debonding and anchor failure of a leg in the words of the mechanics, with their load drops."""
    found: list[tuple[str, Any, Any]] = []
    if springs:
        far = nodes.upper[:, 0]
        yields = float(springs[0].F_u) / float(springs[0].k_a)
        found.append(("debonding", far >= material["slip_0"], far >= material["slip_f"]))
        found.append(("anchor failure", far >= yields, far >= yields))
    else:
        gone = nodes.force < 0.5 * np.maximum.accumulate(nodes.force)
        found.append(("debonding", gone, gone))
    out = []
    for kind, begun, done in found:
        if not begun.any():
            continue
        rows = [int(np.searchsorted(opening, float(nodes.opening[max(int(np.argmax(mask)) - 1, 0)]), side="right")) - 1
                for mask in (begun, done if done.any() else begun)]  # fmt: skip
        marks = [float(story.progress[row]) for row in rows]
        detail = "crack-induced" if kind == "debonding" else ""
        counted = bool(done.any()) and max(marks) < 0.995 and opening[rows[0]] > 0.03
        finished = float(story.t[rows[1]]) if done.any() else story.at_top
        out.append(
            Truth(kind, 0.0, float(story.t[rows[0]]), strip, face, detail, counted=counted, to=0.0, done=finished)
        )
        if marks[1] < 0.99 and rng.random() < 0.7:
            story.drops.append((marks[1], float(rng.uniform(0.003, 0.045))))
    if len(out) == 2 and out[1].time - out[0].time < 5.0:  # at once: the failure of the anchor is the event
        out[0] = replace(out[0], counted=False)
    return out


def _fan_or_dowel(
    rng: np.random.Generator, story: _Story, truth: list[Truth], heights: list[float], values: list[Any], end: float,
    on_anchor: bool,
) -> None:  # fmt: skip
    """Decides what gave way, in place: a peeling fan takes the strain from the gauges under it before."""
    for i, event in enumerate(truth):
        if event.kind != "anchor failure":
            continue
        fan = bool(rng.random() < 0.5)
        under = [k for k, z in enumerate(heights) if z > end - rng.uniform(50.0, 90.0)]
        peels = fan and rng.random() < 0.75 and bool(under) and len(under) < len(heights)
        if peels:
            seconds, left = float(rng.uniform(1.0, 8.0)), float(rng.uniform(0.2, 0.5))
            going = 1.0 - (1.0 - left) * np.clip((story.t - event.time + seconds) / seconds, 0.0, 1.0)
            for k in under:
                values[k] = values[k] * going
            truth[i] = replace(event, detail="fan", time=event.time)
        elif not fan and on_anchor:
            truth[i] = replace(event, detail="dowel")
        else:
            truth[i] = replace(event, detail="fan at once" if fan else "dowel unseen")


def _peel(
    rng: np.random.Generator, story: _Story, opening: Any, upper: Side, lower: Side, heights: list[float],
    values: list[Any], end: float, strip: int, face: str,
) -> list[Truth]:  # fmt: skip
    """The bond is lost from the free end on: ever shorter lengths at the opening of that time, then nothing."""
    length, crossing = float(np.asarray(upper.length)), float(np.asarray(lower.length))
    progress = rng.uniform(0.7, 0.97)
    row = int(np.searchsorted(story.progress, progress))
    seconds = float(rng.uniform(0.0, 20.0))
    stop = min(int(np.searchsorted(story.t, story.t[row] + seconds)), story.t.size - 1)
    w = float(opening[row])
    longest = at_openings(follow_strip(upper, lower, opening_max=w * 1.05), np.array([w]))
    if w < 0.05 or float(longest.force[0]) < 0.4 * float(np.nanmax(follow_strip(upper, lower, opening_max=w).force)):
        return []  # hardly stressed, or off already
    steps = np.linspace(0.0, 1.0, 12)
    rows = np.unique(np.round(row + (stop - row) * steps).astype(int))
    made: list[list[float]] = []
    for at in rows:
        part = 0.0 if stop == row else (at - row) / (stop - row)
        shorter = max(length * (1.0 - 0.95 * part), 8.0)
        side = Side(shorter, upper.stiffness, upper.width, upper.law)
        state = at_openings(follow_strip(side, lower, opening_max=w * 1.05), np.array([w]))
        made.append([_peeled(side, lower, state, z, end, length - shorter, crossing) for z in heights])
    residual = float(rng.uniform(0.0, 0.03))
    for k in range(len(heights)):
        v = values[k].copy()
        along = np.interp(np.arange(row, stop + 1), rows, [m[k] for m in made])
        v[row : stop + 1] = np.minimum(along, v[row])
        v[stop + 1 :] = residual * v[row]
        values[k] = v
    story.drops.append((float(story.progress[min(stop, story.t.size - 1)]), float(rng.uniform(0.003, 0.045))))
    begun, done = float(story.t[row]), float(story.t[stop])
    return [Truth("debonding", 0.0, begun, strip, face, "strip end", to=0.0, done=done)]


def _peeled(side: Side, lower: Side, state: StripPath, z: float, end: float, peeled: float, crossing: float) -> float:
    """Strain at a height while the upper `peeled` mm hang loose."""
    if z > end - peeled - 3.0:
        return 0.0
    where, states, x = (side, state.upper, end - peeled - z) if z >= crossing else (lower, state.lower, z)
    reach = float(np.asarray(where.length))
    return float(strains_at(where, states, np.array([min(max(x, 3.0), reach - 3.0)]), 5.0)[0, 0])


# instruments


def _each(made: Planted, change: Callable[[str, Any], Any]) -> None:
    """Every gauge's values replaced by `change(name, values)`, in place."""
    made.stirrups = {n: change(n, v) for n, v in made.stirrups.items()}
    made.legs = [
        replace(
            leg,
            gauges=[replace(g, values=change(g.name, g.values)) for g in leg.gauges],
            anchor=[replace(g, values=change(g.name, g.values)) for g in leg.anchor],
        )
        for leg in made.legs
    ]


def _add(made: Planted, name: str, more: Any) -> None:
    """Adds to the readings of one gauge, in place."""
    _each(made, lambda own, v: v + more if own == name else v)


def _measure(rng: np.random.Generator, made: Planted, story: _Story) -> None:
    """Noise and faults of the instruments, in place."""
    n, top = made.time.size, story.top
    quiet = rng.uniform(0.3, 1.5)
    made.load = made.load + rng.normal(0, 4e-4 * top * quiet, n)
    made.deflection = made.deflection + rng.normal(0, 0.003 * quiet, n)
    _each(made, lambda _, v: v + rng.normal(0, 3e-6 * quiet, n))
    strips = [g.name for leg in made.legs for g in leg.gauges]
    names = [*made.stirrups, *strips]
    if "drift" in made.faults:
        drifting = names if rng.random() < 0.2 else list(rng.choice(names, int(rng.integers(1, 4)), replace=False))
        share, drift = made.time / made.time[-1], rng.uniform(5e-5, 3e-4) * float(rng.choice([-1, 1]))
        course = drift * (share if rng.random() < 0.5 else (1 - np.exp(-3 * share)) / (1 - math.exp(-3)))
        _each(made, lambda own, v: v + course if own in drifting else v)
    if "spikes" in made.faults:
        for spiked in rng.choice(names, 3):
            spike = np.zeros(n)
            spike[int(rng.integers(5, n - 5))] = float(rng.choice([-1, 1])) * rng.uniform(5e-4, 5e-3)
            _add(made, str(spiked), spike)
    if "range step" in made.faults:
        stepped, since = str(rng.choice(strips)), story.at_top * rng.uniform(0.2, 0.95)
        step = float(rng.choice([-1, 1])) * rng.uniform(3e-4, 1.5e-3)
        _add(made, stepped, np.where(made.time >= since, step, 0.0))
    if "lost" in made.faults:
        lost, died = str(rng.choice(strips)), story.at_top * rng.uniform(0.3, 0.9)
        level = float(rng.choice([-0.04, 0.06]))
        _each(made, lambda own, v: np.where(made.time >= died, level, v) if own == lost else v)
        made.lost = lost
        made.truth.append(Truth("lost gauge", math.nan, float(died), detail=lost))
    if "coarse" in made.faults:
        made.load = np.round(made.load / (top / 2000)) * (top / 2000)
        _each(made, lambda _, v: np.round(v / 2e-6) * 2e-6)
