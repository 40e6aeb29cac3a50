"""Prediction by mechanics: shear over the crack opening for every tested span, with strips, gauges and order of events.

Anchored wraps come as a band. Its lower end takes the base coefficients; its upper end a slower loss of interlock, with
the anchor held by its own resistance and by rupture of the strip. Nothing of it is validated on beams with spike
anchors.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.beam.coefficients import COEFFICIENTS, chosen
from cracktie.beam.detail import Event, Gauge, GaugeHistory, StripHistory, bar_gauges, beam_events, gauges, strips
from cracktie.beam.response import LEAST_OFFSETS, OFFSETS, Response, respond
from cracktie.beam.specimen import NOTICE, Wrapped, wrapped_span
from cracktie.campaign.layout import channels
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, ModelInputError
from cracktie.guidelines import guideline_set
from cracktie.member import MissingValue
from cracktie.models.bond import laws
from cracktie.prediction.beside import Item, Others
from cracktie.results import Quantity, finite, frame, versioned
from cracktie.study.run import Interval, MonteCarlo, monte_carlo
from cracktie.study.sampling import Variable, own_variables

if TYPE_CHECKING:
    import pandas

PUBLISHED_STRAIN = 0.005
STRAIN_SOURCE = (
    "about 0.005 in the mean over the critical crack at ultimate: dissertation of Y. Kim, University of Texas at "
    "Austin, 24 tests with spike-anchored strips (from its abstract)"
)
GAUGE_LENGTH = 10.0
"""mm of a strain gauge whose layout does not state it; common practice, no source."""
BASE, SLOW = "base", "slow loss of interlock"
SAMPLES = 512
"""Samples behind the intervals of each case."""


@dataclass(frozen=True)
class CaseMechanics:
    """One set of coefficients: mean curves over the crack positions (openings,), N and mm, and peaks by name."""

    name: str
    w: Any
    V_f: Any
    V_s: Any
    V_c: Any
    peaks: Mapping[str, float]
    inputs_only: Mapping[str, Interval] = field(default_factory=dict)
    with_model: Mapping[str, Interval] = field(default_factory=dict)
    """Intervals of V_max, V_f, V_f_max and gain: from inputs and our coefficients alone, and with the model's error."""

    @property
    def V(self) -> Any:
        """Sum of the three carriers, N."""
        return self.V_f + self.V_s + self.V_c

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        curves = {n: [float(v) for v in getattr(self, n)] for n in ("w", "V_f", "V_s", "V_c", "V")}
        spread = {
            kind: {n: {k: finite(v) for k, v in vars(i).items()} for n, i in table.items()}
            for kind, table in (("inputs_only", self.inputs_only), ("with_model_error", self.with_model))
        }
        return {"name": self.name, **curves, "peaks": {n: finite(v) for n, v in self.peaks.items()}, **spread}


