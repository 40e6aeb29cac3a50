"""Calculation sheets as HTML and typst: complete, escaped, and printable without anything cut off."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest

from cracktie.clause import Status
from cracktie.expression import Call
from cracktie.report.sheet import SHEET_CSS, STATUS_WORDS, TYPST_PREAMBLE, sheet_html, sheet_typst
from cracktie.trace import CalculationSheet, Section, trace_model

from ..models.tiny import TINY

CASE = {
    "f_c": 30.0,
    "n": 2,
    "t_f": 0.167,
    "E_f": 230e3,
    "eps_fu": 0.0155,
    "beta": 45.0,
    "theta": 45.0,
    "d_fv": 230.0,
    "scheme": "u",
}


class Page(HTMLParser):
    """Plain text of the page, rows of its tables, and a check that every tag is closed."""

    def __init__(self, source: str):
        super().__init__()
        self.open: list[str] = []
        self.rows: list[str] = []
        self.text = ""
        self.feed(source)
        assert not self.open, f"not closed: {self.open}"

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        if tag not in ("wbr",):
            self.open.append(tag)
        if tag == "tr":
            self.rows.append("")

    def handle_startendtag(self, tag: str, attrs: Any) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data
        if "tr" in self.open:
            self.rows[-1] += data


def traced(**changes: Any) -> CalculationSheet:
    return trace_model(TINY, {**CASE, **changes})


def with_wide_formula() -> CalculationSheet:
    """The sheet with one step more: the greatest of twenty minima, which has no place to break."""
    sheet = traced()
    product = next(r.formula for r in sheet.rows if r.name == "eps_fe")
    assert product is not None
    row = replace(sheet.rows[0], formula=Call("max", (product,) * 20))
    return replace(sheet, rows=(row, *sheet.rows))


def test_one_table_row_a_step_and_an_input() -> None:
    sheet = traced()
    page = Page(sheet_html(sheet))
    assert len(page.rows) == 1 + len(sheet.inputs) + 1 + len(sheet.rows)
    steps = page.rows[-len(sheet.rows) :]
    assert steps[0].startswith("Le= 23300(ntfEf)0.58 = 23300(2⋅0.167⋅230000)0.58= 34.18")
    assert steps[0].endswith("mm(1)")
    assert steps[-1].startswith("Vf")
    assert "kN" in steps[-1]


def test_heading_names_source_status_and_model() -> None:
    text = Page(sheet_html(traced(), citation="A document nobody wrote")).text
    assert "Test model without meaning" in text
    assert "Source: A document nobody wrote, no document. Model local.tiny." in text
    assert "Status: own model, no published document (made for tests)." in text
    assert "Source: TINY, no document" in Page(sheet_html(traced())).text


@pytest.mark.parametrize("level", STATUS_WORDS)
def test_each_status_is_told_in_words(level: str) -> None:
    sheet = replace(traced(), status=Status(level, "how it is known"))
    for shown in (sheet_html(sheet), sheet_typst(sheet)):
        assert f"Status: {STATUS_WORDS[level]} (how it is known)." in shown


def test_recalled_coefficients_are_called_so() -> None:
    assert STATUS_WORDS["memory"] == "coefficients recalled, not compared with the document"
    assert "not compared with the document" in STATUS_WORDS["doubtful"]


def test_sources_of_inputs_stand_beside_them() -> None:
    sources = {"f_c": "materials.yaml: C1 <mean>"}
    row = next(r for r in Page(sheet_html(traced(), sources=sources)).rows if "cylinder" in r)
    assert row.startswith("fc30\xa0MPa")
    assert row.endswith("materials.yaml: C1 <mean>")
    assert '"materials.yaml: C1 <mean>"' in sheet_typst(traced(), sources=sources)


def test_exceeded_ranges_changed_coefficients_and_refusals_are_sentences() -> None:
    sheet = trace_model(TINY, {**CASE, "f_c": 55.0}, {"eps_max": 0.005})
    text = Page(sheet_html(sheet)).text
    assert "Extrapolated: fc = 55 MPa is outside the published range fc 20 to 40 MPa: range made up for tests." in text
    assert "Coefficient εmax changed: 0.005 in place of the published 0.004." in text
    refused = traced(d_fv=100.0)
    text = Page(sheet_html(refused)).text
    assert "The model does not apply: the FRP must be more than 150 mm deep; see (0)." in text
    assert "Steps" not in text
    assert "calculation-warning" in sheet_typst(refused)


def test_us_units_stand_beside_internal_ones() -> None:
    page = Page(sheet_html(traced(), system="us"))
    assert any("230\xa0mm = 9.055\xa0in" in row for row in page.rows)
    assert re.search(r"= [\d.]+\xa0kN = [\d.]+\xa0kip", page.rows[-1])


def test_sections_head_their_rows() -> None:
    sheet = traced()
    rows = tuple(replace(r, section=int(i > 2)) for i, r in enumerate(sheet.rows))
    sheet = replace(sheet, rows=rows, sections=(Section("Bond", "clause 1"), Section("Force & more")))
    page = Page(sheet_html(sheet))
    assert [r for r in page.rows if r in ("Bond (clause 1)", "Force & more")] == ["Bond (clause 1)", "Force & more"]
    assert '"Bond (clause 1)"' in sheet_typst(sheet)


def test_hostile_text_stays_text() -> None:
    bad = '<script>"x"</script> #panic("x") $ \\ ]'
    sheet = replace(traced(), title=bad, rows=tuple(replace(r, where=bad, note=bad) for r in traced().rows))
    page = sheet_html(sheet, sources={"f_c": bad}, citation=bad)
    assert "<script" not in page
    assert bad in Page(page).text
    assert _pages(sheet_typst(sheet, sources={"f_c": bad}, citation=bad))


def _pages(fragment: str, width: str = "210mm") -> int:
    typst = pytest.importorskip("typst")
    source = f"#set page(width: {width}, height: 297mm, margin: 20mm)\n#set text(size: 9.5pt)\n"
    made = typst.compile((source + TYPST_PREAMBLE + fragment).encode(), format="svg")
    return len(made) if isinstance(made, list) else 1


@pytest.mark.slow
def test_typst_sheet_compiles_on_wide_and_narrow_paper() -> None:
    assert _pages(sheet_typst(traced(), sources={"f_c": "C1"})) >= 1
    assert _pages(sheet_typst(traced()), width="105mm") > _pages(sheet_typst(traced()))


@pytest.mark.slow
def test_nothing_is_printed_beyond_the_paper() -> None:
    """Words of the PDF all begin inside the margins, also of a formula that is too wide and cannot break."""
    typst = pytest.importorskip("typst")
    pypdf = pytest.importorskip("pypdf")
    from io import BytesIO

    source = "#set page(width: 120mm, height: 297mm, margin: 10mm)\n#set text(size: 9.5pt)\n" + TYPST_PREAMBLE
    sheet = typst.compile((source + sheet_typst(with_wide_formula())).encode(), format="pdf")
    places: list[float] = []

    def visit(text: str, cm: Any, tm: Any, font: Any, size: Any) -> None:
        if text.strip():
            places.append(cm[0] * tm[4] + cm[2] * tm[5] + cm[4])

    for page in pypdf.PdfReader(BytesIO(sheet)).pages:
        page.extract_text(visitor_text=visit)
    assert len(places) > 50
    assert min(places) >= 28.0
    assert max(places) <= (120 - 10) * 72 / 25.4


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.parametrize("font", ["math", "sans-serif"])
@pytest.mark.parametrize("width", [1100, 400])
def test_nothing_overlaps_or_hangs_out_in_a_browser(width: int, font: str) -> None:
    """Formula pieces keep apart and the page never scrolls sideways, also without a font for mathematics."""
    import shutil

    api = pytest.importorskip("playwright.sync_api")
    browser_path = shutil.which("chromium")
    if browser_path is None:
        pytest.skip("no Chromium on this machine")
    with api.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": width, "height": 900})
        style = f"<style>{SHEET_CSS} .calculation math {{ font-family: {font}; }}</style>"
        for sheet in (with_wide_formula(), traced()):
            page.set_content(style + sheet_html(sheet, sources={"f_c": "C1"}))
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        overlaps = page.evaluate(
            """() => {
              const boxes = [...document.querySelectorAll('.piece math')].map(e => e.getBoundingClientRect());
              let n = 0;
              for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
                const a = boxes[i], b = boxes[j];
                if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 &&
                    Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1) n++;
              }
              return [boxes.length, n];
            }"""
        )
        browser.close()
    assert overlaps[0] > 10
    assert overlaps[1] == 0
