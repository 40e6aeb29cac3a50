"""The page on gauge readings does what it says."""

from __future__ import annotations

import shutil

import pytest

from .doc_runner import run_page


@pytest.mark.slow
def test_the_page():
    said, names = run_page("docs/how-to/correct-gauge-readings.md")
    assert "gauge_factor(channel=S3F2, set=2, right=2.12)" in said
    assert "leads(channel=S3F2, ohm=0.4, wires=3, factor=1.00333)" in said
    assert "thermal_output(channel=S3F2, temperature=TH, alpha_per_K=-1.15e-05" in said
    last = said.splitlines()[-1]
    assert last.startswith("value_in_zero_window(channel=W1, value=")
    assert "from=test OV-10-pre" in last
    shutil.rmtree(names["folder"].parent)
