"""One invented T-beam for the tests of the mechanics."""

from __future__ import annotations

from typing import Any

import pytest


@pytest.fixture
def beam() -> dict[str, Any]:
    """Inputs without FRP; mm, N, MPa."""
    return {
        "h": 420.0, "d": 360.0, "f_c": 30.0, "V_c0": 60e3, "A_sw": 56.5, "s_w": 220.0, "f_yw": 320.0, "d_w": 6.0,
        "plain": True,
    }  # fmt: skip


@pytest.fixture
def wrapped(beam: dict[str, Any]) -> dict[str, Any]:
    """The same with U-wrapped strips below a flange."""
    return {
        **beam, "scheme": "u", "layout": "strips", "E_f": 236e3, "f_fu": 3880.0, "t_f": 0.167, "n": 1, "w_f": 60.0,
        "s_f": 150.0, "beta": 90.0, "z_t": 100.0, "d_frp": 420.0,
    }  # fmt: skip


@pytest.fixture
def anchored(wrapped: dict[str, Any]) -> dict[str, Any]:
    """The same with an anchor at the upper end of each leg."""
    return {
        **wrapped, "anchored": True, "k_leg": 60e3, "F_leg": 25e3, "soft_slip": 0.5, "residual": 0.0, "z_anchor": 300.0
    }  # fmt: skip
