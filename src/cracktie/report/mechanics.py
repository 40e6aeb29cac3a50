"""The chapter 'Mechanics' of the report: what was predicted over the crack opening. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Iterable

from cracktie.figures.mechanics import A_ROW, gauge_strains, stacked_shear
from cracktie.prediction.mechanics import NOTICE, STRAIN_SOURCE, BeamMechanics, MechanicsPrediction
from cracktie.report.blocks import Block, Column, Figure, Heading, Note, Table, Text
from cracktie.report.numbers import significant
from cracktie.units import shown

MOST_PANELS = 4 * A_ROW


def mechanics_blocks(found: MechanicsPrediction, system: str) -> Iterable[Block]:
    """Blocks of the chapter; nothing where no span carries FRP."""
    wrapped = [b for b in found.beams if b.scheme != "none" and b.cases]
    if not any(b.scheme != "none" for b in found.beams):
        return
    yield Heading("Mechanics", 1, "mechanics")
    yield Text(
        "One diagonal crack opens; strips that cross it pull out of their bond, stirrups are held by theirs, and the "
        "concrete keeps its term until aggregate interlock falls. Forces are means over "
        f"{found.offsets} crack positions along one strip spacing, V_worst is that of the worst position. V_c, V_s and "
        "V_f stand at V_max; V_f,max is the largest V_f whenever it comes. The model is our own."
    )
    if any(b.anchored for b in wrapped):
        yield Note(
            f"Anchored wraps: {NOTICE}. They come as a band, from the base coefficients to a slower loss of interlock "
            "with the anchor held by its own resistance and by rupture of the strip.", "caution"
        )  # fmt: skip
    yield _peaks(wrapped, found, system)
    yield from _intervals(wrapped, system)
    yield from _figures(wrapped, system)
    yield from _gauges(wrapped, system)
    anchored = [b for b in wrapped if b.anchored]
    if anchored:
        yield _anchors(anchored, system)
    for beam in anchored:
        yield _events(beam, system)
    reasons = [(b.item, b.why) for b in found.beams if b.why] + list(found.skipped.items())
    if reasons:
        columns = (Column("test", "", "left"), Column("reason", "", "left", prose=True))
        yield Table("Not predicted by mechanics", columns, tuple(reasons))


def _force(value: float | None, system: str) -> str:
    if value is None or value != value:
        return "–"
    return f"{shown(value, 'N', system)[0]:.1f}"


def _intervals(beams: list[BeamMechanics], system: str) -> Iterable[Block]:
    """What inputs leave open, and what the model's error adds."""
    unit = shown(1.0, "N", system)[1]
    cases = [(beam, case) for beam in beams for case in beam.cases if "V_max" in case.with_model]
    if not cases:
        return
    columns = (
        Column("test", "", "left"), Column("set", "", "left", prose=True), Column("V_max", unit),
        Column("5 % of inputs", unit), Column("95 % interval of inputs", unit), Column("5 % with model error", unit),
        Column("95 % interval with model error", unit),
    )  # fmt: skip
    rows = []
    for beam, case in cases:
        cells = []
        for table in (case.inputs_only, case.with_model):
            found = table["V_max"]
            span = f"{_force(found.low, system)} to {_force(found.high, system)}"
            cells += [_force(found.fractile_5, system), span]
        rows.append((beam.item, case.name, _force(case.peaks["V_max"], system), *cells))
    note = (
        "Inputs: uncertainties that the campaign states, and our coefficients over their ranges. The model's error is "
        "that on published beams without anchors; for anchored wraps it is a lower bound. Use the wider interval."
    )
    yield Table("How sure the predicted V_max is", columns, tuple(rows), (note,))


