"""One beam in detail: what happens when, force of every strip, strain at every gauge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.beam.prepare import Prepared
from cracktie.beam.response import TOLERANCE, positions
from cracktie.mechanics import crack
from cracktie.mechanics.strip import Anchor, Side, gauge_strain, profile

POINTS = 240
PIECES = 5
"""Fibres across the width of a strip: a wide strip meets the crack at many heights."""
SHORTEST = 0.5


@dataclass(frozen=True)
class Event:
    """Something that happens at a mouth opening `w` [mm]; `strip` is its number, None for the whole beam."""

    what: str
    w: float
    strip: int | None = None


@dataclass(frozen=True)
class Gauge:
    """A strain gauge on a fibre: name, x from the support to the load at its height z, gauge length; mm."""

    name: str
    x: float
    z: float
    length: float
    strip: int | None = None
    face: str = "front"


@dataclass(frozen=True)
class Fibre:
    """One fibre across the crack at height `z`: arrays over the openings (openings,).

    `force` N/mm; `torn` where it has ruptured; slips at the crack and at the far end of both sides, and at the anchor.
    """

    z: float
    force: Any
    torn: Any
    slip_up: Any
    slip_low: Any
    far_up: Any
    far_low: Any
    slip_anchor: Any
    sides: tuple[Side, Side]
    states: tuple[Any, Any]

    def strain(self, z: float, length: float, sine: float) -> Any:
        """Strain that a gauge of that length centred at height `z` reads, (openings,)."""
        upper = z >= self.z
        side, states = (self.sides[0], self.states[0]) if upper else (self.sides[1], self.states[1])
        whole = float(side.arrays[1][0, 0])
        x = np.clip(whole - abs(z - self.z) / sine, 0.0, whole)
        many = _repeated(side, len(states))
        read = gauge_strain(
            many, np.full((len(states), 1), x), length,
            far_slip=states[:, 0], far_strain=states[:, 1], active=states[:, 2],
        )  # fmt: skip
        return np.where(self.torn, 0.0, read[:, 0] * states[:, 3])


def _repeated(side: Side, count: int) -> Side:
    """The same side as many cases, one for each state."""
    anchors = [Anchor(np.full(count, a.k_a), a.F_u, a.soft_slip, a.residual, a.x) for a in side.anchors]
    return Side(np.full(count, side.length), side.stiffness, 1.0, side.law, side.fixed, anchors)


def fibre_at(prepared: Prepared, z: float, w: Any) -> Fibre:
    """The fibre that the crack of the first beam crosses at height `z`, at mouth openings `w` (openings,)."""
    from cracktie.mechanics import crossed_kernel as kernel
    from cracktie.mechanics import crossing_kernel

    row, law = prepared.rows[0], prepared.law
    assert law is not None
    points = POINTS + 8
    one, two = np.empty((6, points)), np.empty((6, points))
    trace, growth = np.empty((5, 6 * points)), np.empty(2)
    force, place = np.empty(w.size), np.empty(w.size)
    count = kernel.fibre(
        law.code, law.rows[0], row, z, w, np.empty(w.size), one, two, trace, growth, np.empty((1, 5)), np.empty((0, 5)),
        force, place, TOLERANCE,
    )  # fmt: skip
    torn = place < 0.0
    at = np.clip(np.where(torn, 0.0, place), 0.0, max(count - 1, 0))
    share = trace[crossing_kernel.SHARE, np.minimum(np.ceil(at).astype(int), max(count - 1, 0))]
    sides = _sides(prepared, row, z)
    states = []
    slips = []
    for path, line, part in (
        (one, crossing_kernel.FIRST, np.where(share < 0.0, -share, 1.0)),
        (two, crossing_kernel.SECOND, np.where(share < 0.0, 1.0, share)),
    ):
        along = np.interp(at, np.arange(count), trace[line, :count]) if count else np.zeros(w.size)
        read = [np.interp(along, np.arange(points), path[i]) for i in range(6)]
        states.append(np.column_stack([read[2], read[3], read[4], part]))
        slips.append(read[0] * part)
    slip_anchor = np.full(w.size, np.nan)
    if sides[0].anchors:
        many = _repeated(sides[0], w.size)
        x = np.full((w.size, 1), float(np.ravel(sides[0].anchors[0].x)[0]))
        found, _ = profile(many, x, far_slip=states[0][:, 0], far_strain=states[0][:, 1], active=states[0][:, 2])
        slip_anchor = found[:, 0] * states[0][:, 3]
    far = [s[:, 0] * s[:, 3] for s in states]
    return Fibre(
        z, force, torn, slips[0], slips[1], far[0], far[1], slip_anchor, (sides[0], sides[1]), (states[0], states[1])
    )


def _sides(prepared: Prepared, row: Any, z: float) -> tuple[Side, Side]:
    from cracktie.mechanics import crossed_kernel as kernel

    law = prepared.law
    assert law is not None
    upper = max((row[kernel.Z_TOP] - z) / row[kernel.SIN_F], SHORTEST)
    lower = max((z - row[kernel.Z_LOW]) / row[kernel.SIN_F], SHORTEST)
    anchors = []
    if row[kernel.ANCHORED] > 0.5 and row[kernel.A_Z] > z:
        x = min(max((row[kernel.Z_TOP] - row[kernel.A_Z]) / row[kernel.SIN_F], 0.0), 0.999 * upper)
        anchors = [Anchor(row[kernel.A_K], row[kernel.A_F], row[kernel.A_SOFT], row[kernel.A_REST], x)]
    return (
        Side(upper, row[kernel.STIFF], 1.0, law, bool(row[kernel.FIXED_UP]), anchors),
        Side(lower, row[kernel.STIFF], 1.0, law, bool(row[kernel.FIXED_LOW])),
    )


@dataclass(frozen=True)
class StripHistory:
    """A strip at the middle crack position: its number, height of the crossing, share of the width that the crack
    crosses, force of one leg [N] and strain at the crack over the openings (openings,)."""

    number: int
    z: float
    crossed: float
    force: Any
    strain: Any
    events: tuple[Event, ...]


def _height(prepared: Prepared, place: float, shift: float) -> float:
    """Height at which the crack crosses the fibre that has `place` at the level of the soffit."""
    from cracktie.mechanics import crossed_kernel as kernel

    row = prepared.rows[0]
    mouth = row[kernel.MOUTH] + shift * row[kernel.SPACING]
    return float(
        crack.crossing_height(
            place, mouth=mouth, z_m=row[kernel.Z_M], z_ref=0.0, theta=prepared.theta[0], beta=prepared.beta[0]
        )
    )


def _inside(prepared: Prepared, z: float) -> bool:
    from cracktie.mechanics import crossed_kernel as kernel

    row = prepared.rows[0]
    return max(row[kernel.Z_M], row[kernel.Z_LOW]) < z < min(row[kernel.Z_T], row[kernel.Z_TOP])


def strips(prepared: Prepared, centres: Any, numbers: Sequence[int], w: Any, shift: float = 0.0) -> list[StripHistory]:
    """Every strip that the crack crosses, at one crack position; w (openings,)."""
    from cracktie.mechanics import crossed_kernel as kernel

    row = prepared.rows[0]
    found = []
    for number, centre in zip(numbers, centres, strict=True):
        places = centre + row[kernel.LENGTH] * ((np.arange(PIECES) + 0.5) / PIECES - 0.5)
        heights = [z for z in (_height(prepared, x, shift) for x in places) if _inside(prepared, z)]
        if not heights:
            continue
        pieces = [fibre_at(prepared, z, w) for z in heights]
        width = row[kernel.LENGTH] * row[kernel.SIN_F]
        force = sum(p.force for p in pieces) / PIECES * width
        strain = sum(p.force for p in pieces) / len(pieces) / row[kernel.STIFF]
        crossed = len(pieces) / PIECES
        told = _events(prepared, pieces, number, w)
        found.append(StripHistory(number, float(np.mean(heights)), crossed, force, strain, told))
    return found


def _events(prepared: Prepared, pieces: Sequence[Fibre], number: int, w: Any) -> tuple[Event, ...]:
    """First opening of each happening among the fibres of a strip, in order."""
    from cracktie.mechanics import crossed_kernel as kernel

    row, law = prepared.rows[0], prepared.law
    assert law is not None
    slip_f = float(law.slip_f[0])
    peak = row[kernel.A_F] / row[kernel.A_K] if row[kernel.ANCHORED] > 0.5 else np.inf

    def first(masks: Sequence[Any]) -> int | None:
        hits = [int(np.argmax(mask)) for mask in masks if mask.any()]
        return min(hits, default=None)

    far_up = [np.zeros(w.size) if row[kernel.FIXED_UP] > 0.5 else p.far_up for p in pieces]
    far_low = [np.zeros(w.size) if row[kernel.FIXED_LOW] > 0.5 else p.far_low for p in pieces]
    happenings = {
        "debonding starts at the crack": [np.maximum(p.slip_up, p.slip_low) >= slip_f for p in pieces],
        "debonded to its upper end": [f >= slip_f for f in far_up],
        "debonded to its lower end": [f >= slip_f for f in far_low],
        "anchor at its largest force": [np.nan_to_num(p.slip_anchor) >= peak * (1.0 - 1e-9) for p in pieces],
        "strip rupture": [p.torn for p in pieces],
    }
    events = []
    for what, masks in happenings.items():
        at = first(masks)
        if at is not None:
            events.append(Event(what, float(w[at]), number))
    return tuple(sorted(events, key=lambda e: e.w))


@dataclass(frozen=True)
class GaugeHistory:
    """Strain of a gauge over the openings (openings,): mean, least and largest over the crack positions.

    `crossed` is the share of positions at which the crack crosses the gauge's fibre at all.
    """

    gauge: Gauge
    mean: Any
    low: Any
    high: Any
    crossed: float


def gauges(prepared: Prepared, wanted: Sequence[Gauge], w: Any, offsets: Any) -> list[GaugeHistory]:
    """Strain histories of gauges on FRP; a fibre that the crack misses reads 0."""
    sine = float(np.sin(np.radians(prepared.beta[0])))
    cot = 1.0 / np.tan(np.radians(prepared.beta[0]))
    shifts = positions(offsets)
    kept: dict[tuple[float, float], Fibre] = {}
    read: dict[tuple[float, float, float, float], Any] = {}
    found = []
    for gauge in wanted:
        place = gauge.x + gauge.z * cot
        lines, crossed = [], 0
        for shift in shifts:
            z = _height(prepared, place, shift)
            if not _inside(prepared, z):
                lines.append(np.zeros(w.size))
                continue
            crossed += 1
            key = (round(place, 6), float(shift))
            if key not in kept:
                kept[key] = fibre_at(prepared, z, w)
            what = (*key, gauge.z, gauge.length)
            if what not in read:
                read[what] = kept[key].strain(gauge.z, gauge.length, sine)
            lines.append(read[what])
        table = np.array(lines)
        found.append(GaugeHistory(gauge, table.mean(0), table.min(0), table.max(0), crossed / len(shifts)))
    return found


def beam_events(prepared: Prepared, values: Mapping[str, float]) -> list[Event]:
    """What happens to stirrups and concrete: yield at the mouth, end of the plateau; `values` name -> opening."""
    x, c = prepared.values, prepared.coefficients
    found = [Event(what, w) for what, w in values.items() if np.isfinite(w)]
    mean = float(c["w_0"][0]) * (1.0 + float(c["m_open"][0]))
    found.append(Event("aggregate interlock starts to fall", mean))
    if x["A_sw"][0] > 0.0 and x["f_yw"][0] > 0.0:
        w = np.geomspace(1e-3, float(prepared.w_max[0]), 400)
        u = crack.along_fibre(w, 0.0, theta=prepared.theta[0], beta=x["alpha_w"][0])
        tau_b = bar_bond(prepared)
        yields = np.sqrt(4.0 * x["E_s"][0] * tau_b * u / x["d_w"][0]) >= x["f_yw"][0]
        if yields.any():
            found.append(Event("first stirrup yields at the mouth", float(w[int(np.argmax(yields))])))
    return sorted((e for e in found if e.w <= float(prepared.w_max[0]) * (1.0 + 1e-9)), key=lambda e: e.w)


def bar_gauges(prepared: Prepared, wanted: Sequence[Gauge], w: Any, offsets: Any) -> list[GaugeHistory]:
    """Strain histories of gauges on stirrups; from yield on the yield strain stands for a larger one.

    The stress at the crack follows the local opening (`crack.stirrup_stress`) and falls along the bar with its bond.
    """
    from cracktie.mechanics import crossed_kernel as kernel

    x, c, row = prepared.values, prepared.coefficients, prepared.rows
    angle = float(x["alpha_w"][0])
    theta, m = float(prepared.theta[0]), float(c["m_open"][0])
    z_m = float(x["h"][0] - x["d"][0])
    z_t = z_m + float(prepared.height[0])
    spacing = float(row[0, kernel.SPACING]) if row is not None else float(x["s_w"][0])
    mouth = float(x["x_mid"][0]) + (z_m - 0.5 * float(x["h"][0])) / np.tan(np.radians(theta))
    tau_b = bar_bond(prepared)
    d_w, E_s, f_yw = (float(x[n][0]) for n in ("d_w", "E_s", "f_yw"))
    found = []
    for gauge in wanted:
        lines, crossed = [], 0
        for shift in positions(offsets):
            z = float(crack.crossing_height(
                gauge.x, mouth=mouth + shift * spacing, z_m=z_m, z_ref=gauge.z, theta=theta, beta=angle
            ))  # fmt: skip
            if not z_m < z < z_t:
                lines.append(np.zeros(w.size))
                continue
            crossed += 1
            u = crack.along_fibre(crack.opening(w, z=z, z_m=z_m, z_t=z_t, m=m), 0.0, theta=theta, beta=angle)
            at_crack = np.minimum(np.sqrt(4.0 * E_s * tau_b * np.maximum(u, 0.0) / d_w), f_yw)
            away = abs(gauge.z - z) / np.sin(np.radians(angle))
            lines.append(np.maximum(at_crack - 4.0 * tau_b * away / d_w, 0.0) / E_s)
        table = np.array(lines)
        found.append(GaugeHistory(gauge, table.mean(0), table.min(0), table.max(0), crossed / len(table)))
    return found


def bar_bond(prepared: Prepared) -> float:
    """Bond stress of the stirrups of the first beam, MPa."""
    x, c = prepared.values, prepared.coefficients
    f_t = 0.395 * (float(x["f_c"][0]) / 0.8) ** 0.55
    return float(c["k_bond_w"][0]) * f_t * (float(c["k_plain"][0]) if x["plain"][0] > 0.5 else 1.0)
