"""From the jack's load to the shear at the stated section, with its uncertainty; N, mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Load, Setup, Support, Test
from cracktie.errors import CracktieError
from cracktie.mechanics.statics import SimpleBeam, shear, shear_influence, weight_per_length
from cracktie.member import UNIT_WEIGHT
from cracktie.units import Quantity

CELL_UNCERTAINTY = 0.005
"""Relative half-width of the load cell's error where the setup states none; common practice, no source."""
WEIGHT_UNCERTAINTY = 0.05
"""Relative half-width of the self-weight; common practice, no source."""


class NoSetup(CracktieError, ValueError):
    """The loads and supports of a test are not known."""


@dataclass(frozen=True)
class ShearRule:
    """V = influence (P + rig) + own, at `x` in the studied span; signs so that V is positive.

    `u_influence` is the standard uncertainty of the influence number, `u_cell` the relative one of P, `u_own` that of
    the self-weight part (N). `text` says all this in words.
    """

    x: float
    influence: float
    own: float
    rig: float
    u_influence: float
    u_cell: float
    u_own: float
    text: str

    def applied(self, P: float) -> float:
        """Shear from the applied load alone, N."""
        return self.influence * P

    def total(self, P: float) -> float:
        """Shear with self-weight and rig weight, N."""
        return self.influence * (P + self.rig) + self.own

    def u(self, P: float, u_zero: float = 0.0) -> float:
        """Standard uncertainty of the total shear at load P, N; `u_zero` is that of the load's zero."""
        cell = self.influence * math.hypot(self.u_cell * P, u_zero)
        return math.hypot(cell, self.u_influence * (P + self.rig), self.u_own)


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
    left, right = (float(s.x) for s in setup.supports)
    loads = sorted((float(load.x) - left, _share(setup, load)) for load in setup.loads)
    length = right - left
    near = loads[0][0] if span == "A" else loads[-1][0]
    x = near / 2 if span == "A" else (near + length) / 2
    sign = 1.0 if span == "A" else -1.0
    weight = self_weight(campaign, specimen)
    beam = SimpleBeam(length, float(specimen.overhang_left), float(specimen.overhang_right), weight)
    influence = sign * sum(share * shear_influence(beam, x, at) for at, share in loads)
    own = sign * float(shear(beam, x))
    rig = 0.0 if setup.weight is None or setup.weight_in_cell else float(setup.weight)
    cell = CELL_UNCERTAINTY if setup.cell_uncertainty is None else float(setup.cell_uncertainty)
    shift = 0.0 if setup.position_uncertainty is None else float(setup.position_uncertainty)
    u_influence = shift / length / math.sqrt(3) * math.sqrt(2)
    u_own = WEIGHT_UNCERTAINTY * abs(own) / math.sqrt(3)
    text = (
        f"V at x = {left + x:.0f} mm (middle of shear span {span}) = {influence:.4f} (P + {rig / 1e3:.2f} kN rig) "
        f"+ {own / 1e3:.2f} kN self-weight; cell +-{100 * cell:.2g} %, positions +-{shift:.3g} mm, both rectangular"
    )
    return ShearRule(left + x, influence, own, rig, u_influence, cell / math.sqrt(3), u_own, text)


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
