"""The command line of the mechanics: options, and what is printed. Nothing is computed here."""

from __future__ import annotations

import json
import sys

TYPE_CHECKING = False  # see cli.py
if TYPE_CHECKING:
    import argparse
    from typing import Any


def add_options(command: argparse.ArgumentParser) -> None:
    """Options of `predict`."""
    command.add_argument("--mechanics", action="store_true", help="shear over the crack opening, strips and gauges")
    command.add_argument("--measured-crack", action="store_true", help="with --mechanics: angle of digitised cracks")


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
    print("V_c, V_s, V_f at V_max, means over the crack positions; V_worst at the least favourable one; own models")
    if any(beam.anchored for beam in found.beams):
        print(f"anchored wraps: {NOTICE}; band from 'base' to 'slow loss of interlock'")
        print(f"published strain: {STRAIN_SOURCE}")


def _show_anchor(beam: Any, system: str, unit: str) -> None:
    from cracktie.console import force
    from cracktie.units import shown

    a = beam.anchor
    low, high = force(a["F_u_low"], system), force(a["F_u_high"], system)
    weak, strong = (force(beam.anchor_ends[end], system) for end in ("low", "high"))
    print(f"{beam.item}: {a['mechanism']} governs, {force(a['F_u'], system)} {unit} an anchor ({low} to {high} by our "
          f"assumptions); strip strength {force(a['strip_strength'], system)}; V_max {weak} to {strong} with the "
          "weakest and the strongest of them")  # fmt: skip
    for event, V in beam.events:
        place = f"strip {event.strip}: " if event.strip is not None else ""
        w, length = shown(event.w, "mm", system)
        print(f"   w = {w:.2f} {length}, V = {force(V, system)} {unit}: {place}{event.what}")
