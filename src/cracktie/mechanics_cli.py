"""The command line of the mechanics: options, and what is printed. Nothing is computed here."""

from __future__ import annotations

import json
import sys

TYPE_CHECKING = False  # see cli.py
if TYPE_CHECKING:
    import argparse
    from typing import Any


def predict(campaign: Any, options: argparse.Namespace) -> int:
    """`predict --mechanics`."""
    from cracktie import actions

    angle = "measured" if options.measured_crack else "stated"
    found = actions.predict_mechanics(campaign, choice=options.inputs, angle=angle)
    if options.json:
        print(json.dumps(found.to_dict(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        show(found, campaign.head.shown_units)
    warned = [*map(str, campaign.warnings), *(f"{b.item}: {w}" for b in found.beams for w in b.warnings)]
    for line in warned:
        print(f"warning: {line}", file=sys.stderr)
    return 1 if warned and options.strict else 0


def show(found: Any, system: str) -> None:
    """Peaks of every span, then anchors and events of the anchored ones."""
    from cracktie.console import force, table
    from cracktie.prediction.mechanics import NOTICE, STRAIN_SOURCE
    from cracktie.units import shown

    unit, length = shown(1.0, "N", system)[1], shown(1.0, "mm", system)[1]
    names = ("V_max", "V_worst", "V_c", "V_s", "V_f", "V_f_max", "V_deb", "V_bare")
    columns = ["test", "span", "scheme", "set", *(f"{n} [{unit}]" for n in names), f"w [{length}]", "strain, mean/most"]
    rows = []
    for beam in found.beams:
        for case in beam.cases:
            p = case.peaks
            scheme = f"{beam.scheme}, anchored" if beam.anchored else beam.scheme
            forces = [force(p[n] if p[n] == p[n] else None, system) for n in names]
            strain = f"{p['strain_mean']:.4f}/{p['strain_most']:.4f}" if beam.scheme != "none" else "-"
            w = f"{shown(p['w'], 'mm', system)[0]:.2f}"
            rows.append([beam.item, beam.span, scheme, case.name, *forces, w, strain])
    print(table(columns, rows, left=4))
    for beam in found.beams:
        if beam.why:
            print(f"{beam.item}: not predicted, {beam.why}")
        if beam.scheme == "full":
            print(f"{beam.item}: bending limits the shear to {force(beam.V_flex, system)} {unit}")
        if beam.anchor:
            _show_anchor(beam, system, unit)
    for item, reason in found.skipped.items():
        print(f"{item}: left out, {reason}")
    for beam in found.beams:
        for case in beam.cases:
            if case.with_model:
                inner, outer = (_span(t["V_max"], system) for t in (case.inputs_only, case.with_model))
                print(f"{beam.item}, {case.name}: V_max {inner} {unit} from inputs, {outer} with model error (95 %)")
    print("V_c, V_s, V_f at V_max, means over the crack positions; V_worst at the least favourable one; own models")
    if any(beam.anchored for beam in found.beams):
        print(f"anchored wraps: {NOTICE}; band from 'base' to 'slow loss of interlock'")
        print(f"published strain: {STRAIN_SOURCE}")


def _span(interval: Any, system: str) -> str:
    from cracktie.console import force

    return f"{force(interval.low, system)} to {force(interval.high, system)}"


def _show_anchor(beam: Any, system: str, unit: str) -> None:
    from cracktie.console import force
    from cracktie.units import shown

    a = beam.anchor
    low, high = force(a["F_u_low"], system), force(a["F_u_high"], system)
    weak, strong = (force(beam.anchor_ends[end], system) for end in ("low", "high"))
    print(f"{beam.item}: {a['mechanism']} governs, {force(a['F_u'], system)} {unit} an anchor ({low} to {high} by "
          f"{a['band']}); strip strength {force(a['strip_strength'], system)}; V_max {weak} to {strong} with the "
          "weakest and the strongest of them")  # fmt: skip
    for event, V in beam.events:
        place = f"strip {event.strip}: " if event.strip is not None else ""
        w, length = shown(event.w, "mm", system)
        print(f"   w = {w:.2f} {length}, V = {force(V, system)} {unit}: {place}{event.what}")


def study(options: argparse.Namespace) -> int:
    """`study FILE`."""
    from cracktie import actions

    found = actions.study(options.file, workers=options.workers)
    if options.json:
        print(json.dumps(found.to_dict(), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        show_study(found)
    return 0


_STRAINS = ("strain_mean", "strain_most", "strain_ever")


def _text(name: str, value: float | None) -> str:
    if value is None or value != value:
        return "-"
    return f"{1e6 * value:.0f}" if name in _STRAINS else f"{value / 1e3:.1f}"


def show_study(found: Any) -> None:
    """Intervals, then sensitivities, sweeps, map and goal where asked."""
    from cracktie.beam.specimen import NOTICE
    from cracktie.console import table

    mc = found.monte_carlo
    print(f"{found.specimen}, span {found.span}, set {found.set}: {mc.count} samples, seed {mc.seed}; kN and um/m")
    rows = []
    for name, inner in mc.inputs_only.items():
        outer = mc.with_model.get(name)
        span = f"{_text(name, inner.low)} to {_text(name, inner.high)}"
        wide = "-" if outer is None else f"{_text(name, outer.low)} to {_text(name, outer.high)}"
        five = "-" if outer is None else _text(name, outer.fractile_5)
        now = _text(name, found.now[name])
        middle = [_text(name, v) for v in (inner.mean, inner.sd, inner.fractile_5)]
        rows.append([name, now, *middle, span, wide, five])
    print(table(["output", "now", "mean", "sd", "5 %", "95 % of inputs", "95 % with model error", "5 % with it"], rows))
    print(f"model error: {mc.model_note}")
    if found.sensitivity is not None:
        s = found.sensitivity
        print(f"shares of the variance of {s.output} (independent inputs, {s.samples} base samples):")
        order = sorted(range(len(s.names)), key=lambda i: -s.total[i])
        print(table(["varies", "alone", "with interactions"],
                    [[s.names[i], f"{s.first[i]:.2f}", f"{s.total[i]:.2f}"] for i in order]))  # fmt: skip
    for name, (values, out) in found.sweeps.items():
        lines = [[f"{v:g}", *(_text(n, float(out[n][i])) for n in ("V_max", "V_f", "V_f_max", "gain"))]
                 for i, v in enumerate(values)]  # fmt: skip
        print(table([name, "V_max", "V_f", "V_f_max", "gain"], lines))
    if found.map is not None:
        (one, two), (first, second), out = found.map
        lines = [[f"{v:g}", *(_text("V_max", float(x)) for x in out["V_max"][i])] for i, v in enumerate(first)]
        print(f"V_max, {one} down, {two} across:")
        print(table(["", *(f"{v:g}" for v in second)], lines))
    if found.governing is not None:
        print(found.governing.table())
    if found.goal is not None:
        g = found.goal
        lines = [[f"{v:g}", f"{p:.2f}", _text("V_max", float(V))]
                 for v, p, V in zip(g.sizes, g.probability, g.V_median, strict=True)]  # fmt: skip
        print(f"goal: {g.goal} with probability {g.wanted:g}")
        print(table([g.name, "probability", "median V_max"], lines))
        said = "none of these sizes reaches it" if g.smallest is None else f"smallest that reaches it: {g.smallest:g}"
        print(f"{said}; from {g.no_more:g} on the median grows by less than 1 %")
    if found.anchored:
        print(f"anchored wraps: {NOTICE}")
