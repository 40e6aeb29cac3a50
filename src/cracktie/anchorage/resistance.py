"""Resistance of a spike anchor: every mechanism from its model, the weakest one, stiffness and fall after the peak.

One anchor at a time: `AnchorResistance.leg` makes the spring of a strip leg held by several. Nothing here is validated
on beams; statuses and notes of the result say what each part rests on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.clause import LEVELS, Evaluation, Status, evaluate, get
from cracktie.errors import ModelInputError
from cracktie.mechanics.anchor import force, weakest
from cracktie.models.anchor import cook_1998
from cracktie.models.anchor.hosts import BLIND, oblique
from cracktie.models.anchor.own_ranges import OWN_RANGES, POST_PEAK, PostPeak
from cracktie.results import finite, versioned
from cracktie.symbols import symbol

READINGS = ("safe", "published")
CONE, COMBINED, PULL_OUT = "dowel cone", "combined cone-pull-out", "dowel pull-out"
RUPTURE, BEND, FAN = "dowel rupture", "dowel rupture at bend", "fan debonding"
MECHANISMS = (CONE, COMBINED, PULL_OUT, RUPTURE, BEND, FAN)
MEASURED = "measured"
NOT_APPLICABLE = "not applicable"
FAR = 10_000.0
"""mm; an edge or a neighbour this far away has no influence."""

MODELS: Mapping[str, Mapping[str, str]] = {
    "safe": {
        CONE: "anchor.own_cone",
        COMBINED: "anchor.own_combined",
        PULL_OUT: "anchor.own_bond",
        RUPTURE: "anchor.kim_smith_2010.fibre",
        BEND: "anchor.own_bend",
        FAN: "anchor.own_fan_lap",
    },
    "published": {
        CONE: "anchor.kim_smith_2010.cone",
        COMBINED: "anchor.kim_smith_2010.combined",
        PULL_OUT: "anchor.cook_1998",
        RUPTURE: "anchor.kim_smith_2010.fibre",
        BEND: "anchor.own_bend",
        FAN: "anchor.own_fan_lap",
    },
}
STIFFNESS = "anchor.own_stiffness"
DEFAULTS: Mapping[str, Any] = {
    "c_edge": FAR,
    "s_a": FAR,
    "n_a": 1,
    "splitting_steel": False,
    "fan_form": "one_way",
    "r_edge": 0.0,
}
"""Inputs that may be left out; `cracked` is then True for the hosts web and through_web, False in a flange."""

NOTES: Mapping[str, str] = {
    "web": "concrete of the web around the dowel taken as cracked unless `cracked` says otherwise",
    "flange": "concrete of the flange around the dowel taken as uncracked unless `cracked` says otherwise",
    "through_flange": (
        "upper bound: what holds the dowel beyond the flange (fan on the top face, its bond) has no model here"
    ),
    "through_web": "the fan on the other face is taken to hold what this one holds; the web between is not checked",
}


@dataclass(frozen=True)
class Spring:
    """Anchors of one strip leg as one spring: stiffness N/mm, largest force N, slip mm to the residual share."""

    k: Any
    F_u: Any
    soft_slip: Any
    residual: Any

    def force(self, slip: Any) -> Any:
        """Force in N at a growing slip in mm."""
        return force(slip, k=self.k, F_u=self.F_u, soft_slip=self.soft_slip, residual=self.residual)


@dataclass(frozen=True)
class AnchorResistance:
    """Result for one anchor; numbers, or arrays of the inputs' common shape.

    `F_u` N is NaN where a mechanism that must be judged has no value; `components` maps mechanism -> force N (NaN where
    it does not exist or does not apply, see `reasons`); `mechanism` words; `status` the weakest of the models used.
    """

    F_u: Any
    mechanism: Any
    components: Mapping[str, Any]
    models: Mapping[str, str]
    statuses: Mapping[str, Status]
    reasons: Mapping[str, tuple[tuple[str, Any], ...]]
    outside: Mapping[str, tuple[tuple[str, Any], ...]]
    k: Any
    soft_slip: Any
    residual: Any
    measured: Any
    F_model: Any
    """What the models give where a measured resistance replaces them."""
    notes: tuple[str, ...] = ()
    coefficients: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    reading: str = "safe"

    @property
    def status(self) -> Status:
        """Weakest status of the models met."""
        return min(self.statuses.values(), key=lambda s: LEVELS.index(s.level))

    def leg(self, count: Any = 1) -> Spring:
        """Spring of a strip leg held by `count` equal anchors; whether they share the force evenly is not checked."""
        return Spring(self.k * count, self.F_u * count, self.soft_slip, self.residual)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping; NaN becomes null."""
        return versioned(
            "anchor resistance",
            {
                "F_u": _plain(self.F_u),
                "F_model": _plain(self.F_model),
                "mechanism": np.asarray(self.mechanism).tolist(),
                "measured": np.asarray(self.measured).tolist(),
                "components": {n: _plain(v) for n, v in self.components.items()},
                "models": dict(self.models),
                "status": {"level": self.status.level, "how": self.status.how},
                "k": _plain(self.k),
                "soft_slip": _plain(self.soft_slip),
                "residual": _plain(self.residual),
                "reading": self.reading,
                "coefficients": {n: dict(c) for n, c in self.coefficients.items()},
                "reasons": {n: [s for s, _ in r] for n, r in self.reasons.items()},
                "outside": {n: [s for s, _ in r] for n, r in self.outside.items()},
                "notes": list(self.notes),
            },
        )


