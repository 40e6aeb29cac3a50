"""V_f by measured strains of a continuous sheet: strains over the height of the crack, or along it; N, mm."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from cracktie.campaign.geometry import lean
from cracktie.campaign.specimen import Specimen
from cracktie.lab import crack as lab
from cracktie.lab.chain import Chain, Errors
from cracktie.member import Member
from cracktie.reduction.crack_legs import Leg, ends_of, leg_of
from cracktie.reduction.crossing import CriticalCrack, Crossed, crossing
from cracktie.reduction.fibres import U_LEG, U_UNSEEN, Fibres, Reader
from cracktie.reduction.gauges import accuracy, reading
from cracktie.reduction.profiles import ProfileReading
from cracktie.reduction.signals import Signal, Signals

NEAR = 120.0
"""Distance in mm of height up to which a gauge on a continuous sheet counts; our own choice."""
ONE_FIBRE = 5.0
"""mm across within which gauges of a sheet lie on one fibre."""


def sheet(
    chain: Chain, name: str, specimen: Specimen, span: str, signals: Signals, profiles: Sequence[ProfileReading],
    row: int, found: CriticalCrack, inputs: Member,
) -> Fibres | None:  # fmt: skip
    """Continuous sheet: strains along the crack on each gauged face, trapezoids; None without a reading.

    At an edge where the bond ends free the strain is 0 (how full it is nothing tells). Where the sheet goes on around
    the soffit, or is closed or anchored above, the strain lies between 0 and that of the gauge next to it.
    """
    v = inputs.values
    low, high = v["h"] - v["d_frp"], v["h"] - v["z_t"]
    by_face = _fibre_legs(specimen, span, signals, row, found, v, (low, high))
    used = {n for legs in by_face.values() for leg in legs for n in leg.names}
    along = {p.face: p for p in profiles if p.along == "crack" and np.isfinite(p.strain).sum() > 1}
    if not by_face and not along:
        return None
    gauges = [s for s in signals.of("FRP strain") if s.channel.name in used]
    reader = Reader(chain, name, inputs, found, accuracy(gauges, row))
    ply = v["n"] * v["t_f"]
    theta = f"theta, {name}"
    below, above = v["scheme"] != "side", v["anchored"] or v["scheme"] == "full"
    ends = []
    for goes_on, where in ((below, "below the lowest"), (above, "above the highest")):
        u = (0.5 if goes_on else 1.0) / math.sqrt(3.0)  # free end: the area between none and the gauge's all the way
        said = "strain at the edge between 0 and that of the gauge" if goes_on else "up to a free end, empty or full"
        ends.append(
            (0.5 if goes_on else 0.0, reader.source(where, f"profile {where} gauge", u, "rectangular", note=said))
        )
    uses, all_legs = [*(id for _, id in ends), theta], list[Leg]()
    faces, strains = list[Callable[[Errors], Any]](), list[Callable[[Errors], Any]]()
    reader.believe([leg for legs in by_face.values() for leg in legs])
    for face in sorted({*by_face, *along}):
        if face in along:
            faces.append(_by_profile(reader, along[face], found, ply, v))
            strains.append(_scaled(float(np.nanmean(along[face].strain)), reader.gain))
            continue
        legs = by_face[face]
        each = [reader.strain(leg) for leg in legs]
        all_legs += legs
        strains += each
        faces.append(_by_gauges(legs, each, (low, high), v, found, theta, ends))
    share = 2.0 / len(faces)
    other = reader.source(
        "other face", "legs without gauges", U_LEG / 2.0 if len(faces) == 1 else 0.0, note="one face, judgement"
    )
    unseen = reader.source("no line", "crack not digitised", U_UNSEEN if found.assumed else 0.0, note="judgement")

    def force(x: Errors) -> Any:
        total = share * sum(f(x) for f in faces) * (1.0 + x.get(reader.E, 0.0))
        return total * (1.0 + x.get(other, 0.0) + x.get(unseen, 0.0))

    def mean(x: Errors) -> Any:
        return sum(f(x) for f in strains) / len(strains)

    largest = math.nan
    if len(by_face) == len(faces):
        weighted = (_weights(legs, (low, high), found, v)[0] @ [0.0, *(leg.largest for leg in legs), 0.0]
                    for legs in by_face.values())  # fmt: skip
        largest = share * ply * v["E_f"] * float(sum(weighted))
    how = f"strain over the height on {len(faces)} face(s), 0 at free edges; {found.how}"
    return Fibres(all_legs, 0, force, mean, largest, (*reader.uses, *uses, other, unseen), how)


def _scaled(value: float, id: str) -> Callable[[Errors], Any]:
    """A value times one plus a relative error."""
    return lambda x: value * (1.0 + x.get(id, 0.0))


def _by_gauges(
    legs: Sequence[Leg], each: Sequence[Callable[[Errors], Any]], edges: tuple[float, float], v: Mapping[str, Any],
    found: CriticalCrack, theta: str, ends: Sequence[tuple[float, str]],
) -> Callable[[Errors], Any]:  # fmt: skip
    """Force of one face: trapezoids through the strains of its fibres along the crack; `ends` as shares of the strain
    next to them."""
    weights, by_cot = _weights(legs, edges, found, v)
    angle = math.radians(min(max(found.angle, 10.0), 90.0))

    def force(x: Errors) -> Any:
        eps = np.stack(np.broadcast_arrays(*(np.atleast_1d(f(x)) for f in each)))
        lower, upper = (
            row * (share + x.get(id, 0.0)) for row, (share, id) in zip((eps[:1], eps[-1:]), ends, strict=True)
        )
        eps = np.concatenate(np.broadcast_arrays(lower, *eps[:, None], upper))
        turned = 1.0 / np.tan(angle + x.get(theta, 0.0)) - 1.0 / math.tan(angle)
        return v["n"] * v["t_f"] * v["E_f"] * (weights @ eps + turned * (by_cot @ eps))

    return force


def _weights(
    legs: Sequence[Leg], edges: tuple[float, float], found: CriticalCrack, v: Mapping[str, Any]
) -> tuple[Any, Any]:
    """Weights of the strains at the lower edge, the fibres and the upper edge, from the line of their face."""
    along = [leg.at.along for leg in legs]
    line = found.line(legs[0].at.face)
    return lab.fibre_weights(*line, along, edges=edges, angle=found.angle, beta=v["beta"])


def _by_profile(
    reader: Reader, p: ProfileReading, found: CriticalCrack, ply: float, v: Mapping[str, Any]
) -> Callable[[Errors], Any]:
    """Force of one face from a profile along the crack: t E sin(beta) times the integral of eps sin(theta + beta)."""
    good = np.isfinite(p.strain)
    s, eps = np.asarray(p.position, dtype=float)[good], np.asarray(p.strain, dtype=float)[good]
    angle = lab.angles_along(*found.line(p.face), s)
    one = lab.crack_force(s, eps, angle, thickness=ply, modulus=v["E_f"], beta=v["beta"])
    common = p.u if p.u_common is None else p.u_common
    unit = lab.crack_force(
        s, np.broadcast_to(common, np.shape(p.strain))[good], angle, thickness=ply, modulus=v["E_f"], beta=v["beta"]
    )
    shared = reader.source(f"profile {p.file}", "accuracy of the profile", 1.0)
    reader.uses.append(shared)
    return lambda x: one * (1.0 + x.get(reader.gain, 0.0)) + unit * x.get(shared, 0.0)


def _fibre_legs(
    specimen: Specimen, span: str, signals: Signals, row: int, found: CriticalCrack, v: Mapping[str, Any],
    edges: tuple[float, float],
) -> dict[str, list[Leg]]:  # fmt: skip
    """Gauges of a sheet by face and fibre, where a fibre meets the crack; upwards along the crack."""
    fibres: dict[tuple[str, int], list[tuple[Signal, float, float]]] = {}
    for signal in signals.of("FRP strain"):
        c = signal.channel
        if c.x is None or c.z is None or not math.isfinite(reading(signal, row)):
            continue
        centre = float(c.x) - lean(specimen, span, v["beta"], float(c.z))
        face = str(c.face or "front")
        key = next((k for k, on in fibres.items() if k[0] == face and abs(on[0][2] - centre) <= ONE_FIBRE), None)
        fibres.setdefault(key or (face, len(fibres)), []).append((signal, float(c.z), centre))
    made: dict[str, list[Leg]] = {}
    for (face, number), on in fibres.items():
        at = crossing(found.line(face), specimen, span, v["beta"], on[0][2], *edges)
        if at is None or min(abs(z - at[1]) for _, z, _ in on) > NEAR:
            continue
        met = Crossed(number, face, *at)
        leg = leg_of(met, [(s, z) for s, z, _ in on], row, v["beta"], ends_of(met, edges, v))
        made.setdefault(face, []).append(leg)
    return {face: sorted(legs, key=lambda leg: leg.at.along) for face, legs in made.items()}