@dataclass(frozen=True)
class BeamMechanics:
    """One tested span. `cases` holds the base set and, for anchored wraps, the slow one; empty with the reason `why`.

    `events` are (event, V in N) at the middle crack position by the base set; `anchor` says what governs and how
    strong; `anchor_ends` V_max in N at the weak and the strong end of our assumptions on anchors.
    """

    item: str
    specimen: str
    span: str
    test: str | None
    scheme: str
    anchored: bool
    why: str
    cases: tuple[CaseMechanics, ...] = ()
    events: tuple[tuple[Event, float], ...] = ()
    strips: tuple[StripHistory, ...] = ()
    gauges: tuple[GaugeHistory, ...] = ()
    anchor: Mapping[str, Any] = field(default_factory=dict)
    anchor_ends: Mapping[str, float] = field(default_factory=dict)
    V_flex: float | None = None
    theta: float | None = None
    theta_from: str = ""
    V_c0_from: str = ""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def base(self) -> CaseMechanics | None:
        """The base set."""
        return self.cases[0] if self.cases else None

    @property
    def slow(self) -> CaseMechanics | None:
        """The upper end of the band of anchored wraps."""
        return self.cases[1] if len(self.cases) > 1 else None

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows."""
        more = {"specimen": self.specimen, "span": self.span, "anchored": self.anchored}
        if not self.cases:
            yield Quantity(self.item, "V_max", "mechanics", None, "N", None, "own", self.why, more=more)
        for case in self.cases:
            source = "mechanics" if case.name == BASE else f"mechanics, {case.name}"
            for name, value in case.peaks.items():
                unit = (
                    "mm"
                    if name.startswith("w")
                    else "-"
                    if name in ("strain_mean", "strain_most", "strain_ever", "torn")
                    else "N"
                )
                why = "no fibre debonds to its end" if name in ("V_deb", "w_deb") and finite(value) is None else ""
                why = why or ("no FRP" if finite(value) is None else "")
                yield Quantity(self.item, name, source, finite(value), unit, None, "own", why, more=more)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        return {
            "item": self.item, "specimen": self.specimen, "span": self.span, "test": self.test, "scheme": self.scheme,
            "anchored": self.anchored, "why": self.why, "notice": NOTICE if self.anchored else "",
            "cases": [c.to_dict() for c in self.cases],
            "events": [{"what": e.what, "strip": e.strip, "w": e.w, "V": v} for e, v in self.events],
            "strips": [
                {"strip": s.number, "z": s.z, "crossed": s.crossed, "force": _list(s.force), "strain": _list(s.strain)}
                for s in self.strips
            ],
            "gauges": [
                {"gauge": g.gauge.name, "x": g.gauge.x, "z": g.gauge.z, "gauge_length": g.gauge.length,
                 "strip": g.gauge.strip, "face": g.gauge.face, "crossed": g.crossed,
                 **{n: _list(getattr(g, n)) for n in ("mean", "low", "high")}}
                for g in self.gauges
            ],
            "anchor": dict(self.anchor), "anchor_ends": dict(self.anchor_ends), "V_flex": finite(self.V_flex),
            "published_strain": {"value": PUBLISHED_STRAIN, "source": STRAIN_SOURCE} if self.anchored else None,
            "theta": finite(self.theta), "theta_from": self.theta_from, "V_c0_from": self.V_c0_from,
            "notes": list(self.notes), "warnings": list(self.warnings),
        }  # fmt: skip


def _list(values: Any) -> list[float]:
    return [float(v) for v in values]


@dataclass(frozen=True)
class MechanicsPrediction:
    """Mechanics of every tested span; `skipped` names what lacks a value, `coefficients` the values used."""

    title: str
    law: str
    offsets: int
    coefficients: Mapping[str, float]
    beams: tuple[BeamMechanics, ...]
    skipped: Mapping[str, str] = field(default_factory=dict)

    def of(self, item: str) -> BeamMechanics:
        """The beam of that test or specimen/span; raises `UnknownName`."""
        from cracktie.errors import UnknownName

        for beam in self.beams:
            if item in (beam.item, beam.specimen):
                return beam
        raise UnknownName(f"nothing is predicted for {item!r}; there are {', '.join(b.item for b in self.beams)}")

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows of every beam."""
        for beam in self.beams:
            yield from beam.quantities()

    def to_frame(self, *, wide: bool = False) -> pandas.DataFrame:
        """Tidy pandas table, or one row an item."""
        return frame(self.quantities(), wide=wide)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        table = {
            n: {
                "value": self.coefficients[n],
                "low": c.low,
                "high": c.high,
                "unit": c.unit,
                "status": "own",
                "why": c.why,
            }
            for n, c in COEFFICIENTS.items()
        }
        body = {"title": self.title, "law": self.law, "crack_positions": self.offsets, "coefficients": table}
        beams = [b.to_dict() for b in self.beams]
        return versioned("mechanics", {**body, "beams": beams, "skipped": dict(self.skipped)})


