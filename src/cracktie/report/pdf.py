"""The report as a PDF set by typst: tagged, PDF/A, A4, contents, page numbers, same bytes for the same document."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cracktie.draw.pdf import font_folders
from cracktie.report.blocks import (
    Column,
    Contents,
    Document,
    Figure,
    Heading,
    Note,
    Points,
    SheetBlock,
    Table,
    Text,
)
from cracktie.report.mathematics import symbol_typst
from cracktie.report.notation import typst_string
from cracktie.report.numbers import unit_text
from cracktie.report.prose import typst_prose
from cracktie.report.sheet import TYPST_PREAMBLE, sheet_typst

_NOTE_WORDS = {"caution": "Caution.", "simulated": "Not real.", "note": "Note."}
WIDE = 9
"""Tables with more columns than this are set in smaller type."""
WHOLE = 30
"""Tables up to this many rows are kept on one page."""

_MARK = 'text(fill: rgb("#8a3d1c"), weight: "bold")[SIMULATED DATA]'
_PREAMBLE = """
#let ink = rgb("#1d2b33")
#let quiet = rgb("#5c6b73")
#let warn = rgb("#8a3d1c")
#set page(paper: "a4", margin: (x: 20mm, top: 19mm, bottom: 17mm), header-ascent: 25%, footer-descent: 25%)
#let running-head(title) = context {
  if counter(page).get().first() > 1 { text(size: 7.5pt, fill: quiet, title); h(1fr); text(size: 7.5pt, mark) }
}
#let running-foot = context {
  text(size: 7.5pt, fill: quiet)[Checking by a licensed engineer under the local code stays necessary.]
  h(1fr)
  text(size: 8pt, counter(page).display("1 / 1", both: true))
}
#set text(font: "DejaVu Sans", size: 8.8pt, fill: ink, lang: "en")
#set par(leading: 0.6em, spacing: 0.95em, justify: false)
#set list(indent: 0.2em, spacing: 0.65em)
#show heading.where(level: 1): it => block(above: 2em, below: 0.9em, sticky: true, width: 100%,
  stroke: (top: 1pt + ink), inset: (top: 6pt), text(size: 14pt, it.body))
#show heading.where(level: 2): it => block(above: 1.5em, below: 0.8em, sticky: true, text(size: 10.5pt, it.body))
#show heading.where(level: 3): it => block(above: 1.3em, below: 0.6em, sticky: true, text(size: 9.2pt, it.body))
#show outline.entry.where(level: 1): it => block(above: 0.65em, strong(it))
#show figure: set block(breakable: false, above: 1.2em, below: 1.2em)
#show figure.caption: it => align(left, text(size: 8pt, fill: quiet, it.body))
#set figure(gap: 0.5em)
#set table(stroke: none, inset: (x: 3pt, y: 2.7pt))
#let boxed(word, colour, body) = block(width: 100%, inset: 7pt, stroke: (left: 2.5pt + colour, rest: 0.4pt + luma(200)),
  fill: luma(247), spacing: 0.9em, breakable: false, [#strong(word) #body])
#let points(title, framed, ..items) = block(width: 100%, spacing: 1em, breakable: false,
  inset: if framed { 8pt } else { 0pt }, stroke: if framed { (top: 1.5pt + ink, rest: 0.4pt + luma(170)) }, {
    if title != "" { block(below: 0.7em, strong(title)) }
    list(..items)
  })
#let data(caption, columns, aligns, heads, size, whole, notes, ..cells) = block(breakable: not whole, width: 100%,
  above: 1.3em, below: 1.1em, {
    block(above: 0pt, below: 0.5em, sticky: true, strong(text(size: 8.6pt, caption)))
    { set text(size: size)
      set par(justify: false, leading: 0.5em)
      show table.cell.where(y: 0): strong
      table(columns: columns, align: aligns, table.hline(stroke: 0.8pt + ink), table.header(..heads),
        table.hline(stroke: 0.5pt + ink), ..cells, table.hline(stroke: 0.5pt + ink)) }
    for note in notes { block(spacing: 0.5em, text(size: 7.3pt, fill: quiet, note)) }
  })
