"""The critical diagonal crack: where it lies, how it opens, what crosses it. Numbers or arrays of one shape; mm, MPa.

One straight crack at `theta` degrees from a mouth at the level of the tension bars to a tip below the top face. Its
opening `w` is measured at the mouth, square to the crack; the height z is measured up from the soffit. All of it is
our own idealisation: rotation about the tip would give a linear opening, parallel faces a uniform one.
"""

from __future__ import annotations

from typing import Any

import numpy as np

E_STEEL = 200_000.0
"""MPa, stirrups unless told otherwise."""


def tip_height(*, h: Any, d: Any, share: Any = 0.1, h_flange: Any = None) -> Any:
    """Height of the crack tip: `share` d below the top, or the soffit of a flange `h_flange` deep where that is lower.

    0.1 d below the top is the level at which Chen and Teng 2003 end the effective height of the FRP.
    """
    high = h - share * d
    return high if h_flange is None else np.minimum(high, h - h_flange)


def flattest(*, clear: Any, height: Any) -> Any:
    """Flattest angle in degrees of a crack `height` high that has to fit between plates `clear` apart."""
    return np.degrees(np.arctan2(height, clear))


def crack_angle(theta: Any, *, clear: Any, height: Any) -> Any:
    """The angle wanted, in degrees, made as steep as the plates ask for."""
    return np.maximum(theta, flattest(clear=clear, height=height))


def length(*, height: Any, theta: Any) -> Any:
    """Length of the crack in mm."""
    return height / np.sin(np.radians(theta))


def opening(w: Any, *, z: Any, z_m: Any, z_t: Any, m: Any) -> Any:
    """Opening at height `z`: w times the relative distance from the tip to the power `m`; 0 outside the crack.

    `m` 1 is a rigid rotation about the tip, 0 a parallel opening.
    """
    share = (z_t - z) / (z_t - z_m)
    inside = (share >= 0.0) & (share <= 1.0)
    return np.where(inside, w * np.power(np.clip(share, 0.0, 1.0), m), 0.0)


def mean_opening(w: Any, *, m: Any) -> Any:
    """Mean of `opening` over the height of the crack."""
    return w / (1.0 + m)


def along_fibre(w: Any, v: Any, *, theta: Any, beta: Any) -> Any:
    """Lengthening of a fibre at `beta` degrees by an opening `w` and a sliding `v` of the crack, mm.

    `v` is positive where the side of the support moves up along the crack, as shear drives it: it stretches a
    vertical fibre, w cos(theta) + v sin(theta).
    """
    turned = np.radians(theta + beta)
    return w * np.sin(turned) - v * np.cos(turned)


def fibre_place(z: Any, *, mouth: Any, z_m: Any, z_ref: Any, theta: Any, beta: Any) -> Any:
    """x at height `z_ref` of the fibre that the crack crosses at height `z`; x grows from the support to the load.

    `mouth` is the x of the crack at `z_m`. A fibre below 90 degrees rises towards the support.
    """
    return mouth + (z - z_m) / np.tan(np.radians(theta)) + (z - z_ref) / np.tan(np.radians(beta))


def crossing_height(x: Any, *, mouth: Any, z_m: Any, z_ref: Any, theta: Any, beta: Any) -> Any:
    """Height at which the (extended) crack crosses the fibre that is at `x` on the level `z_ref`."""
    crack, fibre = 1.0 / np.tan(np.radians(theta)), 1.0 / np.tan(np.radians(beta))
    return (x - mouth + z_m * crack + z_ref * fibre) / (crack + fibre)


def stirrup_stress(w: Any, *, m: Any, theta: Any, alpha: Any, tau_b: Any, d_w: Any, f_yw: Any, E_s: Any) -> Any:
    """Mean stress over the crack of stirrups whose bond is rigid and plastic, at most the yield strength, MPa.

    A bar of diameter `d_w` that opens by u needs sqrt(4 E_s tau_b u/d_w) (equilibrium and half the slip on either
    side, our own derivation); the mean over the height follows in closed form from the shape of the opening.
    """
    u = np.maximum(along_fibre(w, 0.0, theta=theta, beta=alpha), 0.0)
    free = np.sqrt(4.0 * E_s * tau_b * u / d_w)
    half = 0.5 * np.asarray(m, dtype=float)
    ratio = np.minimum(f_yw / np.maximum(free, 1e-300), 1.0)
    reach = np.where(half > 0.0, np.power(ratio, 1.0 / np.where(half > 0.0, half, 1.0)), 1.0)
    bonded = np.where(half > 0.0, free * np.power(reach, half + 1.0) / (half + 1.0), np.minimum(free, f_yw))
    return bonded + f_yw * np.where(half > 0.0, 1.0 - reach, 0.0)


def stirrup_share(*, A_sw: Any, s_w: Any, height: Any, theta: Any, alpha: Any) -> Any:
    """Shear in N per MPa of stress in the smeared stirrups that cross the crack."""
    angle = np.radians(alpha)
    count = height * (1.0 / np.tan(np.radians(theta)) + 1.0 / np.tan(angle)) / s_w
    return A_sw * count * np.sin(angle)


def interlock(w: Any, *, w_0: Any, d_g: Any) -> Any:
    """Share of the concrete term that is left at a mean opening `w`: 1 up to `w_0`, then as aggregate interlock falls.

    The fall is that of the crack check 1/(0.31 + 24 w/(d_g + 16)) of the modified compression field theory (Vecchio
    and Collins 1986, from memory); the plateau and the scaling to the concrete term at w_0 are our own.
    """
    rate = 24.0 / (d_g + 16.0)
    return np.minimum((0.31 + rate * w_0) / (0.31 + rate * np.maximum(w, 0.0)), 1.0)
