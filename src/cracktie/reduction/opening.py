"""Opening and sliding of the critical crack at a row: from channels on it, else from a pair of diagonals; mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cracktie.lab.budget import Budget, Component
from cracktie.mechanics.crack import along_fibre
from cracktie.reduction.budgets import Found
from cracktie.reduction.crossing import CriticalCrack
from cracktie.reduction.gauges import u_reading
from cracktie.reduction.signals import Signal, Signals

NAMES = {"w_cr": "crack opening", "v_cr": "crack sliding"}
SQUARE = 10.0
"""Least angle in degrees between a diagonal and the crack: below it, whether they cross is a matter of chance."""


U_ASSUMED = 10.0
"""Standard uncertainty of an assumed angle, degrees: root mean square distance from 45 of angles spread evenly from 25
to 50, those of diagonal cracks (own integral; the range is judgement, no source)."""
CONCRETE = 1e-4
"""Largest strain of concrete beside a crack: that at which it cracks, f_ct/E_c of about 3 MPa over 30 GPa."""


@dataclass(frozen=True)
class Moment:
    """An event by its name in results ('V_max'), its row, and the rows that might hold it as well (mask or slice)."""

    name: str
    row: int
    near: object = None


def openings(
    signals: Signals, moments: Sequence[Moment], crack: CriticalCrack, span: str, notes: list[str]
) -> Iterator[Found]:
    """w_cr and v_cr at each moment, counted from the zero of this test.

    Channels of their own go first: the mean of all that read then, with the largest named. Else a pair of diagonals
    gives both where they cross the one crack, the panel taken as two rigid blocks. What is uncertain in that: the
    angle; strain of the concrete between the ends of the gauges, which counts as opening; and an opening that falls
    towards the tip while the two gauges cross at different heights. Other cracks count as opening, in no uncertainty.
    """
    for moment in moments:
        own = [name for name, quantity in NAMES.items() if _readable(signals, quantity, moment.row)]
        for name in own:
            yield _direct(name, _readable(signals, NAMES[name], moment.row), moment)
        if "w_cr" not in own:
            yield from (f for f in _by_diagonals(signals, moment, crack, span, notes) if f.name[:4] not in own)


def _readable(signals: Signals, quantity: str, row: int) -> list[Signal]:
    return [s for s in signals.of(quantity) if math.isfinite(s.values[row])]


def _direct(name: str, gauges: Sequence[Signal], moment: Moment) -> Found:
    readings = {s.channel.name: float(s.values[moment.row]) for s in gauges}
    n = len(gauges)
    parts = [
        Component("transducers, zero and noise", math.hypot(*(u_reading(s, moment.row) for s in gauges)) / n)
    ]
    parts += _row_part(np.mean([s.values for s in gauges], axis=0), moment)
    most = max(readings, key=lambda key: abs(readings[key]))
    told = f"one {NAMES[name]} channel, {most}" if n == 1 else (
        f"mean of {n} {NAMES[name]} channels, largest {readings[most]:.3f} mm ({most}); how it differs along the crack "
        "is in no uncertainty"
    )  # fmt: skip
    value = sum(readings.values()) / n
    return Found(f"{name}_{moment.name}", value, "mm", Budget(tuple(parts)), f"{told}, from the zero of this test")


def _row_part(values: object, moment: Moment) -> list[Component]:
    """What not knowing the row of the event adds: the range over the rows it may be, rectangular."""
    if moment.near is None:
        return []
    near = np.asarray(values)[moment.near]  # type: ignore[call-overload]
    near = near[np.isfinite(near)]
    u = float(np.ptp(near)) / math.sqrt(12.0) if near.size > 1 else 0.0
    return [Component("row of the event", u, "rectangular", kind="A")] if u > 0.0 else []


def _by_diagonals(
    signals: Signals, moment: Moment, crack: CriticalCrack, span: str, notes: list[str]
) -> Iterator[Found]:
    gauges = [s for s in _readable(signals, "diagonal displacement", moment.row) if s.channel.direction is not None]
    pairs = [(a, b) for i, a in enumerate(gauges) for b in gauges[i + 1 :] if _crossed(a, b)]
    if not pairs:
        return
    why = "; ".join(dict.fromkeys(w for pair in pairs if (w := _unfit(pair, crack, span))))
    fit = [pair for pair in pairs if not _unfit(pair, crack, span)]
    if not fit:
        said = f"no crack opening from diagonals: {why}"
        if said not in notes:
            notes.append(said)
        return
    pair = fit[0]
    betas = [_beta(s, span) for s in pair]
    solve = _solver(betas)
    values = [s.values for s in pair]
    found = solve(crack.angle, *(v[moment.row] for v in values))
    whole = solve(crack.angle, *values)
    u = [u_reading(s, moment.row) for s in pair]
    units = (solve(crack.angle, 1.0, 0.0), solve(crack.angle, 0.0, 1.0))
    u_angle = U_ASSUMED if crack.assumed else crack.u_angle
    step = min(u_angle, 1.0)
    turned = [solve(crack.angle + d, *(v[moment.row] for v in values)) for d in (-step, step)]
    line = "assumed" if crack.assumed else "digitised"
    how = (
        f"diagonals {pair[0].channel.name}, {pair[1].channel.name} across the {line} crack at {crack.angle:.1f} deg as "
        "two rigid blocks, between the heights where they cross it; other cracks in the panel count as opening; from "
        "the zero of this test"
    )
    strained = [CONCRETE / math.sqrt(3.0) * float(s.channel.gauge_length or 0.0) for s in pair]
    fallen = _fall(pair, betas, crack, max(float(found[0]), 0.0))

    def both(of: Sequence[float], i: int) -> float:
        return math.hypot(units[0][i] * of[0], units[1][i] * of[1])

    for i, name in enumerate(NAMES):
        parts = [
            Component("transducers, zero and noise", both(u, i)),
            Component("angle of the crack", abs(turned[1][i] - turned[0][i]) / (2 * step) * u_angle),
            Component("concrete between the gauges' ends", both(strained, i), "rectangular", note=f"to {CONCRETE:g}"),
            Component("opening falls towards the tip", fallen[i], "rectangular", note="gauges cross the crack apart"),
            *_row_part(whole[i], moment),
        ]
        budget = Budget(tuple(p for p in parts if p.u > 0.0))
        if float(found[i]) < -2.0 * budget.u:
            notes.append(f"{name}_{moment.name} is negative: the panel is not two blocks parted by shear at one crack")
        yield Found(f"{name}_{moment.name}", float(found[i]), "mm", budget, how)


def _fall(pair: Sequence[Signal], betas: Sequence[float], crack: CriticalCrack, w: float) -> tuple[float, float]:
    """Standard uncertainties of (w, v) because the opening falls from mouth to tip and two gauges meet it apart.

    Between blocks that part in parallel and blocks that turn about the tip, gauge i meets w (1 + k d_i), where d_i is
    (z_mean - z_i)/(z_tip - z_mean) and k anything from 0 to 1: rectangular. An assumed crack may lie anywhere as long
    as both gauges cross it: rectangular about their middle, on top. 0 where the place of the gauges is not stated.
    """
    square = [math.sin(math.radians(crack.angle + beta)) for beta in betas]
    heights = [_off_middle(s, q, min(map(abs, square))) if crack.assumed else _crossing_height(s, crack)
               for s, q in zip(pair, square, strict=True)]  # fmt: skip
    middle, tip = sum(heights) / 2.0, max(crack.line(str(pair[0].channel.face or "front"))[1])
    if not tip > middle:  # not known
        return 0.0, 0.0
    further = [min(max((middle - z) / (tip - middle), -1.0), 1.0) for z in heights]
    found = _solver(betas)(crack.angle, *(abs(q) * w * d for q, d in zip(square, further, strict=True)))
    shrink = math.sqrt(3.0) * (math.sqrt(3.0) if crack.assumed else 1.0)
    return abs(found[0]) / shrink, abs(found[1]) / shrink


def _off_middle(s: Signal, square: float, least: float) -> float:
    """Height at which a gauge meets a crack as far off its middle as the gauge flattest to the crack (sine `least`)
    reaches; `square` is the gauge's own sine. NaN where its place is not stated."""
    c = s.channel
    if c.z is None or c.gauge_length is None:
        return math.nan
    along = float(c.gauge_length) / 2.0 * least / square
    return float(c.z) + along * math.sin(math.radians(float(c.direction or 0.0) % 180.0))