def anchor_resistance(
    inputs: Mapping[str, Any],
    *,
    resistance: Any = None,
    tested_mode: str | None = None,
    reading: str = "safe",
    coefficients: Mapping[str, Mapping[str, float]] | None = None,
    post_peak: Mapping[str, PostPeak] = POST_PEAK,
) -> AnchorResistance:
    """Resistance of one anchor from inputs by glossary name, numbers or arrays that broadcast to one shape.

    Needed: host, h_ef, d_a, d_0, A_a, f_fa, E_fa, theta_b, fan_angle, l_fan, w_a, f_c. May be left out: those of
    `DEFAULTS`, `cracked`, and `tau_a` with `tau_0` (bond strengths MPa in uncracked concrete; without them the bond
    pull-out is not judged apart, the combined mode covers it). `resistance` N is a measured one and goes before the
    models; NaN in an array of it means not measured; `tested_mode` is how the tested anchors failed, which the fall
    after the peak follows. `reading` 'safe' takes the lesser of cone and combined mode with edges, rows and cracks;
    'published' the formulas of Kim and Smith as they stand. `coefficients` maps model id ->
    coefficient -> value. Raises `ModelInputError` for what is missing or does not exist.
    """
    models = _models(reading, inputs)
    given, shape = _prepared(inputs)
    changed = dict(coefficients or {})
    unknown = [id for id in changed if id not in (*models.values(), STIFFNESS)]
    if unknown:
        raise ModelInputError(
            f"anchor_resistance does not use {', '.join(unknown)}; it uses {', '.join(models.values())}"
        )
    runs = {m: evaluate(id, given, coefficients=changed.get(id)) for m, id in models.items()}
    components = {m: _shaped(run.value, shape) for m, run in runs.items()}
    if reading == "published":
        _published_branch(components, given, shape)
    F_model, place = weakest(list(components.values()))
    F_model = np.where(_judged(components, given, shape), F_model, np.nan)
    words = np.array([*components, NOT_APPLICABLE])
    mechanism = np.where(np.isfinite(F_model), words[place], NOT_APPLICABLE)
    stiffness = evaluate(STIFFNESS, given, coefficients=changed.get(STIFFNESS))
    tested = np.broadcast_to(np.asarray(np.nan if resistance is None else resistance, dtype=float), shape)
    if np.any(tested <= 0.0):
        raise ModelInputError(f"anchor_resistance: resistance = {np.min(tested):g} N; a measured force is above 0")
    measured = np.isfinite(tested)
    mechanism = np.where(measured, tested_mode or MEASURED, mechanism)
    soft, rest = _after(mechanism, post_peak)
    runs[STIFFNESS] = stiffness
    return AnchorResistance(
        F_u=_out(np.where(measured, tested, F_model)),
        mechanism=_out(mechanism),
        components={m: _out(v) for m, v in components.items()},
        models={**models, "stiffness": STIFFNESS},
        statuses={m: run.status for m, run in runs.items()},
        reasons=_reasons(runs, shape),
        outside=_outside(runs, components, shape),
        k=_out(_shaped(stiffness.value, shape)),
        soft_slip=_out(soft),
        residual=_out(rest),
        measured=_out(measured),
        F_model=_out(F_model),
        notes=_notes(inputs, given, measured, tested_mode),
        coefficients=changed,
        reading=reading,
    )


