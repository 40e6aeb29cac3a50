"""What crosses the critical crack: its digitised line, or an assumed one; strips and stirrups on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from cracktie.campaign.geometry import lean, numbered, span_limits, stirrup_positions, strip_positions
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen, wrap_edges
from cracktie.campaign.testing import CrackLine, Test
from cracktie.lab import crack

ASSUMED_ANGLE = 45.0
"""Degrees; the angle of a crack that nobody digitised (common practice, no source)."""
U_ANGLE = 3.0
"""Standard uncertainty of a digitised angle, degrees: operator and straightening; our judgement, no source."""

Line = tuple[tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True)
class CriticalCrack:
    """Lines (x, z in mm) by face; `assumed` where nobody digitised one. Angle and its standard uncertainty, degrees."""

    lines: dict[str, Line]
    assumed: bool
    angle: float
    u_angle: float
    how: str

    def line(self, face: str) -> Line:
        """The line of a face, or that of the other face."""
        return self.lines.get(face) or next(iter(self.lines.values()))


@dataclass(frozen=True)
class Crossed:
    """A strip leg or stirrup on the crack: number, face, x and z of the crossing, distance along the crack (mm)."""

    number: int
    face: str
    x: float
    z: float
    along: float


def critical_crack(campaign: Campaign, name: str, test: Test, span: str) -> CriticalCrack:
    """The critical crack of a test as digitised, else a straight line at 45 degrees through the middle of the span."""
    seen = campaign.observations.specimens.get(test.specimen)
    lines = [c for c in (seen.crack_lines if seen else ()) if c.critical and c.test in (None, name)]
    if not lines:
        return assumed_crack(campaign.specimen(test.specimen), span, ASSUMED_ANGLE)
    by_face: dict[str, CrackLine] = {}
    for line in lines:
        by_face.setdefault(str(line.face), line)
    section = campaign.specimen(test.specimen).section
    web = (section.web_bottom, section.web_top) if section is not None else (-math.inf, math.inf)
    found = {face: _angle(c, web) for face, c in by_face.items()}
    angles = [f.angle for f in found.values()]
    u = math.hypot(U_ANGLE, (max(angles) - min(angles)) / 2)
    told = ", ".join(f"{face} {f.angle:.1f} deg over {f.length:.0f} mm" for face, f in found.items())
    points = {face: (tuple(map(float, c.x)), tuple(map(float, c.z))) for face, c in by_face.items()}
    return CriticalCrack(
        points, False, sum(angles) / len(angles), u, f"length-weighted mean of the line in the web: {told}"
    )


def _angle(line: CrackLine, web: tuple[float, float]) -> crack.Inclination:
    """Inclination of the part of a line that lies in the web; of all of it where too little does."""
    x, z = crack.between([float(v) for v in line.x], [float(v) for v in line.z], *web)
    return crack.inclination(x, z) if len(x) > 1 else crack.inclination(line.x, line.z)


def assumed_crack(specimen: Specimen, span: str, angle: float) -> CriticalCrack:
    """A straight crack at an angle through mid-height in the middle of the shear span, soffit to top."""
    support, load = span_limits(specimen, span)
    h = float(specimen.section.h) if specimen.section is not None else 0.0
    run = h / math.tan(math.radians(angle)) / 2 * (1.0 if span == "A" else -1.0)
    middle = (support + load) / 2
    line = ((middle - run, middle + run), (0.0, h))
    return CriticalCrack({"front": line}, True, angle, 5.0, f"assumed straight at {angle:g} deg; no line is digitised")


def crossed_strips(specimen: Specimen, span: str, found: CriticalCrack) -> list[Crossed]:
    """Legs (both faces) of the strips that the crack crosses between the edges of their bond."""
    wrap, section = specimen.spans[span].wrap, specimen.section
    if wrap is None or section is None or wrap.layout != "strips":
        return []
    legs = []
    for face in ("front", "back"):
        low, high = wrap_edges(wrap, section, face)
        for number, centre in numbered(strip_positions(specimen, span)).items():
            at = crossing(found.line(face), specimen, span, float(wrap.beta), centre, low, high)
            if at is not None:
                legs.append(Crossed(number, face, *at))
    return legs


def crossed_stirrups(specimen: Specimen, span: str, found: CriticalCrack) -> list[Crossed]:
    """Stirrups that the crack crosses between their ends (on the front line, else the other)."""
    stirrups, section = specimen.spans[span].stirrups, specimen.section
    if stirrups is None or section is None:
        return []
    low, high = stirrup_ends(specimen)
    bars = []
    for number, centre in numbered(stirrup_positions(specimen, span)).items():
        at = crossing(found.line("front"), specimen, span, float(stirrups.angle), centre, low, high)
        if at is not None:
            bars.append(Crossed(number, "front", *at))
    return bars


def stirrup_ends(specimen: Specimen) -> tuple[float, float]:
    """Heights z in mm between which a stirrup can carry shear: centroid of the tension bars to that of the top bars.

    Without top bars the stated cover, without either as far below the top as the tension bars above the soffit
    (assumed). Covers and what of a flange lies above are no part of it.
    """
    section = specimen.section
    assert section is not None
    h = float(section.h)
    steel = specimen.tension_bars
    low = h - sum(la.bars.total * float(la.depth) for la in steel) / sum(la.bars.total for la in steel)
    top = [la for la in specimen.bars if la not in steel]
    if top:
        depth = sum(la.bars.total * float(la.depth) for la in top) / sum(la.bars.total for la in top)
    else:
        depth = low if section.cover is None else float(section.cover)
    return low, h - depth


def crossing(
    line: Line, specimen: Specimen, span: str, angle: float, centre: float, low: float, high: float
) -> tuple[float, float, float] | None:
    """x, z and distance along the crack from its lower end, mm, of an inclined part between two heights; or None."""
    points = list(zip(*line, strict=True))
    if points[0][1] > points[-1][1]:
        points.reverse()
    gone = 0.0
    for (x_1, z_1), (x_2, z_2) in pairwise(points):
        off_1, off_2 = (x - centre - lean(specimen, span, angle, z) for x, z in ((x_1, z_1), (x_2, z_2)))
        length = math.hypot(x_2 - x_1, z_2 - z_1)
        if off_1 != off_2 and off_1 * off_2 <= 0.0:
            share = off_1 / (off_1 - off_2)  # both lines are straight here, so this is exact
            z = z_1 + share * (z_2 - z_1)
            if low - 1e-6 <= z <= high + 1e-6:
                return x_1 + share * (x_2 - x_1), z, gone + share * length
        gone += length
    return None
