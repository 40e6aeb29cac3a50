"""Whether a beam has the minimum stirrups of a document: the switch that several concrete terms need.

Every function takes `A_sw` (mm2), `s_w` and `b_w` (mm), `f_yw` and `f_c` (MPa), numbers or arrays, and answers True or
False for each case. FRP wraps are no stirrups: the documents say nothing that would let them count. Spacing limits
are not part of the answer. All coefficients from memory, recalled with high confidence.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def aci318(*, A_sw: Any, s_w: Any, b_w: Any, f_yw: Any, f_c: Any) -> Any:
    """ACI 318-14 9.6.3.3 and ACI 318-19 9.6.3.4, SI edition: max(0.062 root(f'c), 0.35 MPa) b_w/f_yt."""
    return np.asarray(A_sw / s_w >= np.maximum(0.062 * np.sqrt(f_c), 0.35) * b_w / f_yw)


def ec2(*, A_sw: Any, s_w: Any, b_w: Any, f_yw: Any, f_c: Any, alpha_w: Any = 90.0) -> Any:
    """EN 1992-1-1:2004 (9.4), (9.5N): A_sw/(s b_w sin(alpha)) at least 0.08 root(f_ck)/f_yk; `alpha_w` degrees."""
    return np.asarray(A_sw / (s_w * b_w * np.sin(np.radians(alpha_w))) >= 0.08 * np.sqrt(f_c) / f_yw)


def mc2010(*, A_sw: Any, s_w: Any, b_w: Any, f_yw: Any, f_c: Any) -> Any:
    """Model Code 2010 7.13.5.2: A_sw/(s b_w) at least 0.08 root(f_ck)/f_yk."""
    return np.asarray(A_sw / (s_w * b_w) >= 0.08 * np.sqrt(f_c) / f_yw)


def csa(*, A_sw: Any, s_w: Any, b_w: Any, f_yw: Any, f_c: Any) -> Any:
    """CSA A23.3 11.2.8.2: A_v at least 0.06 root(f'c) b_w s/f_y."""
    return np.asarray(A_sw / s_w >= 0.06 * np.sqrt(f_c) * b_w / f_yw)


def aashto(*, A_sw: Any, s_w: Any, b_w: Any, f_yw: Any, f_c: Any) -> Any:
    """AASHTO LRFD 5.7.2.5 in SI: A_v at least 0.083 root(f'c) b_v s/f_y."""
    return np.asarray(A_sw / s_w >= 0.083 * np.sqrt(f_c) * b_w / f_yw)
