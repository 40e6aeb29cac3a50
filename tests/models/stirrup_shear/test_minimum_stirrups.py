"""The minimum-stirrup switch: each document's expression by hand, on both sides of its threshold."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.models.stirrup_shear import minimum_stirrups as minimum

BEAM = {"s_w": 200.0, "b_w": 250.0, "f_yw": 500.0, "f_c": 36.0}


@pytest.mark.parametrize(
    ("rule", "area"),
    [
        # s_w b_w/f_yw = 100 mm2/MPa; root(36) = 6
        (minimum.aci318, 100 * 0.062 * 6),
        (minimum.ec2, 100 * 0.08 * 6),
        (minimum.mc2010, 100 * 0.08 * 6),
        (minimum.csa, 100 * 0.06 * 6),
        (minimum.aashto, 100 * 0.083 * 6),
    ],
)
def test_threshold(rule: object, area: float) -> None:
    answers = rule(A_sw=np.array([area * 0.999, area * 1.001]), **BEAM)  # type: ignore[operator]
    assert answers.tolist() == [False, True]


def test_aci_has_a_floor_for_weak_concrete() -> None:
    weak = {**BEAM, "f_c": 16.0}  # 0.062 root(16) = 0.248 < 0.35
    assert minimum.aci318(A_sw=np.array([34.9, 35.1]), **weak).tolist() == [False, True]


def test_inclined_stirrups_count_more_in_ec2() -> None:
    """(9.4) divides by sin(alpha): at 45 degrees 0.7071 of the area is enough."""
    assert minimum.ec2(A_sw=np.array([33.8, 34.1]), alpha_w=45.0, **BEAM).tolist() == [False, True]
