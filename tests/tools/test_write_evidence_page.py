"""The page on evidence agrees with the samples on disk and tells how old they are."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path

import pytest

TOOL = Path(__file__).parents[2] / "tools" / "write_evidence_page.py"


@pytest.fixture(scope="module")
def writer():
    spec = importlib.util.spec_from_file_location("write_evidence_page", TOOL)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_the_page_is_up_to_date_and_ages_are_told(writer, capsys):
    assert writer.main(["--check"]) == 0
    told = capsys.readouterr().out
    assert told.count("days old") == len(writer.samples()) > 0
    with capsys.disabled():
        print("\n" + told.strip())


def test_another_number_is_noticed(writer, tmp_path, monkeypatch):
    for path in writer.RESULTS.glob("*.json"):
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    changed = tmp_path / "planted_truth.json"
    found = json.loads(changed.read_text(encoding="utf-8"))
    found["samples"] += 1
    changed.write_text(json.dumps(found), encoding="utf-8")
    monkeypatch.setattr(writer, "RESULTS", tmp_path)
    assert writer.main(["--check"]) == 1