#let calculation-table(widths, heads, ..cells) = {
  set text(size: 7.6pt)
  set par(leading: 0.45em)
  set table.cell(breakable: false)
  let rows = cells.pos().len() / heads.len()
  block(breakable: rows > if heads.at(0) == "Input" { 24 } else { 8 }, below: 0.8em, table(columns: widths,
    stroke: (x: none, y: 0.3pt + gray), inset: (x: 3pt, y: 2.2pt), align: left + horizon,
    table.header(..heads.map(strong)), ..cells))
}
"""


def write_pdf(document: Document, path: Path) -> Path:
    """Write the report; returns its path. Raises `FileTrouble` where the file cannot be written."""
    from cracktie.campaign.write import write_bytes

    write_bytes(path, pdf_bytes(document))
    return path


def pdf_bytes(document: Document) -> bytes:
    """The report as tagged PDF; no clock and no name of this machine goes in.

    PDF/A-2b (ISO 19005-2) where the document has a date, which it demands; otherwise plain PDF.
    """
    import typst

    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder, "report.typ")
        source.write_text(typst_source(document, Path(folder)), encoding="utf-8")
        made = typst.compile(
            str(source), format="pdf", font_paths=font_folders(), ignore_system_fonts=True,
            pdf_standards=["a-2b"] if "date" in document.meta else [],
        )  # fmt: skip
    return bytes(made)


def _date(document: Document) -> str:
    if "date" not in document.meta:
        return "none"
    year, month, day = (int(n) for n in document.meta["date"].split("-"))
    return f"datetime(year: {year}, month: {month}, day: {day})"


def typst_source(document: Document, folder: Path) -> str:
    """Typst source of the report; figures are written into `folder` as SVG files beside it."""
    title = typst_string(document.title)
    body = [
        _kept(b, i, folder) if _leads(document, i) else _RENDER[type(b)](b, i, folder)
        for i, b in enumerate(document.blocks)
    ]
    head = [
        TYPST_PREAMBLE,
        f"#set document(title: {title}, date: {_date(document)})",
        f"#let mark = {_MARK if document.simulated else '[]'}",
        _PREAMBLE,
        f"#set page(header: running-head({title}), footer: running-foot)",
        f'#text(size: 18pt, weight: "bold", {title})',
        f"#text(size: 10pt, fill: quiet, {typst_string(document.subtitle)}) #h(1fr) #mark",
    ]
    return "\n\n".join([*head, *body]) + "\n"


def _heading(block: Heading, number: int, folder: Path) -> str:
    return f"#heading(level: {block.level}, {typst_string(block.text)})"


def _text(block: Text, number: int, folder: Path) -> str:
    return f"#par[{typst_prose(block.text)}]"


def _leads(document: Document, i: int) -> bool:
    """Whether a block must stay with the next one: text under a heading, a list before a sheet, two drawings."""
    block, after = document.blocks[i], document.blocks[i + 1 : i + 2]
    if isinstance(block, Text):
        return i > 0 and isinstance(document.blocks[i - 1], Heading)
    if isinstance(block, Figure) and block.width < 100:
        return bool(after) and isinstance(after[0], Figure) and after[0].width == block.width
    return isinstance(block, Points) and bool(after) and isinstance(after[0], SheetBlock)


def _kept(block: Any, number: int, folder: Path) -> str:
    return f"#block(sticky: true, width: 100%)[{_RENDER[type(block)](block, number, folder)}]"


def _points(block: Points, number: int, folder: Path) -> str:
    items = ", ".join(f"[{typst_prose(item)}]" for item in block.items)
    return f"#points({typst_string(block.title)}, {'true' if block.box else 'false'}, {items})"


def _note(block: Note, number: int, folder: Path) -> str:
    colour = "quiet" if block.kind == "note" else "warn"
    return f"#boxed({typst_string(_NOTE_WORDS[block.kind])}, {colour}, [{typst_prose(block.text)}])"


def _contents(block: Contents, number: int, folder: Path) -> str:
    return '#block(above: 1.4em, below: 0.4em, sticky: true, strong("Contents"))\n#outline(depth: 2, title: none)'


def _head(column: Column) -> str:
    lines = [symbol_typst(column.symbol)] if column.symbol else [typst_prose(line) for line in column.lines]
    if column.unit:
        lines.append(f'#text(weight: "regular", {typst_string(unit_text(column.unit))})')
    return "[" + " \\ ".join(lines) + "]"


def _table(block: Table, number: int, folder: Path) -> str:
    widths = ", ".join(_width(block, i) for i in range(len(block.columns)))
    aligns = ", ".join(f"{c.align} + top" for c in block.columns)
    heads = ", ".join(_head(c) for c in block.columns)
    cells = ", ".join(
        f"[{typst_prose(v)}]" if c.prose else typst_string(v)
        for row in block.rows
        for c, v in zip(block.columns, row, strict=True)
    )
    notes = ", ".join(f"[{typst_prose(n)}]" for n in block.footnotes)
    size = "6.6pt" if len(block.columns) > WIDE else "7.4pt"
    whole = "true" if len(block.rows) <= WHOLE else "false"
    return (
        f"#data([Table {block.number}. {typst_prose(block.caption)}], ({widths},), ({aligns},), ({heads},), {size}, "
        f"{whole}, ({notes}{',' if notes else ''}), {cells})"
    )


def _width(block: Table, i: int) -> str:
    """A column of sentences shares the free width by its longest entry; any other is as wide as its longest line."""
    longest = max((len(row[i]) for row in block.rows), default=0)
    word = max((len(word) for row in block.rows for word in row[i].split()), default=0)
    return f"{max(min(longest, 60), 2 * word)}fr" if block.columns[i].prose and longest > 16 else "auto"


def _figure(block: Figure, number: int, folder: Path) -> str:
    name = f"figure-{number}.svg"
    (folder / name).write_text(block.svg, encoding="utf-8")
    return (
        f"#figure(image({typst_string(name)}, width: {block.width}%, alt: {typst_string(block.alt)}), "
        f"caption: [Figure {block.number}. {typst_prose(block.caption)}], supplement: none, numbering: none)"
    )


def _sheet(block: SheetBlock, number: int, folder: Path) -> str:
    return sheet_typst(block.sheet, sources=block.sources, citation=block.citation, system=block.system)


_RENDER: dict[type, Callable[[Any, int, Path], str]] = {
    Heading: _heading,
    Text: _text,
    Points: _points,
    Note: _note,
    Contents: _contents,
    Table: _table,
    Figure: _figure,
    SheetBlock: _sheet,
}
