"""V_f by subtraction and by strain side by side: words and numbers of the agreement, and the table in a report."""

from __future__ import annotations

import math

import pytest

from cracktie.agreement import Agreement

EXAMPLE = Agreement("B1", "1/2", 85e3, 0.08 * math.hypot(185e3, 185e3), 81.1e3, 15.1e3, False)
"""85 kN by subtraction of 270 and 185 kN, scatter 8 % in V_c + V_s of the beam and in the control; 81.1 +- 15.1 kN."""


def test_the_numbers_by_hand():
    """u_sub = 0.08 x 185 x sqrt 2 = 20.9 kN, u_d = 25.8 kN, 2u_d = 52 kN, |d| = 3.9 kN."""
    assert f"{EXAMPLE.u_sub / 1e3:.1f}" == "20.9"
    assert f"{EXAMPLE.u_d / 1e3:.1f}" == "25.8"
    assert f"{2 * EXAMPLE.u_d / 1e3:.0f}" == "52"
    assert EXAMPLE.difference == pytest.approx(3.9e3)


def test_words():
    assert EXAMPLE.verdict == "not distinguishable; 2u_d = 51.6 kN: differences below this cannot be seen"
    far = Agreement("B2", "1/2", 85e3, 10e3, 20e3, 5e3, False)
    assert far.distinguishable
    assert far.verdict.startswith("|d| = 65 kN is more than 2u_d = 22.4 kN")
    assert "consistent" not in EXAMPLE.verdict + far.verdict


def test_the_table_names_both_and_no_mean():
    from cracktie.report.agreement import agreement_table

    table = agreement_table([EXAMPLE], "kN", lambda v, bound=False: f"{'>= ' if bound else ''}{v / 1e3:.1f}")
    assert table.rows[0][:7] == ("B1", "85.0", "20.9", "81.1", "15.1", "3.9", "51.6")
    assert any("not averaged" in note for note in table.footnotes)
