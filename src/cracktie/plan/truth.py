"""The planted truth of a rehearsal: how every simulated beam really behaves.

The law below is our own toy. Its numbers agree with no published model in this package on purpose, and every beam is
perturbed by a seeded scatter: agreement of a prediction with a rehearsal is never evidence for the prediction.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

import numpy as np

from cracktie.campaign.geometry import strip_positions
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Anchors, Span, Specimen, wrap_edges
from cracktie.campaign.testing import Test
from cracktie.plan.instruments import draw_placing
from cracktie.plan.statics import Placing, SpanStatics, section_as_built, span_statics, studied_span


@dataclass(frozen=True)
class Law:
    """Numbers of the toy behaviour law (N, mm, MPa; ratios). None is a default of a model in this package."""

    scatter: float = 0.07
    concrete: float = 0.248
    concrete_power: float = 0.45
    bar_ratio_power: float = 0.20
    crack_cotangent: float = 1.42
    lever: float = 0.88
    bonded_height_share: float = 0.80
    strain_loose: float = 2.35e-3
    strain_anchored: float = 4.70e-3
    embedment_power: float = 0.55
    dowel_power: float = 0.25
    bend_slope: float = 2.4e-3
    concrete_lost_loose: float = 0.05
    concrete_lost_anchored: float = 0.10
    precracked_factor: float = 0.97
    first_diagonal: float = 0.80
    first_debonding_loose: float = 0.86
    first_debonding_anchored: float = 0.78
    bending_overstrength: float = 1.07
    elastic_modulus: float = 8900.0
    tensile: float = 0.33
    cracked_stiffness: float = 0.42
    softening_bare: float = 3.0
    softening_loose: float = 3.2
    softening_anchored: float = 5.0
    softening_bending: float = 17.0
    opening_bare: float = 1.15
    opening_loose: float = 1.2
    opening_anchored: float = 1.75


@dataclass(frozen=True)
class TestTruth:
    """What is planted for one test. Shears V are totals at mid shear span, with supports, load and weight as they
    really are (`placing`): true load, unseen rig weight and self-weight; P is the true load on the cell; deflections
    are free of settlement. N, mm, MPa."""

    __test__ = False  # the name is the trade's; keep test collectors away

    test: str
    specimen: str
    span: str
    scheme: str
    mode: str
    f_c: float
    scatter: float
    law_V: float
    V_shear: float
    V_bending: float
    V_max: float
    P_max: float
    V_first_diagonal_crack: float | None
    V_first_debonding: float | None
    P_first_flexural_crack: float | None
    P_stop: float | None
    deflection_at_V_max: float
    crack_opening_at_V_max: float
    crack_start: float
    crack_angle: float
    shear_per_load: float
    dead_shear: float
    self_weight_shear: float
    compliance: float
    placing: Placing
    resistance_parts: dict[str, float] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping, N, mm, MPa, degrees."""
        return asdict(self)


def generator(seed: int, *words: str) -> np.random.Generator:
    """A random generator that depends on the seed and the words alone, so that the order of tests is irrelevant."""
    return np.random.default_rng(np.random.SeedSequence([seed, *(zlib.crc32(w.encode()) for w in words)]))


def plant(campaign: Campaign, seed: int, law: Law | None = None) -> dict[str, TestTruth]:
    """Truth of every test of a campaign whose specimen is a beam."""
    beams = {name: t for name, t in campaign.tests.items() if campaign.specimen(t.specimen).kind == "beam"}
    return {name: plant_test(campaign, name, seed, law) for name in beams}


def strength_at(campaign: Campaign, specimen: Specimen, test: Test) -> float:
    """Concrete strength on the day of the test: linear in the logarithm of age between companion tests, MPa."""
    batch = campaign.materials.concretes.get(specimen.batch or "")
    if batch is None:
        return 30.0
    days = test.age if test.age is not None else _days(batch.cast or specimen.cast, test.date)
    rows = sorted((float(s.age), float(s.f_c)) for s in batch.strength)
    if rows and days is not None:
        ages, values = zip(*rows, strict=True)
        return float(np.interp(math.log(max(float(days), 1.0)), np.log(ages), values))
    stated = [v.f_c for v in (batch.measured, batch.nominal) if v is not None and v.f_c is not None]
    return float(stated[0]) if stated else (rows[-1][1] if rows else 30.0)


def _days(cast: str | None, tested: str | None) -> float | None:
    if not cast or not tested:
        return None
    return float((date.fromisoformat(tested) - date.fromisoformat(cast)).days)


