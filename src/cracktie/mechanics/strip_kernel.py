"""Paths of bonded lengths and of strips that cross a crack, inside compiled kernels.

A bonded length is marched from its far end (x = 0) to its loaded end. What starts the march is the path parameter:
the slip of a free or anchored far end, the strain of a fixed one. Every start gives one state of equilibrium, so
peaks and snap-backs need no iteration. The arrays that describe one bonded length:

code, row          the bond law (see `bond_kernel`)
geometry           length [mm], stiffness E t [N/mm], width [mm], 1 if the far end is fixed else 0
anchors (m, 5)     place from the far end [mm], stiffness [N/mm], largest force [N], slip from there to the residual
                   force [mm], residual over largest force; in the order of their places
path (6, points)   slip and force [N] at the loaded end; slip and strain at the start; slipping length [mm]; force of a
                   fixed far end [N]. The first point is the unloaded state.
"""

from __future__ import annotations

import math

import numpy as np

from cracktie.mechanics.bond_kernel import BILINEAR, ahead, ahead_bilinear, front, rates
from cracktie.mechanics.compiled import kernel

SLIP, FORCE, FAR_SLIP, FAR_STRAIN, ACTIVE, FAR_FORCE = range(6)
LONGEST = 600.0
"""Largest product of bonded length and growth rate: beyond it a slip at the far end is below the smallest number."""


@kernel
def spring(slip, anchor):
    """Force [N] of an anchor: straight to its largest force, straight down to the residual one, then constant."""
    peak = anchor[2] / anchor[1]
    if slip <= peak:
        return anchor[1] * slip
    if slip < peak + anchor[3]:
        return anchor[2] * (1.0 - (1.0 - anchor[4]) * (slip - peak) / anchor[3])
    return anchor[2] * anchor[4]


@kernel
def march(code, row, geometry, anchors, growth, rise, soften, slip, strain, active, x, tolerance):
    """Slip and strain at `x` from the far end, just before an anchor there unless it sits on the far end.

    `slip`, `strain` hold at the far end, or where the slipping length `active` ends if that is shorter.
    `growth` holds exp(rise stretch) of the stretches between far end, anchors and loaded end.
    """
    area = geometry[1] * geometry[2]
    at = geometry[0] - active
    if x <= at and x > 0.0:
        return 0.0, 0.0
    for i in range(anchors.shape[0]):
        place = anchors[i, 0]
        if place >= x and place > 0.0:
            break
        if place > at:
            grown = growth[i] if at == (anchors[i - 1, 0] if i else 0.0) else math.exp(rise * (place - at))
            slip, strain = ahead(code, row, slip, strain, place - at, grown, geometry[1], rise, soften, tolerance)
            at = place
        if place == at:
            strain += spring(slip, anchors[i]) / area
    if x <= at:
        return slip, strain
    begin = anchors[anchors.shape[0] - 1, 0] if anchors.shape[0] else 0.0
    grown = growth[anchors.shape[0]] if x == geometry[0] and at == begin else math.exp(rise * (x - at))
    return ahead(code, row, slip, strain, x - at, grown, geometry[1], rise, soften, tolerance)


@kernel
def stretches(geometry, anchors, rise, growth):
    """Fill `growth` (anchors + 1) with exp(rise stretch)."""
    at = 0.0
    for i in range(anchors.shape[0]):
        growth[i] = math.exp(rise * (anchors[i, 0] - at))
        at = anchors[i, 0]
    growth[anchors.shape[0]] = math.exp(rise * (geometry[0] - at))


@kernel
def _lay(breaks, count, out, begin):
    """Fill out[begin:] with the sorted breaks and geometric steps between; the first stretch gets 60 % of them."""
    total = out.size - 1 - begin
    whole = math.log(breaks[count - 1] / breaks[1]) if count > 2 else 0.0
    at = begin
    out[at] = breaks[0]
    for i in range(count - 1):
        left = begin + total - at
        steps = left
        if i < count - 2:
            share = 0.6 if i == 0 else 0.4 * math.log(breaks[i + 1] / breaks[i]) / whole
            steps = min(max(3, int(share * total)), left - 3 * (count - 2 - i))
        ratio = (breaks[i + 1] / breaks[i]) ** (1.0 / steps)
        for j in range(steps - 1):
            out[at + j + 1] = out[at + j] * ratio
        at += steps
        out[at] = breaks[i + 1]


