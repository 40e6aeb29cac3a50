"""Checks of the detailing of wrap and anchors on a span: findings in words, each with its limit and source.

Sources were read only where the text says so; what is from memory or ours says that too. A finding never changes a
resistance. Strengths are not checked here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from cracktie.anchorage.geometry import AnchorGeometry, anchor_geometry
from cracktie.campaign.materials import Materials
from cracktie.campaign.specimen import Anchors, Specimen, Wrap
from cracktie.errors import UnknownName

LEVELS = ("warning", "note")
SHEKARCHI = "Shekarchi and others, spike anchor recommendations (abstract read, 51 tests)"
TEXAS = "detailing of the Texas beam tests (FHWA/TX-12/0-6306-1 and theses), from memory, medium confidence"
ACI440 = "ACI 440.2R-17, shear strengthening and corners, from memory"
CNR = "CNR-DT 200 R1/2013, detailing of corners, from memory"
ACI318 = "ACI 318-19 chapter 17, from memory, by analogy"
OWN = "our rule, no published source"


@dataclass(frozen=True)
class Limits:
    """Every limit of this module, editable; lengths in mm, angles in degrees."""

    tips: float = 20.0
    bar_clear: float = 10.0
    beyond: float = 20.0
    amr: float = 2.0
    edge_radius: float = 1.4
    fan_overlap: float = 150.0
    fan_angle: float = 60.0
    covered: float = 0.8
    width: float = 150.0
    hole_area_low: float = 1.2
    hole_area_high: float = 2.0
    embedment: float = 100.0
    slender_low: float = 4.0
    slender_high: float = 20.0
    edge_dowels: float = 6.0
    corner_aci: float = 13.0
    corner_cnr: float = 20.0


@dataclass(frozen=True)
class Finding:
    """One finding: `level` 'warning' or 'note'; found and needed in `words`; `value` against `limit` in `unit`.

    `value` is None where a size is not written.
    """

    check: str
    level: str
    words: str
    value: float | None
    limit: float
    unit: str
    source: str

    def __str__(self) -> str:
        return f"{self.level}: {self.words} [{self.source}]"


def detailing(
    specimen: Specimen, span: str, materials: Materials | None = None, *, limits: Limits | None = None
) -> list[Finding]:
    """Findings on wrap and anchors of a span; empty where all limits are kept or there is no wrap.

    With a campaign: `detailing(campaign.specimen(id), span, campaign.materials)`. Without `materials` the area ratio
    and the bar diameters that only materials.yaml knows stay unchecked, and a note says so. Raises `UnknownName`.
    """
    if span not in specimen.spans:
        raise UnknownName(f"specimen {specimen.id!r} has no span {span!r}; spans: {', '.join(specimen.spans)}")
    held = specimen.spans[span]
    if held.wrap is None:
        return []
    limits = limits or Limits()
    found = [*_strips(specimen, held.wrap, limits)]
    if held.anchors is not None:
        derived = anchor_geometry(specimen, span, materials)
        for check in (_holes, _bars, _edges, _fan, _ratios, _embedment):
            found += check(held.anchors, derived, limits)
        found += [_finding("not checked", "note", text, None, 0.0, "-", "missing input") for text in derived.missing]
    return found


def by_sentence(specimens: Mapping[str, Specimen], materials: Materials) -> list[dict[str, Any]]:
    """Findings of every span as plain mappings, each sentence once with the spans it holds for ('B1/A')."""
    found: dict[str, dict[str, Any]] = {}
    for id, specimen in specimens.items():
        for key in specimen.spans:
            for finding in detailing(specimen, key, materials):
                entry: dict[str, Any] = {"check": finding.check, "level": finding.level, "words": finding.words}
                entry |= {"source": finding.source, "spans": []}
                found.setdefault(str(finding), entry)["spans"].append(f"{id}/{key}")
    return list(found.values())


def _finding(check: str, level: str, words: str, value: Any, limit: float, unit: str, source: str) -> Finding:
    return Finding(check, level, words, None if value is None else float(value), limit, unit, source)


def _strips(specimen: Specimen, wrap: Wrap, limits: Limits) -> Iterator[Finding]:
    if wrap.spacing is not None and wrap.width is not None and specimen.tension_bars:
        area = sum(layer.bars.total for layer in specimen.tension_bars)
        d = sum(layer.bars.total * float(layer.depth) for layer in specimen.tension_bars) / area
        most = float(wrap.width) + d / 4.0
        if wrap.spacing > most:
            words = f"strips stand {wrap.spacing:g} mm apart (centres); at most width + d/4 = {most:.4g} mm"
            yield _finding("strip spacing", "warning", words, wrap.spacing, most, "mm", ACI440)
    if wrap.scheme not in ("u", "full"):
        return
    if wrap.corner_radius is None:
        words = f"no corner_radius is written; at least {limits.corner_aci:g} mm (ACI), {limits.corner_cnr:g} mm (CNR)"
        yield _finding("corner radius", "note", words, None, limits.corner_aci, "mm", f"{ACI440}; {CNR}")
        return
    radius = float(wrap.corner_radius)
    for level, least, source in (("warning", limits.corner_aci, ACI440), ("note", limits.corner_cnr, CNR)):
        if radius < least:
            words = f"corner radius {radius:g} mm; at least {least:g} mm"
            yield _finding("corner radius", level, words, radius, least, "mm", source)


def _holes(anchors: Anchors, derived: AnchorGeometry, limits: Limits) -> Iterator[Finding]:
    if derived.tips is not None and derived.tips < limits.tips:
        how = "meet inside the web" if derived.tips <= 0.0 else f"leave {derived.tips:.3g} mm of concrete between them"
        words = f"holes from both faces {how}; at least {limits.tips:g} mm, or stagger them (back_z, azimuth)"
        yield _finding("opposite holes", "warning", words, derived.tips, limits.tips, "mm", OWN)
    if derived.beyond is not None and derived.beyond < limits.beyond:
        words = f"{derived.beyond:.3g} mm of concrete between the tip and the far face; at least {limits.beyond:g} mm"
        yield _finding("far face", "warning", words, derived.beyond, limits.beyond, "mm", OWN)
    least, most = limits.hole_area_low, limits.hole_area_high
    if not least <= derived.area_hole <= most:
        words = (
            f"the hole has {derived.area_hole:.3g} times the area of the dowel (d_0/d_a = {derived.hole_ratio:.3g}); "
            f"about 1.4 times, {least:g} to {most:g} taken as usual"
        )
        limit = least if derived.area_hole < least else most
        yield _finding("hole size", "note", words, derived.area_hole, limit, "-", f"{TEXAS}; the band is ours")


def _bars(anchors: Anchors, derived: AnchorGeometry, limits: Limits) -> Iterator[Finding]:
    for what, clear in (("a stirrup", derived.stirrup), ("a layer of bars", derived.bar)):
        if clear is not None and clear < limits.bar_clear:
            how = "meet" if clear <= 0.0 else f"pass {clear:.3g} mm clear of"
            words = (
                f"holes {how} {what} (nominal places); at least {limits.bar_clear:g} mm for the tolerance of drilling"
            )
            yield _finding("bars in the way", "warning", words, clear, limits.bar_clear, "mm", OWN)


def _edges(anchors: Anchors, derived: AnchorGeometry, limits: Limits) -> Iterator[Finding]:
    depth, dowel = float(anchors.embedment), float(anchors.dowel_diameter)
    blind = anchors.host in ("web", "flange")
    for what, clear, near, whole in (
        ("edge distance", derived.edge, limits.edge_dowels * dowel, 1.5 * depth),
        ("anchor spacing", derived.spacing, limits.edge_dowels * dowel, 3.0 * depth),
    ):
        if clear is None:
            continue
        if clear < near:
            words = f"{what} {clear:.4g} mm; at least {limits.edge_dowels:g} dowel diameters = {near:.4g} mm"
            yield _finding(what, "warning", words, clear, near, "mm", ACI318)
        elif blind and clear < whole:
            words = f"{what} {clear:.4g} mm cuts the concrete cone, whole from {whole:.4g} mm; the resistance counts it"
            yield _finding(what, "note", words, clear, whole, "mm", ACI318)
    if derived.width is not None and derived.width > limits.width:
        words = f"each anchor holds {derived.width:.4g} mm of strip; one for at most {limits.width:g} mm"
        yield _finding("width for each anchor", "warning", words, derived.width, limits.width, "mm", TEXAS)


def _fan(anchors: Anchors, derived: AnchorGeometry, limits: Limits) -> Iterator[Finding]:
    length, angle = float(anchors.fan.length), float(anchors.fan.angle)
    if length < limits.fan_overlap:
        words = f"the fan laps {length:g} mm of the strip; at least {limits.fan_overlap:g} mm"
        yield _finding("fan overlap", "warning", words, length, limits.fan_overlap, "mm", TEXAS)
    if length > derived.below_fan:
        words = f"the fan, {length:g} mm, is longer than the leg below the hole, {derived.below_fan:.4g} mm"
        yield _finding("fan overlap", "warning", words, length, derived.below_fan, "mm", "geometry")
    if anchors.fan.form != "round" and angle > limits.fan_angle:
        words = f"full opening angle of the fan {angle:g} deg; at most {limits.fan_angle:g} deg"
        yield _finding("fan angle", "warning", words, angle, limits.fan_angle, "deg", TEXAS)
    if derived.covered is not None and derived.covered < limits.covered:
        words = (
            f"the fan covers {derived.covered:.0%} of the strip width of its anchor; below {limits.covered:.0%} the "
            "fibres beside it are held by the resin only"
        )
        yield _finding("fan coverage", "warning", words, derived.covered, limits.covered, "-", OWN)


def _ratios(anchors: Anchors, derived: AnchorGeometry, limits: Limits) -> Iterator[Finding]:
    if derived.amr is not None and derived.amr < limits.amr:
        words = f"AMR = {derived.amr:.3g}; anchors above {limits.amr:g} developed the strength of their strips"
        yield _finding("AMR", "warning", words, derived.amr, limits.amr, "-", SHEKARCHI)
    least = limits.edge_radius * float(anchors.hole_diameter) / 2.0
    if anchors.edge_radius is None:
        words = f"no edge_radius is written; at least {limits.edge_radius:g} hole radii = {least:.3g} mm"
        yield _finding("edge radius", "warning", words, None, least, "mm", SHEKARCHI)
    elif anchors.edge_radius < least:
        words = f"edge radius {anchors.edge_radius:g} mm; at least {limits.edge_radius:g} hole radii = {least:.3g} mm"
        yield _finding("edge radius", "warning", words, anchors.edge_radius, least, "mm", SHEKARCHI)


def _embedment(anchors: Anchors, derived: AnchorGeometry, limits: Limits) -> Iterator[Finding]:
    depth, dowel = float(anchors.embedment), float(anchors.dowel_diameter)
    low, high = limits.slender_low * dowel, limits.slender_high * dowel
    if not low <= depth <= high:
        band = f"{limits.slender_low:g} to {limits.slender_high:g}"
        words = f"embedment {depth:g} mm is {depth / dowel:.3g} dowel diameters; {band}"
        yield _finding("embedment", "warning", words, depth, low if depth < low else high, "mm", ACI318)
    if anchors.host in ("web", "flange") and depth < limits.embedment:
        words = f"embedment {depth:g} mm; full-size beams had {limits.embedment:g} to 150 mm into the core"
        yield _finding("embedment", "note", words, depth, limits.embedment, "mm", TEXAS)