def predict_mechanics(
    campaign: Campaign,
    *,
    choice: str = "measured",
    angle: str = "stated",
    coefficients: Mapping[str, float] | None = None,
    law: str = laws.DEFAULT,
    offsets: int = OFFSETS,
    items: Iterable[str] | None = None,
    samples: int = SAMPLES,
) -> MechanicsPrediction:
    """Shear over the crack opening for the studied span of every test, and both spans of specimens without a test.

    `angle` as in `wrapped_span`; `items` limits it to some tests or specimens; `samples` behind the intervals, 0 for
    none: stated uncertainties of the campaign and our coefficients over their ranges. A span that lacks a value stands
    in `skipped`. Raises `ModelInputError` for impossible coefficients or fewer than 7 crack positions.
    """
    from cracktie.prediction import _targets

    if offsets < LEAST_OFFSETS:
        raise ModelInputError(f"crack positions: {offsets}; at least {LEAST_OFFSETS} are averaged")
    values = {n: float(np.asarray(v)) for n, v in chosen(coefficients).items()}
    beams: list[BeamMechanics] = []
    skipped: dict[str, str] = {}
    wanted = None if items is None else set(items)
    for specimen_id, span, name, test in _targets(campaign):
        item = name or f"{specimen_id}/{span}"
        if wanted is not None and not wanted & {item, specimen_id}:
            continue
        bare = name is not None and campaign.bare(name)
        try:
            made = wrapped_span(campaign, specimen_id, span, test=test, choice=choice, bare=bare, angle=angle)
            beams.append(_beam(campaign, made, test, name, values, law, offsets, samples))
        except (MissingValue, ModelInputError) as error:
            skipped[item] = str(error)
    return MechanicsPrediction(campaign.head.title, law, offsets, values, tuple(beams), skipped)


def _beam(
    campaign: Campaign, made: Wrapped, test: Test | None, name: str | None, values: Mapping[str, float], law: str,
    offsets: int, samples: int,
) -> BeamMechanics:  # fmt: skip
    item = name or f"{made.specimen.id}/{made.span}"
    held = made.specimen.spans[made.span]
    anchored = held.anchors is not None and made.member.strengthened
    about = (item, made.specimen.id, made.span, name, str(made.inputs["scheme"]), anchored)
    if made.why:
        return BeamMechanics(*about, made.why, notes=made.notes)

    def run(**changed: float) -> Response:
        return respond(made.inputs, coefficients={**values, **changed}, law=law, offsets=offsets, centres=made.centres)

    def spread(**changed: float) -> MonteCarlo | None:
        if not samples or law != laws.DEFAULT or not made.member.strengthened:
            return None
        return monte_carlo(made, uncertain(made, values, changed), count=samples, coefficients={**values, **changed})

    base = run()
    cases, ends, anchor = [_case(BASE, base, spread())], {}, {}
    if made.anchored:
        slow = {"w_0": values["w_0_slow"]}
        cases.append(_case(SLOW, run(**slow), spread(**slow)))
        for end in ("low", "high"):
            other = respond(
                made.with_anchor(end), law=law, offsets=offsets, centres=made.centres,
                coefficients=values if end == "low" else {**values, "w_0": values["w_0_slow"]},
            )  # fmt: skip
            ends[end] = float(other.peaks.V_max[0])
        anchor = _anchor(made)
    w = base.w[0]
    found = strips(base.prepared, made.centres, made.numbers, w) if made.numbers else []
    return BeamMechanics(
        *about, "", tuple(cases), _events(made, base, found, values, law), tuple(found),
        tuple(_gauges(campaign, made, test, base, offsets)), anchor, ends, _bending(campaign, made, test, name),
        float(base.prepared.theta[0]), made.theta_from, made.V_c0_from, made.notes, made.warnings,
    )  # fmt: skip


def uncertain(made: Wrapped, values: Mapping[str, float], fixed: Iterable[str]) -> tuple[Variable, ...]:
    """Inputs with a stated uncertainty, and our coefficients that still have their own value, over their ranges.

    A tested anchor varies by the uncertainty of its mean, no longer by that of the anchor models.
    """
    stated = {n: u for n, u in made.member.u.items() if isinstance(made.inputs.get(n), float)}
    own = [n for n, v in values.items() if v == COEFFICIENTS[n].value]
    skip = [*(n for n in COEFFICIENTS if n not in own), *fixed, *(["theta"] if "theta" in made.inputs else [])]
    inputs = [Variable(n, "normal", made.inputs[n], sd=u) for n, u in stated.items()]
    held = made.anchor
    if held is not None and held.resistance is not None and "k_F" not in skip:
        if held.u_resistance:
            inputs.append(Variable("k_F", "lognormal", 1.0, sd=held.u_resistance / held.resistance))
        skip.append("k_F")
    return (*inputs, *own_variables(anchored=made.anchored, skip=skip))


