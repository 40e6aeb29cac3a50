"""A calculation sheet as an HTML fragment or as typst source: one table row a step, inputs in their own table.

Both renderers show the same parts in the same order, taken from `_Parts`; nothing is computed here but the shown
digits and units.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cracktie.expression import Choice
from cracktie.report import mathematics
from cracktie.report.notation import typst_string
from cracktie.report.numbers import Shown, shown, unit_text
from cracktie.report.prose import html_prose, typst_prose
from cracktie.trace import CalculationSheet, Entry, Row

STATUS_WORDS: Mapping[str, str] = {
    "checked": "reproduces a printed number",
    "derived": "follows from an identity, an own derivation or an independent library",
    "memory": "coefficients recalled, not compared with the document",
    "doubtful": "after the document, recalled with medium confidence, not compared with the document",
    "own": "own model, no published document",
}
"""Status levels as a reader of a sheet meets them."""

_WORDS = {"si": "SI", "inch-pound": "inch-pound", "u": "U", True: "yes", False: "no", None: "none"}

UNITS_NOTE = "Formulas take N, mm, MPa and degrees; a step in other units names them, angles in radians show π or rad."

SHEET_CSS = """
.calculation { font-size: 0.95rem; max-width: 62rem; }
.calculation h3, .calculation h4 { margin: 0 0 .2rem; }
.calculation p { margin: .25rem 0; }
.calculation table { border-collapse: collapse; width: 100%; margin: .5rem 0 1rem; }
.calculation caption { text-align: left; font-weight: 600; padding: .3rem 0; }
.calculation th, .calculation td { text-align: left; vertical-align: top; padding: .35rem .6rem;
  border-bottom: 1px solid color-mix(in srgb, currentColor 22%, transparent); }
.calculation thead th { font-weight: 600; border-bottom-width: 2px; }
.calculation .symbol, .calculation .value { white-space: nowrap; }
.calculation .value { text-align: right; font-variant-numeric: tabular-nums; }
.calculation .place { font-size: .85em; max-width: 12rem; overflow-wrap: anywhere; }
.calculation .formula { width: 60%; }
.calculation .line { display: block; overflow-x: auto; padding: .15rem 0 .15rem 1.2em; text-indent: -1.2em; }
.calculation .piece { display: inline-block; text-indent: 0; padding: .1rem 0; }
.calculation tbody td, .calculation tbody th { vertical-align: middle; }
.calculation .note { font-style: italic; }
.calculation tbody th { font-weight: 400; }
.calculation math { font-family: "STIX Two Math", "Cambria Math", "Latin Modern Math", "Libertinus Math",
  "DejaVu Math TeX Gyre", math; }
