"""Geometry of bonded FRP on a web: strip width, spacing, ratio and the truss factor, all conversions in one place.

Two conventions are kept everywhere: a strip's width `w_f` is measured ACROSS the fibres and the spacing `s_f` ALONG
the axis of the member. Documents that measure the spacing across the fibres get it from `spacing_across`. A continuous
sheet is the word 'continuous', never a width equal to the spacing: along the axis each fibre covers 1/sin(beta) of its
own width, so the sheet counts as w_f/s_f = sin(beta). Angles in degrees from the axis. Every function takes numbers,
arrays of one shape or traced numbers, and derives from this geometry alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def along_axis(*, layout: str, w_f: Any, s_f: Any, beta: Any) -> Any:
    """w_f/s_f with the spacing along the axis; sin(beta) for a continuous sheet, whose `w_f` and `s_f` go unread."""
    if layout == "continuous":
        return np.sin(np.radians(beta))
    return w_f / s_f


def across_fibres(*, layout: str, w_f: Any, s_f: Any, beta: Any) -> Any:
    """w_f over the spacing across the fibres: the covered share of the web face; 1 for a continuous sheet."""
    if layout == "continuous":
        return 1.0
    return w_f / spacing_across(s_f=s_f, beta=beta)


def spacing_across(*, s_f: Any, beta: Any) -> Any:
    """Spacing in mm across the fibres of strips spaced `s_f` mm along the axis."""
    return s_f * np.sin(np.radians(beta))


def spacing_along(*, p_f: Any, beta: Any) -> Any:
    """Spacing in mm along the axis of strips spaced `p_f` mm across the fibres."""
    return p_f / np.sin(np.radians(beta))


def area_per_length(*, n: Any, t_f: Any, ratio: Any) -> Any:
    """FRP area on both faces per mm of axis in mm2/mm; `ratio` from `along_axis`."""
    return 2.0 * n * t_f * ratio


def ratio_of_web(*, n: Any, t_f: Any, ratio: Any, b_w: Any) -> Any:
    """FRP ratio rho_f = 2 n t_f/b_w times `ratio` from `along_axis`."""
    return 2.0 * n * t_f / b_w * ratio


def truss_factor_45(*, beta: Any) -> Any:
    """(cot 45 + cot beta) sin beta = sin beta + cos beta: force across a crack at 45 degrees per unit of height."""
    angle = np.radians(beta)
    return np.sin(angle) + np.cos(angle)


def truss_factor(*, theta: Any, beta: Any) -> Any:
    """(cot theta + cot beta) sin beta for a crack at `theta`."""
    angle = np.radians(beta)
    return np.sin(angle) / np.tan(np.radians(theta)) + np.cos(angle)


def crosses_crack(*, beta: Any, theta: Any = 45.0) -> Any:
    """Whether the opening of a crack at `theta` stretches fibres at `beta`: 0 < beta < 180 - theta."""
    return (beta > 0.0) & (beta + theta < 180.0)


def overlaps(*, layout: str, w_f: Any, s_f: Any, beta: Any) -> Any:
    """Whether strips lie over one another: wider across the fibres than their spacing across the fibres."""
    if layout == "continuous":
        return False
    return w_f > spacing_across(s_f=s_f, beta=beta) * (1.0 + 1e-9)
