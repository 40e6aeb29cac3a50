"""Shear, net deflection, stiffness, energy: worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.derived import (
    last_pass,
    net_deflection,
    reading_noise,
    regression,
    shear_at_section,
    shear_from_reaction,
    stiffness,
    two_faces,
    unloadings,
    work,
)
from cracktie.mechanics.statics import SimpleBeam, reactions

BEAM = SimpleBeam(span=3000.0, left_overhang=250.0, right_overhang=250.0, weight=2.575)


def test_shear_from_load_with_self_weight():
    """P = 300 kN at 1170 of 3000 mm, 2.575 N/mm: V(585) = 183 000 + 2 356.125 N (hand)."""
    found = shear_at_section(BEAM, 585.0, [(1170.0, [0.0, 300e3])])
    assert found.total.tolist() == pytest.approx([2356.125, 185_356.125])
    assert found.applied.tolist() == pytest.approx([0.0, 183_000.0])
    assert found.self_weight == pytest.approx(2356.125)
    assert found.trail.steps[0].rows == 2


def test_rig_weight_is_shared_by_the_load_points():
    """800 N of rig on two points: 400*0.7 + 400*0.3 at x left of both (hand)."""
    beam = SimpleBeam(span=1000.0)
    found = shear_at_section(beam, 100.0, [(300.0, [0.0]), (700.0, [0.0])], rig_weight=800.0)
    assert found.total.tolist() == pytest.approx([400.0])
    assert found.applied.tolist() == [0.0]


def test_shear_from_either_reaction_is_the_same():
    loads = [(1170.0, 300e3)]
    left, right = reactions(BEAM, loads, self_weight=False)
    from cracktie.mechanics.statics import shear

    assert shear_from_reaction(BEAM, 585.0, left, side="left") == pytest.approx(shear(BEAM, 585.0, loads))
    assert shear_from_reaction(BEAM, 2000.0, right, side="right") == pytest.approx(shear(BEAM, 2000.0, loads))
    with pytest.raises(ModelInputError, match="left"):
        shear_from_reaction(BEAM, 0.0, 1.0, side="A")


def test_settlement():
    """9.84 - (0.62*0.61 + 0.41*0.39) = 9.3019 mm (hand)."""
    assert net_deflection(9.84, 0.62, 0.41, a=1170.0, span=3000.0) == pytest.approx(9.3019, abs=1e-9)
    with pytest.raises(ModelInputError):
        net_deflection(1.0, 0.0, 0.0, a=3001.0, span=3000.0)


def test_two_faces():
    mean, difference, twisted = two_faces([0.0, 2.0], [0.0, 2.4])
    assert mean.tolist() == pytest.approx([0.0, 2.2])
    assert difference == pytest.approx(0.4 / 2.2)
    assert twisted


def test_energy_and_ductility():
    """(0,0) (2,100) (4,180) (6,200) (8,150): to the peak 100 + 280 + 380 = 760; 170 is reached at 7.2 mm,
    222 more; the secant through 150 kN (3.25 mm) reaches 200 at 4.333 mm (hand)."""
    found = work([0, 2, 4, 6, 8], [0, 100, 180, 200, 150])
    assert found.energy_peak == pytest.approx(760.0)
    assert found.deflection_after == pytest.approx(7.2)
    assert found.energy_after == pytest.approx(982.0)
    assert found.deflection_yield == pytest.approx(4.3333333, abs=1e-6)
    assert found.ductility == pytest.approx(1.66153846, abs=1e-7)
    assert found.deflection_equal == pytest.approx(2 * (7.2 - 982 / 200))
    endless = work([0, 1, 2], [0, 1, 2])
    assert endless.energy_after is None
    assert endless.ductility is None


def test_regression_and_its_error():
    """x 0..4, y 1, 3, 2, 5, 4 (hand): slope 0.8, residual sum 3.6, u = sqrt(3.6/3/10), r2 = 0.64."""
    line = regression([0, 1, 2, 3, 4], [1, 3, 2, 5, 4])
    assert line.slope == pytest.approx(0.8)
    assert line.u == pytest.approx((3.6 / 3 / 10) ** 0.5)
    assert line.r2 == pytest.approx(0.64)
    with pytest.raises(ModelInputError):
        regression([1, 1, 1], [1, 2, 3])


def test_stiffness_uses_the_first_loading_only():
    d = np.array([0, 1, 2, 3, 2.5, 2, 3, 4, 5.0])
    p = np.array([0, 10, 20, 30, 10, 5, 30, 40, 50.0])
    found = stiffness(d, p, low=5, high=30)
    assert (found.slope, found.r2, found.points) == (pytest.approx(10.0), pytest.approx(1.0), 4)
    assert stiffness(d[[0, 1, 2, 3]], p[[0, 1, 2, 3]], low=0, high=30).points == 4


def test_a_seating_is_no_first_loading():
    """Bedding at 4 N/mm up to 12 N and off again, then 10 N/mm past 40 N: the second pass counts."""
    d = np.array([0, 1, 2, 3, 1, 1.5, 2, 2.5, 3, 4, 5.0])
    p = np.array([0, 4, 8, 12, 0, 5, 10, 15, 20, 30, 40.0])
    begun = last_pass(p, low=6, reached=40)
    assert begun == 5  # the last reading below 6 N
    assert stiffness(d[begun:], p[begun:], low=6, high=20).slope == pytest.approx(10.0)
    assert stiffness(d, p, low=6, high=20).slope != pytest.approx(10.0, rel=0.05)
    assert last_pass(p[5:], low=2, reached=40) == 0  # began above
    assert last_pass(p, low=6, reached=99) == 5  # never reached


def test_noise_of_the_deflection_does_not_flatten_a_stiffness():
    """500 readings over 1 mm with 0.05 mm of noise: least squares alone give 1/(1 + 0.05^2 * 12) = 0.97 of the slope.

    The limit of an errors-in-variables regression in closed form (spread 1/12 mm^2); 400 records average the chance.
    """
    rng = np.random.default_rng(7)
    true = np.linspace(0.0, 1.0, 500)
    plain, freed = [], []
    for _ in range(400):
        d = true + rng.normal(0.0, 0.05, true.size)
        plain.append(regression(d, 100.0 * true).slope)
        freed.append(stiffness(d, 100.0 * true, low=-1.0, high=101.0).slope)
    assert np.mean(plain) == pytest.approx(100.0 / 1.03, abs=0.2)
    assert np.mean(freed) == pytest.approx(100.0, abs=0.3)
    assert reading_noise(rng.normal(0.0, 2.0, 20_000) + np.linspace(0, 1e5, 20_000)) == pytest.approx(2.0, rel=0.05)


def test_a_hold_is_no_part_of_a_stiffness():
    """10 N/mm to 5 mm; there the load relaxes by 1 N in 200 readings; on at 10 N/mm. A slow fall, but a fall."""
    up = np.linspace(0.0, 5.0, 200)
    d = np.concatenate([up, np.full(200, 5.0), up + 5.0])
    p = np.concatenate([10 * up, 50.0 - np.linspace(0.0, 1.0, 200), 10 * (up + 5.0)])
    found = stiffness(d, p, low=20.0, high=80.0)
    assert found.slope == pytest.approx(10.0, rel=2e-3)
    assert found.halves == (pytest.approx(10.0, rel=2e-3), pytest.approx(10.0, rel=2e-3))
    assert found.points < 270


def test_equal_energy_gives_back_a_bilinear_curve():
    """Elastic to 3 mm, plastic to 12 mm, then a sheer fall: yield at 3 mm by both definitions, ductility 4 (exact)."""
    found = work([0, 3, 12, 12], [0, 90, 90, 10])
    assert found.deflection_equal == pytest.approx(3.0)
    assert found.ductility_equal == pytest.approx(4.0)
    assert found.deflection_yield == pytest.approx(3.0)
    assert found.energy_after == pytest.approx(90 * (12 - 1.5))


def test_an_unloading_behind_the_peak_is_not_its_end():
    d, p = [0, 4, 3, 4, 6, 8], [0, 100, 40, 99, 95, 70]
    assert work(d, p).deflection_after == pytest.approx(4 - 15 / 60)  # the first fall, taken for the end
    assert work(d, p, behind=5).deflection_after == pytest.approx(6 + 2 * 10 / 25)
    assert work(d, p, behind=6).energy_after is None


def test_unloadings_are_told_from_load_drops():
    """Up to 40 at 10 a mm, down to 10 at 15 a mm (2 mm left), up to 60, a drop to 45 while it bends on, up to 80."""
    rows = [0, 40, 60, 80, 100, 102, 137]
    d = np.interp(np.arange(138), rows, [0, 4, 2, 4, 6, 6.2, 9.7])
    p = np.interp(np.arange(138), rows, [0, 40, 10, 40, 60, 45, 80])
    (found,) = unloadings(d, p)
    assert found.line.slope == pytest.approx(15.0)
    assert (found.load, found.least, found.deflection, found.residual) == pytest.approx((40.0, 10.0, 4.0, 2.0))
    assert (found.start, found.end) == (40, 60)
    assert unloadings(d[:41], p[:41]) == []


@pytest.mark.parametrize("phi", [35.0, 45.0, 55.0])
def test_shear_of_a_panel_from_its_diagonals(phi):
    """Timoshenko kinematics: u = -theta z, w' = theta + gamma. With a constant curvature the pair gives gamma exactly,
    wherever the panel lies; a curvature growing by k a mm takes k b^2/12 off it (trapezoid less integral of theta over
    the width b; our own derivation)."""
    from cracktie.lab.crack import shear_strain

    length, gamma, kappa, growth = 400.0, 2e-3, 3e-6, 4e-9
    width, height = length * np.cos(np.radians(phi)), length * np.sin(np.radians(phi))
    x1, z1 = 300.0, -90.0
    x2, z2 = x1 + width, z1 + height
    for k in (0.0, growth):
        theta = [kappa * x + k * x * x / 2 for x in (x1, x2)]
        w = [kappa * x * x / 2 + k * x**3 / 6 + gamma * x for x in (x1, x2)]

        def stretch(za, zb, theta=theta, w=w):  # of the gauge from (x1, za) to (x2, zb), first order
            return ((-theta[1] * zb + theta[0] * za) * width + (w[1] - w[0]) * (zb - za)) / length

        found = shear_strain(stretch(z1, z2), stretch(z2, z1), length=(length, length), direction=(phi, 180.0 - phi))
        assert float(found) == pytest.approx(gamma - k * width**2 / 12.0, rel=1e-9)
