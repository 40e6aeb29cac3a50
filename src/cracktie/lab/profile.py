"""Strain profiles over a line: zero, temperature, faulty places, short gaps, and where a fibre lies on the beam.

Strains are ratios, times s, places mm; NaN is a missing reading. Nothing is deleted: a place that does not count is NaN
in what is handed on and carries the flag that says why.
"""

from __future__ import annotations

import itertools
import math
import warnings
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.channels import _MEDIAN_LOSS, MAD_TO_SIGMA

READ, FILLED, SPIKE, MISSING, NO_ZERO = range(5)
FLAGS = ("read", "filled over a short gap", "spike", "no reading", "no zero")
"""Words of the flags of places, by number."""
SHORT_GAP = 20.0
"""Longest gap in mm that is filled by a straight line: a crack's strain peak is about that wide; our own choice."""
SPIKE_NOISE, SPIKE_LEAST = 10.0, 100e-6
"""Least height of a spike: times the noise of a reading, and as strain; starting values of our own."""
WORD_FOR_NONE, STRANGE = 0.03, -0.005
"""|strain| that no reading of FRP or concrete reaches; and a compression that, met again and again to the last digit,
is an instrument's word for 'no reading'. Starting values of our own."""


@dataclass(frozen=True)
class Profile:
    """Strain at `time` s (n) by `position` mm (m, both ascending): an array of n x m. `notes` tell how it was read."""

    time: Any
    position: Any
    strain: Any
    notes: tuple[str, ...] = ()

    @property
    def step(self) -> float:
        """Median step of the times, s; 0 for a single reading."""
        return float(np.median(np.diff(self.time))) if len(self.time) > 1 else 0.0

    def row(self, time: float) -> int:
        """The last reading at or before a time: what comes after may already be the failure.

        One median step beyond the last reading still counts; `ModelInputError` outside the record.
        """
        last = float(self.time[-1]) + self.step
        if not self.time[0] <= time + 1e-6 <= last + 2e-6:
            raise ModelInputError(
                f"{time:.1f} s lies outside the profile's record ({self.time[0]:.1f} to {self.time[-1]:.1f} s)"
            )
        return int(np.searchsorted(self.time, time + 1e-6, side="right")) - 1


@dataclass(frozen=True)
class ZeroLine:
    """Level of every place at rest (0 where none was taken, NaN where it did not read), its standard error, the scatter
    of one reading there, and the number of readings."""

    level: Any
    u: Any
    sigma: Any
    readings: int


def without_sentinels(profile: Profile) -> tuple[Profile, list[tuple[float, int]]]:
    """The profile with an instrument's words for 'no reading' missing, and those values with their counts.

    Such words are values beyond `WORD_FOR_NONE`, and one value below `STRANGE` that is the least of the file and stands
    in it three times or more to the last digit.
    """
    strain = np.array(profile.strain)
    found: list[tuple[float, int]] = []
    far = np.abs(strain) > WORD_FOR_NONE
    if far.any():
        values, counts = np.unique(strain[far], return_counts=True)
        most = int(np.argmax(counts))
        found.append((float(values[most]), int(counts.sum())))
        strain[far] = np.nan
    least = np.nanmin(strain) if np.isfinite(strain).any() else 0.0
    same = strain == least
    if least < STRANGE and same.sum() >= 3:
        found.append((float(least), int(same.sum())))
        strain[same] = np.nan
    return (replace(profile, strain=strain), found) if found else (profile, [])


