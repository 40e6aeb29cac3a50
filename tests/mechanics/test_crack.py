"""Kinematics of the critical crack: hand values, limits, and sums against quadrature."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.mechanics import crack


def test_sliding_stretches_a_vertical_fibre() -> None:
    """By hand: w cos 40 + v sin 40 = 0.1532 + 0.0643; a fibre square to nothing but the crack feels little of it."""
    assert crack.along_fibre(0.2, 0.1, theta=40.0, beta=90.0) == pytest.approx(0.2 * 0.76604 + 0.1 * 0.64279, abs=1e-5)
    assert crack.along_fibre(0.2, 0.1, theta=40.0, beta=45.0) == pytest.approx(0.1905, abs=1e-4)
    assert crack.along_fibre(0.2, 0.1, theta=40.0, beta=50.0) == pytest.approx(0.2)
    assert crack.along_fibre(0.2, -0.1, theta=40.0, beta=90.0) < crack.along_fibre(0.2, 0.0, theta=40.0, beta=90.0)


@pytest.mark.parametrize("theta", [20.0, 37.5, 60.0])
def test_rigid_blocks_give_the_same_lengthening(theta: float) -> None:
    """Move the block on the load side of the crack and measure the fibre between two points glued to both blocks."""
    t = np.radians(theta)
    normal, along = np.array([np.sin(t), -np.cos(t)]), np.array([np.cos(t), np.sin(t)])
    w, v = 1e-4, 7e-5
    for beta in (50.0, 90.0, 110.0):
        fibre = np.array([-np.cos(np.radians(beta)), np.sin(np.radians(beta))])
        lower, upper = -40.0 * fibre, 60.0 * fibre
        assert lower @ normal > 0.0 > upper @ normal  # the upper end is on the support side of the crack
        moved = upper - w * normal + v * along
        longer = np.linalg.norm(moved - lower) - 100.0
        assert longer == pytest.approx(crack.along_fibre(w, v, theta=theta, beta=beta), abs=1e-9)


@pytest.mark.parametrize("m", [0.0, 0.25, 0.5, 1.0, 2.0])
def test_mean_opening_and_stirrups_are_means_over_the_height(m: float) -> None:
    z_m, z_t = 40.0, 380.0
    z = z_m + (np.arange(200_000) + 0.5) * (z_t - z_m) / 200_000
    for w in (0.05, 0.3, 2.0, 6.0):
        at = crack.opening(w, z=z, z_m=z_m, z_t=z_t, m=m)
        assert crack.mean_opening(w, m=m) == pytest.approx(at.mean(), rel=1e-5)
        u = crack.along_fibre(at, 0.0, theta=35.0, beta=60.0)
        local = np.minimum(420.0, np.sqrt(4.0 * 200e3 * 7.0 * u / 8.0))
        found = crack.stirrup_stress(w, m=m, theta=35.0, alpha=60.0, tau_b=7.0, d_w=8.0, f_yw=420.0, E_s=200e3)
        assert found == pytest.approx(local.mean(), rel=1e-4)


def test_opening_ends_at_the_tip_and_is_zero_outside() -> None:
    z = np.array([-1.0, 40.0, 210.0, 380.0, 400.0])
    assert crack.opening(2.0, z=z, z_m=40.0, z_t=380.0, m=1.0) == pytest.approx([0.0, 2.0, 1.0, 0.0, 0.0])


def test_tip_and_plates() -> None:
    assert crack.tip_height(h=500.0, d=450.0) == pytest.approx(455.0)
    assert crack.tip_height(h=500.0, d=450.0, h_flange=100.0) == pytest.approx(400.0)
    assert crack.tip_height(h=500.0, d=450.0, h_flange=30.0) == pytest.approx(455.0)
    assert crack.crack_angle(37.5, clear=1000.0, height=400.0) == pytest.approx(37.5)
    assert crack.crack_angle(37.5, clear=400.0, height=400.0) == pytest.approx(45.0)


def test_interlock_has_a_plateau_and_then_falls() -> None:
    w = np.array([0.0, 0.3, 0.6, 1.2, 3.0])
    left = crack.interlock(w, w_0=0.6, d_g=16.0)
    assert left[:3] == pytest.approx([1.0, 1.0, 1.0])
    assert left[3] == pytest.approx((0.31 + 0.75 * 0.6) / (0.31 + 0.75 * 1.2))
    assert (np.diff(left) <= 0.0).all()


def test_crossing_and_place_undo_one_another() -> None:
    same = {"mouth": 300.0, "z_m": 45.0, "z_ref": 210.0, "theta": 33.0, "beta": 70.0}
    z = np.array([45.0, 120.0, 330.0])
    x = crack.fibre_place(z, **same)
    assert crack.crossing_height(x, **same) == pytest.approx(z)


def test_arrays_equal_scalars() -> None:
    w = np.array([0.1, 0.5, 3.0])
    given = {"m": 0.5, "theta": 37.5, "alpha": 90.0, "tau_b": 9.0, "d_w": 6.0, "f_yw": 300.0, "E_s": 200e3}
    many = crack.stirrup_stress(w, **given)
    assert many == pytest.approx([float(crack.stirrup_stress(x, **given)) for x in w])
