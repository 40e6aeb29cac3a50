"""Statics of a simply supported beam on a rig: shear at mid shear span from load, rig weight and self-weight.

Written a second time on purpose: planted shears must not come out of the statics that the reduction uses, or an error
in those would hide itself. Only the reader's own types are shared.
"""

from __future__ import annotations

from dataclasses import dataclass

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Section, Specimen
from cracktie.campaign.testing import Setup, Test
from cracktie.errors import OutOfScope, UnknownName

DEFAULT_WEIGHT = 25e-6
"""Unit weight of reinforced concrete where materials.yaml gives none, N/mm3 (common practice, no source)."""


@dataclass(frozen=True)
class Placing:
    """How a beam really lies in the rig, against what rig.yaml and materials.yaml say: shifts of the supports' and the
    load's axes (mm, positive to the right; two loads sit on one spreader and move together, with the jack) and the
    relative error of the weight."""

    left_support: float = 0.0
    right_support: float = 0.0
    load: float = 0.0
    weight: float = 0.0


AS_STATED = Placing()


@dataclass(frozen=True)
class SpanStatics:
    """Shear at mid shear span as a linear function of the cell's reading: `V = per_load * P + dead`, N.

    `dead` holds self-weight and, where the cell does not see it, the rig's weight. `reactions` are the shares of P that
    go to the left and right support; `position` the place of the (first) load between the supports, 0 to 1.
    `middle` is x of mid shear span; `toward` is 1 where the load lies to the right of it, else -1. `between` is the
    distance between the supports, `supports` their x.
    """

    per_load: float
    dead: float
    self_weight: float
    length: float
    depth: float
    reactions: tuple[float, float]
    position: float
    middle: float
    toward: float
    between: float
    supports: tuple[float, float]

    def shear(self, load: float) -> float:
        """Shear at mid shear span for a cell reading, N."""
        return self.per_load * load + self.dead

    def load(self, shear: float) -> float:
        """Cell reading that gives a shear at mid shear span, N."""
        return (shear - self.dead) / self.per_load


def studied_span(test: Test, specimen: Specimen) -> str:
    """The span a test studies: the test's word, else the specimen's, else A."""
    return test.studied or specimen.tested_span or "A"


def setup_of(campaign: Campaign, test: Test) -> Setup:
    """The rig of a test; the only one where the test names none. Raises `UnknownName`."""
    setups = campaign.rig.setups
    if test.setup in setups:
        return setups[test.setup]
    if test.setup is None and len(setups) == 1:
        return next(iter(setups.values()))
    known = ", ".join(setups) or "none"
    raise UnknownName(f"test of {test.specimen}: setup {test.setup!r} is not in rig.yaml; setups there: {known}")


def section_as_built(campaign: Campaign, specimen: Specimen) -> Section:
    """The section with its measured sizes where they were recorded. Raises `OutOfScope` for other kinds."""
    if specimen.section is None:
        raise OutOfScope(f"specimen {specimen.id} is of kind 'other'; only beams can be rehearsed")
    seen = campaign.observations.specimens.get(specimen.id)
    if seen is None or seen.as_built is None:
        return specimen.section
    measured = {k: getattr(seen.as_built, k) for k in ("b_w", "h", "b_flange", "h_flange", "cover")}
    return specimen.section.model_copy(update={k: v for k, v in measured.items() if v is not None})


def axes(setup: Setup, mirrored: bool = False) -> tuple[float, float, list[tuple[float, float]]]:
    """Left and right support and the loads (x, share) from the left, turned end for end where the test is mirrored."""
    left, right = (float(s.x) for s in setup.supports)
    shares = [float(p.share) if p.share is not None else 1.0 / len(setup.loads) for p in setup.loads]
    loads = [(float(p.x), share) for p, share in zip(setup.loads, shares, strict=True)]
    if mirrored:
        loads = [(left + right - x, share) for x, share in loads]
    return left, right, sorted(loads)


def span_statics(campaign: Campaign, test: Test, placing: Placing = AS_STATED) -> SpanStatics:
    """Statics of the studied span of a test, with the rig's positions and the as-built section, both as `placing`."""
    specimen = campaign.specimen(test.specimen)
    setup = setup_of(campaign, test)
    section = section_as_built(campaign, specimen)
    left, right, loads = axes(setup, test.mirrored)
    left, right = left + placing.left_support, right + placing.right_support
    loads = [(x + placing.load, share) for x, share in loads]
    to_left = sum(share * (right - x) for x, share in loads) / (right - left)
    batch = campaign.materials.concretes.get(specimen.batch or "")
    weight = float(batch.weight) if batch is not None and batch.weight is not None else DEFAULT_WEIGHT
    own = weight * (1.0 + placing.weight) * section.area
    first, last = -float(specimen.overhang_left), specimen.distance_between_supports + float(specimen.overhang_right)
    own_left = own * (last - first) * (right - (first + last) / 2) / (right - left)
    in_a = studied_span(test, specimen) == "A"
    near = loads[0][0] if in_a else loads[-1][0]
    middle = (left + near) / 2 if in_a else (right + near) / 2
    own_shear = own_left - own * (middle - first) if in_a else own * (middle - first) - own_left
    per_load = to_left if in_a else 1.0 - to_left
    hidden = float(setup.weight or 0.0) if not setup.weight_in_cell else 0.0
    return SpanStatics(
        per_load=per_load,
        dead=per_load * hidden + own_shear,
        self_weight=own_shear,
        length=abs(near - (left if in_a else right)),
        depth=float(section.h),
        reactions=(to_left, 1.0 - to_left),
        position=(loads[0][0] - left) / (right - left),
        middle=middle,
        toward=1.0 if in_a else -1.0,
        between=right - left,
        supports=(left, right),
    )