@kernel
def _merge(breaks, count, value):
    """Insert a value between the first and last break; one that nearly equals another is left out."""
    if not (value > breaks[0] * 1.000001 and value < breaks[count - 1] * 0.999999):
        return count
    i = count
    while breaks[i - 1] > value:
        breaks[i] = breaks[i - 1]
        i -= 1
    if value < breaks[i - 1] * 1.000001 or value > breaks[i + 1] * 0.999999:
        for j in range(i, count):
            breaks[j] = breaks[j + 1]
        return count
    breaks[i] = value
    return count + 1


@kernel
def starts(code, row, geometry, anchors, rise, soften, growth, slip_max, path, tolerance):
    """Fill the starts of a path that reaches `slip_max` [mm] at the loaded end.

    The corners of the law at a free end and of every anchor's force are among them. Most points go where softening
    enters at the loaded end; before that and after it the path of a bilinear law is made of straight lines.
    """
    length, area, fixed = geometry[0], geometry[1] * geometry[2], geometry[3] > 0.5
    path[FAR_SLIP:, :] = 0.0
    path[ACTIVE, :] = length
    points, begin, a = path.shape[1], 1, front(code, row, geometry[1])
    breaks = np.empty(8 + 2 * anchors.shape[0])
    if a > 0.0:  # slip starts behind a front that moves to the far end
        begin = points // 2
        for j in range(begin):
            path[ACTIVE, j] = length * j / (begin - 1.0)
        breaks[0] = 1e-6 * min(4.0 * a * length**3, row[1] * rise) if fixed else 1e-8 * min(a * length**4, row[1])
    else:
        breaks[0] = _elastic_limit(code, row, geometry, anchors, rise)
    reach = 0.5 * math.pi * math.sqrt(row[7] * geometry[1] / row[0])
    grown = breaks[0] * math.exp(min(rise * (1.3 if code == BILINEAR else 2.0) * reach, LONGEST))
    if fixed:
        breaks[1] = slip_max / length
        breaks[0] = min(breaks[0], 1e-3 * breaks[1])
        count = _merge(breaks, 2, grown)
        count = _merge(breaks, count, 0.02 * math.sqrt(row[0] * row[7] / geometry[1]))
        _lay(breaks, count, path[FAR_STRAIN], begin)
    elif anchors.shape[0] == 0 and row[3] == 0.0 and row[4] < slip_max:  # no force is left beyond slip_res
        breaks[1] = row[4]
        count = _merge(breaks, 2, min(grown, row[1]))
        count = _merge(breaks, count, row[1])
        _lay(breaks, count, path[FAR_SLIP, : points - 1], begin)
        path[FAR_SLIP, points - 1] = slip_max
    else:
        count = _free_breaks(row, length, area, min(grown, row[1]), anchors, slip_max, breaks)
        _lay(breaks, count, path[FAR_SLIP], begin)
    for i in range(anchors.shape[0]):
        if anchors[i, 0] > 0.0:
            peak = anchors[i, 2] / anchors[i, 1]
            first = begin
            for wanted in (peak, peak + anchors[i, 3]):
                first = _place(code, row, geometry, anchors, growth, rise, soften, i, wanted, path, first, tolerance)


@kernel
def _elastic_limit(code, row, geometry, anchors, rise):
    """Start at which the loaded end leaves the straight first part of the path (a fiftieth of it for other laws)."""
    share, held = 1.0, 0.0
    for i in range(anchors.shape[0]):
        if anchors[i, 0] == 0.0:
            held += anchors[i, 1]
        else:
            share = 0.2
    if code != BILINEAR:
        share = 0.02
    c, s = math.cosh(rise * geometry[0]), math.sinh(rise * geometry[0])
    if geometry[3] > 0.5:
        return share * row[1] * rise / s
    return share * row[1] / (c + held / (geometry[1] * geometry[2] * rise) * s)


