"""The page on coupon tests does what it says."""

from __future__ import annotations

import shutil

from .doc_runner import run_page


def test_the_page():
    said, names = run_page("docs/how-to/coupons.md")
    assert "28 d, cylinder 150x300: 29.94 +- 0.61 MPa, n = 3" in said
    assert "left out: {'f4': 'failed at the grip, not between the grips'}" in said
    assert "coupons/bars.csv:3:2: f_y = '5I8'" in said
    shutil.rmtree(names["folder"])
