"""From one span of a specimen to the inputs of the mechanics: sizes, real places of strips, anchors, concrete term."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.anchorage import AnchorInputs, AnchorResistance, anchor_band, anchor_inputs
from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.campaign.geometry import span_limits, strip_positions, wrap_extent
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.clause import evaluate, get
from cracktie.guidelines import guideline_set
from cracktie.member import Member, MissingValue, member

NOTICE = "not validated on beams with spike anchors; trends only"
NOT_BELOW, WARN_BELOW = 2.0, 2.5
"""a/d: anchored wraps are not predicted below the first value and warned about below the second. Published gains were
negligible at the shorter shear span of bi-directional anchored strips (University of Texas; abstract only)."""
ENDS, LEAST = 2.0, 0.1
"""Standard uncertainties of a tested resistance at the ends of its band; least share of it that is left."""
TAKEN = (
    "h", "d", "f_c", "E_f", "f_fu", "t_f", "n", "beta", "z_t", "d_frp", "w_f", "s_f", "A_sw", "s_w", "f_yw", "E_s",
    "alpha_w", "d_g", "scheme", "layout", "theta", "f_ctm",
)  # fmt: skip
ANGLES = ("stated", "measured")


@dataclass(frozen=True)
class Wrapped:
    """One span ready for the mechanics.

    `inputs` as `respond` takes them; `centres` the strips as the kernels count them and `numbers` their numbers;
    `why` says why nothing can be said, empty otherwise.
    """

    specimen: Specimen
    span: str
    member: Member
    inputs: Mapping[str, Any]
    centres: Any
    numbers: tuple[int, ...]
    theta_from: str
    V_c0_from: str
    anchor: AnchorInputs | None = None
    anchors: Mapping[str, AnchorResistance] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    why: str = ""

    @property
    def anchored(self) -> bool:
        """Whether the strips of this span are anchored."""
        return self.anchor is not None

    @property
    def a_d(self) -> float:
        """Shear span over effective depth."""
        return float(self.member.values["a"] / self.member.values["d"])

    def local(self, x: float) -> float:
        """Distance from the support of this span to a place `x` of the beam, mm."""
        support, load = span_limits(self.specimen, self.span)
        return (x - support) * (1.0 if load > support else -1.0)

    def with_anchor(self, end: str = "default") -> dict[str, Any]:
        """The inputs with the anchors at an end of their band: 'low', 'default' or 'high'."""
        if not self.anchored:
            return dict(self.inputs)
        return {**self.inputs, **leg(self, self.anchors[end])}


def wrapped_span(
    campaign: Campaign,
    specimen_id: str,
    span: str,
    *,
    test: Test | None = None,
    choice: str = "measured",
    bare: bool = False,
    angle: str = "stated",
) -> Wrapped:
    """Inputs of one span; what cannot be predicted comes back with its reason in `why`.

    `angle` 'stated' takes crack_angle of the specimen, else our own value; 'measured' the digitised critical crack,
    which makes the prediction no blind one. Raises what `member` raises.
    """
    made = member(campaign, specimen_id, span, choice=choice, test=test, bare=bare)
    specimen = campaign.specimen(specimen_id)
    inputs: dict[str, Any] = {n: made.values[n] for n in TAKEN if n in made.values}
    inputs.setdefault("scheme", "none")
    inputs["clear"] = made.values.get("a_clear", made.values["a"])
    inputs["x_mid"] = 0.5 * made.values["a"]
    notes: list[str] = []
    inputs |= _stirrups(campaign, specimen, span, notes)
    V_c0, V_c0_from = concrete_term(campaign, made)
    inputs["V_c0"] = V_c0
    theta_from = _angle(campaign, specimen, span, angle, inputs)
    centres, numbers = _strips(specimen, span, inputs) if made.strengthened else (None, ())
    held = specimen.spans[span]
    if held.anchors is None or not made.strengthened:
        return Wrapped(
            specimen, span, made, inputs, centres, numbers, theta_from, V_c0_from, notes=(*made.notes, *notes)
        )
    return _anchored(
        campaign, test, choice,
        Wrapped(specimen, span, made, inputs, centres, numbers, theta_from, V_c0_from, notes=(*made.notes, *notes)),
    )  # fmt: skip


def concrete_term(campaign: Campaign, made: Member) -> tuple[float, str]:
    """Concrete term in N before interlock is lost: that of the campaign's host code, and where it comes from."""
    host = guideline_set(str(campaign.head.host))
    inputs = {**made.values, "form": made.form, "edition": "si"}
    inputs.update(host.prepare(inputs))
    assert host.concrete is not None
    result = evaluate(host.concrete, inputs)
    if not np.all(result.applicable):
        raise MissingValue(f"concrete term of {host.title}: {result.reasons[0][0].sentence}")
    return float(result.value), get(host.concrete).title


