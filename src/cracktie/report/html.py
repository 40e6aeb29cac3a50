"""The report as one self-contained HTML file: no script, no outside resource, light, dark and printed."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

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
from cracktie.report.mathematics import symbol_mathml
from cracktie.report.numbers import unit_text
from cracktie.report.prose import html_prose
from cracktie.report.sheet import SHEET_CSS, sheet_html

FOOTER = "Checking by a licensed engineer under the local code stays necessary."
"""Last line of the page and of every printed page."""

_NOTE_WORDS = {"caution": "Caution", "simulated": "Not real", "note": "Note"}

DENSE = 11
"""Tables with more columns than this are set closer."""

CSS = """
:root { color-scheme: light dark; --paper: #fdfdfb; --ink: #1d2b33; --quiet: #5c6b73; --rule: #cfd6d9;
  --shade: #f0f3f2; --warn: #8a3d1c; --plate: #ffffff; }
@media (prefers-color-scheme: dark) { :root { --paper: #14191c; --ink: #e3e8ea; --quiet: #9fb0b8; --rule: #3a464c;
  --shade: #1d2529; --warn: #f0a27c; --plate: #f6f7f6; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 16px/1.55 "Source Sans 3", "Segoe UI", Roboto,
  "Helvetica Neue", "DejaVu Sans", sans-serif; }
.skip { position: absolute; left: .5rem; top: -6rem; z-index: 3; background: var(--paper); padding: .5rem .9rem;
  border: 2px solid currentColor; }
.skip:focus { top: .5rem; }
header, main, footer { max-width: 62rem; margin: 0 auto; padding: 0 1.4rem; }
header { padding-top: 2.2rem; }
main:focus, h2:focus { outline: none; }
footer { padding-block: 1rem 3rem; color: var(--quiet); font-size: .9rem; }
header h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 .3rem; }
header p { margin: 0; color: var(--quiet); }
nav { margin: 1.2rem 0 0; padding: .7rem 0; border-block: 1px solid var(--rule); display: flex; flex-wrap: wrap;
  gap: .3rem 1.4rem; }
a { color: inherit; text-underline-offset: .2em; }
a:focus-visible { outline: 2px solid currentColor; outline-offset: 3px; }
h2 { font-size: 1.4rem; scroll-margin-top: 2rem; margin: 3rem 0 .8rem;
  padding-top: .6rem; border-top: 2px solid var(--ink); }
h3 { font-size: 1.08rem; margin: 2rem 0 .5rem; }
p { max-width: 46rem; }
.note { border: 1px solid var(--rule); border-left: 5px solid var(--quiet); background: var(--shade);
  padding: .6rem .9rem; margin: .8rem 0; max-width: 52rem; }
.note strong { margin-right: .4em; }
.note.caution { border-left-color: var(--warn); }
.note.simulated { border: 2px solid var(--warn); color: var(--warn); font-weight: 600; }
.points ul { margin: .4rem 0; padding-left: 1.2rem; max-width: 54rem; }
.points li { margin: .25rem 0; }
.points.box { border: 1px solid var(--rule); border-top: 3px solid var(--ink); padding: .8rem 1rem .5rem;
  margin: 1.2rem 0; max-width: 58rem; }
.wide { overflow-x: auto; margin: 0 0 .5rem; }
.wide:focus-visible, .plate:focus-visible { outline: 2px solid currentColor; }
table { border-collapse: collapse; font-size: .9rem; font-variant-numeric: tabular-nums; }
.caption { font-size: .9rem; font-weight: 600; margin: 1.4rem 0 .3rem; max-width: 58rem; break-after: avoid; }
table.dense { font-size: .82rem; }
table.dense th, table.dense td { padding-right: .5rem; }
th, td { padding: .3rem .75rem .3rem 0; vertical-align: top; border-bottom: 1px solid var(--rule); text-align: left; }
thead th { border-bottom: 2px solid var(--ink); vertical-align: bottom; font-weight: 600; }
th.right, td.right { text-align: right; white-space: nowrap; }
td.left, thead th.left { white-space: nowrap; }
td.prose { min-width: 8rem; }
.count { color: var(--quiet); font-weight: 400; }
tbody th { font-weight: 600; white-space: nowrap; }
tbody th.prose { white-space: normal; min-width: 9rem; }
th .unit { display: block; font-weight: 400; color: var(--quiet); }
.foot { font-size: .85rem; color: var(--quiet); margin: .35rem 0 0; max-width: 58rem; }
figure { margin: 1.4rem 0; break-inside: avoid; }
figure .plate { background: var(--plate); padding: .5rem; border: 1px solid var(--rule); overflow-x: auto; }
figure svg { display: block; width: 100%; min-width: 32rem; height: auto; }
figcaption { font-size: .9rem; color: var(--quiet); margin-top: .35rem; max-width: 52rem; }
.pair { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(24rem, 100%), 1fr)); gap: 0 1.4rem; }
main .calculation tbody td, main .calculation tbody th { padding: .2rem .6rem; }
main .calculation td.place { min-width: 8rem; overflow-wrap: break-word; }
.mark { position: sticky; top: 0; z-index: 2; background: var(--warn); color: var(--paper); text-align: center;
  font-weight: 700; letter-spacing: .06em; padding: .25rem; }
