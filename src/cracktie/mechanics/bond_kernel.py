"""Bond-slip laws inside compiled kernels: stress, work and the state some way along the strip.

A law is a code and a row of numbers. The row starts with the same eight numbers for every code:
tau_max, slip_0 (slip at the largest stress), shape, tau_res, slip_res (slip from which tau_res acts alone),
two more of the code, and slip_f of the bilinear law of equal energy; a polyline appends its points.
"""

from __future__ import annotations

import math

import numpy as np

from cracktie.mechanics.compiled import kernel

BILINEAR, LU_SIMPLIFIED, LU_PRECISE, POPOVICS, DOUBLE_EXPONENTIAL, POLYLINE = range(6)
HEAD = 8

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)


@kernel
def stress(code, row, slip):
    """Bond stress [MPa] at a slip [mm]; 0 for negative slips, which no state reaches."""
    if slip >= row[4]:
        return row[3]
    if slip <= 0.0:
        return 0.0
    tau_max, slip_0, shape = row[0], row[1], row[2]
    if code == BILINEAR:
        return tau_max * slip / slip_0 if slip < slip_0 else tau_max * (shape - slip) / (shape - slip_0)
    if code in (LU_SIMPLIFIED, LU_PRECISE):
        if slip >= slip_0:
            return tau_max * math.exp(-shape * (slip / slip_0 - 1.0))
        if code == LU_SIMPLIFIED:
            return tau_max * math.sqrt(slip / slip_0)
        rising = slip / (slip_0 * row[5])
        return tau_max * rising / (math.sqrt(rising + row[6] ** 2) + row[6])  # keeps its digits at the smallest slips
    if code == POPOVICS:
        z = slip / slip_0
        return tau_max * z * shape / (shape - 1.0 + z**shape)
    if code == DOUBLE_EXPONENTIAL:
        return -4.0 * tau_max * math.exp(-shape * slip) * math.expm1(-shape * slip)
    points = (row.size - HEAD) // 2
    i = np.searchsorted(row[HEAD : HEAD + points], slip)
    s_1, s_2 = row[HEAD + i - 1], row[HEAD + i]
    t_1, t_2 = row[HEAD + points + i - 1], row[HEAD + points + i]
    return t_1 + (t_2 - t_1) * (slip - s_1) / (s_2 - s_1)


@kernel
def work(code, row, slip):
    """Area [N/mm] under the law from 0 to a slip [mm], in closed form where there is one."""
    if slip <= 0.0:
        return 0.0
    s = min(slip, row[4])
    rest = row[3] * (slip - s) if slip > s else 0.0
    tau_max, slip_0, shape = row[0], row[1], row[2]
    up = min(s, slip_0)
    if code == BILINEAR:
        done = 0.5 * tau_max * up * up / slip_0
        if s > slip_0:
            done += 0.5 * tau_max * (shape - slip_0) * (1.0 - ((shape - s) / (shape - slip_0)) ** 2)
        return done + rest
    if code in (LU_SIMPLIFIED, LU_PRECISE):
        if code == LU_SIMPLIFIED:
            done = 2.0 / 3.0 * tau_max * up * math.sqrt(up / slip_0)
        else:
            a, b = row[5], row[6]
            done = tau_max * (2.0 / 3.0 * slip_0 * a * ((up / (slip_0 * a) + b * b) ** 1.5 - b**3) - b * up)
        if s > slip_0:
            done -= tau_max * slip_0 / shape * math.expm1(-shape * (s / slip_0 - 1.0))
        return done + rest
    if code == POPOVICS:
        return tau_max * slip_0 * shape * _popovics_area(s / slip_0, shape) + rest
    if code == DOUBLE_EXPONENTIAL:
        return 2.0 * tau_max / shape * math.expm1(-shape * s) ** 2 + rest
    points = (row.size - HEAD) // 2
    done = 0.0
    for i in range(1, points):
        s_1, s_2 = row[HEAD + i - 1], row[HEAD + i]
        if s <= s_1:
            break
        t_1, end = row[HEAD + points + i - 1], min(s, s_2)
        t_2 = t_1 + (row[HEAD + points + i] - t_1) * (end - s_1) / (s_2 - s_1)
        done += 0.5 * (t_1 + t_2) * (end - s_1)
    return done + rest


