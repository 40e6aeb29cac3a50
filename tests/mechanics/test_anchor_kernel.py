"""Kernel of spike anchors: weakest mechanism, force against slip, distances in space."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cracktie.mechanics.anchor import area_ratio, closest, force, holes_apart, weakest


def test_weakest_leaves_out_what_does_not_exist() -> None:
    value, place = weakest([np.array([5.0, np.nan, 3.0]), 4.0, np.array([np.nan, 9.0, 3.0])])
    assert value.tolist() == [4.0, 4.0, 3.0]
    assert place.tolist() == [1, 1, 0]
    value, place = weakest([np.nan, np.nan])
    assert np.isnan(value)
    assert place == -1


def test_force_against_slip_by_hand() -> None:
    """k 40 kN/mm, 25 kN, 2 mm to 30 %: peak at 0.625 mm; at 0.8 mm 25 (1 - 0.7 0.175/2) = 23.469 kN."""
    slip = np.array([0.0, 0.4, 0.625, 0.8, 2.625, 5.0])
    found = force(slip, k=40e3, F_u=25e3, soft_slip=2.0, residual=0.3)
    assert found == pytest.approx([0.0, 16e3, 25e3, 23468.75, 7.5e3, 7.5e3])


def test_force_is_continuous() -> None:
    slip = np.linspace(0.0, 4.0, 40001)
    found = force(slip, k=40e3, F_u=25e3, soft_slip=0.5, residual=0.2)
    assert np.max(np.abs(np.diff(found))) <= 40e3 * 1e-4 * 1.001
    assert found.max() == pytest.approx(25e3, rel=1e-4)


def test_area_ratio_cancels_equal_fibres() -> None:
    assert area_ratio(count=2, A_a=20.0, f_fa=3000.0, area=60.0 * 0.2, f_fu=3000.0) == pytest.approx(40.0 / 12.0)
    assert area_ratio(count=1, A_a=20.0, f_fa=1500.0, area=10.0, f_fu=3000.0) == pytest.approx(1.0)


def segment_distance(*points: Any) -> float:
    one, other = closest(*points)
    return float(np.linalg.norm(one - other))


def test_holes_apart() -> None:
    """Facing holes lose nothing of the distance of their tips, parallel ones a diameter, at 45 deg 0.707 of it."""
    assert holes_apart((0, 50, 0), (0, 10, 0), (0, -50, 0), (0, -10, 0), 12.0) == pytest.approx(20.0)
    assert holes_apart((0, 0, 0), (40, 0, 0), (0, 30, 0), (40, 30, 0), 12.0) == pytest.approx(18.0)
    leaning = holes_apart((0, 50, 0), (0, 10, 40), (0, -50, 0), (0, -10, 40), 12.0)
    assert leaning == pytest.approx(20.0 - 12.0 * np.sqrt(0.5))
    assert holes_apart((0, 50, 0), (0, -10, 0), (0, -50, 0), (0, 10, 0), 12.0) == -12.0


def test_segment_distance_against_search() -> None:
    rng = np.random.default_rng(3)
    t = np.linspace(0.0, 1.0, 401)
    for _ in range(60):
        a, b, c, d = rng.uniform(-100, 100, (4, 3))
        one, other = a + t[:, None] * (b - a), c + t[:, None] * (d - c)
        searched = np.min(np.linalg.norm(one[:, None, :] - other[None, :, :], axis=2))
        found = segment_distance(a, b, c, d)
        assert found <= searched + 1e-9
        assert found == pytest.approx(searched, abs=1.0)


@pytest.mark.parametrize(
    ("a", "b", "c", "d", "distance"),
    [
        ((0, 0, 0), (10, 0, 0), (15, 0, 0), (25, 0, 0), 5.0),  # in one line
        ((0, 0, 0), (10, 0, 0), (0, 3, 0), (10, 3, 0), 3.0),  # parallel
        ((0, 0, 0), (10, 0, 0), (5, -5, 2), (5, 5, 2), 2.0),  # crossing above one another
        ((0, 0, 0), (10, 0, 0), (5, -5, 0), (5, 5, 0), 0.0),  # meeting
        ((0, 0, 0), (10, 0, 0), (3, 4, 0), (3, 4, 0), 4.0),  # a point
    ],
)
def test_segment_distance_by_hand(a: tuple, b: tuple, c: tuple, d: tuple, distance: float) -> None:
    assert segment_distance(a, b, c, d) == pytest.approx(distance, abs=1e-12)
