"""Strip legs and stirrups across the crack of a simulated test: stretched by its two blocks, held by their bond."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from cracktie.campaign.geometry import numbered, stirrup_positions, strip_positions, wrap_extent
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen, wrap_edges
from cracktie.plan import bonded
from cracktie.plan.crack import BlockCrack
from cracktie.plan.loading import Path
from cracktie.plan.statics import section_as_built
from cracktie.plan.truth import TestTruth, generator

ENERGY, RATE = 0.46, 13.0
"""Bond of a sheet: G in N/mm at 30 MPa (grows with the root of the strength) and B in 1/mm (own numbers)."""
SPRING, YIELD = 160.0, 5.4e-3
"""An anchor held against the strip: N/mm per mm of strip width, and the strain at which it yields (own numbers)."""
BAR_BOND, PLATEAU = 1.9, 0.011
"""Bond stress of stirrups, MPa, and strain of their yield plateau (own numbers)."""
WEAK, STRONG = 0.2, 6.0
"""Least and largest share of the bond energy that a leg may have."""
END = 40.0
"""Distance from a free end of a strip within which the crack goes round it, as under a flange, mm (own number)."""
SLICE = 30.0
"""Width along the axis of the slices of a continuous sheet, mm."""
LEFT = {"strip": 0.15, "stirrup": 0.3}
"""Share of strain that stays when a beam is unloaded (own numbers)."""


@dataclass(frozen=True)
class Motion:
    """How the crack of one test moves: `mouth` is its opening at the mouth at every reading (mm), never falling."""

    truth: TestTruth
    path: Path
    crack: BlockCrack
    mouth: Any
    seed: int

    def unloading(self, left: float) -> Any:
        """Factor of a strain or opening along the record; `left` stays when the beam is unloaded."""
        return left + (1 - left) * self.path.ratio


@dataclass(frozen=True)
class Strip:
    """One leg (or slice of a sheet) on the crack: its place, bond, stiffness times width (N) and fate.

    `states` are those of its bond at every reading, `left` the share of the force that unloading and failure leave.
    """

    number: int
    face: str
    x: float
    z: float
    beta: float
    leg: bonded.Leg
    debonds_at: float
    EA: float
    debonded: Any
    before: bonded.Branch
    after: bonded.Branch
    left: Any

    def strain(self, distance: float) -> Any:
        """Strain of the leg at a distance from the crack along the fibre, upwards positive."""
        one, two = (bonded.strain_along(self.leg, b, distance) for b in (self.before, self.after))
        return np.where(self.debonded, two, one) * self.left

    @cached_property
    def at_crack(self) -> Any:
        """Strain at the crack."""
        return np.where(self.debonded, self.after.strain, self.before.strain) * self.left

    @property
    def shear(self) -> Any:
        """Vertical force, N."""
        return self.EA * self.at_crack * math.sin(math.radians(self.beta))


@dataclass(frozen=True)
class Stirrup:
    """One stirrup on the crack: height and stretch (mm) at every reading, bar and area of all its legs."""

    number: int
    x: float
    z: float
    angle: float
    bar: bonded.Bar
    area: float
    stretch: Any
    left: Any

    @property
    def shear(self) -> Any:
        """Vertical force, N."""
        return self.area * self.bar.stress(self.stretch) * math.sin(math.radians(self.angle)) * self.left


def crossed_stirrups(campaign: Campaign, specimen: Specimen, motion: Motion) -> list[Stirrup]:
    """Stirrups the crack crosses between the bars at the bottom and the tip, 40 mm apart from it."""
    stirrups = specimen.spans[motion.truth.span].stirrups
    if stirrups is None:
        return []
    entry = campaign.materials.bars[stirrups.material]
    values = [v for v in (entry.measured, entry.nominal) if v is not None]
    f_y = next((float(v.f_y) for v in values if v.f_y is not None), 500.0)
    E_s = next((float(v.E_s) for v in values if v.E_s is not None), 200e3)
    diameter = float(stirrups.diameter or (entry.diameter.diameter if entry.diameter else 8.0))
    area = stirrups.legs * math.pi * diameter**2 / 4
    level = float(section_as_built(campaign, specimen).h) / 2
    found = []
    for number, x in numbered(stirrup_positions(specimen, motion.truth.span)).items():
        z = motion.crack.height(x, float(stirrups.angle), level)
        if z is None or z > motion.crack.tip - 40.0:
            continue
        own = generator(motion.seed, "stirrup", motion.truth.specimen, str(x))
        bar = bonded.Bar(diameter, f_y, E_s, BAR_BOND * float(own.uniform(0.85, 1.1)), PLATEAU)
        stretch = np.maximum(motion.mouth * motion.crack.stretch(z, float(stirrups.angle)), 0.0)
        left = motion.unloading(LEFT["stirrup"])
        found.append(Stirrup(number, x, z, float(stirrups.angle), bar, area, stretch, left))
    return found


def crossed_legs(campaign: Campaign, specimen: Specimen, motion: Motion) -> list[Strip]:
    """Every leg on the crack with its bond; the crossed strip nearest to mid-web goes first."""
    wrap, section = specimen.spans[motion.truth.span].wrap, specimen.section
    if wrap is None or section is None or motion.truth.scheme == "bare":
        return []
    if wrap.layout == "strips":
        centres, along = numbered(strip_positions(specimen, motion.truth.span)), float(wrap.width or 0.0)
    else:
        low, high = wrap_extent(specimen, motion.truth.span) or (0.0, 0.0)
        edges = np.linspace(low, high, max(round((high - low) / SLICE), 1) + 1)
        centres = {i: float(x) for i, x in enumerate((edges[1:] + edges[:-1]) / 2, start=1)}
        along = float(edges[1] - edges[0]) * math.sin(math.radians(wrap.beta))
    beta, level = float(wrap.beta), float(section.h) / 2
    places: dict[int, float] = {}
    for number, x in centres.items():
        z, (low, high) = motion.crack.height(x, beta, level), wrap_edges(wrap, section, "front")
        if z is not None and low + END / 4 < z < high - END:
            places[number] = z
    sheet = _Sheet.of(campaign, specimen, motion, along)
    order = sorted(places, key=lambda n: abs(places[n] - 215.0))
    rng, found, events = generator(motion.seed, "legs", motion.truth.test), [], list(motion.path.debondings)
    for rank, number in enumerate(order):
        for face in ("front", "back"):
            turn = {(0, "front"): 0, (0, "back"): 1, (1, "front"): 2}.get((rank, face))
            at = events[turn] if turn is not None and turn < len(events) else math.inf
            lets_go = motion.truth.mode == "shear" and (rank == 0 or motion.truth.scheme == "loose")
            z, uneven = places[number], float(rng.uniform(0.94, 1.06))
            x = centres[number] - motion.crack.toward * (z - level) / math.tan(math.radians(beta))
            found.append(sheet.strip(number, face, x, z, uneven, at, lets_go))
    return found


@dataclass(frozen=True)
class _Sheet:
    """What the legs of one span share."""

    motion: Motion
    beta: float
    width: float
    stiffness: float
    energy: float
    edges: dict[str, tuple[float, float]]
    around: float
    closed: bool
    open_below: bool
    anchored: bool

    @classmethod
    def of(cls, campaign: Campaign, specimen: Specimen, motion: Motion, width: float) -> _Sheet:
        span = specimen.spans[motion.truth.span]
        wrap, section = span.wrap, specimen.section
        assert wrap is not None
        assert section is not None
        system = campaign.materials.frp_systems[wrap.system]
        _, values = system.values("mean", "characteristic", "guaranteed")
        edges = {face: wrap_edges(wrap, section, face) for face in ("front", "back")}
        return cls(
            motion, float(wrap.beta), width, float(wrap.plies * system.thickness * values["E_f"]),
            ENERGY * math.sqrt(motion.truth.f_c / 30.0), edges, float(section.b_w) / 2,
            wrap.scheme == "full", wrap.scheme == "side", span.anchors is not None,
        )  # fmt: skip

    def leg(self, face: str, z: float, share: float) -> bonded.Leg:
        """A leg whose bond has a share of the usual energy."""
        bond = bonded.Bond(self.energy * share, RATE, self.stiffness)
        rise, (low, high) = math.sin(math.radians(self.beta)), self.edges[face]
        up, down = (high - z) / rise, (z - low) / rise
        spring = SPRING / self.stiffness
        upper = bonded.Length(bond, up + self.around, "fixed") if self.closed else (
            bonded.Length(bond, up, "spring", spring, YIELD) if self.anchored else bonded.Length(bond, up)
        )  # fmt: skip
        lower = bonded.Length(bond, down) if self.open_below else bonded.Length(bond, down + self.around, "fixed")
        return bonded.Leg(upper, lower)

    def strip(
        self, number: int, face: str, x: float, z: float, uneven: float, debonds_at: float, lets_go: bool
    ) -> Strip:
        """A leg that debonds at its deflection: its bond energy is what makes it do so, or hold out until V_max."""
        motion = self.motion
        stretch = np.maximum(motion.mouth * motion.crack.stretch(z, self.beta) * uneven, 0.0)
        debonded = motion.path.memory > debonds_at
        before_peak = motion.path.failed < 0.0
        wanted = float(stretch[~debonded & before_peak].max(initial=0.0))
        leg = self._fitted(face, z, wanted, exactly=bool(debonded.any()))
        after = debonded & (leg.fold >= 0)
        left = motion.unloading(LEFT["strip"])
        if motion.truth.mode == "shear":
            left = left * (1 - (0.94 if lets_go else 0.45) * np.clip(motion.path.failed / 0.3, 0.0, 1.0))
        return Strip(
            number, face, x, z, self.beta, leg, debonds_at, self.stiffness * self.width, after,
            bonded.at_opening(leg.bonded(), stretch), bonded.at_opening(leg.debonded(), stretch), left,
        )  # fmt: skip

    def _fitted(self, face: str, z: float, wanted: float, exactly: bool) -> bonded.Leg:
        """The leg whose opening at debonding is the one wanted (a little above it where it holds out)."""
        share, leg = 1.0, self.leg(face, z, 1.0)
        goal = wanted if exactly else 1.04 * wanted
        for _ in range(8):
            if leg.opening_at_fold >= goal and not exactly:
                break
            known = min(leg.opening_at_fold, 4.0 * goal)
            if goal <= 0.0 or abs(known / goal - 1.0) < 0.01:
                break
            share = min(max(share * (goal / known) ** 1.3, WEAK), STRONG)
            leg = self.leg(face, z, share)
        return leg