def _stirrups(campaign: Campaign, specimen: Specimen, span: str, notes: list[str]) -> dict[str, Any]:
    stirrups = specimen.spans[span].stirrups
    if stirrups is None:
        return {}
    bar = campaign.materials.bars.get(stirrups.material)
    plain = bar is not None and bar.kind == "plain"
    if stirrups.diameter is not None:
        return {"d_w": float(stirrups.diameter), "plain": plain}
    if bar is not None and bar.diameter is not None:
        return {"d_w": float(bar.diameter.diameter), "plain": plain}
    if bar is not None and bar.area is not None:
        notes.append(f"stirrups {stirrups.material}: diameter from the area")
        return {"d_w": math.sqrt(4.0 * float(bar.area) / math.pi), "plain": plain}
    return {"plain": plain}


def _angle(campaign: Campaign, specimen: Specimen, span: str, angle: str, inputs: dict[str, Any]) -> str:
    if angle not in ANGLES:
        raise MissingValue(f"crack angle: {angle!r}; possible: {', '.join(ANGLES)}")
    if angle == "measured":
        found = measured_angle(campaign, specimen, span)
        if found is None:
            raise MissingValue(
                f"observations.yaml: {specimen.id} has no critical crack line; angle 'stated' needs none"
            )
        inputs["theta"] = found
        return "observations.yaml, critical crack line: no blind prediction"
    if "theta" in inputs:
        return "specimens.yaml, crack_angle"
    own = COEFFICIENTS["theta"]
    return f"our own {own.value:g} deg, range {own.low:g} to {own.high:g}"


def measured_angle(campaign: Campaign, specimen: Specimen, span: str) -> float | None:
    """Angle in degrees of the digitised critical cracks between bars and web top, mean of the lines; None without."""
    seen = campaign.observations.specimens.get(specimen.id)
    assert specimen.section is not None
    low = float(specimen.section.h) - max(float(layer.depth) for layer in specimen.tension_bars)
    high = float(specimen.section.web_top)
    found = []
    for line in seen.crack_lines if seen else ():
        if not line.critical:
            continue
        points = [(float(x), float(z)) for x, z in zip(line.x, line.z, strict=True) if low - 1.0 <= z <= high + 1.0]
        if len(points) >= 2:
            (x_1, z_1), (x_2, z_2) = min(points, key=lambda p: p[1]), max(points, key=lambda p: p[1])
            found.append(math.degrees(math.atan2(z_2 - z_1, abs(x_2 - x_1))))
    return sum(found) / len(found) if found else None


def _strips(specimen: Specimen, span: str, inputs: dict[str, Any]) -> tuple[Any, tuple[int, ...]]:
    """Places of the strips as the kernels count them, in the order of their numbers; a sheet is one wide strip."""
    support, load = span_limits(specimen, span)
    way = 1.0 if load > support else -1.0
    assert specimen.section is not None
    lift = 0.5 * float(inputs["h"]) / math.tan(math.radians(float(inputs["beta"])))
    if inputs["layout"] == "continuous":
        extent = wrap_extent(specimen, span)
        assert extent is not None
        inputs["sheet"] = extent[1] - extent[0]
        return np.array([(0.5 * sum(extent) - support) * way + lift]), ()
    places = strip_positions(specimen, span)
    return np.array([(x - support) * way + lift for x in places]), tuple(range(1, len(places) + 1))


