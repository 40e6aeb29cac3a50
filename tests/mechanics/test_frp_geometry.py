"""Strips, spacings and the truss factor against elementary geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.mechanics import frp_geometry as geometry

angles = st.floats(20.0, 130.0)
widths = st.floats(10.0, 300.0)


@given(beta=angles, w_f=widths)
def test_strips_side_by_side_are_a_continuous_sheet(beta: float, w_f: float) -> None:
    """Strips that touch are spaced w_f across the fibres: w_f/sin(beta) along the axis."""
    s_f = geometry.spacing_along(p_f=w_f, beta=beta)
    strips = {"layout": "strips", "w_f": w_f, "s_f": s_f, "beta": beta}
    sheet = {**strips, "layout": "continuous", "w_f": math.nan, "s_f": math.nan}
    assert geometry.along_axis(**strips) == pytest.approx(geometry.along_axis(**sheet), rel=1e-12)
    assert geometry.across_fibres(**strips) == pytest.approx(geometry.across_fibres(**sheet), rel=1e-12)
    assert not geometry.overlaps(**strips)
    assert geometry.overlaps(**{**strips, "s_f": 0.999 * s_f})


def test_a_sheet_at_45_degrees_is_no_width_equal_to_spacing() -> None:
    assert geometry.along_axis(layout="continuous", w_f=1.0, s_f=1.0, beta=45.0) == pytest.approx(math.sqrt(0.5))


def test_a_sheet_ignores_width_and_spacing_even_where_they_are_nothing() -> None:
    assert geometry.along_axis(layout="continuous", w_f=None, s_f=None, beta=90.0) == pytest.approx(1.0)
    assert geometry.across_fibres(layout="continuous", w_f=None, s_f=None, beta=90.0) == 1.0
    assert not geometry.overlaps(layout="continuous", w_f=None, s_f=None, beta=90.0)


@given(theta=st.floats(25.0, 65.0), beta=st.floats(20.0, 110.0))
def test_truss_factor_counts_the_strips_a_crack_crosses(theta: float, beta: float) -> None:
    """A crack over the height 1 runs cot(theta) along the axis; a fibre leaning cot(beta) towards it starts earlier."""
    crossed_length = 1.0 / math.tan(math.radians(theta)) + 1.0 / math.tan(math.radians(beta))
    vertical_part = math.sin(math.radians(beta))
    expected = crossed_length * vertical_part
    assert geometry.truss_factor(theta=theta, beta=beta) == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert (expected > 0) == bool(geometry.crosses_crack(beta=beta, theta=theta)) or abs(expected) < 1e-9


@given(beta=angles)
def test_45_degrees_is_the_general_factor(beta: float) -> None:
    general = geometry.truss_factor(theta=45.0, beta=beta)
    assert geometry.truss_factor_45(beta=beta) == pytest.approx(general, rel=1e-9, abs=1e-12)


@given(s_f=widths, beta=angles)
def test_spacings_convert_back_and_forth(s_f: float, beta: float) -> None:
    across = geometry.spacing_across(s_f=s_f, beta=beta)
    assert across <= s_f
    assert geometry.spacing_along(p_f=across, beta=beta) == pytest.approx(s_f, rel=1e-12)


def test_area_and_ratio_by_hand() -> None:
    """Two plies of 0.2 mm on both faces: 0.8 mm2 per mm where a sheet stands vertical; 0.8/200 of the web."""
    assert geometry.area_per_length(n=2, t_f=0.2, ratio=1.0) == pytest.approx(0.8)
    assert geometry.ratio_of_web(n=2, t_f=0.2, ratio=0.5, b_w=200.0) == pytest.approx(0.002)


def test_arrays_go_through() -> None:
    beta = np.array([45.0, 90.0])
    ratio = geometry.along_axis(layout="strips", w_f=np.array([50.0, 60.0]), s_f=100.0, beta=beta)
    np.testing.assert_allclose(ratio, [0.5, 0.6])
