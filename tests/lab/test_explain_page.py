"""The page on explaining a number does what it says."""

from __future__ import annotations

import shutil

import pytest

from .doc_runner import run_page


@pytest.mark.slow
def test_the_page():
    said, names = run_page("docs/how-to/explain-a-number.md")
    assert "dominating: load cell" in said
    assert "SIMULATED" in said
    assert "line " in said
    assert " kN, u = " in said.splitlines()[-1]
    shutil.rmtree(names["folder"].parent)
