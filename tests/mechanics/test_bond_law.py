"""Laws against quadrature, their shapes, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from cracktie.errors import ModelInputError
from cracktie.mechanics import bond_law

LAWS = {
    "bilinear": bond_law.bilinear(3.45, 0.045, 0.27),
    "bilinear with friction": bond_law.bilinear(3.45, 0.045, 0.27, 0.3),
    "brittle": bond_law.brittle(4.0, 0.2),
    "simplified": bond_law.lu_simplified(3.45, 0.045, 0.467),
    "simplified with friction": bond_law.lu_simplified(3.45, 0.045, 0.467, 0.2),
    "precise": bond_law.lu_precise(3.45, 0.05, 0.006, 0.467),
    "popovics": bond_law.popovics(6.68, 0.065, 3.0),
    "popovics with friction": bond_law.popovics(6.68, 0.051, 2.86, 0.5),
    "double exponential": bond_law.double_exponential(1.1, 9.7),
    "points": bond_law.polyline([0.0, 0.03, 0.08, 0.3], [0.0, 3.0, 4.0, 0.0], 0.1),
}
each_law = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())


@each_law
def test_work_is_the_integral_of_the_stress(law: bond_law.BondLaw) -> None:
    corners = [float(law.slip_0[0]), float(law.rows[0, 4]), 0.03, 0.08]
    for slip in (0.01, 0.04, 0.1, 0.29, 1.7):
        inside = [c for c in sorted(set(corners)) if c < slip]
        area, _ = quad(lambda s: law.stress(s)[0, 0], 0.0, slip, points=inside or None, limit=200, epsabs=1e-13)
        assert law.work(slip)[0, 0] == pytest.approx(area, rel=1e-10)


@each_law
def test_peak_stands_at_its_slip(law: bond_law.BondLaw) -> None:
    slips = np.linspace(0.0, 1.0, 20001)
    stresses = law.stress(slips)[0]
    assert stresses.max() <= law.tau_max[0] * (1.0 + 1e-12)
    just_below = law.slip_0[0] * (1.0 - 1e-9)
    assert law.stress(just_below)[0, 0] == pytest.approx(law.tau_max[0], rel=1e-6)
    assert law.stress([-0.1, 0.0])[0] == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize("law", [law for law in LAWS.values() if not law.tau_res[0]], ids=lambda law: law.kind)
def test_total_energy(law: bond_law.BondLaw) -> None:
    """Large slips use up G_f; the slowest tail, that of the Popovics form, still holds 1e-5 of it at 1e4 mm."""
    assert law.work(1e4)[0, 0] == pytest.approx(law.G_f[0], rel=1e-5)
    assert law.slip_f[0] == pytest.approx(2.0 * law.G_f[0] / law.tau_max[0])


def test_laws_with_friction_end_on_it() -> None:
    for law in LAWS.values():
        assert law.stress(50.0)[0, 0] == pytest.approx(law.tau_res[0], abs=2e-4)
    law = LAWS["simplified with friction"]
    at = law.rows[0, 4]
    assert law.stress([at * 0.999999, at * 1.000001])[0] == pytest.approx([0.2, 0.2], rel=1e-4)


def test_precise_law_becomes_the_simplified_one() -> None:
    """A stiff adhesive leaves no elastic slip (Lu and others 2005, limit of the formulas)."""
    stiff = bond_law.lu_precise(3.45, 0.045, 1e-9, 0.467)
    slips = np.geomspace(1e-3, 1.0, 40)
    assert stiff.stress(slips)[0] == pytest.approx(LAWS["simplified"].stress(slips)[0], rel=1e-4)


def test_bilinear_law_of_equal_energy() -> None:
    for law in LAWS.values():
        made = bond_law.fit_bilinear(law)
        assert made.G_f == pytest.approx(law.G_f)
        assert made.tau_max == pytest.approx(law.tau_max)
        assert made.tau_res == pytest.approx(law.tau_res)
    rounded = bond_law.lu_simplified(3.0, 0.2, 0.45)
    assert bond_law.fit_bilinear(rounded).slip_0 == pytest.approx(0.3 * 2.0 * 0.45 / 3.0)


def test_one_law_a_case() -> None:
    law = bond_law.bilinear([3.0, 4.0], 0.04, [0.2, 0.3])
    assert law.size == 2
    assert law.stress([0.02, 0.25]) == pytest.approx(np.array([[1.5, 0.0], [2.0, 4.0 * 0.05 / 0.26]]))
    assert law.work([[0.1], [0.2]]).shape == (2, 1)


REFUSED = {
    "slip_f": (lambda: bond_law.bilinear(3.0, 0.2, 0.2), r"slip_f = 0\.2 mm; it must lie above slip_0 .*0\.2 mm"),
    "tau": (lambda: bond_law.bilinear(-3.0, 0.04, 0.2), r"tau_max = -3 MPa; it must be a number above 0"),
    "case": (lambda: bond_law.bilinear([3.0, np.nan], 0.04, 0.2), r"tau_max = nan MPa in case 1"),
    "energy": (lambda: bond_law.from_energy(3.0, 0.04, -0.2), r"G_f = -0\.2 N/mm; it must be a number above 0"),
    "little": (lambda: bond_law.from_energy(3.0, 0.4, 0.5), r"G_f = 0\.5 N/mm; the rise .* 0\.6 N/mm; lower slip_0"),
    "rise": (lambda: bond_law.lu_simplified(3.0, 0.4, 0.5), r"G_f = 0\.5 N/mm; the rise to the peak alone takes 0\.8"),
    "elastic": (lambda: bond_law.lu_precise(3.0, 0.04, 0.05, 0.5), r"slip_0 = 0\.04 mm; .*0\.05 mm"),
    "exponent": (lambda: bond_law.popovics(3.0, 0.04, 2.0), r"n = 2; it must exceed 2: the area .* infinite"),
    "friction": (lambda: bond_law.bilinear(3.0, 0.04, 0.2, 3.0), r"tau_res = 3 MPa; friction must stay below"),
    "negative friction": (lambda: bond_law.brittle(3.0, 0.04, -1.0), r"tau_res = -1 MPa; it must be 0 or above"),
    "word": (lambda: bond_law.bilinear("big", 0.04, 0.2), r"tau_max = 'big' is no number"),
    "sizes": (lambda: bond_law.bilinear([3.0, 3.0], [0.04] * 3, 0.2), r"one value a case; given tau_max \(2,\)"),
    "no start": (lambda: bond_law.polyline([0.1, 0.2, 0.3], [1, 2, 0]), r"put the point 0 mm, 0 MPa first"),
    "no fall": (lambda: bond_law.polyline([0, 0.2, 0.3], [0, 1, 2]), r"the last stress, 2 MPa, is the largest"),
    "below zero": (lambda: bond_law.polyline([0, 0.1, 0.2, 0.3], [0, 2, -1, 0]), r"energy would be negative"),
    "unsorted": (lambda: bond_law.polyline([0, 0.2, 0.1], [0, 1, 0]), r"slips must increase"),
    "few": (lambda: bond_law.polyline([0, 0.2], [0, 1]), r"3 or more; given 2 and 2"),
    "infinite": (lambda: bond_law.polyline([0, 0.1, np.inf], [0, 1, 0]), r"finite number"),
}


@pytest.mark.parametrize("which", REFUSED)
def test_impossible_laws_are_refused(which: str) -> None:
    make, message = REFUSED[which]
    with pytest.raises(ModelInputError, match=message):
        make()
