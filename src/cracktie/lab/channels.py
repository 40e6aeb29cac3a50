"""Channels: zero, sign, factor, spike flags, dead gauges, noise, low-pass. Raw values are never changed in place."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.trail import Trail

MAD_TO_SIGMA = 1.482602218505602
"""1/Phi^-1(3/4): standard deviation of a normal sample over its median absolute deviation."""

GAP = 5
"""Steps of a record over which nothing is interpolated; common practice, no source."""

_MEDIAN_LOSS = math.sqrt(math.pi / 2.0)  # standard error of a median over that of a mean, normal readings


@dataclass(frozen=True)
class Channel:
    """One quantity over time: `time` in s, `values` in `unit`, NaN where missing; both arrays are read-only."""

    name: str
    unit: str
    time: Any
    values: Any
    trail: Trail = field(default_factory=Trail)

    def __post_init__(self) -> None:
        time, values = _frozen(self.time), _frozen(self.values)
        if time.shape != values.shape or time.ndim != 1:
            raise ModelInputError(
                f"channel {self.name!r}: {time.size} times and {values.size} values; one each is needed"
            )
        object.__setattr__(self, "time", time)
        object.__setattr__(self, "values", values)


@dataclass(frozen=True)
class Zero:
    """Level of a quiet window: its median, the standard error of that median, scatter and number of readings."""

    value: float
    u: float
    sigma: float
    readings: int


@dataclass(frozen=True)
class GaugeLoss:
    """A gauge that stopped measuring: first dead row, its time, and what was seen."""

    row: int
    time: float
    reason: str


def zero_window(time: Any, values: Any, start: float, end: float) -> Zero:
    """Median of the readings from `start` to `end` s, with its standard error 1.253 s/sqrt(n).

    s is 1.4826 times the median absolute deviation (the plain standard deviation where most readings are equal).
    Readings are taken as independent: a slow drift inside the window is not in `u` (see `zero_drift`).
    Raises `ModelInputError` for fewer than three readings.
    """
    t, x = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    window = x[(t >= start) & (t <= end) & np.isfinite(x)]
    if window.size < 3:
        raise ModelInputError(
            f"zero window from {start:g} s to {end:g} s holds {window.size} readings; at least 3 are needed: widen it"
        )
    middle = float(np.median(window))
    sigma = MAD_TO_SIGMA * float(np.median(np.abs(window - middle)))
    if sigma == 0.0:
        sigma = float(window.std(ddof=1))  # coarse counts: most readings are equal
    return Zero(middle, _MEDIAN_LOSS * sigma / math.sqrt(window.size), sigma, int(window.size))


def zero_drift(before: Zero, after: Zero) -> tuple[float, float]:
    """Change of the zero from before to after the test and its standard uncertainty."""
    return after.value - before.value, math.hypot(before.u, after.u)


def changed(channel: Channel, values: Any, name: str, arguments: dict[str, Any]) -> Channel:
    """The channel with other values and the step that made them; every reading it has counts as touched."""
    touched = np.isfinite(channel.values)
    told = {"channel": channel.name, **arguments}
    return replace(channel, values=values, trail=channel.trail.add(name, told, touched))


def remove_zero(channel: Channel, start: float, end: float) -> tuple[Channel, Zero]:
    """The channel less the median of its window from `start` to `end` s, and that zero."""
    zero = zero_window(channel.time, channel.values, start, end)
    arguments = {"start_s": start, "end_s": end, "zero": zero.value, "u": zero.u, "readings": zero.readings}
    return changed(channel, channel.values - zero.value, "remove_zero", arguments), zero


def remove_offset(channel: Channel, offset: float) -> Channel:
    """The channel less a stated offset (in the unit of the channel)."""
    return changed(channel, channel.values - offset, "remove_offset", {"offset": offset})


def apply_sign(channel: Channel, sign: int) -> Channel:
    """The channel times +1 or -1, so that load and deflection are positive down and tension is positive."""
    if sign not in (1, -1):
        raise ModelInputError(f"sign of channel {channel.name!r} is {sign}; write 1 or -1")
    return changed(channel, channel.values * sign, "apply_sign", {"sign": sign})


def apply_factor(channel: Channel, factor: float, unit: str | None = None) -> Channel:
    """The channel times a calibration or unit factor; `unit` renames the unit."""
    if not math.isfinite(factor) or factor == 0.0:
        raise ModelInputError(f"factor of channel {channel.name!r} is {factor}; a finite number other than 0 is needed")
    out = changed(channel, channel.values * factor, "apply_factor", {"factor": factor, "unit": unit or channel.unit})
    return replace(out, unit=unit or channel.unit)


def guard_mask(time: Any, events: Iterable[float], half_width: float = 0.5) -> Any:
    """True for rows within `half_width` s of a brittle event: real drops look like spikes there."""
    t = np.asarray(time, dtype=float)
    out = np.zeros(t.size, dtype=bool)
    for event in events:
        out |= np.abs(t - event) <= half_width
    return out


def hampel_flags(
    values: Any, *, half_width: int = 5, threshold: float = 3.5, floor: float = 0.0, guard: Any = None
) -> Any:
    """Mask of spikes: |x - median| > threshold * 1.4826 * MAD in a window of 2 half_width + 1 rows.

    `floor` is a least deviation (give two or three counts for a coarsely quantised signal, whose MAD is zero);
    rows of the boolean mask `guard` are never flagged. Flags only: no value is changed or deleted.
    """
    x = np.asarray(values, dtype=float)
    if half_width < 1:
        raise ModelInputError(f"half width of the spike window is {half_width} rows; at least 1 is needed")
    flags = np.zeros(x.size, dtype=bool)
    for first in range(0, x.size, 50_000):  # bounded memory for long logs
        last = min(first + 50_000, x.size)
        low, high = max(0, first - half_width), min(x.size, last + half_width)
        padded = np.pad(x[low:high], (half_width - (first - low), half_width - (high - last)), constant_values=np.nan)
        windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half_width + 1)
        flags[first:last] = _spiky(x[first:last], windows, threshold, floor)
    if guard is not None:
        flags &= ~np.asarray(guard, dtype=bool)
    return flags


def spike_flags(
    values: Any, *, floor: float, half_width: int = 5, threshold: float = 3.5, longest: int = 2, guard: Any = None
) -> Any:
    """Mask of single spikes: Hampel flags on the readings there are, in runs of at most `longest` readings.

    A reading that leaves its neighbours and comes back is a spike, one that stays away is none. `floor` (above 0) is
    the least deviation from the median; rows of the mask `guard` are never flagged.
    """
    x = np.asarray(values, dtype=float)
    rows = np.flatnonzero(np.isfinite(x))
    flags = np.zeros(x.size, dtype=bool)
    if rows.size <= 2 * half_width:
        return flags
    y = x[rows]
    # no spike without a step: one reading in a run of `longest` differs from both its neighbours outside the run
    far = np.zeros(y.size, dtype=bool)
    for lag in range(1, longest + 1):
        step = np.abs(y[lag:] - y[:-lag]) > 0.5 * floor
        far[lag:] |= step
        far[:-lag] |= step
    candidates = np.flatnonzero(far)
    windows = np.lib.stride_tricks.sliding_window_view(
        np.pad(y, half_width, constant_values=np.nan), 2 * half_width + 1
    )
    spikes = np.zeros(y.size, dtype=bool)
    for first in range(0, candidates.size, 50_000):  # bounded memory for long logs
        some = candidates[first : first + 50_000]
        spikes[some] = _spiky(y[some], windows[some], threshold, floor)
    index = np.flatnonzero(spikes)
    run = np.cumsum(np.concatenate(([0], np.diff(index) > 1))) if index.size else index
    short = np.bincount(run)[run] <= longest if index.size else np.zeros(0, dtype=bool)
    flags[rows[index[short]]] = True
    if guard is not None:
        flags &= ~np.asarray(guard, dtype=bool)
    return flags


def running_median(values: Any, half_width: int = 2) -> Any:
    """Median of 2 half_width + 1 rows round each row (fewer at the ends, NaN left out): spikes go, steps stay."""
    x = np.asarray(values, dtype=float)
    if half_width != 2 or x.size < 8:
        return _window_medians(x, half_width)
    out, special = np.empty(x.size), ~np.isfinite(x)
    out[2:-2] = median_of_five(x[:-4], x[1:-3], x[2:-2], x[3:-1], x[4:])
    special = np.convolve(special, np.ones(5, dtype=int), "same") > 0 if special.any() else special
    special[[0, 1, -2, -1]] = True
    rows = np.flatnonzero(special)
    around = rows[:, None] + np.arange(-2, 3)
    inside = (around >= 0) & (around < x.size)
    out[rows] = _row_median(np.where(inside, x[np.where(inside, around, 0)], np.nan))
    return out


def without_flagged(channel: Channel, flags: Any) -> Channel:
    """The channel with flagged rows missing (NaN), for display and slopes; peaks are read from the raw values."""
    mask = np.asarray(flags, dtype=bool)
    trail = channel.trail.add("without_flagged", {"channel": channel.name}, mask)
    return replace(channel, values=np.where(mask, np.nan, channel.values), trail=trail)


def noise(time: Any, values: Any, start: float, end: float) -> float:
    """Robust standard deviation about a straight line in the window from `start` to `end` s."""
    t, x = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    keep = (t >= start) & (t <= end) & np.isfinite(x)
    if keep.sum() < 5:
        raise ModelInputError(
            f"noise window from {start:g} s to {end:g} s holds {int(keep.sum())} readings; at least 5 "
            "are needed: widen it"
        )
    line = np.polynomial.polynomial.Polynomial.fit(t[keep], x[keep], 1) if np.ptp(t[keep]) > 0 else None
    rest = x[keep] - (line(t[keep]) if line is not None else np.median(x[keep]))
    sigma = MAD_TO_SIGMA * float(np.median(np.abs(rest - np.median(rest))))
    return sigma if sigma > 0.0 else float(rest.std())


def step_noise(values: Any) -> float:
    """Robust noise from the differences of neighbours: needs no quiet window, blind to slow changes."""
    steps = np.diff(np.asarray(values, dtype=float))
    steps = steps[np.isfinite(steps)]
    if steps.size < 3:
        return 0.0
    return MAD_TO_SIGMA * float(np.median(np.abs(steps - np.median(steps)))) / math.sqrt(2.0)


def find_gauge_loss(
    time: Any, strain: Any, *, rate_limit: float = 0.02, jump: float = 0.005, range_limit: float = 0.03
) -> GaugeLoss | None:
    """First row from which a strain gauge (ratio) no longer measures, or None.

    Lost is: out of +-`range_limit` or missing from there to the end; a step faster than `rate_limit` per second
    and larger than `jump` that leads to a level the gauge did not know before and stays; readings that freeze at
    exactly one value to the end after having had noise. A fall back towards zero is no loss but may be
    debonding. Limits are starting values of our own.
    """
    t, x = np.asarray(time, dtype=float), np.asarray(strain, dtype=float)
    if x.size < 3:
        return None
    found = [_out_of_range(t, x, range_limit), _stays_away(t, x, rate_limit, jump), _frozen_reading(t, x)]
    losses = [loss for loss in found if loss is not None]
    return min(losses, key=lambda loss: loss.row) if losses else None


def drop_dead(channel: Channel, loss: GaugeLoss | None) -> Channel:
    """The channel with all readings from the loss onward missing."""
    if loss is None:
        return channel
    mask = np.arange(channel.values.size) >= loss.row
    return replace(
        channel,
        values=np.where(mask, np.nan, channel.values),
        trail=channel.trail.add("drop_dead", {"channel": channel.name, "reason": loss.reason}, mask),
    )


def lowpass(values: Any, rate: float, cutoff: float, *, splits: Sequence[int] = ()) -> Any:
    """Zero-phase low-pass with gain 1/sqrt(2) at `cutoff` Hz: Butterworth of order 2 run forward and backward.

    Two passes shift the -3 dB point, so the design frequency is raised by (sqrt 2 - 1)^(-1/4), with the bilinear
    warping taken in. The record is cut at the rows in `splits` (brittle events), which are not smeared.
    Peaks are never read from the result.
    """
    from scipy import signal

    if not 0.0 < cutoff < 0.4 * rate:
        raise ModelInputError(
            f"cut-off {cutoff:g} Hz at {rate:g} readings a second; between 0 and {0.4 * rate:g} Hz is needed"
        )
    warped = math.tan(math.pi * cutoff / rate) / (math.sqrt(2.0) - 1.0) ** 0.25
    sections = signal.butter(2, 2.0 * math.atan(warped) / math.pi, output="sos")
    x = np.asarray(values, dtype=float)
    out = x.copy()
    edges = [0, *sorted(splits), x.size]
    for first, last in itertools.pairwise(edges):
        if last - first > 12:
            out[first:last] = signal.sosfiltfilt(sections, x[first:last])
    return out


def _out_of_range(t: Any, x: Any, limit: float) -> GaugeLoss | None:
    good = np.flatnonzero(np.isfinite(x) & (np.abs(x) <= limit))
    last = int(good[-1]) if good.size else -1
    if last >= x.size - 3 or last < 0:
        return None
    away = np.isfinite(x[last + 1 :]).any()
    return GaugeLoss(
        last + 1, float(t[last + 1]), f"out of +-{limit:g} or missing to the end" if away else "no reading to the end"
    )


def _stays_away(t: Any, x: Any, rate_limit: float, jump: float) -> GaugeLoss | None:
    index = np.flatnonzero(np.isfinite(x))
    if index.size < 3:
        return None
    y, s = x[index], t[index]
    steps = np.diff(y)
    large = np.flatnonzero(np.abs(steps) > jump)
    gaps = np.maximum(s[large + 1] - s[large], 1e-9)
    for i, gap in zip(large, gaps, strict=True):
        if not abs(steps[i]) / gap > rate_limit:
            continue
        before, after = y[: i + 1], y[i + 1 :]
        low, high = min(0.0, float(before.min())), max(0.0, float(before.max()))
        beyond = (after < low - 0.5 * jump) | (after > high + 0.5 * jump)
        if after.size >= 3 and beyond.mean() > 0.95:
            rate = abs(steps[i]) / gap
            return GaugeLoss(
                int(index[i + 1]),
                float(s[i + 1]),
                f"step of {steps[i] * 1e6:.0f} um/m at {rate * 1e6:.0f} um/m a second to a new level",
            )
    return None


def _frozen_reading(t: Any, x: Any, rows: int = 20) -> GaugeLoss | None:
    finite = np.flatnonzero(np.isfinite(x))
    if finite.size <= rows or np.ptp(x[finite[-rows:]]) > 0.0:
        return None
    changes = np.flatnonzero(np.diff(x[finite]) != 0.0)
    if changes.size < rows or finite.size - 1 - changes[-1] < rows:
        return None
    typical = float(np.median(np.diff(changes))) if changes.size > 1 else 1.0
    if finite.size - 1 - changes[-1] < 20 * typical:
        return None
    row = int(finite[changes[-1] + 1])
    return GaugeLoss(row, float(t[row]), f"reading frozen at {x[row] * 1e6:.0f} um/m to the end")


def _spiky(x: Any, windows: Any, threshold: float, floor: float) -> Any:
    """Hampel's rule for readings `x`, each with the row of readings round it."""
    middle = _row_median(windows)
    mad = _row_median(np.abs(windows - middle[:, None]))
    return np.abs(x - middle) > np.maximum(threshold * MAD_TO_SIGMA * mad, floor)


def _window_medians(x: Any, half_width: int) -> Any:
    """Median of the window round each row by sorting, whatever its width and its gaps."""
    padded = np.pad(x, half_width, constant_values=np.nan)
    return _row_median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half_width + 1))


def median_of_five(a: Any, b: Any, c: Any, d: Any, e: Any) -> Any:
    """Median of five arrays without NaN, place by place: of four neither the least nor the largest can be it."""
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), e))


def _row_median(rows: Any) -> Any:
    ordered = np.sort(rows, axis=1)  # NaN sorts to the end
    count = np.isfinite(rows).sum(axis=1)
    where = np.arange(rows.shape[0])
    low = ordered[where, np.maximum((count - 1) // 2, 0)]
    high = ordered[where, np.minimum(count // 2, rows.shape[1] - 1)]
    return np.where(count > 0, 0.5 * (low + np.where(count % 2 == 1, low, high)), np.nan)


def _frozen(values: Any) -> Any:
    array = np.array(values, dtype=float)
    array.setflags(write=False)
    return array