def _crossed(a: Signal, b: Signal) -> bool:
    """Whether two gauges are the diagonals of one panel: on one face, with one middle, at 30 degrees or more."""
    one, two = a.channel, b.channel
    places = [(p, q) for p, q in ((one.x, two.x), (one.z, two.z)) if p is not None and q is not None]
    apart = abs(float(one.direction or 0.0) - float(two.direction or 0.0)) % 180.0
    return one.face == two.face and all(p == q for p, q in places) and 30.0 <= apart <= 150.0


def _beta(s: Signal, span: str) -> float:
    """Angle of a gauge in the convention of fibres: below 90 degrees it crosses the crack of its span squarely."""
    direction = float(s.channel.direction or 0.0) % 180.0
    return 180.0 - direction if span == "A" else direction


def _unfit(pair: Sequence[Signal], crack: CriticalCrack, span: str) -> str:
    """Why a pair does not measure the crack; empty where it does."""
    line = "assumed" if crack.assumed else "digitised"
    for s in pair:
        off = (crack.angle + _beta(s, span)) % 180.0
        if min(off, 180.0 - off) < SQUARE:
            return f"{s.channel.name} lies within {SQUARE:g} deg of the {line} crack at {crack.angle:.0f} deg"
        if not crack.assumed and not _meets(s, crack):
            return f"{s.channel.name} does not cross the digitised crack"
    return ""