def anchor_band(inputs: Mapping[str, Any], **options: Any) -> dict[str, AnchorResistance]:
    """What our assumptions alone leave open: 'low', 'default' and 'high' resistance of the same anchor.

    'low' and 'high' put every coefficient of `OWN_RANGES` at its weaker and stronger end; 'high' also takes uncracked
    concrete held against splitting and no neighbours. Friction at the bend stays 0. Scatter of the published formulas
    and of the inputs is not in it. Coefficients given in `options` stay as given.
    """
    given = options.pop("coefficients", None) or {}
    models = _models(options.get("reading", "safe"), inputs)
    ends = {end: _ends(end, {*models.values(), STIFFNESS}, given) for end in ("low", "high")}
    favourable = {**inputs, "cracked": False, "splitting_steel": True, "n_a": 1}
    return {
        "low": anchor_resistance(inputs, coefficients=ends["low"], **options),
        "default": anchor_resistance(inputs, coefficients=given, **options),
        "high": anchor_resistance(favourable, coefficients=ends["high"], **options),
    }


_WEAKER = {"high": "low", "low": "high"}


def _ends(end: str, used: set[str], given: Mapping[str, Mapping[str, float]]) -> dict[str, Mapping[str, float]]:
    """Own coefficients of the models in use at their weaker ('low') or stronger end, given ones as given."""
    found: dict[str, Mapping[str, float]] = dict(given)
    for id in sorted(used & set(OWN_RANGES)):
        rows = {n: r for n, r in OWN_RANGES[id].items() if r.stronger in _WEAKER}
        own = {n: getattr(r, r.stronger if end == "high" else _WEAKER[r.stronger]) for n, r in rows.items()}
        found[id] = {**own, **given.get(id, {})}
    return found


def _models(reading: str, inputs: Mapping[str, Any]) -> dict[str, str]:
    """Mechanism -> model of a reading; the bond pull-out needs a bond strength."""
    if reading not in READINGS:
        raise ModelInputError(f"anchor_resistance: reading = {reading!r}; possible: {', '.join(READINGS)}")
    bond = inputs.get("tau_a") is not None
    return {m: id for m, id in MODELS[reading].items() if m != PULL_OUT or bond}


def _prepared(inputs: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[int, ...]]:
    """Inputs with defaults, flattened to one dimension where they are arrays; and their common shape."""
    needed = {n for id in (*MODELS["safe"].values(), STIFFNESS) for n in get(id).inputs}
    wanted = needed - {"tau_a", "tau_0", "cracked"} - set(DEFAULTS)
    missing = sorted(n for n in wanted if inputs.get(n) is None)
    if missing:
        raise ModelInputError(f"anchor_resistance needs {', '.join(missing)}; given {', '.join(sorted(inputs))}")
    given = {**DEFAULTS, **{n: v for n, v in inputs.items() if n in needed and v is not None}}
    if ("tau_a" in given) != ("tau_0" in given):
        raise ModelInputError("anchor_resistance needs tau_a and tau_0 together, or neither")
    given.setdefault("cracked", _cracked(given["host"]))
    shape = np.broadcast_shapes(*(np.shape(v) for v in given.values()))
    if shape:
        given = {n: np.broadcast_to(v, shape).ravel() if np.ndim(v) else v for n, v in given.items()}
    return given, shape


def _cracked(host: Any) -> Any:
    """Safe guess where nothing is said: a diagonal crack may meet the dowel in the web, not in the flange."""
    if np.ndim(host):
        return ~np.isin(np.asarray(host), ("flange", "through_flange"))
    return host not in ("flange", "through_flange")


def _published_branch(components: dict[str, Any], given: Mapping[str, Any], shape: tuple[int, ...]) -> None:
    """Keep only the mode published for the embedment."""
    split = get("anchor.kim_smith_2010.pullout").coefficients["h_split"]
    short = _shaped(given["h_ef"], shape) < split
    components[CONE] = np.where(short, components[CONE], np.nan)
    components[COMBINED] = np.where(short, np.nan, components[COMBINED])


