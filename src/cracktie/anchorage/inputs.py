"""From a specimen to the inputs of the anchor models of one span, each with where it came from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.anchorage.resistance import FAR, AnchorResistance, anchor_resistance
from cracktie.campaign.geometry import lean, strip_positions
from cracktie.campaign.materials import CONCRETE_MODES, AnchorFibre, Materials
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Anchors, Specimen, Wrap
from cracktie.campaign.testing import AnchorRecord, Test
from cracktie.member import MissingValue, member
from cracktie.units import Quantity

_ORDER = {
    "measured": ("mean", "guaranteed", "characteristic"),
    "nominal": ("mean", "guaranteed", "characteristic"),
    "characteristic": ("guaranteed", "characteristic"),
}


@dataclass(frozen=True)
class AnchorInputs:
    """Inputs of one anchor of a span: `values` and `sources` by glossary name; `resistance` N where measured."""

    specimen: str
    span: str
    choice: str
    values: Mapping[str, Any]
    sources: Mapping[str, str]
    per_leg: int
    resistance: float | None
    notes: tuple[str, ...] = ()
    u_resistance: float | None = None
    """Standard uncertainty of the measured resistance, N; the scatter between anchors is no part of it."""
    tested_mode: str | None = None
    """How the tested anchors failed, where tests gave the resistance."""

    def evaluate(self, **options: Any) -> AnchorResistance:
        """`anchor_resistance` of these inputs; the measured resistance goes before the models."""
        tested = {"resistance": self.resistance, "tested_mode": self.tested_mode}
        return anchor_resistance(self.values, **{**tested, **options})


def anchor_inputs(
    campaign: Campaign, specimen_id: str, span: str, *, choice: str = "measured", test: Test | None = None
) -> AnchorInputs:
    """Inputs of the anchors of one span; choices and `test` as in `member.member`.

    Raises `MissingValue` where the span has no anchors or a value is missing, and what `member` raises.
    """
    specimen = campaign.specimen(specimen_id)
    held = specimen.spans.get(span)
    if held is None or held.anchors is None or held.wrap is None:
        raise MissingValue(f"specimens.yaml: {specimen_id}, span {span}: no anchors")
    beam = member(campaign, specimen_id, span, choice=choice, test=test)
    anchors, wrap = held.anchors, held.wrap
    if wrap.width is None:
        raise MissingValue(
            f"specimens.yaml: {specimen_id}, span {span}: anchors of a continuous sheet have no strip width"
        )
    values: dict[str, Any] = {"f_c": beam.values["f_c"]}
    sources = {"f_c": beam.sources["f_c"]}
    notes: list[str] = []

    def put(name: str, value: Any, source: str) -> None:
        values[name], sources[name] = value, source

    _dowel(put, anchors, campaign.materials)
    _fibre(put, anchors, campaign.materials, choice)
    _bond(put, anchors, campaign.materials)
    put("w_a", float(wrap.width) / anchors.per_leg, "strip width over the anchors of a leg")
    places = anchor_places(specimen, span)
    put("n_a", len(places), "specimens.yaml, anchors of one face; all taken to pull at once")
    put("s_a", float(np.mean(np.diff(places))) if len(places) > 1 else FAR, "mean distance along the axis")
    put("c_edge", edge_distance(specimen, span), "nearest edge of the concrete")
    if anchors.edge_radius is None:
        notes.append("no edge_radius in specimens.yaml: the models take a sharp edge")
    if choice == "measured":
        _as_built(put, notes, campaign, specimen, span)
    tested, mode = _tested(notes, anchors, campaign.materials, choice, float(beam.values["f_c"]))
    resistance = None if tested is None else float(tested)
    u = None if tested is None else tested.u
    return AnchorInputs(specimen_id, span, choice, values, sources, anchors.per_leg, resistance, tuple(notes), u, mode)


def _tested(
    notes: list[str], anchors: Anchors, materials: Materials, choice: str, f_c: float
) -> tuple[Quantity | None, str | None]:
    """Measured resistance of one anchor in N, as typed or from tests, and the mode of the tests; None where the models
    decide. A cone is brought from the concrete of the tests to that of the beam by the root of the ratio."""
    if anchors.resistance is not None:
        notes.append("specimens.yaml, anchors.resistance: a measured resistance of one anchor goes before the models")
        return anchors.resistance, None
    if anchors.tested is None:
        return None, None
    if anchors.tested not in materials.anchors_tested:
        raise MissingValue(f"materials.yaml: anchors_tested has no {anchors.tested!r}")
    entry = materials.anchors_tested[anchors.tested]
    kind = "characteristic" if choice == "characteristic" else "mean"
    value = entry.characteristic if kind == "characteristic" else entry.resistance
    place = f"materials.yaml, anchors_tested.{anchors.tested}"
    if value is None:
        notes.append(f"{place}: no {kind} resistance (5 % fractile: 3 tests or more); the models decide")
        return None, None
    known = [f"n = {entry.n}" if entry.n else "", f"mode {entry.mode}" if entry.mode else ""]
    told = ", ".join([kind, *(k for k in known if k)])
    notes.append(
        f"{place} ({told}) goes before the models; whether bend, edges and concrete of the tests were those of the "
        "beam is not checked"
    )
    if entry.mode in CONCRETE_MODES and entry.f_c is not None:
        share = math.sqrt(f_c / float(entry.f_c))
        notes.append(
            f"{place}: cones in concrete of {float(entry.f_c):.1f} MPa, the beam has {f_c:.1f} MPa: the resistance is "
            f"taken {share:.3f} times (root of the ratio)"
        )
        value = Quantity(value * share, None if value.u is None else value.u * share)
    return value, entry.mode


def _dowel(put: Any, anchors: Anchors, materials: Materials) -> None:
    source = "specimens.yaml, nominal"
    put("host", anchors.host, source)
    put("h_ef", float(anchors.embedment), source)
    put("d_a", float(anchors.dowel_diameter), source)
    put("d_0", float(anchors.hole_diameter), source)
    put("theta_b", float(anchors.bend_angle), source)
    put("r_edge", None if anchors.edge_radius is None else float(anchors.edge_radius), source)
    put("fan_angle", float(anchors.fan.angle), "specimens.yaml, full opening angle")
    put("l_fan", float(anchors.fan.length), source)
    put("fan_form", anchors.fan.form, source)
    put("A_a", fibre_area(anchors, materials), "dry fibre of one anchor")


def fibre_area(anchors: Anchors, materials: Materials) -> float:
    """Dry-fibre area of one anchor in mm2: as written, or tows times the area of one; raises `MissingValue`."""
    if anchors.fibre_area is not None:
        return float(anchors.fibre_area)
    entry = _anchor_fibre(anchors, materials)
    if entry.tow_area is None:
        raise MissingValue(f"materials.yaml: anchor_fibres.{anchors.fibre} has no tow_area, needed with tows")
    return float(entry.tow_area) * int(anchors.tows or 0)


def _anchor_fibre(anchors: Anchors, materials: Materials) -> AnchorFibre:
    if anchors.fibre not in materials.anchor_fibres:
        raise MissingValue(f"materials.yaml: anchor_fibres has no {anchors.fibre!r}")
    return materials.anchor_fibres[anchors.fibre]


def fibre_values(anchors: Anchors, materials: Materials, choice: str) -> tuple[str, float, float]:
    """Kind, strength and modulus (MPa) of the anchor's fibre; raises `MissingValue` where no kind is complete."""
    entry = _anchor_fibre(anchors, materials)
    for kind in _ORDER[choice]:
        found = getattr(entry, kind)
        if found is not None and found.E_f is not None and (found.f_fu is not None or found.eps_fu is not None):
            strength = found.f_fu if found.f_fu is not None else found.eps_fu * found.E_f
            return kind, float(strength), float(found.E_f)
    wanted = " or ".join(_ORDER[choice])
    raise MissingValue(f"materials.yaml: anchor_fibres.{anchors.fibre} has no {wanted} with E_f and f_fu or eps_fu")