@media print {
  :root { --paper: #fff; --ink: #000; --quiet: #444; --rule: #bbb; --shade: #f4f4f4; --warn: #8a3d1c; --plate: #fff; }
  @page { size: A4; margin: 16mm 14mm; }
  html, body { font-size: 9.5pt; }
  header, main, footer { max-width: none; padding: 0; } nav, .skip { display: none; }
  .mark { position: static; background: none; color: var(--warn); border: 1px solid var(--warn); }
  .wide, .plate, .calculation .scroll, .calculation .line { overflow: visible; }
  figure svg { min-width: 0; } figure.part svg { width: auto; max-width: 100%; max-height: 100mm; margin: 0 auto; }
  h2, h3, h4, h2 + p, h3 + p, .calculation p { break-after: avoid; } .note, .points.box { break-inside: avoid; }
  table { font-size: 7pt; } tr { break-inside: avoid; } th, td { padding: .15rem .5rem .15rem 0; }
  td.prose { min-width: 0; } td.left, thead th.left { white-space: normal; } thead { display: table-header-group; }
}
"""


def write_html(document: Document, path: Path) -> Path:
    """Write the report; returns its path. Raises `FileTrouble` where the file cannot be written."""
    from cracktie.campaign.write import write_text

    write_text(path, html_text(document))
    return path


def html_text(document: Document) -> str:
    """The whole page as text; the same document gives the same text."""
    title = html.escape(document.title)
    chapters = [b for b in document.blocks if isinstance(b, Heading) and b.level == 1]
    links = "".join(f'<a href="#{c.anchor}">{html.escape(c.text)}</a>' for c in chapters)
    mark = '<div class="mark" role="note">SIMULATED DATA</div>' if document.simulated else ""
    body = "\n".join(_render_all(document))
    return (
        f'<!DOCTYPE html>\n<html lang="{document.language}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{CSS}{SHEET_CSS}</style>\n</head>\n<body>\n"
        f'<a class="skip" href="#content">Skip to the content</a>\n{mark}'
        f"<header><h1>{title}</h1><p>{html.escape(document.subtitle)}</p>"
        f'<nav aria-label="Chapters">{links}</nav></header>\n<main id="content" tabindex="-1">\n{body}\n</main>\n'
        f"<footer><p>{html.escape(FOOTER)}</p></footer>\n</body>\n</html>\n"
    )


def _render_all(document: Document) -> list[str]:
    out: list[str] = []
    pair: list[str] = []
    chapter = False
    for number, block in enumerate(document.blocks):
        if isinstance(block, Figure) and block.width <= 50:
            pair.append(_figure(block, number))
            continue
        if pair:
            out.append(f'<div class="pair">{"".join(pair)}</div>')
            pair = []
        if isinstance(block, Heading) and block.level == 1:
            out.append(f'{"</section>" if chapter else ""}<section aria-labelledby="{block.anchor}">')
            chapter = True
        out.append(_RENDER[type(block)](block, number))
    if pair:
        out.append(f'<div class="pair">{"".join(pair)}</div>')
    if chapter:
        out.append("</section>")
    return out


def _heading(block: Heading, number: int) -> str:
    anchor = f' id="{block.anchor}" tabindex="-1"' if block.anchor else ""
    return f"<h{block.level + 1}{anchor}>{html.escape(block.text)}</h{block.level + 1}>"


def _text(block: Text, number: int) -> str:
    return f"<p>{html_prose(block.text)}</p>"


def _points(block: Points, number: int) -> str:
    items = "".join(f"<li>{html_prose(item)}</li>" for item in block.items)
    title = f"<strong>{html.escape(block.title)}</strong>" if block.title else ""
    return f'<div class="points{" box" if block.box else ""}">{title}<ul>{items}</ul></div>'


def _note(block: Note, number: int) -> str:
    word = _NOTE_WORDS[block.kind]
    return f'<div class="note {block.kind}" role="note"><strong>{word}.</strong>{html_prose(block.text)}</div>'


def _contents(block: Contents, number: int) -> str:
    return ""  # the page lists its chapters in its head


def _head(column: Column) -> str:
    title = symbol_mathml(column.symbol) if column.symbol else "<br>".join(html_prose(line) for line in column.lines)
    unit = f'<span class="unit">{html.escape(unit_text(column.unit))}</span>' if column.unit else ""
    return f'<th scope="col" class="{column.align}">{title}{unit}</th>'


def _cell(column: Column, text: str) -> str:
    if column.prose:
        return f'<td class="prose">{html_prose(text)}</td>'
    return f'<td class="{column.align}">{html.escape(text)}</td>'


def _first(column: Column, text: str) -> str:
    if column.prose:
        return f'<th scope="row" class="prose">{html_prose(text)}</th>'
    return f'<th scope="row">{html.escape(text)}</th>'


def _table(block: Table, number: int) -> str:
    heads = "".join(_head(c) for c in block.columns)
    rows = []
    for row in block.rows:
        cells = [_first(block.columns[0], row[0])]
        cells += [_cell(c, v) for c, v in zip(block.columns[1:], row[1:], strict=True)]
        rows.append(f"<tr>{''.join(cells)}</tr>")
    foot = "".join(f'<p class="foot">{html_prose(f)}</p>' for f in block.footnotes)
    name = f"table-{block.number}"
    dense = ' class="dense"' if len(block.columns) > DENSE else ""
    return (
        f'<p class="caption" id="{name}"><span class="count">Table {block.number}.</span> '
        f"{html_prose(block.caption)}</p>"
        f'<div class="wide" tabindex="0" role="region" aria-labelledby="{name}">'
        f'<table{dense} aria-labelledby="{name}">'
        f"<thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>{foot}"
    )


def _figure(block: Figure, number: int) -> str:
    picture = unique_ids(block.svg, f"f{number}").replace("<svg", '<svg focusable="false" aria-hidden="true"', 1)
    whole = block.width in (100, 50)
    width = "" if whole else f' class="part" style="max-width:{0.6 * block.width:.0f}rem"'
    label = html.escape(block.alt, quote=True)
    return (
        f'<figure{width}><div class="plate" tabindex="0" role="region" aria-label="Figure {block.number}">'
        f'<div role="img" aria-label="{label}">{picture}</div></div>'
        f'<figcaption><span class="count">Figure {block.number}.</span> {html_prose(block.caption)}'
        "</figcaption></figure>"
    )


def unique_ids(svg: str, prefix: str) -> str:
    """SVG text whose ids and references to them carry a prefix, so that many pictures share one page."""
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{prefix}-\1"', svg)
    svg = re.sub(r'(href|xlink:href)="#([^"]+)"', rf'\1="#{prefix}-\2"', svg)
    svg = re.sub(r'aria-labelledby="([^"]+)"', lambda m: 'aria-labelledby="' + " ".join(
        f"{prefix}-{name}" for name in m[1].split()) + '"', svg)  # fmt: skip
    return re.sub(r"url\(#([^)]+)\)", rf"url(#{prefix}-\1)", svg)


def _sheet(block: SheetBlock, number: int) -> str:
    return sheet_html(block.sheet, sources=block.sources, citation=block.citation, system=block.system, level=4)


_RENDER: dict[type, Callable[[Any, int], str]] = {
    Heading: _heading,
    Text: _text,
    Points: _points,
    Note: _note,
    Contents: _contents,
    Table: _table,
    Figure: _figure,
    SheetBlock: _sheet,
}