def _judged(components: Mapping[str, Any], given: Mapping[str, Any], shape: tuple[int, ...]) -> Any:
    """Where every mechanism that must be judged has a value: a missing one would flatter the anchor."""
    blind = _shaped(np.isin(np.asarray(given["host"]), BLIND), shape, bool)
    deep = np.isfinite(components[CONE]) | np.isfinite(components[COMBINED])
    if PULL_OUT in components:  # asked for by a bond strength, which may be the least of all
        deep = deep & np.isfinite(components[PULL_OUT])
    fibres = np.isfinite(components[RUPTURE]) & np.isfinite(components[BEND]) & np.isfinite(components[FAN])
    return fibres & (deep | ~blind)


def _after(mechanism: Any, post_peak: Mapping[str, PostPeak]) -> tuple[Any, Any]:
    soft = np.full(mechanism.shape, np.nan)
    rest = np.full(mechanism.shape, np.nan)
    for word in np.unique(mechanism):
        if word != NOT_APPLICABLE:
            fall = post_peak.get(str(word), post_peak[MEASURED])
            soft = np.where(mechanism == word, fall.soft_slip, soft)
            rest = np.where(mechanism == word, fall.residual, rest)
    return soft, rest


def _reasons(runs: Mapping[str, Evaluation], shape: tuple[int, ...]) -> dict[str, tuple[tuple[str, Any], ...]]:
    """Why a mechanism has no value, each sentence with its mask."""
    return {
        name: tuple((applies.sentence, _out(_shaped(mask, shape, bool))) for applies, mask in run.reasons)
        for name, run in runs.items()
        if run.reasons
    }


def _outside(
    runs: Mapping[str, Evaluation], components: Mapping[str, Any], shape: tuple[int, ...]
) -> dict[str, tuple[tuple[str, Any], ...]]:
    """Published ranges that the inputs leave, where the mechanism has a value."""
    found = {}
    for name, run in runs.items():
        there = np.isfinite(components.get(name, np.zeros(shape)))
        told = []
        for limit, mask in run.outside:
            left = _shaped(mask, shape, bool) & there
            if np.any(left):
                told.append((limit.sentence(symbol(limit.name).unit), _out(left)))
        if told:
            found[name] = tuple(told)
    return found


def _notes(
    inputs: Mapping[str, Any], given: Mapping[str, Any], measured: Any, tested_mode: str | None
) -> tuple[str, ...]:
    hosts = [str(h) for h in np.unique(np.asarray(given["host"]))]
    notes = [NOTES[h] for h in hosts if h not in BLIND or inputs.get("cracked") is None]
    if inputs.get("r_edge") is None:
        notes.append("no edge radius given: taken as 0, the sharp edge")
    if "tau_a" not in given:
        notes.append("no bond strength of the adhesive given: bond pull-out is judged by the combined mode only")
    elif not np.all(cook_1998.in_range(given["h_ef"], given["d_a"])):
        notes.append(
            f"embedment outside {cook_1998.SHORTEST:g} to {cook_1998.LONGEST:g} dowel diameters: bond pull-out lies "
            f"beyond the tests (our extension; at most {cook_1998.LONGEST:g} diameters count)"
        )
    if np.any((np.asarray(given["host"]) == "flange") & oblique(given["theta_b"])):
        notes.append(
            "flange: from the bend angle alone the tip may lie h_ef sin (strip turned onto the soffit of the flange) "
            "or h_ef cos of it deep (strip that ends at the web); the shallower is taken, the safe side"
        )
    if np.any(measured):
        part = "" if np.all(measured) else f" in {int(np.sum(measured))} of {np.size(measured)} cases"
        how = "its mechanism and fall after the peak are assumed"
        if tested_mode is not None:
            how = f"its mechanism is that of the tests ({tested_mode}), its fall after the peak the one assumed for it"
        notes.append(f"a measured resistance replaces the models{part}; {how}")
    return tuple(notes)


def _shaped(value: Any, shape: tuple[int, ...], kind: type = float) -> Any:
    array: Any = np.asarray(value, dtype=kind)
    return array.reshape(shape) if array.ndim else np.broadcast_to(array, shape)


def _out(value: Any) -> Any:
    """An array as it is, a single value as a plain Python one."""
    array = np.asarray(value)
    return array.item() if array.ndim == 0 else array


def _plain(value: Any) -> Any:
    array = np.asarray(value, dtype=float)
    return finite(array.item()) if array.ndim == 0 else [_plain(v) for v in array]