def zero_line(profile: Profile, start: float, end: float) -> ZeroLine:
    """Median of each place's readings from `start` to `end` s, with its standard error 1.253 s/sqrt(n).

    s is 1.4826 times the median absolute deviation, and at least the median s of all places: one system reads them all,
    and few readings may lie close by chance. Raises `ModelInputError` where the window holds fewer than three times.
    """
    rows = (profile.time >= start) & (profile.time <= end)
    if rows.sum() < 3:
        raise ModelInputError(
            f"zero window from {start:g} s to {end:g} s holds {int(rows.sum())} readings of the profile; at least 3 "
            "are needed: widen it"
        )
    block = np.asarray(profile.strain[rows], dtype=float)
    n = np.isfinite(block).sum(axis=0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # places without any reading stay NaN
        level = np.nanmedian(block, axis=0)
        sigma = MAD_TO_SIGMA * np.nanmedian(np.abs(block - level), axis=0)
    good = (n >= 3) & (sigma > 0.0)
    usual = float(np.median(sigma[good])) if good.any() else 0.0
    sigma = np.where(good, np.maximum(sigma, usual), usual)
    return ZeroLine(level, _MEDIAN_LOSS * sigma / np.sqrt(np.maximum(n, 1)), sigma, int(rows.sum()))


def no_zero(profile: Profile, rows: int = 200) -> ZeroLine:
    """Zero line of a profile that is taken as exported: level 0; the scatter from steps between neighbouring times."""
    block = np.asarray(profile.strain[:rows], dtype=float)
    steps = np.diff(block, axis=0)
    sigma = np.zeros(len(profile.position))
    if len(steps) >= 3:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            found = MAD_TO_SIGMA * np.nanmedian(np.abs(steps - np.nanmedian(steps, axis=0)), axis=0) / math.sqrt(2.0)
        sigma = np.where(np.isfinite(found), found, 0.0)
    return ZeroLine(np.zeros(len(profile.position)), np.zeros(len(profile.position)), sigma, 0)


def loose_strain(profile: Profile, zero: ZeroLine, row: int, low: float, high: float) -> tuple[float, float]:
    """What temperature alone does: median over the places of a loose stretch at a reading, and its standard error.

    A loose fibre reads K dT + alpha_fibre dT, a bonded one K dT + strain of the host; their difference is the strain of
    the host but for alpha_fibre dT (0.5 um/m a kelvin for silica, common knowledge), if both are equally warm. Raises
    `ModelInputError` where fewer than three places read there.
    """
    inside = (profile.position >= low) & (profile.position <= high)
    values = np.asarray(profile.strain[row, inside], dtype=float) - zero.level[inside]
    values = values[np.isfinite(values)]
    if values.size < 3:
        raise ModelInputError(
            f"the loose stretch from {low:g} to {high:g} mm holds {values.size} readings, 3 are needed"
        )
    middle = float(np.median(values))
    sigma = MAD_TO_SIGMA * float(np.median(np.abs(values - middle)))
    return middle, _MEDIAN_LOSS * sigma / math.sqrt(values.size)


def flags_at(profile: Profile, zero: ZeroLine, row: int, reach: int = 2) -> Any:
    """Flags of the places at a reading: `READ`, `SPIKE`, `MISSING` or `NO_ZERO`.

    A spike is alone in time and in place: it leaves the median of the readings `reach` before and after, and also the
    middle of its two neighbours and the straight lines through the two places to its left and to its right. A crack's
    peak stays in time, a debonding front leaves a step; neither is a spike. With fewer than five times nothing can be
    told apart, and none is flagged.
    """
    now = np.asarray(profile.strain[row], dtype=float)
    flags = np.where(np.isfinite(now), READ, MISSING)
    flags[(flags == READ) & ~np.isfinite(zero.level)] = NO_ZERO
    if len(profile.time) <= 2 * reach:
        return flags
    first = min(max(row - reach, 0), len(profile.time) - 2 * reach - 1)
    near = np.asarray(profile.strain[first : first + 2 * reach + 1], dtype=float)
    zeroed = now - zero.level
    two_left, left, _, right, two_right = np.lib.stride_tricks.sliding_window_view(
        np.pad(zeroed, 2, constant_values=np.nan), 5
    ).T
    expected = np.array([0.5 * (left + right), 2.0 * left - two_left, 2.0 * right - two_right])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        off_time = np.abs(now - np.nanmedian(near, axis=0))
        off_place = np.nanmin(np.abs(zeroed - expected), axis=0)
    limit = np.maximum(SPIKE_NOISE * zero.sigma, SPIKE_LEAST)
    flags[(flags == READ) & (off_time > limit) & (off_place > limit)] = SPIKE
    return flags


def filled(position: Any, strain: Any, u: Any, flags: Any, longest: float = SHORT_GAP) -> tuple[Any, Any, Any]:
    """Strains, their u and flags with gaps no longer than `longest` mm (reading to reading) bridged by a straight line.

    A bridged place adds half the difference of its two neighbours, rectangular, to their larger u: what lies between
    them is not known. Longer gaps stay missing, and nothing is carried beyond the last reading.
    """
    x, e, s, kinds = (np.array(a) for a in (position, strain, u, flags))
    good = np.flatnonzero(np.isfinite(e))
    for left, right in itertools.pairwise(good):
        if right - left < 2 or x[right] - x[left] > longest:
            continue
        gap = slice(left + 1, right)
        e[gap] = np.interp(x[gap], x[[left, right]], e[[left, right]])
        s[gap] = math.hypot(max(s[left], s[right]), 0.5 * abs(e[right] - e[left]) / math.sqrt(3.0))
        kinds[gap] = FILLED
    return e, s, kinds


def mapped(position: Any, fibre: tuple[float, float], place: tuple[float, float]) -> tuple[Any, Any]:
    """Which places of a fibre lie on a stretch (indices in ascending order of the new places), and those places, mm.

    `fibre` are the distances of its two ends along the fibre, `place` where these ends are on the specimen; either pair
    may run down. Raises `ModelInputError` for a stretch without length.
    """
    (f_1, f_2), (p_1, p_2) = fibre, place
    if f_1 == f_2 or p_1 == p_2:
        raise ModelInputError(
            f"the stretch of fibre from {f_1:g} to {f_2:g} mm, at {p_1:g} to {p_2:g} mm, has no length"
        )
    x = np.asarray(position, dtype=float)
    inside = np.flatnonzero((x >= min(fibre) - 1e-9) & (x <= max(fibre) + 1e-9))
    at = p_1 + (x[inside] - f_1) / (f_2 - f_1) * (p_2 - p_1)
    order = np.argsort(at, kind="stable")
    return inside[order], at[order]
