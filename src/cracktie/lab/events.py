"""Events of a record: what an event is, the loading envelope, the peak, and the way down after it.

Detectors propose, with evidence and confidence, for the engineer to confirm or move. All limits are starting values of
our own. An operator's unloading is no event.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError
from cracktie.lab.channels import step_noise


@dataclass(frozen=True)
class Event:
    """One proposed event: `row` of the record, `time` in s, `value` of the load (unit of the record) and its `u`.

    `confidence` from 0 to 1 is a judgement built from the evidence named in `evidence`, not a probability. `channel`
    names the gauge that shows it; `strip` and `face` the leg of a wrap; `detail` a finer kind where the gauges tell it
    ('fan', 'strip end'; '' where they do not), `size` the share of the load that is lost.
    """

    kind: str
    row: int
    time: float
    value: float
    u: float
    method: str
    confidence: float
    evidence: str
    channel: str = ""
    strip: int | None = None
    face: str | None = None
    detail: str = ""
    size: float | None = None


def loading_envelope(load: Any, tolerance: float = 0.01) -> tuple[Any, Any]:
    """Running maximum of the load, and the mask of rows on it (within `tolerance` of the largest load)."""
    x = np.asarray(load, dtype=float)
    filled = np.where(np.isfinite(x), x, -np.inf)
    running = np.maximum.accumulate(filled) if x.size else filled
    peak = float(np.max(filled)) if x.size else 0.0
    return running, filled >= running - tolerance * abs(peak)


def loading_rows(load: Any, deflection: Any = None, *, tolerance: float = 0.01) -> Any:
    """Mask of rows in which the beam is being loaded: on the envelope of the load or, where the deflection is known,
    within 0.5 % of its largest so far. So the way down behind the peak counts and an unloading does not."""
    _, on = loading_envelope(load, tolerance)
    if deflection is None:
        return on
    d = np.asarray(deflection, dtype=float)
    furthest = np.maximum.accumulate(np.where(np.isfinite(d), d, -np.inf))
    top = float(furthest[-1]) if furthest.size and np.isfinite(furthest[-1]) else 0.0
    return on | (d >= furthest - 0.005 * abs(top) - 3.0 * step_noise(d))


def peak(time: Any, load: Any, *, peak_hold: float | None = None, u_reading: float = 0.0) -> Event:
    """Largest raw load, or the controller's `peak_hold` where that is larger.

    `u` joins `u_reading`, the noise and half of what a faster logger might have seen: the larger of the steps on
    both sides of the peak (rectangular). With a peak hold the last is replaced by its difference d from the log: the
    true peak is taken to lie between both (or as far beyond), d/sqrt(3), a judgement without source.
    """
    t, x = checked_record(time, load)
    k = int(np.nanargmax(x))
    noise = math.hypot(u_reading, step_noise(x))
    if peak_hold is not None:
        apart = peak_hold - float(x[k])
        u = math.hypot(noise, apart / math.sqrt(3.0))
        told = f"controller {peak_hold / 1e3:.2f} kN, log {x[k] / 1e3:.2f} kN ({100 * abs(apart) / peak_hold:.2g} % "
        if apart > 0.0:
            return Event("V_max", k, float(t[k]), float(peak_hold), u, "peak kept by the controller", 0.98,
                         f"{told}lower); the difference is in u")  # fmt: skip
        return Event("V_max", k, float(t[k]), float(x[k]), u, "largest raw reading", 0.9,
                     f"{told}higher: zero or scale of one of them is off); the difference is in u")  # fmt: skip
    sides = [abs(x[k] - x[j]) for j in (k - 1, k + 1) if 0 <= j < x.size and np.isfinite(x[j])]
    between = 0.5 * min(sides) if sides else 0.0
    u = math.hypot(noise, between / math.sqrt(3.0))
    return Event("V_max", k, float(t[k]), float(x[k]), u, "largest raw reading", 0.95, f"row {k} of {x.size}")


def after_peak(
    time: Any, load: Any, *, fraction: float = 0.85, deflection: Any = None, top: int | None = None
) -> Event | None:
    """First fall to `fraction` of the peak, between two readings by a straight line; None if never reached.

    A fall after which the load comes back above that level was an unloading, and so is a fall in which the
    deflection goes back by more than 2 % of its largest value. `top` is the row of the peak where it was placed.
    """
    t, x = checked_record(time, load)
    top = int(np.nanargmax(x)) if top is None else top
    level = fraction * float(x[top])
    above = np.flatnonzero(np.isfinite(x) & (x >= level))
    last = int(above[-1]) if above.size else top
    later = np.flatnonzero(np.isfinite(x[last + 1 :])) + last + 1
    if later.size == 0:
        return None
    row = int(later[0])
    evidence = "no deflection given: a slow unloading at the end would look the same"
    confidence = 0.6
    if deflection is not None:
        d = np.asarray(deflection, dtype=float)
        reached = float(np.nanmax(d[: row + 1]))
        here = d[row] if np.isfinite(d[row]) else reached
        if here < 0.98 * reached:
            return None
        confidence, evidence = 0.95, f"deflection {here:.4g} still at its largest {reached:.4g}"
    share = (x[last] - level) / (x[last] - x[row])
    at = float(t[last] + share * (t[row] - t[last]))
    kind = f"{100 * fraction:.0f} % after the peak"
    return Event(
        kind, row, at, level, fraction * step_noise(x), "straight line between two readings", confidence, evidence
    )


def checked_record(time: Any, load: Any) -> tuple[Any, Any]:
    """Both as float arrays; `ModelInputError` for unequal lengths, too few readings or time that runs backwards."""
    t, x = np.asarray(time, dtype=float), np.asarray(load, dtype=float)
    if t.shape != x.shape or t.ndim != 1:
        raise ModelInputError(f"{t.size} times and {x.size} loads; one each is needed")
    if x.size < 3 or not np.isfinite(x).any():
        raise ModelInputError(f"{int(np.isfinite(x).sum())} load readings; at least 3 are needed")
    if np.any(np.diff(t) < 0):
        raise ModelInputError("time runs backwards; give one segment of the record at a time")
    return t, x


def listed(names: Sequence[str], most: int = 4) -> str:
    """Names for a sentence, of many the first ones and how many more."""
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
