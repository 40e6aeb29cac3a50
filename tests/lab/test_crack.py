"""Crack geometry and forces across a crack, against constructions by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab import crack

Z = (0, 60, 120, 180, 240, 300)
EPS = (0, 2200e-6, 4200e-6, 4800e-6, 3900e-6, 1500e-6)


def test_angle_of_two_points():
    """atan2(355 - 60, 545 - 210) = 41.367 degrees."""
    assert f"{crack.inclination((210, 545), (60, 355)).angle:.3f}" == "41.367"


def test_angle_is_weighted_by_length_and_blind_to_direction():
    """300 mm at 45 and 100 mm at 0 degrees: 33.75; standard deviation sqrt(3)/4 of 45."""
    leg = 300 / math.sqrt(2)
    x, z = [0, leg, leg + 100], [0, leg, leg]
    found = crack.inclination(x, z)
    assert found.angle == pytest.approx(33.75)
    assert found.deviation == pytest.approx(45 * math.sqrt(3) / 4)
    assert found.length == pytest.approx(400)
    assert crack.inclination(x[::-1], z[::-1]) == pytest.approx(found)
    assert crack.inclination([-v for v in x], z).angle == pytest.approx(33.75)
    with pytest.raises(ModelInputError, match="no length"):
        crack.inclination((1, 1), (2, 2))


def test_cut_at_two_heights():
    x, z = crack.between([0, 100, 200, 400], [0, 100, 200, 200], 50, 150)
    assert (x, z) == ([50, 100, 150], [50, 100, 150])
    assert crack.between([400, 200, 100, 0], [200, 200, 100, 0], 50, 150) == ([150, 100, 50], [150, 100, 50])
    assert crack.between([0, 100], [0, 10], 50, 150) == ([], [])
    assert crack.between([0, 100, 200], [100, 100, 120], 50, 150) == ([0, 100, 200], [100, 100, 120])


def test_where_a_line_crosses():
    line = ([0, 100, 300], [0, 100, 200])
    assert crack.height_at(*line, 200) == pytest.approx(150)
    assert crack.height_at(*line, 301) is None
    assert crack.height_at([300, 100, 0], [200, 100, 0], 200) == pytest.approx(150)


def test_strips_by_hand():
    """2 legs x 0.167 x 60 mm x 230 GPa x (3100 + 4500 + 2700)e-6 = 47.475 kN."""
    legs = crack.strip_force([3100e-6, 4500e-6, 2700e-6], width=60, thickness=0.167, modulus=230e3)
    assert f"{2 * legs.sum() / 1000:.3f}" == "47.475"


def test_sheet_profile_by_hand():
    """Mean strain 3170e-6 over 300 mm; 2 x 0.167 x 230e3 x cot 42 x 0.951 mm = 81.137 kN; 92.5 kN for fibres at 60."""
    one = crack.sheet_force(Z, EPS, thickness=0.167, modulus=230e3, theta=42)
    assert f"{2 * one:.1f}" == "81136.7"
    inclined = crack.sheet_force(Z, EPS, thickness=0.167, modulus=230e3, theta=42, beta=60)
    assert f"{2 * inclined / 1000:.1f}" == "92.5"


def test_a_sheet_is_many_narrow_strips():
    """Fibres counted one by one across the crack give the integral, also where they lean."""
    theta, beta, t, E, h = 38.0, 70.0, 0.2, 230e3, 280.0
    cot = 1 / math.tan(math.radians(theta)) + 1 / math.tan(math.radians(beta))
    n = 4000
    z = (np.arange(n) + 0.5) * h / n  # a fibre every h cot/n along the axis
    width = h * cot / n * math.sin(math.radians(beta))
    strain = 0.004 * np.sin(math.pi * z / h)
    counted = crack.strip_force(strain, width=width, thickness=t, modulus=E, beta=beta).sum()
    grid = np.linspace(0, h, 2001)
    whole = crack.sheet_force(grid, 0.004 * np.sin(math.pi * grid / h), thickness=t, modulus=E, theta=theta, beta=beta)
    assert counted == pytest.approx(whole, rel=1e-5)


def test_plateau_bar():
    curve = {"f_y": 500.0, "E_s": 200e3, "rounded": False}
    assert crack.bar_stress([0.001, 0.0025, 0.01, -0.001], **curve) == pytest.approx([200, 500, 500, -200])


@pytest.mark.parametrize(("n", "share"), [(8, "0.83"), (12, "0.87"), (25, "0.92")])
def test_rounded_bar_is_below_its_proof_stress_at_f_y_over_E(n, share):
    """s/f_y at a strain of f_y/E = 0.0026: a curve of exponent n is built, and given back."""
    f_y, E, f_u = 520.0, 200e3, 580.0
    A_gt = f_u / E + 0.002 * (f_u / f_y) ** n
    curve = {"f_y": f_y, "E_s": E, "rounded": True, "f_u": f_u, "A_gt": A_gt}
    assert crack.exponent(f_y=f_y, E_s=E, f_u=f_u, A_gt=A_gt) == pytest.approx(n)
    assert f"{crack.bar_stress(f_y / E, **curve) / f_y:.2f}" == share
    assert crack.bar_stress(f_y / E + 0.002, **curve) == pytest.approx(f_y, rel=1e-5)
    for stress in (100.0, 450.0, 530.0):
        strain = stress / E + 0.002 * (stress / f_y) ** n
        assert crack.bar_stress(strain, **curve) == pytest.approx(stress, rel=1e-5)


def test_a_rounded_bar_needs_its_coupons():
    with pytest.raises(ModelInputError, match="needs f_u and A_gt"):
        crack.bar_stress(0.003, f_y=500, E_s=200e3, rounded=True)


def test_shear_strain_of_a_panel():
    """A panel sheared by gamma, stretched by e_x and e_z: the pair of diagonals gives gamma back."""
    gamma, ex, ez, length = 3e-3, 1e-4, -2e-4, 350.0

    def elongation(direction):
        c, s = math.cos(math.radians(direction)), math.sin(math.radians(direction))
        return length * (ex * c * c + ez * s * s + gamma * s * c)

    for pair in ((45, 135), (135, 45), (60, 120)):
        given = [elongation(d) for d in pair]
        assert crack.shear_strain(*given, length=(length, length), direction=pair) == pytest.approx(gamma)
    with pytest.raises(ModelInputError, match="are no diagonals"):
        crack.shear_strain(1, 1, length=(1, 1), direction=(45, 60))


@pytest.mark.parametrize("theta", [30.0, 42.0, 60.0])
@pytest.mark.parametrize("beta", [45.0, 60.0, 90.0, 120.0])
def test_a_sheet_along_its_crack_is_the_sheet_over_its_height(theta, beta):
    """sin(beta) sin(theta + beta) ds = (cot theta + cot beta) sin^2(beta) dz with dz = ds sin(theta)."""
    z = np.linspace(0.0, 300.0, 61)
    eps = 0.004 * np.sin(z / 90.0) ** 2
    over = crack.sheet_force(z, eps, thickness=0.167, modulus=230e3, theta=theta, beta=beta)
    s = z / math.sin(math.radians(theta))
    along = crack.crack_force(s, eps, theta * np.ones(61), thickness=0.167, modulus=230e3, beta=beta)
    assert along == pytest.approx(over, abs=1e-6)


def test_inclined_fibres_by_hand():
    """One fibre width at 60 degrees on a crack at 30: sin(90) of 100 mm, t E eps 100 sin 60 = 6.65 kN at 2000 um/m."""
    found = crack.crack_force([0.0, 100.0], [0.002, 0.002], [30.0, 30.0], thickness=0.167, modulus=230e3, beta=60.0)
    assert f"{found / 1e3:.2f}" == "6.65"


def test_angles_along_a_bent_line():
    """45 degrees over 100 mm of height, then 90, in either direction of drawing and of travel."""
    line = [0.0, 100.0, 100.0], [0.0, 100.0, 200.0]
    s = [10.0, 140.0, 142.0, 240.0, 999.0]
    assert crack.angles_along(*line, s) == pytest.approx([45.0, 45.0, 90.0, 90.0, 90.0])
    assert crack.angles_along(line[0][::-1], line[1][::-1], s) == pytest.approx([45.0, 45.0, 90.0, 90.0, 90.0])
    assert crack.angles_along([-x for x in line[0]], line[1], [10.0]) == pytest.approx([45.0])
    assert crack.angles_along([0.0, 100.0, 50.0, 150.0], [0.0, 100.0, 150.0, 250.0], [170.0]) == pytest.approx([135.0])


def test_a_bar_unloads_along_its_modulus():
    """f_y = 500, E = 200 000: from 5000 to 3000 um/m 500 - 400 = 100; to 1000: -300; to -1500: yields at -500."""
    curve = {"f_y": 500.0, "E_s": 200e3, "rounded": False, "largest": 0.005}
    assert crack.bar_stress([0.005, 0.003, 0.001, -0.0015], **curve) == pytest.approx([500, 100, -300, -500])
    assert crack.bar_stress(0.006, **curve) == pytest.approx(500)  # beyond: first loading again
    rounded = {"f_y": 500.0, "E_s": 200e3, "rounded": True, "f_u": 560.0, "A_gt": 0.05}
    top = crack.bar_stress(0.008, **rounded)
    assert crack.bar_stress(0.007, **rounded, largest=0.008) == pytest.approx(top - 200.0)


def test_draws_of_a_bar_are_those_of_single_bars():
    f_y, E_s = np.array([480.0, 500.0, 530.0]), np.array([195e3, 200e3, 206e3])
    for more in ({"rounded": False}, {"rounded": True, "f_u": 560.0, "A_gt": 0.05}):
        found = crack.bar_stress(0.0035, f_y=f_y, E_s=E_s, **more)
        alone = [float(crack.bar_stress(0.0035, f_y=f, E_s=E, **more)) for f, E in zip(f_y, E_s, strict=True)]
        assert found == pytest.approx(alone, rel=1e-9)


@pytest.mark.parametrize("beta", [90.0, 60.0, 110.0])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_fibres_across_a_bent_crack_are_counted_one_by_one(beta, side):
    """A line of 63, 48 and 21 degrees, strains 4000 um/m at its mouth falling straight to 0 along it: fibres 0.05 mm
    wide are laid side by side and those that meet the line are added up. One mean angle gives vertical ones 39 % more.
    """
    x, z = np.array([0.0, 40.0, 140.0, 380.0]), np.array([0.0, 80.0, 190.0, 280.0])
    s = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(z)))))
    b = math.radians(beta)
    centres = np.arange(-400.0, 800.0, 0.05 / math.sin(b))  # where each fibre meets the soffit; it leans to the support
    off = x[:, None] + z[:, None] / math.tan(b) - centres
    force = 0.0
    for j in range(3):
        meets = off[j] * off[j + 1] < 0.0
        share = off[j][meets] / (off[j][meets] - off[j + 1][meets])
        along = s[j] + share * (s[j + 1] - s[j])
        force += 0.05 * math.sin(b) * float((0.004 * (1.0 - along / s[-1])).sum())
    weights, by_cot = crack.fibre_weights(side * x, z, [s[1], 200.0], edges=(0.0, 280.0), angle=35.0, beta=beta)
    strain = [0.004, *(0.004 * (1.0 - at / s[-1]) for at in (s[1], 200.0)), 0.0]
    assert weights @ strain == pytest.approx(force, rel=1e-3)
    down = crack.fibre_weights(side * x[::-1], z[::-1], [s[1], 200.0], edges=(0.0, 280.0), angle=35.0, beta=beta)
    assert down[0] == pytest.approx(weights)
    # a shear x + c z of line and fibres adds c to every cotangent: fibres c z further on meet the line
    turned, _ = crack.fibre_weights(x + 0.1 * z, z, [s[1], 200.0], edges=(0.0, 280.0), angle=35.0, beta=beta)
    assert turned.sum() - weights.sum() == pytest.approx(0.1 * by_cot.sum(), rel=1e-9)


def test_fibres_across_a_straight_crack_need_one_angle():
    """With cuts at both edges: t E (cot theta + cot beta) sin^2 beta times the area of the strains over the height."""
    places = (60.0, 150.0)
    weights, _ = crack.fibre_weights(
        [100.0, 400.0], [20.0, 320.0], [(z - 20.0) * math.sqrt(2.0) for z in places], edges=(0.0, 300.0), angle=45.0,
        beta=60.0,
    )  # fmt: skip
    strain = [0.001, 0.003, 0.002, 0.0]
    whole = crack.sheet_force([0.0, *places, 300.0], strain, thickness=1.0, modulus=1.0, theta=45.0, beta=60.0)
    assert weights @ strain == pytest.approx(whole)


def test_cotangent_of_an_unseen_crack():
    """Against angles spread evenly, by sums; none flatter than from support to load."""
    found = crack.Cotangent.between(1040.0, 420.0)
    angles = np.radians(np.linspace(25.0, 50.0, 200_001))
    assert found.mean == pytest.approx((1 / np.tan(angles)).mean(), rel=1e-5)
    assert found.deviation == pytest.approx((1 / np.tan(angles)).std(), rel=1e-4)
    assert (found.most, found.least) == pytest.approx((1 / math.tan(math.radians(25)), 1 / math.tan(math.radians(50))))
    assert crack.Cotangent.between(600.0, 400.0).most == pytest.approx(1.5)
    short = crack.Cotangent.between(300.0, 400.0)
    assert (short.mean, short.deviation, short.least, short.most) == pytest.approx((0.75, 0.0, 0.75, 0.75))


def test_a_run_crosses_a_whole_number_of_bars():
    """Counted on straight lines of any run and place over bars 100 mm apart."""
    rng = np.random.default_rng(5)
    run, start = rng.uniform(100.0, 400.0, 100_000), rng.uniform(0.0, 100.0, 100_000)
    off = np.floor((start + run) / 100.0) - np.floor(start / 100.0) - run / 100.0
    assert abs(off.mean()) < 0.01
    assert off.std() == pytest.approx(crack.U_WHOLE, rel=0.01)
    found = crack.Cotangent.between(1000.0, 400.0)
    count = [found.count(c, w, height=100.0, spacing=100.0) for c, w in ((1.5, 0.0), (1.5, -3.0), (9.0, 3.0))]
    assert count == pytest.approx([1.5, 0.0, 3.0])  # runs of 0.84 to 2.14 spacings cross 0 to 3 bars
    assert found.count(1.0, 0.0, height=100.0, spacing=100.0, alpha=45.0) == pytest.approx(2.0)


def test_neighbours_that_carry_most():
    """Of 100, 300, -, 200: the best one, pair (300 and one like it), three (300, -, 200: 3 x 250) and all (4 x 200)."""
    stress = np.array([100.0, 300.0, 0.0, 200.0])
    weights = crack.neighbours([100.0, 300.0, None, 200.0])
    assert weights @ stress == pytest.approx([0.0, 300.0, 600.0, 750.0, 800.0])
    assert weights.sum(axis=1) == pytest.approx([0.0, 1.0, 2.0, 3.0, 4.0])
