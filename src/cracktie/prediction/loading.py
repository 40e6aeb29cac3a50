"""How one loading turns the force of the jack into shear of both spans and moment under the loads."""

from __future__ import annotations

from dataclasses import dataclass

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.mechanics import statics
from cracktie.mechanics.statics import SimpleBeam
from cracktie.member import UNIT_WEIGHT, Member
from cracktie.member.derived import rig_of


@dataclass(frozen=True)
class Loading:
    """Loads of sum 1 on a simple beam: (x mm from the left support, share). Shears at the middle of each shear span."""

    beam: SimpleBeam
    loads: tuple[tuple[float, float], ...]

    def shear(self, span: str) -> tuple[float, float]:
        """Shear of a span for a unit load and from self-weight (N), positive as the loads make it."""
        sign = 1.0 if span == "A" else -1.0
        near = self.loads[0][0] if span == "A" else self.loads[-1][0]
        x = near / 2 if span == "A" else (near + self.beam.span) / 2
        unit = sign * float(statics.shear(self.beam, x, self.loads, self_weight=False))
        return unit, sign * float(statics.shear(self.beam, x))

    def at_moment(self, moment: float) -> float:
        """Total load (N) at which the section under a load first reaches `moment` (N mm)."""
        found = []
        for x, _ in self.loads:
            unit = float(statics.moment(self.beam, x, self.loads, self_weight=False))
            found.append((moment - float(statics.moment(self.beam, x))) / unit)
        return min(found)

    def as_shear(self, span: str, load: float) -> float:
        """Shear of a span (N) at a total load, self-weight in it."""
        unit, own = self.shear(span)
        return unit * load + own

    def at_shear(self, span: str, shear: float) -> float:
        """Total load (N) at which a span carries `shear`."""
        unit, own = self.shear(span)
        return (shear - own) / unit


def loading(campaign: Campaign, specimen: Specimen, made: Member, test: Test | None) -> Loading:
    """The loading of a test by its rig; without one the loads stand at the ends of the nominal shear spans."""
    setup = rig_of(campaign, test)
    if setup is not None:
        left, right = (float(s.x) for s in setup.supports)
        each = 1.0 / len(setup.loads)
        loads = sorted((float(p.x) - left, each if p.share is None else float(p.share)) for p in setup.loads)
        span = right - left
    else:
        first, between = float(specimen.spans["A"].length), float(specimen.between_loads)
        span = specimen.distance_between_supports
        loads = [(first, 0.5), (first + between, 0.5)] if between > 0.0 else [(first, 1.0)]
    weight = _weight(campaign, specimen, made)
    beam = SimpleBeam(span, float(specimen.overhang_left), float(specimen.overhang_right), weight)
    return Loading(beam, tuple(loads))


def _weight(campaign: Campaign, specimen: Specimen, made: Member) -> float:
    """Self-weight in N/mm."""
    section, sizes = specimen.section, made.values
    assert section is not None
    bottom = float(section.h_bottom or 0.0)
    web = sizes["b_w"] * (sizes["h"] - sizes["h_flange"] - bottom)
    area = web + sizes["b_flange"] * sizes["h_flange"] + float(section.b_bottom or 0.0) * bottom
    batch = campaign.materials.concretes.get(specimen.batch or "")
    unit = UNIT_WEIGHT if batch is None or batch.weight is None else float(batch.weight)
    return statics.weight_per_length(area, unit)