def plant_test(campaign: Campaign, name: str, seed: int, law: Law | None = None) -> TestTruth:
    """Truth of one test: the toy law times the scatter of its specimen and span. Raises `OutOfScope` for no beam."""
    law = law or Law()
    test = campaign.tests[name]
    specimen = campaign.specimen(test.specimen)
    key = studied_span(test, specimen)
    placing = draw_placing(campaign, test, generator(seed, "placing", name))
    statics = span_statics(campaign, test, placing)
    beam, own = generator(seed, specimen.id, key), generator(seed, "test", name)
    scatter = float(np.exp(beam.normal(0.0, math.sqrt(math.log(1 + law.scatter**2)))))
    crack_start, crack_angle = beam.normal(0.20, 0.025), beam.normal(36.0, 1.8)
    bare = test.outcome == "stopped" and not _wrapped_then(campaign, test)
    span = specimen.spans[key].model_copy(update={"wrap": None, "anchors": None}) if bare else specimen.spans[key]
    f_c = strength_at(campaign, specimen, test)
    concrete, parts = _shear(campaign, specimen, key, span, f_c, law)
    shear = sum(parts.values()) * scatter * (law.precracked_factor if test.state == "precracked" else 1.0)
    bending = _bending(campaign, specimen, statics, f_c, law)
    mode = "flexure" if bending < shear else "shear"
    peak = min(shear, bending)
    scheme = "bare" if span.wrap is None else "anchored" if span.anchors is not None else "loose"
    spread = float(own.normal(1.0, 0.06))
    return _assemble(
        test=name, specimen=specimen, key=key, scheme=scheme, mode=mode, f_c=f_c, scatter=scatter, parts=parts,
        shear=shear, bending=bending, peak=peak, concrete=concrete, statics=statics, spread=spread, law=law,
        crack=(float(crack_start) * statics.length, float(crack_angle)), state=test.state,
        stop=_stop(test), campaign=campaign, placing=placing,
    )  # fmt: skip


def _assemble(
    *, test: str, specimen: Specimen, key: str, scheme: str, mode: str, f_c: float, scatter: float,
    parts: dict[str, float], shear: float, bending: float, peak: float, concrete: float, statics: SpanStatics,
    spread: float, law: Law, crack: tuple[float, float], state: str, stop: float | None, campaign: Campaign,
    placing: Placing,
) -> TestTruth:  # fmt: skip
    p_max = statics.load(peak)
    p_crack, uncracked = _elastic(campaign, specimen, statics, f_c, law)
    elastic = p_crack * uncracked + (p_max - p_crack) * uncracked / law.cracked_stiffness
    soft = law.softening_bending if mode == "flexure" else getattr(law, f"softening_{scheme}")
    diagonal = law.first_diagonal * concrete * scatter * {"bare": 1.0, "loose": 1.1, "anchored": 1.12}[scheme]
    deb = {"bare": None, "loose": law.first_debonding_loose, "anchored": law.first_debonding_anchored}[scheme]
    cracked_before = state in ("precracked", "retest", "repaired")
    opening = getattr(law, f"opening_{scheme}") * spread * (0.6 if mode == "flexure" else 1.0)
    return TestTruth(
        test=test, specimen=specimen.id, span=key, scheme=scheme, mode=mode if stop is None else "stopped", f_c=f_c,
        scatter=scatter, law_V=sum(parts.values()), V_shear=shear, V_bending=bending, V_max=peak, P_max=p_max,
        V_first_diagonal_crack=None if cracked_before else diagonal,
        V_first_debonding=None if deb is None else min(deb * shear, 0.96 * peak),
        P_first_flexural_crack=None if cracked_before else p_crack, P_stop=stop,
        deflection_at_V_max=(elastic + soft) * spread, crack_opening_at_V_max=opening, crack_start=crack[0],
        crack_angle=crack[1], shear_per_load=statics.per_load, dead_shear=statics.dead,
        self_weight_shear=statics.self_weight, compliance=uncracked, placing=placing,
        resistance_parts={k: v * scatter for k, v in parts.items()},
    )  # fmt: skip


def _stop(test: Test) -> float | None:
    if test.outcome != "stopped" or any(s.stage == "load to failure" for s in test.history):
        return None
    levels = [float(s.to) for s in test.history if s.stage == "load" and s.to is not None]
    return max(levels) if levels else None


def _wrapped_then(campaign: Campaign, test: Test) -> bool:
    """False where a later test of the specimen is of a beam pre-cracked before it was strengthened."""
    later = [t for t in campaign.tests.values() if t.specimen == test.specimen and (t.order or 0) > (test.order or 0)]
    return not any(t.state == "precracked" for t in later)