def _peaks(beams: list[BeamMechanics], found: MechanicsPrediction, system: str) -> Table:
    unit, length = shown(1.0, "N", system)[1], shown(1.0, "mm", system)[1]
    names = ("V_max", "V_worst", "V_c", "V_s", "V_f", "V_f_max", "V_deb", "gain")
    titles = ("V_max", "V_worst", "V_c", "V_s", "V_f", "V_f,max", "first debonding", "gain over no FRP")
    columns = (
        Column("test", "", "left"), Column("set", "", "left", prose=True), *(Column(t, unit) for t in titles),
        Column("w at V_max", length), Column("strain, mean and most", "µm/m"), Column("bending", unit),
    )  # fmt: skip
    rows = []
    for beam in beams:
        for case in beam.cases:
            p = case.peaks
            strain = f"{1e6 * p['strain_mean']:.0f}, {1e6 * p['strain_most']:.0f}"
            w = significant(shown(p["w"], "mm", system)[0], 3)
            rows.append((beam.item, case.name, *(_force(p[n], system) for n in names), w, strain,
                         _force(beam.V_flex, system)))  # fmt: skip
    k = found.coefficients
    notes = [
        f"Crack angle and concrete term: {beams[0].theta_from}; {beams[0].V_c0_from}." if beams else "",
        f"Coefficients (own): k_tau {k['k_tau']:g}, exponent of the opening {k['m_open']:g}, plateau of the concrete "
        f"term {k['w_0']:g} mm, slow {k['w_0_slow']:g} mm.",
        "Bending: shear at the moment of the section; it limits full wraps first.",
    ]
    if any(b.anchored for b in beams):
        notes.append(f"Published strain to compare with: {STRAIN_SOURCE}.")
    return Table("Predicted by mechanics", columns, tuple(rows), tuple(n for n in notes if n))


def _figures(beams: list[BeamMechanics], system: str) -> Iterable[Block]:
    panels = [(beam, case) for beam in beams for case in beam.cases]
    for start in range(0, len(panels), MOST_PANELS):
        part = panels[start : start + MOST_PANELS]
        names = list(dict.fromkeys(beam.item for beam, _ in part))
        yield Figure(
            stacked_shear(part, system=system),
            "Predicted shear over the opening of the crack, stacked: concrete, stirrups, FRP. Dotted: events of strips "
            "at the middle crack position.",
            f"Stacked areas of predicted shear over crack opening: {', '.join(names)}",
        )


def _gauges(beams: list[BeamMechanics], system: str) -> Iterable[Block]:
    shown_beams = [b for b in beams if any(g.gauge.strip is not None for g in b.gauges)]
    for start in range(0, len(shown_beams), MOST_PANELS):
        part = shown_beams[start : start + MOST_PANELS]
        yield Figure(
            gauge_strains(part, system=system),
            "Predicted strain of every gauge on FRP, base set, mean over crack positions; least and largest of them "
            "stand in mechanics.json.",
            f"Predicted gauge strain over crack opening, one panel a test: {', '.join(b.item for b in part)}",
        )


def _anchors(beams: list[BeamMechanics], system: str) -> Table:
    unit = shown(1.0, "N", system)[1]
    columns = (
        Column("test", "", "left"), Column("governing mechanism", "", "left", prose=True), Column("anchors a leg"),
        Column("resistance of one", unit), Column("weakest to strongest", unit), Column("strip strength", unit),
        Column("V_max, weakest to strongest", unit), Column("status", "", "left"),
    )  # fmt: skip
    rows = []
    for beam in beams:
        a = beam.anchor
        span = f"{_force(a['F_u_low'], system)} to {_force(a['F_u_high'], system)}"
        V = f"{_force(beam.anchor_ends['low'], system)} to {_force(beam.anchor_ends['high'], system)}"
        rows.append((beam.item, a["mechanism"], str(a["per_leg"]), _force(a["F_u"], system), span,
                     _force(a["strip_strength"], system), V, a["status"]))  # fmt: skip
    note = (
        "Weakest to strongest: every assumption of ours on anchors at its weak or strong end, of tested anchors the "
        "mean less and plus two standard uncertainties; scatter between anchors is not in it."
    )
    return Table("Anchors in the mechanics", columns, tuple(rows), (note,))


def _events(beam: BeamMechanics, system: str) -> Table:
    unit, length = shown(1.0, "N", system)[1], shown(1.0, "mm", system)[1]
    columns = (Column("w", length), Column("V", unit), Column("strip"), Column("what happens", "", "left", prose=True))
    rows = tuple(
        (f"{shown(e.w, 'mm', system)[0]:.2f}", _force(V, system), "" if e.strip is None else str(e.strip), e.what)
        for e, V in beam.events
    )
    return Table(f"{beam.item}: predicted order of events, base set, middle crack position", columns, rows)
