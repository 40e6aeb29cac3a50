"""The words on drawings: bars, stirrups, wraps, anchors and gauges in one phrase each."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from cracktie.errors import OutOfScope, UnknownName

if TYPE_CHECKING:
    from cracktie.campaign.materials import Materials
    from cracktie.campaign.specimen import Anchors, Layer, Section, Soffit, Specimen, Stirrups, Wrap
    from cracktie.campaign.testing import Test

SCHEME_WORDS = {"side": "side-bonded", "u": "U-wrapped", "full": "fully wrapped"}
HOST_WORDS = {
    "web": "into the web",
    "flange": "into the flange",
    "through_flange": "through the flange",
    "through_web": "through the web",
}
SPAN_WORDS = {"A": "A (left)", "B": "B (right)"}


def mm(value: float) -> str:
    """A length for a drawing: to 0.1 mm, without trailing zeros and without its unit."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def drawable(specimen: Specimen) -> Section:
    """The section of a beam; raises `OutOfScope` for a specimen that is no described beam."""
    if specimen.kind != "beam" or specimen.section is None:
        raise OutOfScope(
            f"specimen {specimen.id}: kind: {specimen.kind} has no section and spans, so there is nothing to draw; "
            "write kind: beam with section, bars and spans to get a drawing"
        )
    return specimen.section


def span_of(specimen: Specimen, key: str) -> str:
    """The key itself; raises `UnknownName` where the specimen has no such span."""
    if key not in specimen.spans:
        raise UnknownName(f"specimen {specimen.id} has no span {key!r}; spans: {', '.join(specimen.spans)}")
    return key


def section_words(section: Section) -> str:
    """Shape and main sizes."""
    shape = section.shape if section.shape == "rectangular" else f"{section.shape}-shaped"
    text = f"{shape} section, b_w x h = {mm(section.b_w)} x {mm(section.h)}"
    if section.b_flange is not None:
        text += f", flange {mm(section.b_flange)} x {mm(section.h_flange or 0.0)}"
    if section.b_bottom is not None:
        text += f", lower flange {mm(section.b_bottom)} x {mm(section.h_bottom or 0.0)}"
    return text


def bar_label(layer: Layer) -> tuple[str, str]:
    """Short label of a bar layer, and the label with its depth."""
    label = f"{layer.bars.count} x {mm(layer.bars.diameter)} bar{'s' if layer.bars.count > 1 else ''}"
    return label, f"{label}: centre {mm(layer.depth)} mm below the top"


def stirrup_diameter(stirrups: Stirrups, materials: Materials | None) -> float | None:
    """Diameter from the stirrups or from their bar material, mm; None where neither states it."""
    if stirrups.diameter is not None:
        return float(stirrups.diameter)
    bar = materials.bars.get(stirrups.material) if materials is not None else None
    return float(bar.diameter.diameter) if bar is not None and bar.diameter is not None else None


def stirrup_words(stirrups: Stirrups, materials: Materials | None) -> str:
    """Diameter, legs, spacing and inclination."""
    size = stirrup_diameter(stirrups, materials)
    text = "" if size is None else f"diameter {mm(size)}, "
    text += f"{stirrups.legs} leg{'s' if stirrups.legs > 1 else ''}"
    if stirrups.spacing is not None:
        text += f", spacing {mm(stirrups.spacing)}"
    if stirrups.angle != 90.0:
        text += f", at {stirrups.angle:g}° to the axis"
    return text


def wrap_words(wrap: Wrap, materials: Materials | None) -> str:
    """Scheme, layout, plies, system and fibre angle."""
    system = materials.frp_systems.get(wrap.system) if materials is not None else None
    product = f"{system.fibre} {system.form}" if system is not None else f"system {wrap.system}"
    plies = f"{wrap.plies} {'ply' if wrap.plies == 1 else 'plies'}"
    if wrap.layout == "continuous":
        layout = "continuous"
    else:
        layout = f"{mm(wrap.width or 0.0)} wide"
        layout += f" at {mm(wrap.spacing)}" if wrap.spacing is not None else ""
    return f"{SCHEME_WORDS[wrap.scheme]}, {layout}, {plies}, {product}, fibres at {wrap.beta:g}°"


def soffit_words(soffit: Soffit) -> str:
    """Plies, width and ends of the sheet bonded to the soffit for bending."""
    text = f"{soffit.plies} {'ply' if soffit.plies == 1 else 'plies'} {mm(soffit.width)} wide, system {soffit.system}"
    if soffit.start is None or soffit.end is None:
        text += "; an end not stated is drawn at the support"
    return text


def anchor_words(anchors: Anchors) -> str:
    """Number per leg, dowel, hole, embedment, bend and fan."""
    number = "1 spike anchor" if anchors.per_leg == 1 else f"{anchors.per_leg} spike anchors"
    text = f"{number} per leg at z = {mm(anchors.z)}"
    if anchors.back_z is not None and anchors.back_z != anchors.z:
        text += f" (back {mm(anchors.back_z)})"
    text += f" {HOST_WORDS[anchors.host]}"
    text += f": dowel {mm(anchors.dowel_diameter)} in hole {mm(anchors.hole_diameter)}"
    text += f", embedment {mm(anchors.embedment)}, bend {anchors.bend_angle:g}°, "
    return (
        text
        + f"{anchors.fan.form.replace('_', '-')} fan {mm(anchors.fan.length)}"
        + ("" if anchors.fan.form == "round" else f" x {anchors.fan.angle:g}°")
    )


def tested_spans(specimen: Specimen, tests: Iterable[Test] | None) -> tuple[str, ...]:
    """Which spans are studied: from the tests of this specimen, else from the specimen itself; empty if not stated."""
    studied = {str(t.studied) for t in tests or () if t.specimen == specimen.id and t.studied is not None}
    return tuple(sorted(studied)) or ((str(specimen.tested_span),) if specimen.tested_span else ())


def tested_words(keys: Sequence[str]) -> str:
    """The studied spans in words."""
    if not keys:
        return "tested span not stated"
    return f"tested span{'s' if len(keys) > 1 else ''}: {' and '.join(SPAN_WORDS[key] for key in keys)}"


def is_even(positions: Sequence[float]) -> bool:
    """Are the positions equally spaced (to 0.05 mm)?"""
    steps = [b - a for a, b in itertools.pairwise(positions)]
    return all(math.isclose(step, steps[0], abs_tol=0.05) for step in steps)
