"""FRP that crosses one diagonal crack: forces in fibres at several heights, sums over strips, inside compiled kernels.

The crack is cut into slices of equal height; one fibre in the middle of each stands for all fibres of the slice. Its
force depends on the bonded lengths above and below the crack, not on where strips are, so that any number of crack
positions shares the forces. Columns of `row` (one beam):

Z_M, Z_T, Z_LOW, Z_TOP   heights of the mouth, the tip, the lower and the upper edge of the FRP [mm]
COT, COT_F, SIN_F        cotangents of crack and fibre angle, sine of the fibre angle
STRETCH                  lengthening of a fibre over the opening at its height
POWER                    exponent of the opening
STIFF                    E t [N/mm]
STRENGTH, END_STRENGTH   of the fibre and at a fixed end [N/mm of width]
FIXED_UP, FIXED_LOW      1 where a far end cannot slip
A_Z, A_K, A_F, A_SOFT, A_REST   anchor: height of its hole, stiffness and force per mm of width, fall after the peak
FIRST, LENGTH, SPACING   listed strips: x of the mouth, length of a strip on the axis, distance of strips
"""

from __future__ import annotations

import math

import numpy as np

from cracktie.mechanics.bond_kernel import rates
from cracktie.mechanics.compiled import kernel
from cracktie.mechanics.crossing_kernel import FIRST as FIRST_SIDE
from cracktie.mechanics.crossing_kernel import SECOND as SECOND_SIDE
from cracktie.mechanics.crossing_kernel import SHARE, strip_force
from cracktie.mechanics.strip_kernel import FAR_SLIP

(
    Z_M, Z_T, Z_LOW, Z_TOP, COT, COT_F, SIN_F, STRETCH, POWER, STIFF, STRENGTH, END_STRENGTH, FIXED_UP, FIXED_LOW,
    A_Z, A_K, A_F, A_SOFT, A_REST, MOUTH, LENGTH, SPACING, ANCHORED,
) = range(23)  # fmt: skip
COLUMNS = 23

(
    V_MAX, W_AT, V_F_AT, V_S_AT, V_C_AT, V_F_MAX, W_F_MAX, V_DEB, W_DEB, STRAIN_MEAN, STRAIN_MOST, TORN, WORST, WORST_F,
    STRAIN_EVER,
) = range(15)  # fmt: skip
FOUND = 15
SHORTEST = 0.5
LONGEST = 590.0


@kernel
def height_of(row, i, slices):
    """Height of the fibre of a slice; slices fill the part of the crack that FRP covers."""
    low, high = max(row[Z_M], row[Z_LOW]), min(row[Z_T], row[Z_TOP])
    return low + (i + 0.5) * (high - low) / slices


@kernel
def coverage(row, slices, offset, centres, weights):
    """Fill `weights` (slices,) with the vertical force on both faces per N/mm in the fibres of each slice.

    `centres` (strips,): x of the strips on the level z = 0 of the fibres; empty for strips that go on without end.
    `offset` shifts the crack by a share of the spacing.
    """
    low, high = max(row[Z_M], row[Z_LOW]), min(row[Z_T], row[Z_TOP])
    if high <= low:
        weights[:] = 0.0
        return
    rate = row[COT] + row[COT_F]
    begin = row[MOUTH] + offset * row[SPACING] + (low - row[Z_M]) * row[COT] + low * row[COT_F]
    step = (high - low) / slices * rate
    half = 0.5 * row[LENGTH]
    for i in range(slices):
        left, right = begin + i * step, begin + (i + 1) * step
        width = 0.0
        if centres.size == 0:
            period = row[SPACING]
            first = math.floor((left - half) / period)
            last = math.ceil((right + half) / period)
            for j in range(int(first), int(last) + 1):
                centre = j * period
                width += max(0.0, min(right, centre + half) - max(left, centre - half))
        else:
            for j in range(centres.size):
                width += max(0.0, min(right, centres[j] + half) - max(left, centres[j] - half))
        weights[i] = 2.0 * row[SIN_F] ** 2 * width


@kernel
def fibre(code, law, row, z, w, openings, one, two, trace, growth, anchors, none, force, place, tolerance):
    """Force [N/mm] of the fibre at height `z` at the mouth openings `w`; returns 0 where it is never stretched."""
    share = (row[Z_T] - z) / (row[Z_T] - row[Z_M])
    rate = row[STRETCH] * share ** row[POWER]
    force[:] = 0.0
    place[:] = 0.0
    if rate <= 0.0:
        return 0
    for k in range(w.size):
        openings[k] = rate * w[k]
    rise, _ = rates(code, law, row[STIFF])
    longest = LONGEST / rise
    upper = min(max((row[Z_TOP] - z) / row[SIN_F], SHORTEST), longest)
    lower = min(max((z - row[Z_LOW]) / row[SIN_F], SHORTEST), longest)
    up = np.array((upper, row[STIFF], 1.0, row[FIXED_UP]))
    low = np.array((lower, row[STIFF], 1.0, row[FIXED_LOW]))
    held = none
    if row[ANCHORED] > 0.5 and row[A_Z] > z:
        anchors[0, 0] = min(max((row[Z_TOP] - row[A_Z]) / row[SIN_F], 0.0), 0.999 * upper)
        anchors[0, 1], anchors[0, 2], anchors[0, 3], anchors[0, 4] = row[A_K], row[A_F], row[A_SOFT], row[A_REST]
        held = anchors
    return strip_force(
        code, law, up, held, code, law, low, none,
        openings, row[STRENGTH], row[END_STRENGTH], one, two, trace, growth, force, place, tolerance,
    )  # fmt: skip


