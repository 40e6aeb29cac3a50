"""A strip that crosses a crack: two bonded lengths that share one force, inside compiled kernels.

The crack opening along the fibres is the sum of the slips of both sides. While both forces rise the strip loads
both sides; the side that comes to a maximum first goes on along its own path, the other one unloads along its
secant and waits there until the force is back. `trace` (5, points): opening, force, position along each side's path
(point number and fraction), and the share of the force at which the unloaded side left its path, negative where it is
the first side.
"""

from __future__ import annotations

import numpy as np

from cracktie.mechanics.compiled import kernel
from cracktie.mechanics.strip_kernel import FAR_FORCE, FORCE, SLIP, follow

OPENING, TOTAL, FIRST, SECOND, SHARE = range(5)
ROUNDING = 1.0 - 1e-12


@kernel
def _climb(path, at, slip, force, to):
    """Position and slip of a side whose force rises from `force` to `to`, not beyond its next point."""
    after = int(at) + 1
    top = path[FORCE, after]
    if to <= force:
        return at, slip
    if to >= top:
        return float(after), path[SLIP, after]
    t = (to - force) / (top - force)
    return at + t * (after - at), slip + t * (path[SLIP, after] - slip)


@kernel
def couple(one, two, trace):
    """Trace both sides (paths from the unloaded state) until one path ends; returns the number of points.

    `trace` needs three points for every point of the two paths together.
    """
    at_1, slip_1, at_2, slip_2, force = 0.0, 0.0, 0.0, 0.0, 0.0
    trace[:, 0] = 0.0
    trace[SHARE, 0] = 1.0
    n = 1
    end_1, end_2 = one.shape[1] - 1, two.shape[1] - 1
    while at_1 < end_1 and at_2 < end_2 and n < trace.shape[1] - 2:
        next_1, next_2 = one[FORCE, int(at_1) + 1], two[FORCE, int(at_2) + 1]
        if next_1 >= force * ROUNDING and next_2 >= force * ROUNDING:
            to = min(next_1, next_2)
            stay_1, stay_2 = next_1 > to, next_2 > to
            if stay_1 or not stay_2:
                at_2, slip_2 = float(int(at_2) + 1), two[SLIP, int(at_2) + 1]
                if stay_1:
                    at_1, slip_1 = _climb(one, at_1, slip_1, force, to)
            if not stay_1:
                at_1, slip_1 = float(int(at_1) + 1), one[SLIP, int(at_1) + 1]
                if stay_2:
                    at_2, slip_2 = _climb(two, at_2, slip_2, force, to)
            force = to
            trace[:, n] = (slip_1 + slip_2, force, at_1, at_2, 1.0)
            n += 1
        elif next_1 < force * ROUNDING:
            at_1, slip_1, n = _soften(one, at_1, slip_1, slip_2, at_2, force, 1.0, trace, n)
        else:
            at_2, slip_2, n = _soften(two, at_2, slip_2, slip_1, at_1, force, -1.0, trace, n)
    return n


@kernel
def _soften(path, at, slip, slip_other, at_other, force, sign, trace, n):
    """Follow the side that passed its maximum until its force is back; the other one unloads along its secant."""
    last = force
    while at < path.shape[1] - 1 and n < trace.shape[1] - 1:
        after = int(at) + 1
        if path[FORCE, after] >= force:
            at, slip = _climb(path, at, slip, last, force)
            _write(trace, n, slip + slip_other, force, at, at_other, sign)
            return at, slip, n + 1
        at, slip, last = float(after), path[SLIP, after], path[FORCE, after]
        share = max(last / force, 1e-300)
        _write(trace, n, slip + slip_other * share, last, at, at_other, sign)
        trace[SHARE, n] = sign * share
        n += 1
    return at, slip, n


@kernel
def _write(trace, n, opening, force, at, at_other, sign):
    trace[OPENING, n], trace[TOTAL, n] = opening, force
    trace[FIRST, n] = at if sign > 0.0 else at_other
    trace[SECOND, n] = at_other if sign > 0.0 else at
    trace[SHARE, n] = sign


