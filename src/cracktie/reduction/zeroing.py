"""Zeros: which window counts, what the channel reads in it, what an earlier test left, and drift to the end."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.campaign.choices import Choice, ZeroWindow
from cracktie.campaign.instruments import INTERNAL, Channel
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab import channels as lab
from cracktie.reduction.readings import Part
from cracktie.units import parse

if TYPE_CHECKING:
    from cracktie.reduction.readings import Signals

NOT_ZEROED = ("temperature", "time", "time mark", "principal strain", "shear strain", "principal angle")
FIRST_SECONDS = 0.02
"""Share of the record taken as zero window where the campaign names none, and as the end of an earlier test."""
NEAR_BOND = 0.10
"""Share of the load at strengthening within which a record counts as one that begins at it; our own choice."""
BONDED_LATER = ("FRP strain", "anchor strain")
"""Gauges that come with the strengthening: their zero is that of the bonding."""


@dataclass
class Zeroing:
    """What is known of the zeros of one log: `load` is its load as logged (N, sign taken), `bond` the load at which the
    beam was strengthened; `earlier` reads another test of the beam."""

    choice: Choice
    test: Test
    log: str
    time: Any
    notes: list[str]
    earlier: Callable[[str], Signals]
    load: Any = None
    bond: float = 0.0
    told: set[str] = field(default_factory=set)

    def say(self, text: str) -> None:
        """Keep a note, once."""
        if text not in self.notes:
            self.notes.append(text)


@dataclass(frozen=True)
class Zeroed:
    """A channel with its zero off, the causes of what is not known of it, noise, and the value it has in the window."""

    channel: lab.Channel
    parts: tuple[Part, ...]
    noise: float
    window: tuple[float, float] | None


def bonding_load(test: Test) -> float:
    """Load in N under which the beam was strengthened: as stated, else the last of the history before the bonding."""
    if test.strengthened_at_load is not None:
        return float(test.strengthened_at_load)
    level = 0.0
    for stage in test.history:
        if stage.stage == "bond while loaded":
            return level if stage.to is None else float(stage.to)
        level = level if stage.to is None else float(stage.to)
    return 0.0


def zero_off(made: lab.Channel, channel: Channel, zeroing: Zeroing) -> Zeroed:
    """A channel in the unit it was logged in (sign taken) less its zero, and less a drift along a straight line.

    Raises `ModelInputError` where a window holds too few readings, `CannotZero` where none can be told.
    """
    if channel.quantity in NOT_ZEROED:
        return Zeroed(made, (), 0.0, None)
    choice = zeroing.choice
    if channel.name in choice.absolute:
        return _as_logged(made, channel)
    fitting = [z for z in choice.zeros if z.fits(channel.name, channel.quantity, zeroing.log)]
    before = [z for z in fitting if not z.after]
    if before:
        window = float(before[-1].start), float(before[-1].end)
    else:
        found = _unstated(made, channel, zeroing)
        if found is None:
            return _at_bonding_load(made, channel, zeroing)
        window = found
    made, zero = lab.remove_zero(made, *window)
    dof = zero.readings - 1
    parts: tuple[Part, ...] = (
        Part("zero", zero.u, kind="A", note=f"median of {zero.readings} readings, {dof} degrees of freedom"),
    )
    for after in [z for z in fitting if z.after][-1:]:
        made, more = _drift(made, zero, window, after, zeroing)
        parts += more
    return Zeroed(made, parts, zero.sigma, window)


class CannotZero(CracktieError, ValueError):
    """No zero can be told without asking."""


def _as_logged(made: lab.Channel, channel: Channel) -> Zeroed:
    first, last = float(made.time[0]), float(made.time[-1])
    try:
        noise = lab.noise(made.time, made.values, first, first + FIRST_SECONDS * (last - first))
    except CracktieError:
        noise = 0.0
    return Zeroed(lab.changed(made, made.values, "as_logged", {"zero": "none taken off, by choice"}), (), noise, None)


def _first(zeroing: Zeroing) -> tuple[float, float]:
    first, last = float(zeroing.time[0]), float(zeroing.time[-1])
    return first, first + FIRST_SECONDS * (last - first)


def _unstated(made: lab.Channel, channel: Channel, zeroing: Zeroing) -> tuple[float, float] | None:
    """The window where none is stated: the first rows; at the hold of the bonding for gauges that came with it; None
    for a load that begins at the load of the bonding."""
    start, end = _first(zeroing)
    bond = zeroing.bond
    level = _level(zeroing.load, zeroing.time, start, end)
    if bond > 0.0 and channel.quantity == "load":
        if abs(level - bond) <= NEAR_BOND * bond:
            return None
        if abs(level) > 0.25 * bond:
            raise CannotZero(
                f"the record begins at {level / 1e3:.1f} kN, neither near 0 nor near the {bond / 1e3:.1f} kN at which "
                "the beam was strengthened: name its zero window, with value: for what it carried then"
            )
        if abs(level) <= 0.25 * bond:
            zeroing.say(
                f"{channel.name}: the record begins near 0 and the beam was strengthened at {bond / 1e3:.1f} kN: taken "
                "as unloaded then; if the cell was set to zero under that load, write its zero window with value: "
                f"{bond / 1e3:g} kN"
            )
    if bond > 0.0 and channel.quantity in BONDED_LATER and not math.isfinite(level):
        raise CannotZero(f"bonded at {bond / 1e3:.1f} kN, its log has no load to find that by: name its zero window")
    if bond > 0.0 and channel.quantity in BONDED_LATER and abs(level) <= 0.25 * bond:
        hold = _hold(zeroing, level)
        if hold is None:
            raise CannotZero(f"bonded at {bond / 1e3:.1f} kN, and no hold at that load is found: name its zero window")
        zeroing.say(
            f"{zeroing.log}: the zero of gauges bonded at {bond / 1e3:.1f} kN is taken in the hold before the load "
            f"goes on, {hold[0]:.0f} to {hold[1]:.0f} s"
        )
        return hold
    zeroing.say(f"{zeroing.log}: no zero window is named; the first {end - start:.0f} s are taken")
    return start, end


def _level(load: Any, time: Any, start: float, end: float) -> float:
    if load is None:
        return math.nan
    rest = load[(time >= start) & (time <= end) & np.isfinite(load)]
    return float(np.median(rest)) if rest.size else math.nan


def _hold(zeroing: Zeroing, level: float) -> tuple[float, float] | None:
    """The last tenth of the hold at the load of the bonding, before the load first goes beyond it.

    The load may sink while the jack is held: the hold ends where it leaves its low level for good.
    """
    load = zeroing.load - level
    beyond = np.flatnonzero(load > 1.05 * zeroing.bond)
    until = int(beyond[0]) if beyond.size else len(load)
    reached = np.flatnonzero(load[:until] >= 0.97 * zeroing.bond)
    if reached.size == 0:
        return None
    held = load[reached[0] : until]
    low = float(np.nanpercentile(held, 10.0))
    calm = np.flatnonzero(held <= low + 0.01 * zeroing.bond)
    if low < 0.8 * zeroing.bond or calm.size < 5:
        return None
    start, end = float(zeroing.time[reached[0]]), float(zeroing.time[reached[0] + calm[-1]])
    return end - 0.1 * (end - start), end


def _at_bonding_load(made: lab.Channel, channel: Channel, zeroing: Zeroing) -> Zeroed:
    start, end = _first(zeroing)
    zero = lab.zero_window(made.time, made.values, start, end)
    difference = float(_level(zeroing.load, zeroing.time, start, end)) - zeroing.bond
    zeroing.say(
        f"{channel.name}: not zeroed: the record begins at {(zeroing.bond + difference) / 1e3:.2f} kN, and the beam "
        f"was strengthened at {zeroing.bond / 1e3:.2f} kN; their difference counts as uncertainty of the zero"
    )
    scale = abs(difference) / math.sqrt(3.0)
    part = Part("zero", scale, shape="rectangular", note="reading at the load of the strengthening against that load")
    kept = lab.changed(made, made.values, "as_logged", {"zero": "none taken off, the beam was loaded"})
    return Zeroed(kept, (part,), zero.sigma, None)


def _drift(
    made: lab.Channel, zero: lab.Zero, window: tuple[float, float], after: ZeroWindow, zeroing: Zeroing
) -> tuple[lab.Channel, tuple[Part, ...]]:
    """Drift from the window before to the one after the test.

    Uncertain: the zero lies anywhere between both, so u = |d|/sqrt 3 about the first one. Linear: d (t - t0)/(t1 - t0)
    is taken off; what is left of a drift that walks at random from 0 to d has the standard deviation
    |d| sqrt(s (1 - s)) at the share s of the way (Brownian bridge, its variance estimated from the one d there is).
    """
    start, end = float(after.start), float(after.end)
    left = lab.zero_window(made.time, made.values, start, end)
    drift, u = lab.zero_drift(lab.Zero(0.0, zero.u, zero.sigma, zero.readings), left)
    arguments = {"start_s": start, "end_s": end, "drift": drift, "u": u, "taken": after.drift}
    if after.drift == "uncertain":
        part = Part("drift of the zero", abs(drift) / math.sqrt(3.0), shape="rectangular", kind="A",
                    note="anywhere between the zeros before and after")  # fmt: skip
        return lab.changed(made, made.values, "zero_drift", arguments), (part,)
    t0, t1 = 0.5 * sum(window), 0.5 * (start + end)
    share = np.clip((made.time - t0) / (t1 - t0), 0.0, 1.0) if t1 > t0 else np.zeros(len(made.time))
    rest = np.hypot(abs(drift) * np.sqrt(share * (1.0 - share)), share * left.u)
    part = Part("drift of the zero", rest, kind="A", note="straight line taken off; a walk at random between is left")
    return lab.changed(made, made.values - drift * share, "zero_drift", arguments), (part,)


def left_in_window(channel: Channel, zeroing: Zeroing) -> tuple[float, Part | None, dict[str, Any]]:
    """What a channel reads in its zero window (internal unit): as stated, as an earlier test left it, else 0."""
    fitting = [z for z in zeroing.choice.zeros if z.fits(channel.name, channel.quantity, zeroing.log) and not z.after]
    if not fitting:
        return 0.0, None, {}
    window = fitting[-1]
    if window.value is not None:
        stated = parse(window.value, INTERNAL[channel.quantity])
        part = Part("value stated for the zero window", stated.u) if stated.u else None
        return float(stated), part, {"value": float(stated), "from": "stated in reduction.yaml"}
    if window.carry is None:
        return 0.0, None, {}
    name = window.carry.test
    before = zeroing.earlier(name)
    signal = before.found.get(channel.name)
    if signal is None:
        zeroing.say(f"{channel.name}: nothing carried over, test {name} has no readings of it")
        return 0.0, None, {}
    start, end = _end_of(before, window)
    try:
        left = lab.zero_window(before.time, signal.values, start, end)
    except CracktieError as error:
        zeroing.say(f"{channel.name}: nothing carried over from test {name}, {error}")
        return 0.0, None, {}
    u = math.hypot(left.u, signal.u_zero)
    largest = max(float(np.nanmax(lab.running_median(signal.values))), signal.reached)  # bars keep their history
    arguments = {"value": left.value, "u": u, "largest": largest, "from": f"test {name}, {start:.1f} to {end:.1f} s",
                 "sha256": before.logs[0].sha256[:16]}  # fmt: skip
    part = Part(f"carried over from test {name}", u, kind="A", note="its last readings and its own zero")
    return left.value, part, arguments


def _end_of(before: Signals, window: ZeroWindow) -> tuple[float, float]:
    assert window.carry is not None
    first, last = float(before.time[0]), float(before.time[-1])
    start = last - FIRST_SECONDS * (last - first) if window.carry.start is None else float(window.carry.start)
    return start, last if window.carry.end is None else float(window.carry.end)
