"""The report in a real browser: narrow and wide, light and dark, by keyboard, without a single request."""

from __future__ import annotations

import itertools
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]

CONTRAST = """() => {
  const channel = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4 };
  const light = c => 0.2126 * channel(c[0]) + 0.7152 * channel(c[1]) + 0.0722 * channel(c[2]);
  const rgb = text => text.match(/[\\d.]+/g).map(Number);
  const behind = node => {
    for (let n = node; n; n = n.parentElement) {
      const c = rgb(getComputedStyle(n).backgroundColor);
      if (c.length === 3 || c[3] === 1) return c;
    }
    return [255, 255, 255];
  };
  const poor = [];
  for (const node of document.querySelectorAll('body *')) {
    const own = [...node.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (!own || node.closest('svg')) continue;
    const a = light(rgb(getComputedStyle(node).color)), b = light(behind(node));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) poor.push([node.tagName, node.className, ratio, node.textContent.slice(0, 40)]);
  }
  return poor;
}"""
"""Elements with text whose contrast is below 4.5 to 1 (WCAG 2.2, success criterion 1.4.3; formula of its glossary)."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    program = os.environ.get("CRACKTIE_CHROMIUM")
    if not program:
        pytest.skip("NO BROWSER: set CRACKTIE_CHROMIUM to the path of Chromium to run the browser tests")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture(params=[(420, "light"), (420, "dark"), (1100, "light"), (1100, "dark")], ids=lambda p: f"{p[0]}-{p[1]}")
def page(request: pytest.FixtureRequest, browser: Any, out: Path) -> Iterator[Any]:
    """The report at a width and colour scheme; anything on the console and any request beside the file fails."""
    width, scheme = request.param
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    opened = context.new_page()
    said: list[str] = []
    asked: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("request", lambda request: asked.append(request.url))
    address = (out / "report.html").as_uri()
    opened.goto(address)
    yield opened
    context.close()
    assert said == []
    assert {url.split("#")[0] for url in asked} == {address}


def test_nothing_makes_the_page_scroll_sideways(page: Any) -> None:
    width = page.viewport_size["width"]
    assert page.evaluate("document.documentElement.scrollWidth") == width
    tables = page.locator(".wide")
    assert tables.count() > 8
    for box in tables.evaluate_all("nodes => nodes.map(n => n.getBoundingClientRect().right)"):
        assert box <= width
    wider = tables.evaluate_all("nodes => nodes.filter(n => n.scrollWidth > n.clientWidth).length")
    assert (wider > 0) == (width == 420), "wide tables scroll inside their own region on a narrow screen only"


def test_text_stands_out(page: Any) -> None:
    assert page.evaluate(CONTRAST) == []


def test_blocks_do_not_overlap(page: Any) -> None:
    boxes = page.evaluate(
        """() => [...document.querySelectorAll('main > section > *, main > :not(section)')]
             .filter(n => n.offsetHeight > 0).map(n => n.getBoundingClientRect()).map(r => [r.top, r.bottom])"""
    )
    assert len(boxes) > 40
    for (_, bottom), (top, _) in itertools.pairwise(boxes):
        assert top >= bottom - 0.5


def test_pictures_and_tables_have_names(page: Any) -> None:
    pictures = page.get_by_role("img").all()
    assert len(pictures) > 10
    names = [picture.get_attribute("aria-label") or "" for picture in pictures]
    assert all(len(name) > 10 for name in names)
    assert len(set(names)) == len(names)
    for region in page.locator("[role=region]").all():
        caption = region.get_attribute("aria-labelledby")
        name = page.locator(f"#{caption}").inner_text() if caption else region.get_attribute("aria-label")
        assert name.strip()


def test_chapters_are_reached_by_keyboard(page: Any) -> None:
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    page.reload()
    for _ in range(3):
        page.keyboard.press("Tab")
    target = page.evaluate("document.activeElement.getAttribute('href')")
    assert target == "#comparison"
    page.keyboard.press("Enter")
    page.wait_for_function("Math.abs(document.getElementById('comparison').getBoundingClientRect().top) < 120")
    assert page.evaluate("document.activeElement.id") == "comparison"


def test_cells_hold_the_numbers_of_the_results(page: Any, out: Path) -> None:
    reduced = json.loads((out / "reduced.json").read_text(encoding="utf-8"))
    table = page.locator("table").first
    heads = table.locator("thead th").all_text_contents()
    at = next(i for i, head in enumerate(heads) if head.startswith("Vmax"))
    for test in reduced["tests"][:4]:
        value = next(v["value"] for v in test["values"] if v["quantity"] == "V_max")
        row = table.get_by_role("row").filter(has=page.get_by_role("rowheader", name=test["test"], exact=True))
        sign = "≥ " if test["lower_bound"] else ""
        assert row.locator("th, td").nth(at).inner_text() == f"{sign}{value / 1e3:.1f}"


def test_printed_pages_are_complete(browser: Any, out: Path, tmp_path: Path) -> None:
    import pypdf

    context = browser.new_context()
    opened = context.new_page()
    opened.goto((out / "report.html").as_uri())
    target = tmp_path / "printed.pdf"
    opened.pdf(path=str(target), prefer_css_page_size=True)
    context.close()
    pages = [p.extract_text() for p in pypdf.PdfReader(target).pages]
    assert 15 <= len(pages) <= 60
    whole = "\n".join(pages)
    assert "Where the numbers come from" in whole
    assert "shear in studied span" in whole, "the last column of the widest table is on the paper"
    assert "SIMULATED DATA" in pages[0]