@kernel
def _free_breaks(row, length, area, grown, anchors, slip_max, breaks):
    """Break points of the far slip of a free or anchored end, sorted into `breaks`; returns their number."""
    held, least, high = 0.0, np.inf, slip_max
    for i in range(anchors.shape[0]):
        if anchors[i, 0] == 0.0:
            held += anchors[i, 1]
            least = min(least, anchors[i, 2] / anchors[i, 1])
    if held > 0.0:
        enough = slip_max * area / (held * length)  # from here on the elastic strip alone has that slip
        if enough < least:
            high = min(high, enough)
    breaks[0], breaks[1] = min(breaks[0], 1e-3 * high), high
    count = _merge(breaks, 2, min(grown, 0.5 * high))
    count = _merge(breaks, count, row[1])
    count = _merge(breaks, count, row[7])
    for i in range(anchors.shape[0]):
        if anchors[i, 0] == 0.0:
            peak = anchors[i, 2] / anchors[i, 1]
            count = _merge(breaks, count, peak)
            count = _merge(breaks, count, peak + anchors[i, 3])
    return count


@kernel
def _anchor_slip(code, row, geometry, anchors, growth, rise, soften, start, on_strain, x, tolerance):
    """Slip at `x` of the state that starts with slip or strain `start`."""
    slip, _ = march(
        code, row, geometry, anchors, growth, rise, soften,
        (1.0 - on_strain) * start, on_strain * start, geometry[0], x, tolerance,
    )  # fmt: skip
    return slip


@kernel
def _place(code, row, geometry, anchors, growth, rise, soften, which, wanted, path, begin, tolerance):
    """Move one start so that the interior anchor `which` has the slip `wanted` (first time along the path).

    Returns the number of that start, or of the last one that was looked at. Regula falsi with halved weights.
    """
    on_strain = 1.0 if geometry[3] > 0.5 else 0.0
    line = path[FAR_STRAIN] if on_strain else path[FAR_SLIP]
    x = anchors[which, 0]
    below = -wanted
    for j in range(begin, line.size - 1):
        above = (
            _anchor_slip(code, row, geometry, anchors, growth, rise, soften, line[j], on_strain, x, tolerance) - wanted
        )
        if above < 0.0 or j == begin:
            below = above
            continue
        low, high, left = line[j - 1], line[j], above
        side = 0
        for _ in range(80):
            if left <= 1e-13 * wanted or high - low <= 1e-15 * high:
                break
            middle = (low * above - high * below) / (above - below)
            found = _anchor_slip(
                code, row, geometry, anchors, growth, rise, soften, middle, on_strain, x, tolerance
            ) - wanted  # fmt: skip
            if found >= 0.0:
                high, above, left = middle, found, found
                below *= 0.5 if side == 1 else 1.0
                side = 1
            else:
                low, below = middle, found
                above *= 0.5 if side == -1 else 1.0
                side = -1
        line[j] = high
        return j
    return line.size - 2


@kernel
def follow(code, row, geometry, anchors, slip_max, path, growth, tolerance):
    """Fill a path of one bonded length. `growth` (anchors + 1) is working space."""
    rise, soften = rates(code, row, geometry[1])
    stretches(geometry, anchors, rise, growth)
    starts(code, row, geometry, anchors, rise, soften, growth, slip_max, path, tolerance)
    path[:FAR_SLIP, 0] = 0.0
    force = geometry[1] * geometry[2]
    m = anchors.shape[0]
    at_end = code == BILINEAR and (m == 0 or anchors[m - 1, 0] == 0.0)  # frequent cases go without the general march
    for j in range(1, path.shape[1]):
        if at_end:
            strain = path[FAR_STRAIN, j]
            for i in range(m):
                strain += spring(path[FAR_SLIP, j], anchors[i]) / force
            slip, strain = ahead_bilinear(
                path[FAR_SLIP, j], strain, geometry[0], growth[m], row, geometry[1], rise, soften
            )
        elif code == BILINEAR and m == 1:
            x = anchors[0, 0]
            slip, strain = ahead_bilinear(
                path[FAR_SLIP, j], path[FAR_STRAIN, j], x, growth[0], row, geometry[1], rise, soften
            )
            strain += spring(slip, anchors[0]) / force
            slip, strain = ahead_bilinear(slip, strain, geometry[0] - x, growth[1], row, geometry[1], rise, soften)
        else:
            slip, strain = march(
                code, row, geometry, anchors, growth, rise, soften,
                path[FAR_SLIP, j], path[FAR_STRAIN, j], path[ACTIVE, j], geometry[0], tolerance,
            )  # fmt: skip
        path[SLIP, j], path[FORCE, j] = slip, strain * force
        path[FAR_FORCE, j] = path[FAR_STRAIN, j] * force