.calculation .scroll { overflow-x: auto; }
.calculation .heading th { font-weight: 600; padding-top: .9rem; }
.calculation .result td, .calculation .result th, .calculation .result .value math { font-weight: 700; }
.calculation .result td, .calculation .result th { border-bottom-width: 2px; }
.calculation .warning { border-left: 3px solid currentColor; padding-left: .6rem; }
.calculation mtd { text-align: left; padding: .1em .5em .1em 0; }
"""

TYPST_PREAMBLE = """
#let calculation-fit(body) = layout(space => {
  let size = measure(body)
  if size.width > space.width { scale(space.width / size.width * 100%, reflow: true, origin: left, body) } else { body }
})
#let calculation-line(..pieces) = block(spacing: 0.7em, par(hanging-indent: 1.2em, justify: false, {
  show math.equation: set text(top-edge: "bounds", bottom-edge: "bounds")
  for piece in pieces.pos() { box(calculation-fit(piece)); sym.zws }
}))
#let calculation-warning(body) = block(inset: (left: 6pt, y: 2pt), stroke: (left: 1.5pt), spacing: 0.8em, body)
#let calculation-table(widths, heads, ..cells) = {
  set table.cell(breakable: false)
  table(columns: widths, stroke: (x: none, y: 0.3pt + gray), inset: (x: 4pt, y: 4pt), align: left + horizon,
    table.header(..heads.map(strong)), ..cells)
}
"""
"""Functions that the fragments of `sheet_typst` use: once at the head of a document."""


@dataclass(frozen=True)
class _Parts:
    """What both renderers show, as plain text."""

    head: tuple[str, ...]
    warnings: tuple[str, ...]


def _parts(sheet: CalculationSheet, citation: str) -> _Parts:
    place = f"{citation or sheet.source.key}, {sheet.source.where}".removesuffix(", ")
    words = {e.name: _word(e.value) for e in sheet.inputs if e.name in ("form", "edition")}
    head = [f"Source: {place}. Model {sheet.model}."]
    if words:
        head.append("; ".join(f"{n.capitalize()}: {w}" for n, w in words.items()) + ".")
    head.append(f"Status: {STATUS_WORDS[sheet.status.level]} ({sheet.status.how}).")
    warnings = [f"The model does not apply: {_stopped(reason)}" for reason in sheet.reasons]
    warnings += [f"Extrapolated: {_stopped(sentence)}" for sentence in sheet.outside]
    for e in sheet.coefficients:
        if e.published is not None:
            warnings.append(f"Coefficient {e.symbol} changed: {e.value:g} in place of the published {e.published:g}.")
    return _Parts(tuple(head), tuple(warnings))


def _stopped(sentence: str) -> str:
    return sentence if sentence.endswith(".") else f"{sentence}."


def _word(value: Any) -> str:
    return str(_WORDS.get(value, value))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _values(value: float, unit: str, system: str, as_given: bool = False) -> tuple[Shown, ...]:
    """The value in SI and, for US customary units, in those after it."""
    first = shown(value, unit, "si", as_given=as_given)
    other = shown(value, unit, system, as_given=as_given)
    return (first,) if system == "si" or other.unit in (first.unit, unit) else (first, other)


def _lines(row: Row, write: Callable[..., tuple[str, ...]], equals: str) -> list[tuple[str, ...]]:
    """The formula in symbols and, where that says more, in numbers; both in one line where there is room."""
    if row.formula is None:
        return []
    names = write(row.formula)
    if not mathematics.has_names(row.formula):
        return [names]
    numbers = write(row.formula, numbers=True)
    room = mathematics.WIDE - mathematics.width(row.formula, False) - mathematics.width(row.formula, True)
    together = room > 0 and not isinstance(row.formula, Choice)
    return [(*names, equals, *numbers)] if together else [names, numbers]


def _grouped(rows: Sequence[Row], sheet: CalculationSheet) -> list[tuple[str, list[Row]]]:
    """Rows under their section headings."""
    groups: list[tuple[str, list[Row]]] = []
    last = None
    for row in rows:
        if row.section != last:
            title = ""
            if sheet.sections:
                section = sheet.sections[row.section]
                title = f"{section.title} ({section.source})" if section.source else section.title
            groups.append((title, []))
            last = row.section
        groups[-1][1].append(row)
    return groups


# --- HTML ---------------------------------------------------------------------------------------------------------


def sheet_html(
    sheet: CalculationSheet,
    *,
    sources: Mapping[str, str] | None = None,
    citation: str = "",
    system: str = "si",
    level: int = 3,
) -> str:
    """HTML fragment (`<section class="calculation">`) with MathML; style it with `SHEET_CSS`.

    `level` is that of its heading. `sources` tells where an input came from (name -> text), `citation` the source in
    words in place of its key, `system` 'us' adds US customary units to shown values; formulas stay in internal units.
    """
    parts = _parts(sheet, citation)
    body = [f"<h{level}>{html.escape(sheet.title)}</h{level}>"]
    body += [f"<p>{html_prose(line)}</p>" for line in parts.head]
    body += [f'<p class="warning">{html_prose(line)}</p>' for line in parts.warnings]
    body.append(_html_inputs(sheet.inputs, sources or {}, system))
    if sheet.rows:
        body.append(_html_steps(sheet, system))
        body.append(f"<p>{html.escape(UNITS_NOTE)}</p>")
    if sheet.coefficients:
        listed = ", ".join(_html_coefficient(e) for e in sheet.coefficients)
        body.append(f"<p>Coefficients of the source: {listed}.</p>")
    return f'<section class="calculation">{"".join(body)}</section>'


def _html_value(values: Sequence[Shown]) -> str:
    units = (html.escape(unit_text(v.unit)) for v in values)
    texts = (
        f"{mathematics.number_mathml(v.text)}{'' if u in ('', '°') else '&nbsp;'}{u}"
        for v, u in zip(values, units, strict=True)
    )
    return " = ".join(texts)


def _html_coefficient(e: Entry) -> str:
    return f"{mathematics.symbol_mathml(e.name)}&nbsp;=&nbsp;{mathematics.number_mathml(f'{e.value:.10g}')}"


def _html_inputs(inputs: Sequence[Entry], sources: Mapping[str, str], system: str) -> str:
    rows = []
    for e in inputs:
        number = _is_number(e.value)
        value = _html_value(_values(e.value, e.unit, system, True)) if number else html.escape(_word(e.value))
        source = f'<td class="place">{html.escape(sources.get(e.name, ""))}</td>' if sources else ""
        symbol = mathematics.symbol_mathml(e.name) if number else html.escape(e.name)
        rows.append(
            f'<tr><th scope="row" class="symbol">{symbol}</th><td class="value">{value}</td>'
            f"<td>{html_prose(e.meaning)}</td>{source}</tr>"
        )
    last = '<th scope="col">Source</th>' if sources else ""
    head = f'<th scope="col">Input</th><th scope="col" class="value">Value</th><th scope="col">Meaning</th>{last}'
    return _html_table("Inputs", head, rows)


def _html_table(caption: str, head: str, rows: Sequence[str]) -> str:
    table = f"<caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody>"
    return f'<div class="scroll" role="region" tabindex="0" aria-label="{caption}"><table>{table}</table></div>'


_HTML_EQUALS = " = "


def _html_line(pieces: Sequence[str]) -> str:
    shown = (p if p == _HTML_EQUALS else f'<span class="piece">{p}</span>' for p in pieces)
    return f'<span class="line">= {"<wbr>".join(shown)}</span>'


def _html_steps(sheet: CalculationSheet, system: str) -> str:
    out = []
    for title, rows in _grouped(sheet.rows, sheet):
        if title:
            out.append(f'<tr class="heading"><th colspan="4" scope="rowgroup">{html.escape(title)}</th></tr>')
        for row in rows:
            lines = [_html_line(pieces) for pieces in _lines(row, mathematics.mathml, _HTML_EQUALS)]
            place = row.where or (row.note if lines else "")
            if row.note and row.note != place:
                lines.append(f'<span class="line note">{html_prose(row.note)}</span>')
            final = ' class="result"' if row is sheet.rows[-1] else ""
            out.append(
                f'<tr{final}><th scope="row" class="symbol">{mathematics.symbol_mathml(row.name)}</th>'
                f'<td class="formula">{"".join(lines)}</td>'
                f'<td class="value">= {_html_value(_values(row.value, row.unit, system, True))}</td>'
                f'<td class="place">{html_prose(place)}</td></tr>'
            )
    head = "".join(
        f'<th scope="col"{" class=value" if name == "Value" else ""}>{name}</th>'
        for name in ("Step", "Formula, with numbers", "Value", "Clause")
    )
    return _html_table("Steps", head, out)


# --- typst --------------------------------------------------------------------------------------------------------


def sheet_typst(
    sheet: CalculationSheet, *, sources: Mapping[str, str] | None = None, citation: str = "", system: str = "si"
) -> str:
    """Typst source of the sheet; the document needs `TYPST_PREAMBLE` once. Arguments as of `sheet_html`."""
    parts = _parts(sheet, citation)
    body = [f"=== #{typst_string(sheet.title)}"]
    head = " \\\n".join(typst_prose(line) for line in parts.head)
    body.append(f"#block(sticky: true, breakable: false)[{head}]")
    body += [f"#calculation-warning[{typst_prose(line)}]" for line in parts.warnings]
    body.append(_typst_inputs(sheet.inputs, sources or {}, system))
    if sheet.rows:
        body.append(_typst_steps(sheet, system))
        body.append(f"#text(size: 0.9em, {typst_string(UNITS_NOTE)})")
    if sheet.coefficients:
        listed = ", ".join(
            f"#box[{mathematics.symbol_typst(e.name)} = {mathematics.number_typst(f'{e.value:.10g}')}]"
            for e in sheet.coefficients
        )
        body.append(f"#text(size: 0.9em)[Coefficients of the source: {listed}.]")
    return "\n\n".join(body) + "\n"


def _typst_value(values: Sequence[Shown]) -> str:
    texts = []
    for v in values:
        unit = unit_text(v.unit)
        gap = "" if unit in ("", "°") else "~"
        texts.append(f"#box[{mathematics.number_typst(v.text)}{gap}#{typst_string(unit)}]")
    return " $=$ ".join(texts)


def _typst_inputs(inputs: Sequence[Entry], sources: Mapping[str, str], system: str) -> str:
    cells = []
    for e in inputs:
        number = _is_number(e.value)
        value = _typst_value(_values(e.value, e.unit, system, True)) if number else f"#{typst_string(_word(e.value))}"
        symbol = mathematics.symbol_typst(e.name) if number else f"#{typst_string(e.name)}"
        cells += [f"[{symbol}]", f"[{value}]", f"[{typst_prose(e.meaning)}]"]
        if sources:
            cells.append(typst_string(sources.get(e.name, "")))
    heads = ["Input", "Value", "Meaning", *(["Source"] if sources else [])]
    widths = "(auto, auto, 1fr, 1fr)" if sources else "(auto, auto, 1fr)"
    return _typst_table(widths, heads, cells)


def _typst_steps(sheet: CalculationSheet, system: str) -> str:
    cells = []
    for title, rows in _grouped(sheet.rows, sheet):
        if title:
            cells.append(f"table.cell(colspan: 4, strong({typst_string(title)}))")
        for row in rows:
            lines = [
                f"#calculation-line([$= space$], {', '.join(f'[{p}]' for p in pieces)})"
                for pieces in _lines(row, mathematics.typst_math, "$space = space$")
            ]
            place = row.where or (row.note if lines else "")
            if row.note and row.note != place:
                lines.append(f"#emph[{typst_prose(row.note)}]")
            value = f"$=$ {_typst_value(_values(row.value, row.unit, system, True))}"
            value = f"*{value}*" if row is sheet.rows[-1] else value
            cells += [
                f"[{mathematics.symbol_typst(row.name)}]",
                f"[{' '.join(lines)}]",
                f"[{value}]",
                f"text(size: 0.85em)[{typst_prose(place)}]",
            ]
    heads = ["Step", "Formula, with numbers", "Value", "Clause"]
    return _typst_table("(auto, 1fr, auto, 6.5em)", heads, cells)


def _typst_table(widths: str, heads: Sequence[str], cells: Sequence[str]) -> str:
    titles = ", ".join(typst_string(h) for h in heads)
    return f"#calculation-table({widths}, ({titles},),\n  " + ",\n  ".join(cells) + ")"
