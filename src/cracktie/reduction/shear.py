"""From the jack's load to the shear at the stated section, with its uncertainty; N, mm."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cracktie.campaign.gauges import half_width
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Load, Setup, Support, Test
from cracktie.errors import CracktieError
from cracktie.mechanics.statics import SimpleBeam, shear, shear_influence, weight_per_length
from cracktie.member import UNIT_WEIGHT
from cracktie.reduction.readings import layout_of
from cracktie.units import Quantity

CELL_UNCERTAINTY = 0.005
"""Relative half-width of the load cell where neither setup nor channel states one; common practice, no source."""
WEIGHT_UNCERTAINTY = 0.05
"""Relative half-width of the self-weight; common practice, no source."""


class NoSetup(CracktieError, ValueError):
    """The loads and supports of a test are not known."""


@dataclass(frozen=True)
class ShearRule:
    """V = influence (P + rig) + own, at `x` in the studied span; signs so that V is positive.

    With supports at L and R (l = R - L), loads x_i with shares s_i of P and the studied span on the left,

        influence m = sum s_i (R - x_i) / l   (on the right: 1 - m),   own = w [(R - c) G / l - (x - x_0)]

    for a beam of weight w per length and G in all, centre c, left end x_0, and x midway between support and load. Loads
    act through the place of their resultant alone, that is the axis of the jack, also where a spreader splits it; so
    three places matter, each known to within +-`position` (rectangular), independent of each other:

        dV/d(load) = -(P + rig)/l - w/2,   dV/dL = m (P + rig)/l + ...,   dV/dR = (1 - m) (P + rig)/l + ...

    (dots: own part, taken by differences; on the right m and 1 - m change places and signs turn). `slopes` keeps the
    three pairs (1/mm, N/mm). With the relative error of the cell and of the weight (both rectangular) and the error of
    the zero, u(V) is their root sum of squares (JCGM 100:2008, 5.1.2 and 4.3.7); results print u, and an interval of
    about 95 % is +-2 u. All shears of one test share these errors: they do not average out over its events, nor do
    those of rig and cell over the tests on one rig.
    """

    x: float
    influence: float
    own: float
    rig: float
    slopes: tuple[tuple[float, float], ...]
    u_position: float
    u_cell: float
    u_own: float
    text: str

    def applied(self, P: float) -> float:
        """Shear from the applied load alone, N."""
        return self.influence * P

    def total(self, P: float) -> float:
        """Shear with self-weight and rig weight, N."""
        return self.influence * (P + self.rig) + self.own

    def u(self, P: float, u_reading: float = 0.0) -> float:
        """Standard uncertainty of the total shear at load P, N; `u_reading` (N) is that of zero, noise and row of P."""
        places = (self.u_position * (c * (P + self.rig) + own) for c, own in self.slopes)
        return math.hypot(self._u_load(P, u_reading), self.u_own, *places)

    def u_applied(self, P: float, u_reading: float = 0.0) -> float:
        """Standard uncertainty of the shear from the applied load alone, N."""
        return math.hypot(self._u_load(P, u_reading), *(self.u_position * c * P for c, _ in self.slopes))

    def _u_load(self, P: float, u_reading: float) -> float:
        return self.influence * math.hypot(self.u_cell * P, u_reading)


def setup_of(campaign: Campaign, test: Test) -> Setup:
    """The test's setup, or one load between the nominal spans where none is named (mirrored where the test is)."""
    specimen = campaign.specimen(test.specimen)
    if test.setup is not None:
        found = campaign.rig.setups[test.setup]
    elif len(campaign.rig.setups) == 1:
        found = next(iter(campaign.rig.setups.values()))
    else:
        found = nominal_setup(specimen)
    return mirrored(found) if test.mirrored else found


def nominal_setup(specimen: Specimen) -> Setup:
    """Supports and loads as the specimen's spans say; plates and cell unknown."""
    if set(specimen.spans) != {"A", "B"}:
        raise NoSetup(f"{specimen.id}: name the test's setup; the specimen has no spans A and B")
    first, span = float(specimen.spans["A"].length), specimen.distance_between_supports
    places = [first] if not specimen.between_loads else [first, first + float(specimen.between_loads)]
    supports = (Support(x=Quantity(0.0)), Support(x=Quantity(span)))
    return Setup(supports=supports, loads=tuple(Load(x=Quantity(x)) for x in places))


def mirrored(setup: Setup) -> Setup:
    """The same rig with the beam turned end for end."""
    left, right = (float(s.x) for s in setup.supports)
    turn = left + right
    supports = tuple(s.model_copy(update={"x": Quantity(turn - s.x)}) for s in reversed(setup.supports))
    loads = tuple(load.model_copy(update={"x": Quantity(turn - load.x)}) for load in reversed(setup.loads))
    return setup.model_copy(update={"supports": supports, "loads": loads})