@kernel
def _popovics_area(z, n):
    """Integral of t/(n - 1 + t^n) from 0 to z: Gauss rule on panels that double in length."""
    total, low, high = 0.0, 0.0, 0.5
    while low < z:
        high = min(high, z)
        for i in range(_NODES.size):
            t = 0.5 * (high + low) + 0.5 * (high - low) * _NODES[i]
            total += 0.5 * (high - low) * _WEIGHTS[i] * t / (n - 1.0 + t**n)
        low, high = high, 2.0 * high
    return total


@kernel
def rates(code, row, stiffness):
    """Growth rate [1/mm] of a small slip along the strip and, for the bilinear law, its rate while softening."""
    slip_0 = row[1]
    if code == BILINEAR:
        softening = math.sqrt(row[0] / ((row[2] - slip_0) * stiffness)) if row[2] > slip_0 else 0.0
        return math.sqrt(row[0] / (slip_0 * stiffness)), softening
    if code == LU_SIMPLIFIED:  # infinite slope at the origin: secant to the peak; see `front`
        return math.sqrt(row[0] / (slip_0 * stiffness)), 0.0
    small = 1e-9 * slip_0
    return math.sqrt(stress(code, row, small) / (small * stiffness)), 0.0


@kernel
def front(code, row, stiffness):
    """Coefficient A of slip = A x^4 behind the end of the slipping length; 0 where slip decays without end.

    Only a law that rises with the root of the slip has such a front: K (A x^4)'' = tau_max sqrt(A x^4/slip_0).
    """
    if code != LU_SIMPLIFIED:
        return 0.0
    return (row[0] / (stiffness * math.sqrt(row[1]))) ** 2 / 144.0


@kernel
def ahead_bilinear(slip, strain, x, grown, row, stiffness, rise, soften):
    """Slip and strain a length `x` further towards the loaded end, exact; `grown` = exp(rise x)."""
    slip_0, slip_f = row[1], row[2]
    if slip < slip_0:
        half = 0.5 * strain / rise
        up, down = 0.5 * slip + half, 0.5 * slip - half
        if up <= 0.0:
            return 0.0, 0.0
        root = math.sqrt(slip_0 * slip_0 - 4.0 * up * down)
        at_peak = 0.5 * (slip_0 + root) / up
        if at_peak >= grown:
            return up * grown + down / grown, rise * (up * grown - down / grown)
        slip, strain = slip_0, rise * root
        x -= math.log(at_peak) / rise
    if slip < slip_f:
        left = (slip_f - slip) * soften
        if soften * x < 0.5 * math.pi:  # the bond softens through within a quarter wave at most
            c, s = math.cos(soften * x), math.sin(soften * x)
            left_after = left * c - strain * s
            if left_after >= 0.0:
                return slip_f - left_after / soften, strain * c + left * s
        x -= math.atan2(left, strain) / soften
        strain = math.sqrt(strain * strain + left * left)
        slip = slip_f
    gain = row[3] / stiffness * x
    return slip + (strain + 0.5 * gain) * x, strain + gain


@kernel
def _next_corner(code, row, slip):
    """Smallest slip above `slip` at which the law has a corner or a jump."""
    found = row[4] if row[4] > slip else np.inf
    if code in (LU_SIMPLIFIED, LU_PRECISE) and row[1] > slip:
        return min(found, row[1])
    if code == POLYLINE:
        points = (row.size - HEAD) // 2
        i = np.searchsorted(row[HEAD : HEAD + points], slip, side="right")
        if i < points:
            return min(found, row[HEAD + i])
    return found