@kernel
def far_slips(one, two, trace, count, place, fixed_up, fixed_low, far):
    """Fill `far` with the larger slip of the free or anchored far ends at each place of the trace; torn: infinite."""
    for k in range(place.size):
        if place[k] < 0.0:
            far[k] = np.inf
            continue
        j = min(int(place[k]), count - 1)
        share = trace[SHARE, j]
        up = one[FAR_SLIP, min(int(trace[FIRST_SIDE, j]), one.shape[1] - 1)] * (1.0 if share >= 0.0 else -share)
        low = two[FAR_SLIP, min(int(trace[SECOND_SIDE, j]), two.shape[1] - 1)] * (share if share >= 0.0 else 1.0)
        far[k] = max(0.0 if fixed_up > 0.5 else up, 0.0 if fixed_low > 0.5 else low)


@kernel
def beams(
    code, laws, rows, w, steel, concrete, offsets, centres, slices, points, forces, places, curves, found, tolerance,
):  # fmt: skip
    """Every beam: forces of its fibres, sums over the strips at every crack position, largest values.

    `w` (beams, openings) at the mouth, `steel` and `concrete` (beams, openings) their shear [N], `offsets`
    (positions,), `centres` (1 or beams, strips). `forces`, `places` (slices, openings): those of the last beam.
    `curves` (beams, openings) gets the mean V_f over the positions, or has no row. `found` (beams, FOUND) gets means
    over the positions, `WORST` and `WORST_F` the least of them. V_DEB and W_DEB are those of the positions where a
    fibre debonds to its end, NaN where none does.
    """
    ng = w.shape[1]
    one, two = np.empty((6, points)), np.empty((6, points))
    trace, growth = np.empty((5, 6 * points)), np.empty(2)
    anchors, none = np.empty((1, 5)), np.empty((0, 5))
    openings, far, V_f = np.empty(ng), np.empty(ng), np.empty(ng)
    weights = np.empty((offsets.size, slices))
    debonds = np.empty(slices)
    for b in range(rows.shape[0]):
        row = rows[b]
        listed = centres[b if centres.shape[0] > 1 else 0]
        for o in range(offsets.size):
            coverage(row, slices, offsets[o], listed, weights[o])
        slip_f = laws[b, 7]
        for i in range(slices):
            used = False
            for o in range(offsets.size):
                used = used or weights[o, i] > 0.0
            debonds[i] = ng
            if not used:
                forces[i, :] = 0.0
                continue
            count = fibre(
                code, laws[b], row, height_of(row, i, slices), w[b], openings, one, two, trace, growth,
                anchors, none, forces[i], places[i], tolerance,
            )  # fmt: skip
            if count > 0:
                far_slips(one, two, trace, count, places[i], row[FIXED_UP], row[FIXED_LOW], far)
                for k in range(ng):
                    if far[k] >= slip_f:
                        debonds[i] = k
                        break
        _sum(row, w[b], steel[b], concrete[b], weights, forces, places, debonds, V_f, curves, b, found[b])


@kernel
def _sum(row, w, steel, concrete, weights, forces, places, debonds, V_f, curves, b, found):
    positions, slices, ng = weights.shape[0], weights.shape[1], w.size
    keep = curves.shape[0] > 0
    if keep:
        curves[b, :] = 0.0
    found[:] = 0.0
    found[WORST], found[WORST_F] = np.inf, np.inf
    debonding = 0
    for o in range(positions):
        V_f[:] = 0.0
        covered, first = 0.0, ng
        for i in range(slices):
            weight = weights[o, i]
            if weight <= 0.0:
                continue
            covered += weight
            first = min(first, int(debonds[i]))
            for k in range(ng):
                V_f[k] += weight * forces[i, k]
        at, at_f = 0, 0
        for k in range(1, ng):
            if V_f[k] + steel[k] + concrete[k] > V_f[at] + steel[at] + concrete[at]:
                at = k
            if V_f[k] > V_f[at_f]:
                at_f = k
        most, mean, torn, ever = 0.0, 0.0, 0.0, 0.0
        for i in range(slices):
            if weights[o, i] > 0.0:
                most = max(most, forces[i, at])
                for k in range(ng):
                    ever = max(ever, forces[i, k])
                mean += weights[o, i] * forces[i, at] / covered
                if places[i, at] < 0.0:
                    torn += weights[o, i] / covered
        V = V_f[at] + steel[at] + concrete[at]
        found[V_MAX] += V / positions
        found[W_AT] += w[at] / positions
        found[V_F_AT] += V_f[at] / positions
        found[V_S_AT] += steel[at] / positions
        found[V_C_AT] += concrete[at] / positions
        found[V_F_MAX] += V_f[at_f] / positions
        found[W_F_MAX] += w[at_f] / positions
        found[STRAIN_MEAN] += mean / row[STIFF] / positions
        found[STRAIN_MOST] += most / row[STIFF] / positions
        found[STRAIN_EVER] += ever / row[STIFF] / positions
        found[TORN] += torn / positions
        found[WORST] = min(found[WORST], V)
        found[WORST_F] = min(found[WORST_F], V_f[at_f])
        if first < ng:
            debonding += 1
            before = max(first - 1, 0)
            found[V_DEB] += V_f[before] + steel[before] + concrete[before]
            found[W_DEB] += w[before]
        if keep:
            for k in range(ng):
                curves[b, k] += V_f[k] / positions
    for name in (V_DEB, W_DEB):
        found[name] = found[name] / debonding if debonding > 0 else np.nan
