"""Two loggers, two clocks: the shift between them from a signal both recorded, or a question."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.uncertainty import coverage_factor

PEAK_GATE, RATIO_GATE = 0.6, 1.3
"""Least normalised correlation and least ratio to the second peak (starting values of our own)."""

DRIFT_WINDOWS = 8
"""Pieces of a record in which the shift is sought on its own to tell drift; own choice."""
MOST_DRIFT = 5e-3
"""Largest drift taken for one: quartz clocks differ by parts in 1e5, soft ones of loggers by some 1e-4; own choice."""
COARSE = 0.1
"""Share of the band in which a first shift is sought where drift smears the fine one away; own choice."""

_LEAST_OVERLAP = 0.3


@dataclass(frozen=True)
class Synchronised:
    """Result of a synchronisation.

    `status` is 'accepted' or 'asked'. Time of logger A = time of B + `offset` + `drift` * (time of B -
    `reference`), in s; `u` is the standard uncertainty of `offset`. `peak` is the normalised correlation and
    `ratio` its size over the second peak. With 'asked' the numbers show what was found; they must not be used.
    """

    status: str
    offset: float
    u: float
    peak: float
    ratio: float
    reason: str
    drift: float = 0.0
    reference: float = 0.0

    def to_a(self, time: Any) -> Any:
        """Stamps of logger B on the clock of A; `ModelInputError` unless accepted."""
        if self.status != "accepted":
            raise ModelInputError(
                f"the clocks are not synchronised: {self.reason}; state the shift from an event seen by both"
            )
        t = np.asarray(time, dtype=float)
        return t + self.offset + self.drift * (t - self.reference)


def synchronise(
    time_a: Any,
    a: Any,
    time_b: Any,
    b: Any,
    *,
    max_shift: float,
    cutoff: float | None = None,
    drift: bool = False,
    peak_gate: float = PEAK_GATE,
    ratio_gate: float = RATIO_GATE,
) -> Synchronised:
    """Shift of clock B against A from the same quantity in both, by cross-correlation of the rates.

    Both signals are band-limited to `cutoff` Hz (default: a fifth of the slower sampling rate), brought to the
    grid of the faster one and differentiated, which removes offsets; the scale may differ, the sign must not.
    Shifts up to `max_shift` s are tried and the best refined by a parabola. Accepted only if the normalised
    peak exceeds `peak_gate` and `ratio_gate` times the second peak. Sources of `u`: residual noise against the
    signal's own slope, and the step of the slower logger (rectangular). Raises `ModelInputError` for
    records too short to compare.

    With `drift` the shift is sought in pieces of B as well and a line laid through them. A slope beyond its own
    95 % is taken off B's clock and the whole is correlated anew: the gates judge that. A smaller one is left, and
    what it may add at the ends of the record joins `u`. Where too few pieces show the signal the reason says that
    drift cannot be told.
    """
    ta, xa, tb, xb = *_clean(time_a, a, "A"), *_clean(time_b, b, "B")
    step_a, step_b = float(np.median(np.diff(ta))), float(np.median(np.diff(tb)))
    step, slow = min(step_a, step_b), max(step_a, step_b)
    if max_shift < 2 * step:
        raise ModelInputError(f"largest shift {max_shift:g} s is below two steps of {step:g} s")
    band = cutoff if cutoff is not None else 0.2 / slow
    ra, rb = _rate(ta, xa, step, band), _rate(tb, xb, step, band)
    found = _best(ra, rb, float(ta[0] - tb[0]), step, max_shift, slow)
    if found is None:
        reason = f"no shift within the limit lets the records overlap by {_LEAST_OVERLAP:.0%} with a changing signal"
        return Synchronised("asked", math.nan, math.nan, 0.0, 0.0, reason)
    if not drift:
        return _gated(found, peak_gate, ratio_gate)
    coarse = found
    if found[1] <= peak_gate:
        slower = (_rate(ta, xa, step, COARSE * band), _rate(tb, xb, step, COARSE * band))
        coarse = _best(*slower, float(ta[0] - tb[0]), step, max_shift, slow) or found
    line = _line(ra, rb, ta, tb, step, slow, coarse[0], peak_gate)
    if line is None or line[1][1] > MOST_DRIFT:  # a line that leaves more open than clocks can drift says nothing
        plain = _gated(found, peak_gate, ratio_gate)
        return replace(plain, reason=f"{plain.reason}; drift cannot be told")
    slope, u_slope, reference = line
    half = 0.5 * float(tb[-1] - tb[0])
    if abs(slope) <= u_slope[1] or abs(slope) > MOST_DRIFT:
        plain = _gated(found, peak_gate, ratio_gate)
        return replace(
            plain, u=math.hypot(plain.u, u_slope[0] * half), reason=f"{plain.reason}; no drift beyond "
            f"{1e6 * u_slope[1]:.0f} ppm",
        )  # fmt: skip
    straight = tb + slope * (tb - reference)
    again = _best(ra, _rate(straight, xb, step, band), float(ta[0] - straight[0]), step, max_shift, slow)
    made = _gated(again or found, peak_gate, ratio_gate)
    told = f"{made.reason}; drift of {1e6 * slope:+.0f} +- {1e6 * u_slope[1]:.0f} ppm taken off"
    return replace(made, u=math.hypot(made.u, u_slope[0] * half), reason=told, drift=slope, reference=reference)


def _gated(found: tuple[float, float, float, float], peak_gate: float, ratio_gate: float) -> Synchronised:
    """Accepted or asked, by both gates."""
    offset, peak, ratio, u = found
    if peak > peak_gate and ratio > ratio_gate:
        return Synchronised(
            "accepted", offset, u, peak, ratio, f"correlation {peak:.2f}, {ratio:.2f} times the second peak"
        )
    reason = (
        f"best correlation {peak:.2f} (needed more than {peak_gate:g}), "
        f"{ratio:.2f} times the second peak (needed more than {ratio_gate:g})"
    )
    return Synchronised("asked", offset, u, peak, ratio, reason)


def parabola_peak(left: float, middle: float, right: float) -> float:
    """Place of the top of a parabola through three equally spaced values, in steps from the middle one."""
    curvature = left - 2.0 * middle + right
    return 0.0 if curvature >= 0.0 else 0.5 * (left - right) / curvature


def spread_stamps(time: Any) -> Any:
    """Stamps of whole seconds with several rows each, spread evenly inside the second.

    Only where all seconds but the first and last hold the same number of rows, one more or less allowed;
    otherwise `ModelInputError` names the second that differs.
    """
    t = np.asarray(time, dtype=float)
    seconds, counts = np.unique(t, return_counts=True)
    inner = counts[1:-1] if counts.size > 2 else counts
    usual = int(np.median(inner))
    odd = np.flatnonzero(np.abs(inner - usual) > 1)
    if np.any(np.diff(t) < 0) or odd.size or usual < 1:
        where = (
            f"second {seconds[odd[0] + 1]:g} holds {inner[odd[0]]} rows, others {usual}"
            if odd.size
            else "time runs backwards"
        )
        raise ModelInputError(f"stamps cannot be spread: {where}; give the sampling rate")
    step = float(np.median(np.diff(seconds))) if seconds.size > 1 else 1.0
    width = np.minimum(np.append(np.diff(seconds), step), step)  # a gap is no room for the rows before it
    room = counts.copy()
    room[[0, -1]] = np.maximum(room[[0, -1]], usual)
    late = np.where(np.arange(counts.size) == 0, room - counts, 0)  # the first second may have begun before the log
    row = np.arange(t.size) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.repeat(seconds, counts) + (np.repeat(late, counts) + row) * np.repeat(width / room, counts)


def _clean(time: Any, values: Any, name: str) -> tuple[Any, Any]:
    t, x = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    if t.shape != x.shape:
        raise ModelInputError(f"logger {name}: {t.size} times and {x.size} values; one each is needed")
    keep = np.isfinite(t) & np.isfinite(x)
    t, x = t[keep], x[keep]
    forward = np.concatenate(([True], np.diff(np.maximum.accumulate(t)) > 0)) if t.size else np.zeros(0, dtype=bool)
    t, x = t[forward], x[forward]
    if t.size < 20:
        raise ModelInputError(f"logger {name}: {t.size} usable readings; at least 20 with rising time are needed")
    return t, x


def _rate(t: Any, x: Any, step: float, band: float) -> Any:
    """Band-limited first difference on a grid of `step` from the first stamp on."""
    from scipy import ndimage

    grid = t[0] + step * np.arange(int((t[-1] - t[0]) / step) + 1)
    sigma = 0.1325 / (band * step)  # Gaussian with gain 1/sqrt(2) at the band edge
    smooth = ndimage.gaussian_filter1d(np.interp(grid, t, x), sigma, mode="nearest")
    return np.gradient(smooth)


def _correlation(ra: Any, rb: Any) -> tuple[Any, Any]:
    """Normalised correlation over the overlap for every shift of B, and the length of the overlap."""
    from scipy import fft  # scipy.signal has it ready, but takes longer to import than a test to reduce

    one_a, one_b = np.ones(ra.size), np.ones(rb.size)
    length = ra.size + rb.size - 1
    padded = fft.next_fast_len(length, real=True)

    def cross(p: Any, q: Any) -> Any:
        return fft.irfft(fft.rfft(p, padded) * fft.rfft(q[::-1], padded), padded)[:length]

    n = np.maximum(np.round(cross(one_a, one_b)), 1.0)
    scale = 1e-12 * ra.size * (float(np.var(ra)) + 1e-300), 1e-12 * rb.size * (float(np.var(rb)) + 1e-300)
    sa, sb = cross(ra, one_b), cross(one_a, rb)
    va = np.maximum(cross(ra**2, one_b) - sa**2 / n, scale[0])
    vb = np.maximum(cross(one_a, rb**2) - sb**2 / n, scale[1])
    return (cross(ra, rb) - sa * sb / n) / np.sqrt(va * vb), n


def _best(
    ra: Any, rb: Any, start: float, step: float, max_shift: float, slow: float
) -> tuple[float, float, float, float] | None:
    if float(np.var(ra)) == 0.0 or float(np.var(rb)) == 0.0:
        return None
    c, n = _correlation(ra, rb)
    offsets = start + (np.arange(c.size) - (rb.size - 1)) * step
    c = np.where((np.abs(offsets) <= max_shift) & (n >= _LEAST_OVERLAP * min(ra.size, rb.size)), c, np.nan)
    if np.isfinite(c).sum() < 5:
        return None
    k = int(np.nanargmax(c))
    if k in (0, c.size - 1) or not np.isfinite(c[[k - 1, k + 1]]).all():
        return float(offsets[k]), float(c[k]), 0.0, math.inf  # at the border of the search: no peak
    offset = float(offsets[k]) + parabola_peak(c[k - 1], c[k], c[k + 1]) * step
    peak = min(1.0, float(c[k]))
    curvature = float(c[k - 1] - 2 * c[k] + c[k + 1]) / step**2
    independent = max(2.0, float(n[k]) * step / (4.0 * slow))
    u_noise = math.sqrt(max(0.0, 1.0 - peak**2) / (independent * max(-curvature, 1e-300)))
    return offset, peak, peak / _second(c, k), math.hypot(u_noise, slow / math.sqrt(12.0))


def _second(c: Any, k: int) -> float:
    """The highest value outside the main lobe, which ends at the first minimum on either side."""
    left = k
    while left > 0 and np.isfinite(c[left - 1]) and c[left - 1] < c[left]:
        left -= 1
    right = k
    while right < c.size - 1 and np.isfinite(c[right + 1]) and c[right + 1] < c[right]:
        right += 1
    rest = np.concatenate((c[:left], c[right + 1 :]))
    rest = rest[np.isfinite(rest)]
    return max(float(rest.max()) if rest.size else 0.0, 1e-3)


def _line(
    ra: Any, rb: Any, ta: Any, tb: Any, step: float, slow: float, offset: float, gate: float
) -> tuple[float, tuple[float, float], float] | None:
    """Slope of the shifts in pieces of B, its standard error and 95 % bound, and their mean time; None below three."""
    edges = np.linspace(0, rb.size, DRIFT_WINDOWS + 1).astype(int)
    reach = max(20 * step, 0.1 * (tb[-1] - tb[0]) / DRIFT_WINDOWS)
    middle, shifts = [], []
    for first, last in itertools.pairwise(edges):
        begin = tb[0] + first * step
        low = max(0, int((begin + offset - reach - ta[0]) / step))
        high = min(ra.size, int((begin + (last - first) * step + offset + reach - ta[0]) / step))
        if high - low < 20 or last - first < 20:
            continue
        found = _best(ra[low:high], rb[first:last], float(ta[0] + low * step - begin), step, abs(offset) + reach, slow)
        if found is not None and found[1] > gate and 1.0 < found[2] < math.inf:
            middle.append(float(begin + 0.5 * (last - first) * step))
            shifts.append(found[0])
    if len(shifts) < 3:
        return None
    reference = float(np.mean(middle))
    at = np.array(middle) - reference
    slope = float(at @ np.array(shifts) / (at @ at))
    rest = np.array(shifts) - float(np.mean(shifts)) - slope * at
    scatter = max(math.sqrt(float((rest**2).sum()) / (len(shifts) - 2)), 0.02 * slow)
    u = scatter / math.sqrt(float(at @ at))
    return slope, (u, coverage_factor(0.95, len(shifts) - 2) * u), reference