@kernel
def ahead_smooth(code, row, slip, strain, x, stiffness, rise, tolerance):
    """The same for any law: Dormand and Prince's Runge-Kutta pair of order 5(4), step set by the local error.

    Steps end on the corners of the law; the slip is convex in x, so that a chord never steps over one.
    """
    done, h, steps = 0.0, min(x, 0.1 / rise), 0
    if slip <= 0.0 and strain <= 0.0:
        a = front(code, row, stiffness)
        if a == 0.0:
            return 0.0, 0.0
        done = min(x, (row[1] / a) ** 0.25)  # exact up to the peak of the law
        slip, strain = a * done**4, 4.0 * a * done**3
    f_1, corner = stress(code, row, slip) / stiffness, _next_corner(code, row, slip)
    while done < x and steps < 100_000:
        steps += 1
        h = min(h, x - done)
        e_1 = strain
        e_2 = strain + h * f_1 / 5.0
        f_2 = stress(code, row, slip + h * e_1 / 5.0) / stiffness
        e_3 = strain + h * (3.0 * f_1 + 9.0 * f_2) / 40.0
        f_3 = stress(code, row, slip + h * (3.0 * e_1 + 9.0 * e_2) / 40.0) / stiffness
        e_4 = strain + h * (44.0 / 45.0 * f_1 - 56.0 / 15.0 * f_2 + 32.0 / 9.0 * f_3)
        f_4 = stress(code, row, slip + h * (44.0 / 45.0 * e_1 - 56.0 / 15.0 * e_2 + 32.0 / 9.0 * e_3)) / stiffness
        b_1, b_2, b_3, b_4 = 19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0
        e_5 = strain + h * (b_1 * f_1 + b_2 * f_2 + b_3 * f_3 + b_4 * f_4)
        f_5 = stress(code, row, slip + h * (b_1 * e_1 + b_2 * e_2 + b_3 * e_3 + b_4 * e_4)) / stiffness
        c_1, c_2, c_3, c_4, c_5 = 9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0
        e_6 = strain + h * (c_1 * f_1 + c_2 * f_2 + c_3 * f_3 + c_4 * f_4 + c_5 * f_5)
        f_6 = stress(code, row, slip + h * (c_1 * e_1 + c_2 * e_2 + c_3 * e_3 + c_4 * e_4 + c_5 * e_5)) / stiffness
        d_1, d_3, d_4, d_5, d_6 = 35.0 / 384.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0
        slip_new = slip + h * (d_1 * e_1 + d_3 * e_3 + d_4 * e_4 + d_5 * e_5 + d_6 * e_6)
        if slip_new > corner * (1.0 + 1e-13):
            h *= (corner - slip) / (slip_new - slip)
            continue
        e_7 = strain + h * (d_1 * f_1 + d_3 * f_3 + d_4 * f_4 + d_5 * f_5 + d_6 * f_6)
        f_7 = stress(code, row, slip_new) / stiffness
        g_1, g_3, g_4 = 71.0 / 57600.0, -71.0 / 16695.0, 71.0 / 1920.0
        g_5, g_6, g_7 = -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0
        off_s = h * (g_1 * e_1 + g_3 * e_3 + g_4 * e_4 + g_5 * e_5 + g_6 * e_6 + g_7 * e_7)
        off_e = h * (g_1 * f_1 + g_3 * f_3 + g_4 * f_4 + g_5 * f_5 + g_6 * f_6 + g_7 * f_7)
        size_s, size_e = max(slip_new, strain * h), max(e_7, rise * slip_new)
        error = max(abs(off_s) / size_s, abs(off_e) / size_e) / tolerance
        if error <= 1.0 or h < 1e-13 * x:
            done += h
            slip, strain, f_1 = slip_new, e_7, f_7
            if slip > corner * (1.0 - 1e-13):
                slip = corner
                f_1, corner = stress(code, row, slip) / stiffness, _next_corner(code, row, slip)
        h *= min(5.0, max(0.1, 0.9 * error**-0.2)) if error > 0.0 else 5.0
    if done < x:
        return np.nan, np.nan
    return slip, strain


@kernel
def ahead(code, row, slip, strain, x, grown, stiffness, rise, soften, tolerance):
    """Slip and strain a length `x` further towards the loaded end; `grown` = exp(rise x)."""
    if code == BILINEAR:
        return ahead_bilinear(slip, strain, x, grown, row, stiffness, rise, soften)
    return ahead_smooth(code, row, slip, strain, x, stiffness, rise, tolerance)


@kernel
def table(code, rows, slips, stresses, works):
    """Stress and work of every law at its slips; arrays (cases, slips)."""
    for i in range(rows.shape[0]):
        for j in range(slips.shape[1]):
            stresses[i, j] = stress(code, rows[i], slips[i, j])
            works[i, j] = work(code, rows[i], slips[i, j])
