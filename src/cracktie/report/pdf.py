"""The report as a PDF set by typst: tagged, A4, contents, page numbers, same bytes for the same document."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cracktie.draw.pdf import font_folders
from cracktie.report.document import Column, Document, Figure, Heading, Note, SheetBlock, Table, Text
from cracktie.report.mathematics import symbol_typst
from cracktie.report.notation import typst_string
from cracktie.report.numbers import unit_text
from cracktie.report.sheet import TYPST_PREAMBLE, sheet_typst

_NOTE_WORDS = {"caution": "Caution.", "simulated": "Not real.", "note": "Note."}
WIDE = 9
"""Tables with more columns than this are set in smaller type."""

_MARK = 'text(fill: rgb("#8a3d1c"), weight: "bold")[SIMULATED DATA]'
_PREAMBLE = """
#let ink = rgb("#1d2b33")
#let quiet = rgb("#5c6b73")
#let warn = rgb("#8a3d1c")
#set page(paper: "a4", margin: (x: 20mm, top: 22mm, bottom: 20mm))
#let running-head(title) = context {
  if counter(page).get().first() > 1 { text(size: 7.5pt, fill: quiet, title); h(1fr); text(size: 7.5pt, mark) }
}
#let running-foot = context {
  text(size: 7.5pt, fill: quiet)[Checking by a licensed engineer under the local code stays necessary.]
  h(1fr)
  text(size: 8pt, counter(page).display("1 / 1", both: true))
}
#set text(font: "DejaVu Sans", size: 9pt, fill: ink, lang: "en")
#set par(leading: 0.62em, justify: false)
#show heading.where(level: 1): it => { pagebreak(weak: true); block(below: 0.9em, text(size: 15pt, it.body)) }
#show heading.where(level: 2): it => block(above: 1.6em, below: 0.8em, sticky: true, text(size: 11pt, it.body))
#show heading.where(level: 3): it => block(above: 1.4em, below: 0.6em, sticky: true, text(size: 10pt, it.body))
#show figure: set block(breakable: true)
#show figure.caption: it => align(left, text(size: 8pt, fill: quiet, it.body))
#set table(stroke: none, inset: (x: 3pt, y: 3.2pt))
#let boxed(word, colour, body) = block(width: 100%, inset: 7pt, stroke: (left: 2.5pt + colour, rest: 0.4pt + luma(200)),
  fill: luma(247), spacing: 0.9em, [#strong(word) #body])
#let data(caption, columns, aligns, heads, size, notes, ..cells) = {
  block(above: 1.4em, below: 0.5em, sticky: true, strong(text(size: 9pt, caption)))
  { set text(size: size)
    set par(justify: false)
    show table.cell.where(y: 0): strong
    table(columns: columns, align: aligns, table.hline(stroke: 0.8pt + ink), table.header(..heads),
      table.hline(stroke: 0.5pt + ink), ..cells, table.hline(stroke: 0.5pt + ink)) }
  for note in notes { block(spacing: 0.55em, text(size: 7.5pt, fill: quiet, note)) }
}
"""


def write_pdf(document: Document, path: Path) -> Path:
    """Write the report; returns its path. Raises `FileTrouble` where the file cannot be written."""
    from cracktie.campaign.write import write_bytes

    write_bytes(path, pdf_bytes(document))
    return path


def pdf_bytes(document: Document) -> bytes:
    """The report as PDF; no date and no name of this machine goes in."""
    import typst

    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder, "report.typ")
        source.write_text(typst_source(document, Path(folder)), encoding="utf-8")
        made = typst.compile(
            str(source), format="pdf", font_paths=font_folders(), ignore_system_fonts=True,
        )  # fmt: skip
    return bytes(made)


def typst_source(document: Document, folder: Path) -> str:
    """Typst source of the report; figures are written into `folder` as SVG files beside it."""
    title = typst_string(document.title)
    body = [_RENDER[type(b)](b, i, folder) for i, b in enumerate(document.blocks)]
    head = [
        TYPST_PREAMBLE,
        f"#set document(title: {title}, date: none)",
        f"#let mark = {_MARK if document.simulated else '[]'}",
        _PREAMBLE,
        f"#set page(header: running-head({title}), footer: running-foot)",
        f'#text(size: 20pt, weight: "bold", {title})',
        f"#text(size: 10pt, fill: quiet, {typst_string(document.subtitle)}) #h(1fr) #mark",
        "#outline(depth: 1, title: none)",
    ]
    return "\n\n".join([*head, *body]) + "\n"


def _heading(block: Heading, number: int, folder: Path) -> str:
    return f"#heading(level: {block.level}, {typst_string(block.text)})"


def _text(block: Text, number: int, folder: Path) -> str:
    return f"#par({typst_string(block.text)})"


def _note(block: Note, number: int, folder: Path) -> str:
    colour = "quiet" if block.kind == "note" else "warn"
    return f"#boxed({typst_string(_NOTE_WORDS[block.kind])}, {colour}, {typst_string(block.text)})"


def _head(column: Column) -> str:
    title = symbol_typst(column.symbol) if column.symbol else f"#{typst_string(column.title)}"
    return (
        f'[{title} \\ #text(weight: "regular", {typst_string(unit_text(column.unit))})]'
        if column.unit
        else f"[{title}]"
    )


def _table(block: Table, number: int, folder: Path) -> str:
    longest = [max([len(c.title), *(len(r[i]) for r in block.rows)]) for i, c in enumerate(block.columns)]
    widths = ", ".join(
        "1fr" if c.align == "left" and w > 22 else "auto" for c, w in zip(block.columns, longest, strict=True)
    )
    aligns = ", ".join(f"{c.align} + bottom" if c.align == "right" else "left + top" for c in block.columns)
    aligns = aligns.replace(" + bottom", " + top")
    heads = ", ".join(_head(c) for c in block.columns)
    cells = ", ".join(typst_string(v) for row in block.rows for v in row)
    notes = ", ".join(typst_string(n) for n in block.footnotes)
    size = "6.6pt" if len(block.columns) > WIDE else "7.6pt"
    return (
        f"#data({typst_string(block.caption)}, ({widths},), ({aligns},), ({heads},), {size}, "
        f"({notes}{',' if notes else ''}), {cells})"
    )


def _figure(block: Figure, number: int, folder: Path) -> str:
    name = f"figure-{number}.svg"
    (folder / name).write_text(block.svg, encoding="utf-8")
    return (
        f"#figure(image({typst_string(name)}, width: {block.width}%, alt: {typst_string(block.alt)}), "
        f"caption: {typst_string(block.caption)}, supplement: none, numbering: none)"
    )


def _sheet(block: SheetBlock, number: int, folder: Path) -> str:
    return sheet_typst(block.sheet, sources=block.sources, citation=block.citation, system=block.system)


_RENDER: dict[type, Callable[[Any, int, Path], str]] = {
    Heading: _heading,
    Text: _text,
    Note: _note,
    Table: _table,
    Figure: _figure,
    SheetBlock: _sheet,
}