def _meets(s: Signal, crack: CriticalCrack) -> bool:
    """Whether the crack passes between the ends of a gauge; true where its place is not stated."""
    c = s.channel
    return c.x is None or c.z is None or c.gauge_length is None or math.isfinite(_crossing_height(s, crack))


def _crossing_height(s: Signal, crack: CriticalCrack) -> float:
    """Height z at which a gauge meets the crack, mm; NaN where it does not, or where its place is not stated."""
    c = s.channel
    if c.x is None or c.z is None or c.gauge_length is None:
        return math.nan
    half, phi = float(c.gauge_length) / 2, math.radians(float(c.direction or 0.0))
    sin, cos = math.sin(phi), math.cos(phi)
    points = list(zip(*crack.line(str(c.face or "front")), strict=True))
    for one, two in pairwise([((x - c.x), (z - c.z)) for x, z in points]):
        (along_1, off_1), (along_2, off_2) = (
            (x * cos + z * sin, z * cos - x * sin) for x, z in (one, two)
        )  # in axes of the gauge
        if off_1 != off_2 and off_1 * off_2 <= 0.0:
            share = off_1 / (off_1 - off_2)
            along = along_1 + share * (along_2 - along_1)
            if abs(along) <= half:
                return float(c.z) + along * sin
    return math.nan


def _solver(betas: Sequence[float]) -> Callable[..., tuple[float, float]]:
    """(w, v) from a crack angle and two elongations; a gauge that runs the other way through the crack turns sign."""

    def solve(theta: float, first: float, second: float) -> tuple[float, float]:
        rows = []
        for beta in betas:
            sign = math.copysign(1.0, math.sin(math.radians(theta + beta)))
            rows.append((sign * float(along_fibre(1.0, 0.0, theta=theta, beta=beta)),
                         sign * float(along_fibre(0.0, 1.0, theta=theta, beta=beta))))  # fmt: skip
        (a, b), (c, d) = rows
        det = a * d - b * c
        return (d * first - b * second) / det, (a * second - c * first) / det

    return solve
