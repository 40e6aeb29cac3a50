"""From a specimen to the numbers the published models ask for, each with where it came from.

Choices: `measured` takes measured values where present (as-built sizes, companion strengths at the test's age) and
falls back on nominal ones; `nominal` takes what the drawings say; `characteristic` is for design. Every number names
its choice. All values in N, mm, MPa, degrees.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Section, Specimen, wrap_edges
from cracktie.campaign.testing import AsBuilt, Test
from cracktie.errors import CracktieError
from cracktie.member.derived import D_G_ASSUMED, Rule, plates, rig_of, strengths, surroundings
from cracktie.member.strength import age_at_test, measured_strength, measured_tension
from cracktie.models.guideline_sets import PREPARED
from cracktie.units import Quantity

CHOICES = ("measured", "nominal", "characteristic")
E_STEEL = 200_000.0
"""MPa; EN 1992-1-1:2004 3.2.7(4) and ACI 318-14 20.2.2.2 (29 000 ksi) give the same round value."""
UNIT_WEIGHT = 25e-6
"""N/mm3 of reinforced concrete; EN 1991-1-1:2002 Table A.1 (24 + 1 kN/m3), from memory."""


class MissingValue(CracktieError, ValueError):
    """A material or geometry value needed for a prediction is not in the campaign."""


@dataclass(frozen=True)
class Member:
    """One span of one specimen ready for the models: `values` by glossary name, `sources` in words, `u` where known."""

    specimen: str
    span: str
    choice: str
    values: Mapping[str, Any]
    sources: Mapping[str, str]
    u: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    form: str = "test"
    missing: Mapping[str, str] = field(default_factory=dict)
    """Inputs that are not known, each with what would make it known."""
    rules: Mapping[str, Rule] = field(default_factory=dict)
    """Inputs that follow from others: name -> function of the values, in the order in which they are worked out."""

    def moved(self, **values: Any) -> dict[str, Any]:
        """The values with these in their place (numbers or arrays), and what follows from them worked out again."""
        made = {**self.values, **values}
        for name, rule in self.rules.items():
            made[name] = rule(made)
        return made

    @property
    def strengthened(self) -> bool:
        """Whether the span carries a wrap."""
        return "scheme" in self.values


class _Collector:
    """Values with their sources while a member is put together."""

    def __init__(self) -> None:
        self.values: dict[str, Any] = {}
        self.sources: dict[str, str] = {}
        self.u: dict[str, float] = {}
        self.notes: list[str] = []
        self.missing: dict[str, str] = {}
        self.rules: dict[str, Rule] = {}

    def follow(self, name: str, rule: Rule, source: str) -> None:
        """An input that follows from those put before."""
        self.rules[name] = rule
        self.put(name, rule(self.values), source)

    def put(self, name: str, value: Any, source: str, u: float | None = None) -> None:
        self.values[name] = float(value) if isinstance(value, float) else value
        self.sources[name] = source
        spread = getattr(value, "u", None) if u is None else u
        if spread:
            self.u[name] = float(spread)


def member(
    campaign: Campaign,
    specimen_id: str,
    span: str,
    *,
    choice: str = "measured",
    test: Test | None = None,
    bare: bool = False,
    form: str = "test",
) -> Member:
    """Model inputs of one span of a specimen; `bare` leaves its wrap out (a loading before strengthening).

    `form` says whether `f_c` counts as mean or characteristic where other strengths follow from it.
    Raises `MissingValue` naming the file and key that is missing, and `UnknownName` for an unknown specimen.
    """
    specimen = campaign.specimen(specimen_id)
    if specimen.kind != "beam" or specimen.section is None:
        raise MissingValue(f"{specimen_id} is of kind 'other': it is reduced and plotted, not predicted")
    observed = campaign.observations.specimens.get(specimen_id)
    built = observed.as_built if observed and choice == "measured" else None
    found = _Collector()
    _section(found, specimen, specimen.section, built)
    _concrete(found, campaign, specimen, choice, test)
    _bars(found, campaign, specimen, choice, built)
    _stirrups(found, campaign, specimen, span, choice, built)
    for name, (rule, source) in strengths(form).items():
        found.follow(name, rule, source)
    if choice == "measured" and form == "test":
        _tension(found, campaign, specimen)
    found.put("a", float(specimen.spans[span].length), "specimens.yaml, nominal shear span")
    for name, (value, source) in plates(rig_of(campaign, test), span).items():
        found.put(name, value, source)
    found.put("span_length", specimen.distance_between_supports, "specimens.yaml, sum of the spans")
    if specimen.spans[span].wrap is not None and not bare:
        _wrap(found, campaign, specimen, span, choice, built)
        known, found.missing = surroundings(campaign, found.values["fibre"], form)
        for name, (value, source) in known.items():
            found.put(name, value, source)
    if specimen.crack_angle is not None:
        found.put("theta", float(specimen.crack_angle), "specimens.yaml, crack_angle")
    for name, source in PREPARED.items():
        found.sources.setdefault(name, source)
    return Member(
        specimen_id, span, choice, found.values, found.sources, found.u, tuple(dict.fromkeys(found.notes)), form,
        found.missing, found.rules,
    )  # fmt: skip


def _entry(campaign: Campaign, kind: str, id: str) -> Any:
    entries = getattr(campaign.materials, kind)
    if id not in entries:
        raise MissingValue(f"materials.yaml: {kind} has no {id!r}; it has {', '.join(entries) or 'nothing'}")
    return entries[id]


def _section(found: _Collector, specimen: Specimen, section: Section, built: AsBuilt | None) -> None:
    for name in ("b_w", "h", "b_flange", "h_flange"):
        nominal, measured = getattr(section, name), getattr(built, name, None)
        if measured is not None:
            found.put(name, measured, "observations.yaml, as built")
        elif nominal is not None:
            found.put(name, nominal, "specimens.yaml, nominal")
    found.values.setdefault("h_flange", 0.0)
    found.values.setdefault("b_flange", found.values["b_w"])
    for name in ("h_flange", "b_flange"):
        found.sources.setdefault(name, "section without flange")


def _bars(found: _Collector, campaign: Campaign, specimen: Specimen, choice: str, built: AsBuilt | None) -> None:
    layers = specimen.tension_bars
    area = sum(layer.bars.total for layer in layers)
    depth = sum(layer.bars.total * layer.depth for layer in layers) / area
    source = "specimens.yaml, centroid of the tension bars"
    if built is not None and built.bar_depth:
        measured = _measured_depths(specimen, built)
        if measured:
            depth = sum(la.bars.total * measured[id(la)] for la in layers) / area
            source = "observations.yaml, as built"
        else:
            found.notes.append(f"bar_depth has {len(built.bar_depth)} values for {len(layers)} layers; nominal d used")
    found.put("d", depth, source)
    found.put("A_s", area, "specimens.yaml, tension bars")
    found.follow("rho_l", lambda x: x["A_s"] / (x["b_w"] * x["d"]), "A_s/(b_w d)")
    yields = [_steel(found, campaign, layer.material, choice) for layer in layers]
    shares = [layer.bars.total / area for layer in layers]
    mean = sum(y * share for y, share in zip(yields, shares, strict=True))
    u = sum((y.u or 0.0) * share for y, share in zip(yields, shares, strict=True))  # one delivery: fully correlated
    found.put("f_y", float(mean), "materials.yaml", u)
    found.put("E_s", _modulus(campaign, layers[0].material), "materials.yaml, or 200 GPa")


def _steel(found: _Collector, campaign: Campaign, id: str, choice: str) -> Quantity:
    bar = _entry(campaign, "bars", id)
    order = (bar.measured, bar.nominal) if choice == "measured" else (bar.nominal, bar.measured)
    for entry in order:
        if entry is not None and entry.f_y is not None:
            if entry is not order[0]:
                found.notes.append(f"bar {id}: no {choice} yield strength; the other one in materials.yaml is used")
            return entry.f_y
    raise MissingValue(f"materials.yaml: bars.{id} has no f_y; give nominal.f_y or measured.f_y")


def _measured_depths(specimen: Specimen, built: AsBuilt) -> dict[int, float]:
    """Measured depth of each layer by its `id`: one value a layer, or one a tension layer; empty for another number."""
    measured = tuple(built.bar_depth or ())
    for layers in (specimen.tension_bars, specimen.bars):
        if len(measured) == len(layers):
            return {id(layer): float(z) for layer, z in zip(layers, measured, strict=True)}
    return {}


def bar_layers(campaign: Campaign, specimen: Specimen, choice: str) -> list[tuple[float, float, float]]:
    """Area mm2, depth mm and yield strength MPa of every bar layer, compression bars included."""
    seen = campaign.observations.specimens.get(specimen.id)
    built = seen.as_built if seen is not None and choice == "measured" else None
    places = _measured_depths(specimen, built) if built is not None else {}
    return [
        (layer.bars.total, float(places.get(id(layer), layer.depth)),
         float(_steel(_Collector(), campaign, layer.material, choice)))
        for layer in specimen.bars
    ]  # fmt: skip


def _modulus(campaign: Campaign, id: str) -> float:
    bar = _entry(campaign, "bars", id)
    for entry in (bar.measured, bar.nominal):
        if entry is not None and entry.E_s is not None:
            return float(entry.E_s)
    return E_STEEL


def _stirrups(
    found: _Collector, campaign: Campaign, specimen: Specimen, span: str, choice: str, built: AsBuilt | None
) -> None:
    stirrups = specimen.spans[span].stirrups
    if stirrups is None:
        found.put("A_sw", 0.0, "no stirrups in this span")
        found.put("s_w", float(found.values["d"]), "no stirrups: any spacing")
        found.put("f_yw", 500.0, "no stirrups: any strength")
        found.put("alpha_w", 90.0, "no stirrups")
        return
    bar = _entry(campaign, "bars", stirrups.material)
    if stirrups.diameter is not None:
        one = math.pi * stirrups.diameter**2 / 4
    elif bar.area is not None:
        one = float(bar.area)
    elif bar.diameter is not None:
        one = bar.diameter.area
    else:
        raise MissingValue(f"materials.yaml: bars.{stirrups.material} has no diameter, needed for stirrups")
    found.put("A_sw", stirrups.legs * one, f"{stirrups.legs} legs of {stirrups.material}")
    if built is not None and built.stirrup_spacing is not None:
        found.put("s_w", built.stirrup_spacing, "observations.yaml, as built")
    elif stirrups.spacing is not None:
        found.put("s_w", stirrups.spacing, "specimens.yaml, nominal")
    else:
        places = sorted(stirrups.positions or ())
        mean = (places[-1] - places[0]) / (len(places) - 1) if len(places) > 1 else specimen.spans[span].length
        found.put("s_w", float(mean), "specimens.yaml, mean distance of the positions")
    found.put("f_yw", _steel(found, campaign, stirrups.material, choice), "materials.yaml")
    found.put("alpha_w", float(stirrups.angle), "specimens.yaml")


def _concrete(found: _Collector, campaign: Campaign, specimen: Specimen, choice: str, test: Test | None) -> None:
    if specimen.batch is None:
        raise MissingValue(f"specimens.yaml: {specimen.id} has no batch, so its concrete is not known")
    batch = _entry(campaign, "concretes", specimen.batch)
    place = f"materials.yaml, batch {specimen.batch}"
    if batch.aggregate is not None:
        found.put("d_g", batch.aggregate, place)
    else:
        found.put("d_g", D_G_ASSUMED, f"assumed {D_G_ASSUMED:g} mm, common practice, no source")
        found.notes.append(f"batch {specimen.batch}: no aggregate size; {D_G_ASSUMED:g} mm assumed (no source)")
    if choice == "measured":
        strength = measured_strength(batch, age_at_test(batch, specimen, test))
        if strength is not None:
            value, u, how = strength
            found.put("f_c", value, f"{place}, {how}", u)
            if "OUTSIDE" in how:
                found.notes.append(
                    f"batch {specimen.batch}: the beam's age lies outside those of the cylinders ({how})"
                )
            return
        cubes = any(t.shape.startswith("cube") for t in batch.strength)
        why = "cubes do not count without cylinder_over_cube" if cubes else "no measured strength"
        found.notes.append(f"batch {specimen.batch}: {why}; the nominal one is used")
    if batch.nominal is not None and batch.nominal.f_c is not None:
        found.put("f_c", batch.nominal.f_c, f"{place}, nominal")
        return
    raise MissingValue(f"materials.yaml: concretes.{specimen.batch} has no f_c; give nominal.f_c or strength tests")


def _tension(found: _Collector, campaign: Campaign, specimen: Specimen) -> None:
    """A measured tensile strength of the batch goes before the one that follows from f_c."""
    batch = campaign.materials.concretes.get(specimen.batch or "")
    tension = None if batch is None else measured_tension(batch)
    if tension is None:
        return
    value, u, how = tension
    del found.rules["f_ctm"]
    found.put("f_ctm", value, f"materials.yaml, batch {specimen.batch}, {how}", u)


FRP_ORDER = {
    "measured": ("mean", "guaranteed", "characteristic"),
    "nominal": ("mean", "guaranteed", "characteristic"),
    "characteristic": ("guaranteed", "characteristic"),
}
"""Which values of an FRP system a choice of inputs takes, best first."""


def _wrap(
    found: _Collector, campaign: Campaign, specimen: Specimen, span: str, choice: str, built: AsBuilt | None
) -> None:
    held = specimen.spans[span]
    wrap, section = held.wrap, specimen.section
    assert wrap is not None
    assert section is not None
    system = _entry(campaign, "frp_systems", wrap.system)
    try:
        kind, values = system.values(*FRP_ORDER[choice])
    except ValueError as error:
        raise MissingValue(f"materials.yaml: frp_systems.{wrap.system}: {error}") from None
    source = f"materials.yaml, {wrap.system}, {kind}, {system.convention} thickness"
    for name, value in values.items():
        entry = getattr(getattr(system, kind), name)
        found.put(name, value if entry is None else entry, source)
        if entry is None:
            rule = (lambda x: x["f_fu"] / x["E_f"]) if name == "eps_fu" else (lambda x: x["eps_fu"] * x["E_f"])
            found.rules[name] = rule
    found.put("t_f", system.thickness, f"materials.yaml, {wrap.system}, {system.convention} thickness of one ply")
    found.put("fibre", system.fibre, "materials.yaml")
    found.put("frp_form", system.form, "materials.yaml")
    found.put("n", wrap.plies, "specimens.yaml")
    found.put("scheme", wrap.scheme, "specimens.yaml")
    found.put("layout", wrap.layout, "specimens.yaml")
    found.put("anchored", held.anchors is not None, "specimens.yaml")
    found.put("beta", float(wrap.beta), "specimens.yaml, angle to the axis")
    _strips(found, wrap)
    low, high = _worse_edges(found, wrap, section)
    h, d = found.values["h"], found.values["d"]
    top = min(high, h)
    found.put("z_t", h - top, "depth of the upper FRP edge from the top")
    found.put("d_frp", h - low, "depth of the lower FRP edge from the top")
    found.put("h_frp", top - low, "height of the FRP on the web face")
    found.put("d_fv", max(d - (h - top), 0.0), "d less the depth of the upper FRP edge")
    radius = built.corner_radius if built is not None and built.corner_radius is not None else wrap.corner_radius
    if radius is not None:
        found.put("r_corner", float(radius), "corner radius")
    else:
        found.put("r_corner", 0.0, "not given: taken as sharp")
        if wrap.scheme != "side":
            found.notes.append("no corner radius given; 0 mm is used where a document asks for it")


def _strips(found: _Collector, wrap: Any) -> None:
    if wrap.layout == "continuous":
        found.put("w_f", 1.0, "continuous sheet: not used")
        found.put("s_f", 1.0, "continuous sheet: not used")
        return
    found.put("w_f", wrap.width, "specimens.yaml, across the fibres")
    if wrap.spacing is not None:
        found.put("s_f", wrap.spacing, "specimens.yaml, along the axis")
        return
    places = sorted(wrap.positions)
    if len(places) < 2:
        raise MissingValue("one single strip has no spacing; give spacing or two positions")
    found.put("s_f", (places[-1] - places[0]) / (len(places) - 1), "specimens.yaml, mean distance of the positions")


def _worse_edges(found: _Collector, wrap: Any, section: Section) -> tuple[float, float]:
    front, back = wrap_edges(wrap, section, "front"), wrap_edges(wrap, section, "back")
    if front == back:
        return front
    found.notes.append("the legs of the two faces differ; the shorter one is used for both")
    return max(front[0], back[0]), min(front[1], back[1])
