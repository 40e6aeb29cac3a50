"""Statics of the test beam against hand results, equilibrium and the slope of the moment diagram."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.errors import ModelInputError
from cracktie.mechanics.statics import (
    SimpleBeam,
    four_point,
    moment,
    reactions,
    shear,
    shear_influence,
    three_point,
    weight_per_length,
)

# T-section: web 180 x 450, flange 400 x 100, 25 kN/m3; span 3000, overhangs 250, load at 1170 (worked by hand):
# area = 180*450 + (400-180)*100 = 103000 mm2 -> 2.575 N/mm; R = 2.575*3500/2; V(585) = R - 2.575*(250+585)
WEIGHT = 2.575
BEAM = SimpleBeam(span=3000.0, left_overhang=250.0, right_overhang=250.0, weight=WEIGHT)


def test_hand_results():
    assert weight_per_length(103_000.0) == pytest.approx(2.575)
    assert reactions(BEAM) == pytest.approx((4506.25, 4506.25))
    assert shear(BEAM, 585.0) == pytest.approx(2356.125)
    assert shear(BEAM, 585.0, three_point(3000.0, 1170.0, 300e3)) == pytest.approx(185_356.125)
    # change of V with the load's place: -P/L = -100 N/mm
    moved = shear(BEAM, 585.0, three_point(3000.0, 1171.0, 300e3)) - shear(
        BEAM, 585.0, three_point(3000.0, 1170.0, 300e3)
    )
    assert moved == pytest.approx(-100.0)


def test_four_point_between_the_loads():
    beam = SimpleBeam(span=3000.0)
    loads = four_point(3000.0, 900.0, 900.0, 200e3)
    assert shear(beam, [450.0, 1500.0, 2500.0], loads) == pytest.approx([100e3, 0.0, -100e3])
    assert moment(beam, [900.0, 1500.0, 2100.0], loads) == pytest.approx([90e6, 90e6, 90e6])
    uneven = four_point(3000.0, 900.0, 600.0, 200e3, left_share=0.6)
    left, right = reactions(beam, uneven)
    assert (left, right) == pytest.approx(
        (120e3 * 2100 / 3000 + 80e3 * 600 / 3000, 120e3 * 900 / 3000 + 80e3 * 2400 / 3000)
    )


def test_moment_of_self_weight():
    beam = SimpleBeam(span=4000.0, weight=3.0)
    assert moment(beam, 2000.0) == pytest.approx(3.0 * 4000.0**2 / 8)
    assert moment(BEAM, 0.0) == pytest.approx(-WEIGHT * 250.0**2 / 2)


def test_a_load_on_the_overhang_lifts_the_other_end():
    beam = SimpleBeam(span=2000.0, right_overhang=500.0)
    assert reactions(beam, [(2500.0, 1000.0)]) == pytest.approx((-250.0, 1250.0))
    assert moment(beam, 2000.0, [(2500.0, 1000.0)]) == pytest.approx(-500e3)


def test_influence():
    assert shear_influence(BEAM, 585.0, 1170.0) == pytest.approx(0.61)
    assert shear_influence(BEAM, 2000.0, 1170.0) == pytest.approx(-0.39)


places = st.floats(0.02, 0.98)


@given(
    st.lists(st.tuples(places, st.floats(-1e6, 1e6)), max_size=4),
    st.floats(0, 800),
    st.floats(0, 800),
    st.floats(0, 20),
)
def test_equilibrium_and_slope(loads, left, right, weight):
    beam = SimpleBeam(span=2500.0, left_overhang=left, right_overhang=right, weight=weight)
    points = [(x * 2500.0, p) for x, p in loads]
    r = reactions(beam, points)
    total = sum(p for _, p in points) + weight * (2500.0 + left + right)
    assert sum(r) == pytest.approx(total, abs=1e-6 * (1 + sum(abs(p) for _, p in points)))
    scale = 1 + sum(abs(p) for _, p in points) + weight * 5000
    assert moment(beam, 2500.0 + right, points) == pytest.approx(0.0, abs=1e-9 * scale * 5000)
    x = np.linspace(1.0, 2499.0, 400)
    away = np.min(np.abs(x[:, None] - np.array([p for p, _ in points] or [1e9])), axis=1) > 1.0
    slope = moment(beam, x + 0.5, points) - moment(beam, x - 0.5, points)
    np.testing.assert_allclose(slope[away], shear(beam, x, points)[away], atol=1e-6 * scale)


@pytest.mark.parametrize(
    "call",
    [
        lambda: SimpleBeam(span=0.0),
        lambda: SimpleBeam(span=1.0, weight=-1.0),
        lambda: reactions(BEAM, [(4000.0, 1.0)]),
        lambda: three_point(3000.0, 3000.0, 1.0),
        lambda: four_point(3000.0, 2000.0, 1500.0, 1.0),
        lambda: four_point(3000.0, 900.0, 900.0, 1.0, left_share=1.2),
    ],
)
def test_impossible_beams_are_refused(call):
    with pytest.raises(ModelInputError, match=r"mm|share|negative"):
        call()