def shear_rule(campaign: Campaign, test: Test, span: str) -> ShearRule:
    """How the load of this test becomes shear at the middle of the studied shear span.

    Raises `NoSetup` where loads and supports are not known.
    """
    specimen = campaign.specimen(test.specimen)
    setup = setup_of(campaign, test)
    places = _Places.of(setup, specimen, self_weight(campaign, specimen))
    x, influence, own = places.shear(span)
    rig = 0.0 if setup.weight is None or setup.weight_in_cell else float(setup.weight)
    cell = _cell(campaign, test, span, setup)
    half = 0.0 if setup.position_uncertainty is None else float(setup.position_uncertainty)
    places_text = f"positions +-{half:.3g} mm" if half > 0.0 else "positions taken as exact (no uncertainty stated)"
    text = (
        f"V at x = {x:.0f} mm (middle of shear span {span}) = {influence:.4f} (P + {rig / 1e3:.2f} kN rig) "
        f"+ {own / 1e3:.2f} kN self-weight; cell +-{100 * cell:.2g} %, {places_text}, "
        f"self-weight +-{100 * WEIGHT_UNCERTAINTY:.2g} %, all rectangular"
    )
    u_own = WEIGHT_UNCERTAINTY * abs(own) / math.sqrt(3)
    return ShearRule(x, influence, own, rig, places.slopes(span), half / math.sqrt(3), cell / math.sqrt(3), u_own, text)


def _cell(campaign: Campaign, test: Test, span: str, setup: Setup) -> float:
    """Relative half-width of the load: as the setup states, else the load's channel or its certificate, else usual."""
    if setup.cell_uncertainty is not None:
        return float(setup.cell_uncertainty)
    for channel in layout_of(campaign, test, span).values():
        by = channel.calibration.uncertainty if channel.calibration is not None else None
        found = [half_width(text, "N")[0] for text in (channel.uncertainty, by) if channel.quantity == "load"]
        if any(found):
            return max(found)
    return CELL_UNCERTAINTY


@dataclass(frozen=True)
class _Places:
    """Axes of supports and loads (x mm, share) from the left, ends of the beam, weight in N/mm."""

    left: float
    right: float
    loads: tuple[tuple[float, float], ...]
    ends: tuple[float, float]
    weight: float

    @classmethod
    def of(cls, setup: Setup, specimen: Specimen, weight: float) -> _Places:
        left, right = (float(s.x) for s in setup.supports)
        loads = sorted((float(load.x), _share(setup, load)) for load in setup.loads)
        length = specimen.distance_between_supports if specimen.spans else right
        ends = (-float(specimen.overhang_left), length + float(specimen.overhang_right))
        return cls(left, right, tuple(loads), (min(ends[0], left), max(ends[1], right)), weight)

    def shear(self, span: str) -> tuple[float, float, float]:
        """Place of the middle of a shear span, shear there by 1 N of the jack and by the beam itself, both positive."""
        near = self.loads[0][0] if span == "A" else self.loads[-1][0]
        x = (near + (self.left if span == "A" else self.right)) / 2
        sign = 1.0 if span == "A" else -1.0
        beam = SimpleBeam(self.right - self.left, self.left - self.ends[0], self.ends[1] - self.right, self.weight)
        by_load = sum(share * shear_influence(beam, x - self.left, at - self.left) for at, share in self.loads)
        return x, sign * by_load, sign * float(shear(beam, x - self.left))

    def slopes(self, span: str, step: float = 0.01) -> tuple[tuple[float, float], ...]:
        """Derivatives of both shears by the places of left support, right support and load, central differences."""
        found = []
        for move in ({"left": 1.0}, {"right": 1.0}, {"loads": 1.0}):
            _, *low = self._moved(-step, **move).shear(span)
            _, *high = self._moved(step, **move).shear(span)
            found.append(((high[0] - low[0]) / (2 * step), (high[1] - low[1]) / (2 * step)))
        return tuple(found)

    def _moved(self, by: float, left: float = 0.0, right: float = 0.0, loads: float = 0.0) -> _Places:
        moved = tuple((x + by * loads, share) for x, share in self.loads)
        at = self.left + by * left, self.right + by * right
        ends = min(self.ends[0], at[0]), max(self.ends[1], at[1])  # a beam without overhang ends at its supports
        return replace(self, left=at[0], right=at[1], loads=moved, ends=ends)


def place_ratio(setup: Setup, at: str = "load") -> tuple[float, float]:
    """Place of a transducer at the load (the mean of two) or at midspan between the supports as a ratio r, and u(r).

    r = (x - L)/l, so dr/dx = 1/l, dr/dL = -(1 - r)/l, dr/dR = -r/l; places +-half rectangular, independent.
    """
    left, right = (float(s.x) for s in setup.supports)
    mean = sum(float(load.x) for load in setup.loads) / len(setup.loads)
    ratio = 0.5 if at == "midspan" else (mean - left) / (right - left)
    half = 0.0 if setup.position_uncertainty is None else float(setup.position_uncertainty)
    return ratio, half / math.sqrt(3) / (right - left) * math.hypot(1.0, 1.0 - ratio, ratio)


def self_weight(campaign: Campaign, specimen: Specimen) -> float:
    """Weight of the beam in N/mm from its as-built section and its batch's unit weight; 0 without a section."""
    if specimen.section is None:
        return 0.0
    seen = campaign.observations.specimens.get(specimen.id)
    built = seen.as_built if seen is not None else None
    sizes = {k: getattr(built, k, None) for k in ("b_w", "h", "b_flange", "h_flange")}
    section = specimen.section.model_copy(update={k: v for k, v in sizes.items() if v is not None})
    batch = campaign.materials.concretes.get(specimen.batch or "")
    unit = UNIT_WEIGHT if batch is None or batch.weight is None else float(batch.weight)
    return weight_per_length(section.area, unit)


def _share(setup: Setup, load: Load) -> float:
    return 1.0 / len(setup.loads) if load.share is None else float(load.share)