def _fibre(put: Any, anchors: Anchors, materials: Materials, choice: str) -> None:
    kind, f_fa, E_fa = fibre_values(anchors, materials, choice)
    put("f_fa", f_fa, f"materials.yaml, {anchors.fibre}, {kind}")
    put("E_fa", E_fa, f"materials.yaml, {anchors.fibre}, {kind}")


def _bond(put: Any, anchors: Anchors, materials: Materials) -> None:
    """The bond strength of the anchor's adhesive, taken at the dowel and at the hole alike."""
    if anchors.adhesive is None:
        return
    entry = materials.adhesives.get(anchors.adhesive)
    if entry is not None and entry.bond_strength is not None:
        for name in ("tau_a", "tau_0"):
            put(name, float(entry.bond_strength), f"materials.yaml, bond_strength of {anchors.adhesive}")


_MEASURED = {"d_0": "hole_diameter", "h_ef": "depth", "theta_b": "bend_angle", "r_edge": "edge_radius"}


def _as_built(put: Any, notes: list[str], campaign: Campaign, specimen: Specimen, span: str) -> None:
    """Means of the installation records; they do not say the span, so only a beam anchored in one span takes them."""
    seen = campaign.observations.specimens.get(specimen.id)
    if seen is None or not seen.anchors:
        return
    if sum(s.anchors is not None for s in specimen.spans.values()) > 1:
        notes.append("both spans have anchors and the installation records do not tell which: nominal sizes used")
        return
    records: list[AnchorRecord] = list(seen.anchors.values())
    for name, key in _MEASURED.items():
        found = [float(getattr(r, key)) for r in records if getattr(r, key) is not None]
        if found:
            put(name, float(np.mean(found)), f"observations.yaml, mean of {len(found)} anchors")


