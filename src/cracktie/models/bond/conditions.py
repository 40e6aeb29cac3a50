"""Conditions of use and steps shared by the bond models."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.clause import Applies, Step

COVERED = Applies(
    lambda inputs: (inputs["cover"] > 0.0) & (inputs["cover"] <= 1.0),
    "the bonded width must lie between nothing and the whole width of concrete (cover above 0, at most 1)",
    "geometry",
)
EQUAL_ENERGY = "bilinear law of equal energy"


def lu_width_factor(step: Step, cover: Any) -> Any:
    """beta_w of Lu and others 2005."""
    return step("beta_w", np.sqrt((2.25 - cover) / (1.25 + cover)), "-", "width factor")


def chen_teng_width_factor(step: Step, cover: Any) -> Any:
    """beta_w of Chen and Teng 2001."""
    return step("beta_w", np.sqrt((2.0 - cover) / (1.0 + cover)), "-", "width factor")
