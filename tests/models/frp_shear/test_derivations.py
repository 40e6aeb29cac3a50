"""Factors that follow from a mean over the strips a crack crosses, each with the bond length left above the crack."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from .beams import RECTANGULAR, TEE, steps


def mean_over_strips(law: Callable[[np.ndarray], np.ndarray], longest: float) -> float:
    """Mean of the stress over bond lengths spread evenly from 0 to the longest (midpoints of 100 000 strips)."""
    lengths = (np.arange(100_000) + 0.5) / 100_000 * longest
    return float(np.mean(law(lengths)))


@pytest.mark.parametrize("z_t", [100.0, 230.0, 290.0])
def test_chen_teng_distribution_factor_is_the_mean_of_its_sine_law(z_t: float) -> None:
    L_e, L_max, beta_L, D_f = steps("chen_teng_2003", TEE, "L_e", "L_max", "beta_L", "D_f", z_t=z_t)
    mean = mean_over_strips(lambda x: np.sin(np.pi / 2 * np.minimum(x / L_e, 1.0)), L_max)
    assert D_f == pytest.approx(mean / beta_L, rel=1e-6)


def test_cnr_third_is_the_mean_of_the_parabolic_anchorage_law() -> None:
    beam = {**RECTANGULAR, "scheme": "u"}
    l_ed, f_fdd, f_fe = steps("cnr_dt200_2013", beam, "l_ed", "f_fdd", "f_fe")
    mean = mean_over_strips(lambda x: (ratio := np.minimum(x / l_ed, 1.0)) * (2.0 - ratio), 405.0)
    assert f_fe / f_fdd == pytest.approx(mean, rel=1e-6)


def test_tr55_takes_a_third_of_the_anchorage_length_per_free_end_for_the_same_reason() -> None:
    l_t, h_fe = steps("tr55_2012", TEE, "l_t", "h_fe")
    mean = mean_over_strips(lambda x: (ratio := np.minimum(x / l_t, 1.0)) * (2.0 - ratio), 260.0)
    assert h_fe / 260.0 == pytest.approx(mean, rel=1e-6)


def test_mofidi_factor_is_the_same_parabola_at_its_largest_bond_length() -> None:
    lam, beta_L = steps("mofidi_chaallal_2011", {**TEE, "scheme": "side", "d_fv": 90.0}, "lambda_L", "beta_L")
    assert beta_L == pytest.approx(1.0 - (1.0 - lam) ** 2)