@kernel
def follow_all(code, rows, geometries, anchors, slip_max, paths, tolerance):
    """Fill the paths of many cases; arrays as above with the case as first axis."""
    growth = np.empty(anchors.shape[1] + 1)
    for i in range(rows.shape[0]):
        follow(code, rows[i], geometries[i], anchors[i], slip_max[i], paths[i], growth, tolerance)


@kernel
def profile_all(code, rows, geometries, anchors, starting, x, slips, strains, tolerance):
    """Slip and strain of state `starting` (cases, 3: slip, strain, slipping length) at `x` (cases, places)."""
    growth = np.empty(anchors.shape[1] + 1)
    for i in range(rows.shape[0]):
        rise, soften = rates(code, rows[i], geometries[i, 1])
        stretches(geometries[i], anchors[i], rise, growth)
        for j in range(x.shape[1]):
            slips[i, j], strains[i, j] = march(
                code, rows[i], geometries[i], anchors[i], growth, rise, soften,
                starting[i, 0], starting[i, 1], starting[i, 2], x[i, j], tolerance,
            )  # fmt: skip


@kernel
def _between(code, row, geometry, anchors, growth, rise, soften, path, i, j, t, tolerance):
    """State started a share `t` of the way from point i of a path to point j: force, slip and its start."""
    slip_0 = path[FAR_SLIP, i] + t * (path[FAR_SLIP, j] - path[FAR_SLIP, i])
    strain_0 = path[FAR_STRAIN, i] + t * (path[FAR_STRAIN, j] - path[FAR_STRAIN, i])
    active = path[ACTIVE, i] + t * (path[ACTIVE, j] - path[ACTIVE, i])
    slip, strain = march(
        code, row, geometry, anchors, growth, rise, soften, slip_0, strain_0, active, geometry[0], tolerance
    )
    return strain * geometry[1] * geometry[2], slip, slip_0, strain_0, active


@kernel
def refine_peak(code, row, geometry, anchors, path, growth, tolerance):
    """Largest force of a path, sharpened by golden section to both sides of its best point.

    Returns force, slip, start slip, start strain, slipping length.
    """
    best = 0
    for j in range(1, path.shape[1]):
        if path[FORCE, j] > path[FORCE, best]:
            best = j
    top = (path[FORCE, best], path[SLIP, best], path[FAR_SLIP, best], path[FAR_STRAIN, best], path[ACTIVE, best])
    if best == 0 or best == path.shape[1] - 1:
        return top
    rise, soften = rates(code, row, geometry[1])
    stretches(geometry, anchors, rise, growth)
    share = 0.5 * (math.sqrt(5.0) - 1.0)
    for side in (best - 1, best + 1):  # the path may have a corner at the best point itself
        low, high = 0.0, 1.0
        for _ in range(50):
            t_1, t_2 = high - share * (high - low), low + share * (high - low)
            one = _between(code, row, geometry, anchors, growth, rise, soften, path, best, side, t_1, tolerance)
            two = _between(code, row, geometry, anchors, growth, rise, soften, path, best, side, t_2, tolerance)
            if one[0] >= two[0]:
                high = t_2
            else:
                low = t_1
            if max(one[0], two[0]) > top[0]:
                top = one if one[0] >= two[0] else two
    return top


@kernel
def peaks_all(code, rows, geometries, anchors, paths, found, tolerance):
    """Fill `found` (cases, 5) with what `refine_peak` returns."""
    growth = np.empty(anchors.shape[1] + 1)
    for i in range(rows.shape[0]):
        peak = refine_peak(code, rows[i], geometries[i], anchors[i], paths[i], growth, tolerance)
        for j in range(5):
            found[i, j] = peak[j]