def _shear(
    campaign: Campaign, specimen: Specimen, key: str, span: Span, f_c: float, law: Law
) -> tuple[float, dict[str, float]]:
    """Bare concrete part and the parts of the shear resistance, N."""
    section = section_as_built(campaign, specimen)
    steel = sum(layer.bars.total for layer in specimen.tension_bars)
    d = sum(layer.bars.total * float(layer.depth) for layer in specimen.tension_bars) / steel
    ratio = steel / (section.b_w * d)
    concrete = law.concrete * f_c**law.concrete_power * (ratio / 0.025) ** law.bar_ratio_power * section.b_w * d
    parts = {"concrete": concrete, "stirrups": 0.0, "frp": 0.0}
    stirrups = span.stirrups
    if stirrups is not None:
        bar = campaign.materials.bars[stirrups.material]
        diameter = float(stirrups.diameter or (bar.diameter.diameter if bar.diameter else 8.0))
        f_y = _first("f_y", bar.measured, bar.nominal, default=500.0)
        spacing = float(stirrups.spacing or np.diff(sorted(stirrups.positions or (0.0, 200.0))).mean())
        area = stirrups.legs * math.pi * diameter**2 / 4
        parts["stirrups"] = area * f_y * law.crack_cotangent * law.lever * d / spacing
    if span.wrap is not None:
        parts["frp"] = _frp(campaign, specimen, key, span, law)
        lost = law.concrete_lost_loose if span.anchors is None else law.concrete_lost_anchored
        parts["concrete"] *= 1 - lost
    return concrete, parts


def _first(name: str, *values: Any, default: float) -> float:
    return next((float(v) for v in (getattr(s, name, None) for s in values) if v is not None), default)


def _frp(campaign: Campaign, specimen: Specimen, key: str, span: Span, law: Law) -> float:
    wrap = span.wrap
    assert wrap is not None
    assert specimen.section is not None
    system = campaign.materials.frp_systems[wrap.system]
    _, values = system.values("mean", "characteristic", "guaranteed")
    low, high = wrap_edges(wrap, specimen.section)
    centres = strip_positions(specimen, key)
    spacing = float(wrap.spacing or (np.diff(centres).mean() if len(centres) > 1 else 0.0)) or 1.0
    per_length = (
        2 * wrap.plies * system.thickness * (1.0 if wrap.layout == "continuous" else float(wrap.width or 0.0) / spacing)
    )
    reach = law.bonded_height_share * (high - low) * law.crack_cotangent
    strain = law.strain_loose if span.anchors is None else _anchored_strain(span.anchors, law)
    return per_length * reach * values["E_f"] * min(strain, 0.8 * values["eps_fu"])


def _anchored_strain(anchors: Anchors, law: Law) -> float:
    depth = (float(anchors.embedment) / 62.0) ** law.embedment_power
    size = (float(anchors.dowel_diameter) / 12.0) ** law.dowel_power
    return law.strain_anchored * depth * size * (1 - law.bend_slope * (float(anchors.bend_angle) - 75.0))


def _bending(campaign: Campaign, specimen: Specimen, statics: SpanStatics, f_c: float, law: Law) -> float:
    """Shear at mid shear span when the section under the load reaches its bending strength, N."""
    section = section_as_built(campaign, specimen)
    force, moment = 0.0, 0.0
    for layer in specimen.tension_bars:
        bar = campaign.materials.bars[layer.material]
        f_y = _first("f_y", bar.measured, bar.nominal, default=500.0)
        force += layer.bars.total * f_y
        moment += layer.bars.total * f_y * layer.depth
    block = force / (0.85 * f_c * (section.b_flange or section.b_w))
    return law.bending_overstrength * (moment - force * block / 2) / statics.length


def _elastic(campaign: Campaign, specimen: Specimen, statics: SpanStatics, f_c: float, law: Law) -> tuple[float, float]:
    """Cell reading at the first flexural crack, N, and uncracked compliance under the load, mm/N."""
    section = section_as_built(campaign, specimen)
    blocks = list(_blocks(section.b_w, section.h, section.b_flange, section.h_flange))
    area = sum(b * h for b, h, _ in blocks)
    centre = sum(b * h * z for b, h, z in blocks) / area
    inertia = sum(b * h**3 / 12 + b * h * (z - centre) ** 2 for b, h, z in blocks)
    modulus = law.elastic_modulus * f_c ** (1 / 3)
    length = statics.between
    a, b = statics.position * length, (1 - statics.position) * length
    compliance = 1.25 * a**2 * b**2 / (3 * modulus * inertia * length)
    moment = law.tensile * f_c**0.5 * inertia / centre
    return max(moment / (statics.per_load * statics.length), 5e3), compliance


def _blocks(b_w: float, h: float, b_flange: float | None, h_flange: float | None) -> Iterable[tuple[float, ...]]:
    top = float(h_flange or 0.0)
    yield float(b_w), h - top, (h - top) / 2
    if top:
        yield float(b_flange or b_w), top, h - top / 2