_SPREAD = ("V_max", "V_f", "V_f_max", "gain")


def _case(name: str, found: Response, spread: MonteCarlo | None) -> CaseMechanics:
    peaks = {n: float(getattr(found.peaks, n)[0]) for n in found.peaks.__dataclass_fields__}
    peaks["gain"] = float(found.peaks.gain[0])
    inner = {} if spread is None else {n: spread.inputs_only[n] for n in _SPREAD}
    outer = {} if spread is None else {n: spread.with_model[n] for n in _SPREAD}
    return CaseMechanics(name, found.w[0], found.V_f[0], found.V_s[0], found.V_c[0], peaks, inner, outer)


def _anchor(made: Wrapped) -> dict[str, Any]:
    assert made.anchor is not None
    found = made.anchors["default"]
    return {
        "mechanism": str(found.mechanism), "per_leg": made.anchor.per_leg, "F_u": float(found.F_u),
        "F_u_low": finite(made.anchors["low"].F_u), "F_u_high": finite(made.anchors["high"].F_u),
        "k": float(found.k), "F_leg": float(made.inputs["F_leg"]),
        "strip_strength": float(made.inputs["f_fu"] * made.inputs["n"] * made.inputs["t_f"] * made.inputs["w_f"]),
        "status": found.status.level, "how": found.status.how, "notes": list(found.notes),
        "band": "our assumptions" if made.anchor.resistance is None else "two standard uncertainties of the tests",
    }  # fmt: skip


def _events(
    made: Wrapped, base: Response, found: Iterable[StripHistory], values: Mapping[str, float], law: str
) -> tuple[tuple[Event, float], ...]:
    """All events in the order of the opening, with the shear at the middle crack position."""
    w = base.w[0]
    middle = respond(made.inputs, w=w, coefficients=values, law=law, offsets=np.zeros(1), centres=made.centres)
    V = middle.V[0]
    known = {"largest shear": float(w[int(np.argmax(V))])}
    events = [*beam_events(base.prepared, known), *(e for s in found for e in s.events)]
    told = [(e, float(np.interp(e.w, w, V))) for e in events]
    return tuple(sorted(told, key=lambda pair: (pair[0].w, pair[0].strip or 0)))


def _gauges(
    campaign: Campaign, made: Wrapped, test: Test | None, base: Response, offsets: int
) -> Iterable[GaugeHistory]:
    """Histories of the gauges of the test's layout, on strips and on stirrups of the studied span."""
    layout = campaign.rig.layouts.get(test.layout) if test is not None and test.layout is not None else None
    if layout is None:
        return []
    on: dict[str, list[Gauge]] = {"FRP strain": [], "bar strain": []}
    for channel in channels(layout, made.specimen, made.span):
        if (
            channel.quantity not in on
            or channel.x is None
            or channel.z is None
            or channel.face not in ("front", "back")
        ):
            continue
        if channel.quantity == "bar strain" and channel.stirrup is None:
            continue
        length = GAUGE_LENGTH if channel.gauge_length is None else float(channel.gauge_length)
        gauge = Gauge(channel.name, made.local(float(channel.x)), float(channel.z), length, channel.strip, channel.face)
        on[channel.quantity].append(gauge)
    w = base.w[0]
    frp = gauges(base.prepared, on["FRP strain"], w, offsets) if base.prepared.rows is not None else []
    return [*frp, *bar_gauges(base.prepared, on["bar strain"], w, offsets)]


def _bending(campaign: Campaign, made: Wrapped, test: Test | None, name: str | None) -> float | None:
    """Shear at the moment of the section, N; None where it is not known."""
    item = Item(campaign, made.specimen, made.member, test, name)
    try:
        return Others(item, "not asked for", "si").of(guideline_set(str(campaign.head.host))).V_flex
    except CracktieError:
        return None