def anchor_places(specimen: Specimen, span: str) -> tuple[float, ...]:
    """x of the holes of one face at their entry in ascending order, mm; empty without strips or anchors."""
    held = specimen.spans[span]
    if held.anchors is None or held.wrap is None:
        return ()
    anchors, wrap = held.anchors, held.wrap
    strips = strip_positions(specimen, span)
    used = anchors.strips if anchors.strips is not None else range(1, len(strips) + 1)
    shift = lean(specimen, span, float(wrap.beta), float(anchors.z))
    offsets = offsets_across(anchors, wrap)
    return tuple(sorted(strips[n - 1] + shift + dx for n in used for dx in offsets))


def offsets_across(anchors: Anchors, wrap: Wrap) -> tuple[float, ...]:
    """Distances along the axis from a strip's centre line to its anchors, mm; `across` is square to the fibre."""
    step = float(anchors.across or 0.0) / float(np.sin(np.radians(float(wrap.beta))))
    return tuple(step * (i - (anchors.per_leg - 1) / 2.0) for i in range(anchors.per_leg))


def edge_distance(specimen: Specimen, span: str) -> float:
    """Distance in mm from the axis of a hole at its entry to the nearest free edge of the concrete it is drilled into.

    Web: soffit, top of a rectangular section (a flange is no edge), end of the beam. Flange: its free side, for a hole
    beside the web face, and the end of the beam.
    """
    held, section = specimen.spans[span], specimen.section
    if held.anchors is None or section is None:
        raise MissingValue(f"specimens.yaml: {specimen.id}, span {span}: no anchors or no section")
    anchors = held.anchors
    places = anchor_places(specimen, span)
    ends = (-float(specimen.overhang_left), float(specimen.distance_between_supports) + float(specimen.overhang_right))
    along = min((min(x - ends[0], ends[1] - x) for x in places), default=FAR)
    if anchors.host in ("flange", "through_flange"):
        if section.b_flange is None:
            raise MissingValue(
                f"specimens.yaml: {specimen.id}, span {span}: host {anchors.host} in a section without flange"
            )
        return min((float(section.b_flange) - float(section.b_w)) / 2.0, along)
    heights = [float(z) for z in (anchors.z, anchors.back_z) if z is not None]
    vertical = [*heights, *(float(section.h) - z for z in heights)] if section.b_flange is None else heights
    return min(*vertical, along)
