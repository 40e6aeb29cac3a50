"""Stress-strain curves of concrete and steel as functions on arrays.

Concrete: strain and stress positive in compression, no tension. Steel: positive in tension, symmetric. All functions
broadcast; strains are ratios, stresses and moduli MPa. Beyond its last strain a curve carries nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def parabola_rectangle(eps: Any, f_c: Any, exponent: Any = 2.0, eps_c2: Any = 0.002, eps_cu: Any = 0.0035) -> Any:
    """EN 1992-1-1:2004 (3.17), (3.18): f_c [1 - (1 - eps/eps_c2)^n] up to eps_c2, then f_c up to eps_cu."""
    ratio = np.clip(eps / eps_c2, 0.0, 1.0)
    rest = 1.0 - ratio
    curve = f_c * (1.0 - (rest * rest if np.ndim(exponent) == 0 and exponent == 2.0 else rest**exponent))
    return np.where(np.asarray(eps) <= eps_cu * (1.0 + 1e-12), curve, 0.0)


def sargin(eps: Any, f_cm: Any, eps_c1: Any, k: Any, eps_cu: Any) -> Any:
    """EN 1992-1-1:2004 (3.14): f_cm (k eta - eta^2)/(1 + (k - 2) eta), eta = eps/eps_c1.

    `k` = 1.05 E_cm eps_c1/f_cm in EN 1992-1-1, E_ci eps_c1/f_cm in Model Code 2010.
    """
    eta = np.clip(np.asarray(eps), 0.0, eps_cu) / eps_c1
    stress = f_cm * (k * eta - eta**2) / (1.0 + (k - 2.0) * eta)
    return np.where(np.asarray(eps) <= eps_cu * (1.0 + 1e-12), np.maximum(stress, 0.0), 0.0)


def hognestad(eps: Any, f_peak: Any, E_c: Any, eps_cu: Any = 0.0038) -> Any:
    """Hognestad 1951: parabola to `f_peak` at 1.8 f_peak/E_c, then a straight line down to 0.85 f_peak at 0.0038.

    `f_peak` is 0.85 f'c in the original; 0.9 f'c and f'c are used as well. `eps_cu` cuts the line.
    """
    eps_0 = 1.8 * f_peak / E_c
    ratio = np.clip(eps / eps_0, 0.0, 1.0)
    falling = f_peak * (1.0 - 0.15 * np.maximum(eps - eps_0, 0.0) / (0.0038 - eps_0))
    curve = np.where(np.asarray(eps) <= eps_0, f_peak * (2.0 * ratio - ratio**2), falling)
    return np.where(np.asarray(eps) <= eps_cu * (1.0 + 1e-12), np.maximum(curve, 0.0), 0.0)


def bilinear(eps: Any, E_s: Any, f_y: Any, E_h: Any = 0.0, eps_u: Any = np.inf) -> Any:
    """Elastic up to `f_y`, then a straight line of slope `E_h` up to `eps_u`."""
    size = np.abs(eps)
    stress = np.minimum(E_s * size, f_y + E_h * np.maximum(size - f_y / E_s, 0.0))
    return np.where(size <= eps_u, np.sign(eps) * stress, 0.0)


def hardening_modulus(E_s: Any, f_y: Any, f_t: Any, eps_su: Any) -> Any:
    """Slope of the line from first yield to the tensile strength `f_t` at `eps_su`, MPa."""
    return (f_t - f_y) / (eps_su - f_y / E_s)


def ramberg_osgood(eps: Any, E_s: Any, f_02: Any, exponent: Any, rounds: int = 40) -> Any:
    """Rounded steel: eps = s/E_s + 0.002 (s/f_02)^n, solved for s; `f_02` is the 0.2 % proof stress Rp0.2.

    Newton's method from above on a convex function, so that it converges without overshooting.
    """
    size, E_s, f_02, exponent = np.broadcast_arrays(np.abs(eps), E_s, f_02, exponent)
    ratio = np.minimum(size * E_s / f_02, (size / 0.002) ** (1.0 / exponent))
    for _ in range(rounds):
        power = 0.002 * ratio ** (exponent - 1.0)
        gap = ratio * f_02 / E_s + power * ratio - size
        change = gap / (f_02 / E_s + exponent * power)
        ratio = ratio - change
        if np.all(np.abs(change) <= 1e-14 * ratio):
            break
    return np.sign(eps) * ratio * f_02