def _anchored(campaign: Campaign, test: Test | None, choice: str, made: Wrapped) -> Wrapped:
    """The same with its anchors, or with the reason why they are not covered."""
    from dataclasses import replace

    anchors = made.specimen.spans[made.span].anchors
    assert anchors is not None
    if made.a_d < NOT_BELOW:
        return replace(made, why=f"anchored wraps are not predicted below a/d = {NOT_BELOW:g}; here {made.a_d:.2f}")
    if made.inputs["layout"] == "continuous":
        return replace(made, why="anchors of a continuous sheet are not covered")
    if anchors.strips is not None and set(anchors.strips) != set(made.numbers):
        return replace(made, why="anchors on some of the strips only are not covered")
    found = anchor_inputs(campaign, made.specimen.id, made.span, choice=choice, test=test)
    band = _band(found)
    if not np.isfinite(band["default"].F_u):
        reasons = [s for told in band["default"].reasons.values() for s, _ in told]
        return replace(made, why=f"the anchors are not covered: {'; '.join(dict.fromkeys(reasons)) or 'no resistance'}")
    warnings = made.warnings
    if made.a_d < WARN_BELOW:
        warnings = (*warnings, f"a/d = {made.a_d:.2f}: little is published on anchored wraps below {WARN_BELOW:g}")
    heights = [float(z) for z in (anchors.z, anchors.back_z) if z is not None]
    height = min(heights)
    if anchors.host in ("flange", "through_flange"):  # a hole beside or above the edge of the strip holds it at its end
        height = min(height, float(made.inputs["h"] - made.inputs["z_t"]))
    inputs = {**made.inputs, "anchored": True, "z_anchor": height}
    whole = replace(made, inputs=inputs, anchor=found, anchors=band, warnings=warnings)
    return replace(whole, inputs={**inputs, **leg(whole, band["default"])})


def _band(found: AnchorInputs) -> dict[str, AnchorResistance]:
    """The anchor at both ends of our assumptions; a tested resistance at `ENDS` standard uncertainties of its mean.

    Without a stated uncertainty of the test the band leaves the tested resistance alone, and says so.
    """
    from dataclasses import replace

    band = anchor_band(found.values, resistance=found.resistance, tested_mode=found.tested_mode)
    if found.resistance is None:
        return band
    if not found.u_resistance:
        told = "the tested resistance states no uncertainty: the band leaves it alone"
        return {end: replace(one, notes=(*one.notes, told)) for end, one in band.items()}
    reach = ENDS * found.u_resistance
    ends = {"low": max(found.resistance - reach, LEAST * found.resistance), "high": found.resistance + reach}
    told = f"weakest and strongest: the mean of the tests less and plus {ENDS:g} standard uncertainties of it"
    made = {end: replace(one, F_u=ends.get(end, one.F_u)) for end, one in band.items()}
    return {end: replace(one, notes=(*one.notes, told)) for end, one in made.items()}


def leg(made: Wrapped, resistance: AnchorResistance) -> dict[str, Any]:
    """Spring of the anchors of one leg as inputs, its force held to the strength of the strip."""
    assert made.anchor is not None
    spring = resistance.leg(made.anchor.per_leg)
    x = made.inputs
    strip = float(x["f_fu"] * x["n"] * x["t_f"] * x["w_f"])
    return {
        "k_leg": spring.k, "F_leg": float(np.minimum(spring.F_u, strip)), "soft_slip": spring.soft_slip,
        "residual": spring.residual,
    }  # fmt: skip
