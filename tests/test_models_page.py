"""The generated page on the models is up to date, counts outside checks truly and hides nothing."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from cracktie.clause import all_models
from cracktie.models.not_included import NOT_INCLUDED

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("write_models_page", ROOT / "tools" / "write_models_page.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_on_disk_is_up_to_date(writer: ModuleType) -> None:
    assert writer.main(["--check"]) == 0


def test_a_changed_page_is_noticed(writer: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stale = tmp_path / "models.md"
    stale.write_text(writer.page().replace("| doubtful |", "| checked |", 1), encoding="utf-8")
    monkeypatch.setattr(writer, "ROOT", tmp_path)
    monkeypatch.setattr(writer, "PAGE", stale)
    assert writer.main(["--check"]) == 1
    assert writer.main([]) == 0
    assert writer.main(["--check"]) == 0


def test_every_model_and_every_document_left_out_is_named(writer: ModuleType) -> None:
    page = writer.page()
    assert all(f"`{made.id}`" in page for made in all_models())
    assert all(entry.document in page for entry in NOT_INCLUDED)


@pytest.mark.parametrize(
    ("known", "name"),
    [
        ("printed on the page named, read; 36 kips holds phi = 0.75", "printed and read"),
        ("printed in the table named, recalled from memory", "recalled"),
        ("inputs and rounded numbers from memory (high confidence); the printed page was not at hand", "recalled"),
        ("hand calculation below; the floor is known from a secondary summary only", "hand calculation"),
        ("measured by a friend", "measured by a friend"),
    ],
)
def test_a_recalled_number_is_never_counted_as_read(writer: ModuleType, known: str, name: str) -> None:
    assert writer.kind(known) == name


def test_values_read_in_print_stand_in_the_row_they_check(writer: ModuleType) -> None:
    rows = [line for line in writer.page().splitlines() if "printed and read" in line and line.startswith("|")]
    assert any("form = design | checked" in row for row in rows)
