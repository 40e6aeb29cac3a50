"""The path of one simulated loading: deflection and load over time, with holds, unloading, drops and failure."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.campaign.testing import Stage
from cracktie.plan.truth import TestTruth

QUIET = 32.0
"""Seconds of zero record before the jack touches the beam."""


@dataclass(frozen=True)
class Path:
    """Arrays of one length: time (s), true deflection (mm), cell reading without faults (N), largest deflection so far
    (mm), unloading ratio (1 on the envelope) and seconds since failure (negative before). `events` are (time, name)."""

    time: Any
    deflection: Any
    load: Any
    memory: Any
    ratio: Any
    failed: Any
    events: tuple[tuple[float, str], ...]
    debondings: tuple[float, ...]


@dataclass
class _Builder:
    truth: TestTruth
    dt: float
    rate: float
    drops: list[tuple[float, float]]
    parts: list[tuple[Any, Any, Any]] = field(default_factory=list)
    events: list[tuple[float, str]] = field(default_factory=list)
    now: float = 0.0
    at: float = 0.0
    load: float = 0.0
    deficit: tuple[float, float] = (0.0, 0.0)
    unloaded: float = 1.0
    failed_at: float = math.inf

    def __post_init__(self) -> None:
        from scipy.interpolate import PchipInterpolator

        xs, ys = _envelope(self.truth)
        self.curve = PchipInterpolator(xs, ys)
        self.fine = np.linspace(0.0, xs[-1], 4000)
        self.scale = self.truth.P_max / float(self._raw(self.fine).max())

    def _raw(self, deflection: Any) -> Any:
        value = self.curve(deflection)
        for place, share in self.drops:
            after = deflection - place
            value = value * (1 - np.where(after > 0, share * np.exp(-np.maximum(after, 0.0) / 0.4), 0.0))
        return value

    def envelope(self, deflection: Any) -> Any:
        return self.scale * self._raw(deflection)

    def at_load(self, load: float) -> float:
        above = np.flatnonzero(self.envelope(self.fine) >= load)
        return float(self.fine[above[0]]) if len(above) else float(self.fine[-1])

    def add(self, deflection: Any, load: Any, ratio: Any) -> None:
        if len(deflection) == 0:
            return
        self.parts.append((deflection, load, np.broadcast_to(ratio, deflection.shape)))
        self.now += len(deflection) * self.dt
        self.at, self.load, self.unloaded = float(deflection[-1]), float(load[-1]), float(self.parts[-1][2][-1])

    def steps(self, seconds: float) -> Any:
        return np.arange(1, max(round(seconds / self.dt), 1) + 1) * self.dt

    def quiet(self, seconds: float) -> None:
        t = self.steps(seconds)
        self.add(np.full(len(t), self.at), np.full(len(t), self.load), self.unloaded)

    def mark(self, name: str) -> None:
        self.events.append((round(self.now, 3), name))

    def push(self, target: float, faster: float = 1.0) -> None:
        """Along the envelope to a deflection; the load lost in a hold comes back within a tenth of a millimetre."""
        if target <= self.at:
            return
        t = self.steps((target - self.at) / (self.rate * faster))
        path = self.at + (target - self.at) * t / t[-1]
        place, lost = self.deficit
        self.add(path, self.envelope(path) - lost * np.exp(-(path - place) / 0.08), 1.0)

    def hold(self, seconds: float) -> None:
        """The operator stops the jack: deflection creeps a little, load relaxes by about two per cent."""
        self.mark("hold")
        t = self.steps(seconds)
        full = float(self.envelope(self.at))
        path = self.at + 0.012 * (1 - np.exp(-t / 15.0))
        lost = (full - self.load) + 0.022 * full * (1 - np.exp(-t / 11.0)) * (1 - (full - self.load) / full)
        self.add(path, self.envelope(path) - lost, 1.0)
        self.deficit = (self.at, float(self.envelope(self.at)) - self.load)

    def unload(self, to: float, reload: bool, slow: float = 30.0) -> None:
        """Down to a load along a stiffer, curved path, and up again along a fuller one."""
        top, peak = self.at, self.load
        reached = max(top, 1e-6)
        residual = 0.30 * reached if reached > 1.0 else 0.12 * reached
        share = min(max(to / peak, 0.0), 1.0) if peak > 0 else 0.0
        low = residual + (top - residual) * share**0.8
        self.mark("unload")
        t = self.steps(slow)
        s = t / t[-1]
        down = top + (low - top) * s
        self.add(down, to + (peak - to) * (1 - s) ** 1.25, share + (1 - share) * (1 - s) ** 1.1)
        if reload:
            self.mark("reload")
            up = low + (top - low) * s
            self.add(up, to + (peak - to) * s**0.95, share + (1 - share) * s**1.0)
            self.deficit = (top, float(self.envelope(top)) - self.load)

    def seat(self, load: float) -> None:
        """To a small load and back to nearly nothing."""
        self.mark("seat")
        top = self.at_load(load)
        t = self.steps(18.0)
        s = t / t[-1]
        self.add(top * s, load * s**1.2, 1.0)
        self.add(top * (1 - s), load * (1 - s) ** 1.1, 1.0)
        self.at, self.load = 0.0, 0.0
        self.quiet(12.0)

    def fail(self) -> None:
        """To the peak and beyond."""
        truth, rate = self.truth, self.rate
        top = self.at_load(truth.P_max * (1 - 1e-9))
        if truth.mode == "flexure":
            yield_at = self.at_load(0.93 * truth.P_max)
            self.push(yield_at)
            self.rate = rate * 3
        self.push(top)
        self.mark("peak")
        self.failed_at = self.now
        peak = self.load
        brittle = truth.mode != "flexure"
        left = {"bare": 0.62, "loose": 0.66, "anchored": 0.72}[truth.scheme] if brittle else 0.985
        t = self.steps(0.5 if brittle else 3.0)
        s = t / t[-1]
        self.add(top + (0.35 if brittle else 0.1) * s, peak * (1 - (1 - left) * np.sqrt(s)), 1.0)
        t = self.steps(1.8 / self.rate / 1.6)
        s = t / t[-1]
        self.add(self.at + 1.8 * s, self.load * (1 - (0.14 if brittle else 0.03) * s), 1.0)

    def release(self) -> None:
        self.unload(0.0, reload=False, slow=25.0)
        self.mark("end of loading")
        self.quiet(18.0)


def _envelope(truth: TestTruth) -> tuple[list[float], list[float]]:
    """Points of the envelope without drops: first crack, diagonal crack, softening, peak (mm, N)."""
    peak, top, soft = truth.P_max, truth.deflection_at_V_max, truth.compliance
    if truth.P_first_flexural_crack is None or truth.V_first_diagonal_crack is None:
        first = 0.30 * peak
        xs, ys = [0.0, 2.7 * soft * first], [0.0, first]
    else:
        crack = truth.P_first_flexural_crack
        diagonal = max((truth.V_first_diagonal_crack - truth.dead_shear) / truth.shear_per_load, 1.3 * crack)
        xs, ys = _cracking(crack, min(diagonal, 0.7 * peak), soft)
    start, rest = xs[-1], top - xs[-1]
    if truth.mode == "flexure":
        elastic = start + (0.9 * peak - ys[-1]) * soft / 0.34
        xs += [elastic, elastic + 1.2, 0.6 * top, top]
        ys += [0.90 * peak, 0.945 * peak, 0.985 * peak, peak]
    else:
        knee = ys[-1] + 0.62 * (peak - ys[-1])
        xs += [start + 0.36 * rest, start + 0.62 * rest, start + 0.82 * rest, top]
        ys += [knee, ys[-1] + 0.855 * (peak - ys[-1]), ys[-1] + 0.965 * (peak - ys[-1]), peak]
    return xs, ys


def _cracking(crack: float, diagonal: float, soft: float) -> tuple[list[float], list[float]]:
    """Straight to the first flexural crack, then less steep at once and, as cracks spread, ever less, up to the
    diagonal crack: slope times 0.42 + 0.20 exp(-s / half the deflection at the crack). Own numbers."""
    start = crack * soft
    scale = 0.5 * start
    s = np.linspace(0.0, (diagonal - crack) * soft / 0.42, 60)
    after = crack + (0.42 * s + 0.20 * scale * (1 - np.exp(-s / scale))) / soft
    keep = (s > 0) & (after < diagonal)
    xs = [0.0, 0.5 * start, 0.98 * start, start, *(start + s[keep])]
    return xs, [x / soft for x in xs[:4]] + [float(y) for y in after[keep]]


DEFAULT_HISTORY = ("seat", "load", "hold", "load", "unload", "reload", "load", "hold", "load to failure")


def default_history(truth: TestTruth) -> tuple[Stage, ...]:
    """Seat, hold at 35 %, unload at 55 %, hold at 72 % of the planted peak, then to failure."""
    loads = iter((0.35, 0.55, 0.72))
    found = []
    for word in DEFAULT_HISTORY:
        to = {"seat": 0.06, "unload": 0.08}.get(word) if word != "load" else next(loads)
        found.append(Stage(stage=word, to=None if to is None else to * truth.P_max))
    return tuple(found)


def loading_path(truth: TestTruth, history: tuple[Stage, ...], rng: np.random.Generator, dt: float) -> Path:
    """The loading of one test at a constant time step `dt` (s), following its stated history."""
    drops, places = _drops(truth, rng)
    rate = truth.deflection_at_V_max / (620.0 if truth.mode != "flexure" else 900.0)
    build = _Builder(truth, dt, rate, drops)
    build.quiet(QUIET)
    held = False
    for stage in history or default_history(truth):
        held = _play(build, stage, held)
    if truth.P_stop is None:
        build.fail()
    build.release()
    deflection, load, ratio = (np.concatenate(column) for column in zip(*build.parts, strict=True))
    time = np.arange(len(deflection)) * dt
    memory = np.maximum.accumulate(deflection)
    events = _envelope_events(build, time, load, memory, places)
    return Path(time, deflection, load, memory, ratio, time - build.failed_at, tuple(sorted(events)), tuple(places))


def _play(build: _Builder, stage: Stage, held: bool) -> bool:
    limit = 0.95 * build.truth.P_max
    word = stage.stage
    if word == "seat":
        build.seat(float(stage.to if stage.to is not None else 0.05 * build.truth.P_max))
    elif word == "load" and stage.to is not None and stage.to < limit:
        build.push(build.at_load(float(stage.to)))
        return True
    elif word == "hold" and held:
        build.hold(float(stage.duration if stage.duration is not None else 45.0))
    elif word == "unload" and held and not (build.truth.P_stop is not None and not stage.to):
        build.unload(float(stage.to or 0.0), reload=True)
    elif word == "load":
        return False
    return held


def _drops(truth: TestTruth, rng: np.random.Generator) -> tuple[list[tuple[float, float]], list[float]]:
    """Where (mm) and by which share the load drops when a strip debonds; the first at the planted shear."""
    if truth.V_first_debonding is None or truth.P_stop is not None:
        return [], []
    bare = _Builder(truth, 0.1, 1.0, [])
    levels = [(truth.V_first_debonding - truth.dead_shear) / truth.shear_per_load / truth.P_max]
    more = 2 if truth.mode == "shear" else 0
    levels += [levels[0] + (0.985 - levels[0]) * f for f in (0.48, 0.80)][:more]
    places = [bare.at_load(level * truth.P_max) for level in levels]
    size = 0.026 if truth.scheme == "loose" else 0.020
    return [(place, float(size * rng.uniform(0.8, 1.25))) for place in places], places


def _envelope_events(
    build: _Builder, time: Any, load: Any, memory: Any, places: list[float]
) -> list[tuple[float, str]]:
    truth, found = build.truth, list(build.events)

    def first(mask: Any, name: str) -> None:
        index = np.flatnonzero(mask)
        if len(index):
            found.append((round(float(time[index[0]]), 3), name))

    if truth.P_first_flexural_crack is not None:  # the whole envelope is scaled, its kink with it
        first(load >= build.scale * truth.P_first_flexural_crack, "first flexural crack")
    if truth.V_first_diagonal_crack is not None:
        level = (truth.V_first_diagonal_crack - truth.dead_shear) / truth.shear_per_load
        first(load >= level, "first diagonal crack")
    for number, place in enumerate(places, start=1):
        first(memory > place, f"debonding {number}")
    return found