@kernel
def end_force(path, at, share):
    """Force at a fixed far end for a position along the path."""
    i = min(int(at), path.shape[1] - 2)
    t = at - i
    return share * (path[FAR_FORCE, i] + t * (path[FAR_FORCE, i + 1] - path[FAR_FORCE, i]))


@kernel
def _shares(share):
    """Unloading share of the first and of the second side."""
    return (1.0, share) if share >= 0.0 else (-share, 1.0)


@kernel
def project(one, two, trace, points, openings, strength, end_strength, force, place):
    """Force under a growing opening: the first traced state that has it; what a snap-back hides is jumped over.

    `openings` increase. `place` gets the position along the trace, -1 once the strip has ruptured: its force has
    passed `strength` or the force at a fixed end `end_strength`. Beyond the traced range the last state stays.
    """
    reached, g = 0.0, 0
    force_0, ends_0 = 0.0, 0.0
    for k in range(1, points):
        opening_0, opening, force_1 = trace[OPENING, k - 1], trace[OPENING, k], trace[TOTAL, k]
        share_1, share_2 = _shares(trace[SHARE, k])
        ends = max(end_force(one, trace[FIRST, k], share_1), end_force(two, trace[SECOND, k], share_2))
        if opening > reached:
            t_0 = max((reached - opening_0) / (opening - opening_0), 0.0)
            t_end = 2.0
            if force_1 > strength:
                t_end = (strength - force_0) / (force_1 - force_0) if force_1 > force_0 else 0.0
            if ends > end_strength:
                t_end = min(t_end, (end_strength - ends_0) / (ends - ends_0) if ends > ends_0 else 0.0)
            if force_0 + t_0 * (force_1 - force_0) > strength or ends_0 + t_0 * (ends - ends_0) > end_strength:
                t_end = 0.0
            while g < openings.size and openings[g] <= opening:
                t = (openings[g] - opening_0) / (opening - opening_0)
                if t >= t_end:
                    break
                force[g], place[g] = force_0 + t * (force_1 - force_0), k - 1 + t
                g += 1
            if t_end <= 1.0:
                force[g:], place[g:] = 0.0, -1.0
                return
            reached = opening
        force_0, ends_0 = force_1, ends
    force[g:], place[g:] = force_0, points - 1.0


@kernel
def strip_force(
    code_1, row_1, geometry_1, anchors_1, code_2, row_2, geometry_2, anchors_2,
    openings, strength, end_strength, one, two, trace, growth, force, place, tolerance,
):  # fmt: skip
    """Force [N] of one strip at increasing openings [mm], the last one above 0.

    Working space: `one`, `two` (6, points), `trace` (5, 3 (points + points)), `growth` (anchors + 1 or more).
    Returns the number of traced points.
    """
    top = openings[openings.size - 1] * (1.0 + 1e-9) + 1e-9
    follow(code_1, row_1, geometry_1, anchors_1, top, one, growth, tolerance)
    follow(code_2, row_2, geometry_2, anchors_2, top, two, growth, tolerance)
    points = couple(one, two, trace)
    project(one, two, trace, points, openings, strength, end_strength, force, place)
    return points


@kernel
def strip_forces(
    code_1, rows_1, geometries_1, anchors_1, code_2, rows_2, geometries_2, anchors_2,
    openings, strengths, end_strengths, points, forces, places, tolerance,
):  # fmt: skip
    """`strip_force` of many cases; arrays with the case as first axis, `openings` (cases, openings)."""
    one, two = np.empty((6, points)), np.empty((6, points))
    trace = np.empty((5, 6 * points))
    growth = np.empty(max(anchors_1.shape[1], anchors_2.shape[1]) + 1)
    for i in range(rows_1.shape[0]):
        strip_force(
            code_1, rows_1[i], geometries_1[i], anchors_1[i], code_2, rows_2[i], geometries_2[i], anchors_2[i],
            openings[i], strengths[i], end_strengths[i], one, two, trace, growth, forces[i], places[i], tolerance,
        )  # fmt: skip
