"""The report as HTML and PDF: complete, tagged, the same bytes twice, and the numbers of the JSON results in it."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from cracktie.reduced import Reduced
from cracktie.report.blocks import Block, Column, Document, Figure, Heading, Note, Table, Text
from cracktie.report.document import build
from cracktie.report.html import html_text, unique_ids
from cracktie.report.pdf import pdf_bytes, typst_source

EMPTY = Reduced("nothing tested", {})
VOID = {"meta", "br", "wbr", "use", "path", "rect", "line", "polygon", "polyline", "circle", "mspace", "ellipse"}


class Outline(HTMLParser):
    """Ids, links, headings and outside resources of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.levels: list[int] = []
        self.names: list[str] = []
        self.outside: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.tags.append(tag)
        if given.get("id"):
            self.ids.append(str(given["id"]))
        if tag == "a":
            self.links.append(str(given.get("href")))
        if re.fullmatch("h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if given.get("role") == "img" and given.get("aria-hidden") != "true":
            self.names.append(given.get("aria-label") or "")
        for name in ("src", "href", "xlink:href", "action"):
            target = given.get(name) or ""
            if target and not target.startswith("#"):
                self.outside.append(target)


@pytest.fixture
def small(one_beam: Any) -> Document:
    campaign, prediction = one_beam
    return build(campaign, prediction, EMPTY, None)


def texts(pdf: bytes | Path) -> list[str]:
    import io

    import pypdf

    reader = pypdf.PdfReader(io.BytesIO(pdf) if isinstance(pdf, bytes) else pdf)
    return [page.extract_text() for page in reader.pages]


def check_page(text: str) -> None:
    page = Outline(text)
    assert len(page.ids) == len(set(page.ids))
    assert all(link.removeprefix("#") in page.ids for link in page.links)
    assert page.levels[0] == 1
    assert all(after - before <= 1 for before, after in zip(page.levels, page.levels[1:], strict=False))
    assert page.names
    assert all(name.strip() for name in page.names)
    assert page.outside == []
    assert "script" not in page.tags
    assert {"header", "nav", "main", "footer"} <= set(page.tags)
    assert "url(http" not in text
    assert "@import" not in text


def test_a_small_page_is_complete(small: Document) -> None:
    text = html_text(small)
    check_page(text)
    assert 'lang="en"' in text
    assert "SIMULATED" not in text


def test_same_document_same_bytes(small: Document, one_beam: Any) -> None:
    campaign, prediction = one_beam
    again = build(campaign, prediction, EMPTY, None)
    assert html_text(small) == html_text(again)
    assert pdf_bytes(small) == pdf_bytes(again)


def test_one_changed_input_changes_both_pages_and_the_picture(small: Document, t_beam: Any, materials: Any) -> None:
    from cracktie import actions

    wrap = t_beam.spans["A"].wrap.model_copy(update={"width": 70.0})
    span = t_beam.spans["A"].model_copy(update={"wrap": wrap})
    wider = t_beam.model_copy(update={"spans": {**t_beam.spans, "A": span}})
    campaign = actions.single_beam(wider, materials)
    other = build(campaign, actions.predict(campaign), EMPTY, None)
    assert html_text(small) != html_text(other)
    assert pdf_bytes(small) != pdf_bytes(other)
    pictures = [[b.svg for b in d.blocks if isinstance(b, Figure)] for d in (small, other)]
    assert pictures[0][0] != pictures[1][0]


def test_typst_has_nothing_to_warn_of(small: Document, tmp_path: Path) -> None:
    import typst

    from cracktie.draw.pdf import font_folders

    source = tmp_path / "report.typ"
    source.write_text(typst_source(small, tmp_path), encoding="utf-8")
    fonts: list[Any] = list(font_folders())
    _, warnings = typst.compile_with_warnings(str(source), format="pdf", font_paths=fonts, ignore_system_fonts=True)
    assert [w.message for w in warnings] == []


def test_text_of_the_user_cannot_break_out(small: Document) -> None:
    nasty = '<b>&"#strong[x] $y$ */ \\ `'
    document = Document(nasty, nasty, (*small.blocks[:1], Note(nasty), Heading(nasty, 1, "x")))
    text = html_text(document)
    assert "<b>" not in text
    assert "&lt;b&gt;" in text
    (page,) = texts(pdf_bytes(document))
    assert page.count("#strong[x] $y$ */") == 4  # title, subtitle, note, heading


def test_ids_of_a_picture_get_a_prefix() -> None:
    svg = '<svg aria-labelledby="t d"><title id="t"/><desc id="d"/><use xlink:href="#m"/><g clip-path="url(#c)"/></svg>'
    assert unique_ids(svg, "f1") == (
        '<svg aria-labelledby="f1-t f1-d"><title id="f1-t"/><desc id="f1-d"/><use xlink:href="#f1-m"/>'
        '<g clip-path="url(#f1-c)"/></svg>'
    )


# --- the demo -----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_demo_page_is_complete(out: Path) -> None:
    text = (out / "report.html").read_text(encoding="utf-8")
    check_page(text)
    assert "SIMULATED DATA" in text
    assert "In short" in text


@pytest.fixture(scope="module")
def demo_pages(out: Path) -> list[str]:
    return texts(out / "report.pdf")


def claims_pdf_a(reader: Any) -> bool:
    """PDF/A-2b as ISO 19005-2, 6.6.4 wants it said in the metadata."""
    said = reader.trailer["/Root"]["/Metadata"].get_object().get_data().decode()
    return "<pdfaid:part>2<" in said and "<pdfaid:conformance>B<" in said


@pytest.mark.parametrize("meta", [{"date": "2026-02-03"}, {}])
def test_pdf_a_needs_a_date(meta: dict[str, str]) -> None:
    import pypdf

    made = pdf_bytes(Document("T", "", (Heading("H"), Text("plain")), meta=meta))
    assert claims_pdf_a(pypdf.PdfReader(io.BytesIO(made))) is ("date" in meta)


@pytest.mark.slow
def test_the_demo_pdf(out: Path, demo_run: Any, demo_document: Document, demo_pages: list[str]) -> None:
    import pypdf

    reader, pages = pypdf.PdfReader(out / "report.pdf"), demo_pages
    assert 15 <= len(pages) <= 40
    root: Any = reader.trailer["/Root"]
    assert reader.metadata is not None
    assert reader.metadata.title == demo_run.campaign.head.title
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert claims_pdf_a(reader)
    assert reader.metadata.creation_date is not None
    last = max(t.date for t in demo_run.campaign.tests.values() if t.date)
    assert reader.metadata.creation_date.date().isoformat() == last
    for number, page in enumerate(pages, 1):
        assert f"{number} / {len(pages)}" in page, number
        assert "Checking by a licensed engineer" in page, number
        assert "SIMULATED DATA" in page, number
    whole = "\n".join(pages)
    for test in demo_run.reduced.tests.values():
        assert f"{test.value('V_max') / 1e3:.1f}" in whole, test.test
    chapters = [b.text for b in demo_document.blocks if isinstance(b, Heading) and b.level == 1]
    links = [a for p in reader.pages[:2] for a in p.get("/Annots", []) if a.get_object().get("/Subtype") == "/Link"]
    assert len(links) >= len(chapters)


def last_lines(pages: list[str]) -> list[str]:
    """The last line of each page above its foot."""
    found = []
    for page in pages:
        lines = [line.strip() for line in page.splitlines() if line.strip()]
        body = [x for x in lines if not x.startswith("Checking by") and not re.search(r"\d+ / \d+$", x)]
        found.append(body[-1])
    return found


def test_headings_and_captions_stay_with_what_they_introduce() -> None:
    """Chapters of many lengths, so that some page would end at a heading, a lead or a caption if it could."""
    blocks: list[Block] = []
    column = (Column("a"), Column("b"))
    for i in range(30):
        blocks += [Heading(f"Heading {i}", 2, f"h{i}"), Text(f"Lead {i}")]
        blocks.append(Table(f"Caption {i}", column, tuple((str(n), "x") for n in range(3 + i % 7)), number=i))
        blocks += [Text(f"Filler {n}") for n in range(i % 4)]
    pages = texts(pdf_bytes(Document("Made for tests", "", tuple(blocks))))
    assert len(pages) > 5
    assert not [x for x in last_lines(pages) if x.startswith(("Heading", "Lead", "Table", "a b", "Caption"))]


@pytest.mark.slow
def test_no_heading_stands_at_the_foot_of_a_page(demo_pages: list[str], demo_document: Document) -> None:
    headings = {b.text for b in demo_document.blocks if isinstance(b, Heading)}
    captions = tuple(f"Table {b.number}." for b in demo_document.blocks if isinstance(b, Table))
    assert not [x for x in last_lines(demo_pages) if x in headings or x.startswith(captions)]


@pytest.mark.slow
def test_typst_has_nothing_to_warn_of_in_the_demo(demo_document: Document, tmp_path: Path) -> None:
    test_typst_has_nothing_to_warn_of(demo_document, tmp_path)


@pytest.mark.slow
def test_numbers_of_the_report_are_those_of_the_results(out: Path, demo_document: Document) -> None:
    tables = {b.caption.split(" (")[0]: b for b in demo_document.blocks if isinstance(b, Table)}
    reduced = json.loads((out / "reduced.json").read_text(encoding="utf-8"))
    results = tables["Results"]
    at = [c.symbol or c.title for c in results.columns]
    for test in reduced["tests"]:
        row = next(r for r in results.rows if r[0] == test["test"])
        values = {v["quantity"]: v["value"] for v in test["values"]}
        sign = "≥ " if test["lower_bound"] else ""
        assert row[at.index("V_max")] == f"{sign}{values['V_max'] / 1e3:.1f}"
        if "eps_f_max" in values:
            assert row[at.index("greatest fibre strain")] == f"{values['eps_f_max'] * 1e6:.0f}"
    compared = json.loads((out / "comparison.json").read_text(encoding="utf-8"))
    gains = tables["Gains over the declared references"]
    assert len(gains.rows) == len(compared["gains"])
    for row, gain in zip(gains.rows, compared["gains"], strict=True):
        assert row[3].removeprefix("≥ ") == f"{gain['ratio']['value']:.2f}"
        assert row[4].startswith(f"{gain['ratio']['low']:.2f} to ")


@pytest.mark.slow
def test_pictures_of_simulated_logs_say_so(demo_document: Document, demo_run: Any) -> None:
    """The letters are outlines, each text with its wording as a comment; drawings are not data and carry no stamp."""
    figures = [b for b in demo_document.blocks if isinstance(b, Figure)]
    data = [f for f in figures if "elevation" not in f.caption and "section" not in f.caption]
    assert len(data) >= 4
    assert len(figures) > len(data)
    for figure in data:
        assert "<!-- SIMULATED DATA -->" in figure.svg
    assert not any("SIMULATED" in f.svg for f in figures if f not in data)


@pytest.mark.slow
def test_a_second_process_writes_the_same_bytes(out: Path, tmp_path: Path) -> None:
    """Another hash seed, another folder, everything computed anew."""
    copy = tmp_path / "elsewhere"
    shutil.copytree(out.parent, copy, ignore=shutil.ignore_patterns("out"))
    code = f"from cracktie import actions; actions.run({str(copy)!r}, fresh=True, simulated_ok=True)"
    subprocess.run([sys.executable, "-c", code], check=True, env={**os.environ, "PYTHONHASHSEED": "7"})
    for name in ("report.html", "report.pdf"):
        assert (copy / "out" / name).read_bytes() == (out / name).read_bytes(), name
