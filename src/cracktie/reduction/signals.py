"""From log files to zeroed channels on one clock. Raw files are only read; every step goes into the trail."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.campaign.choices import Choice, LogChoice, ZeroWindow
from cracktie.campaign.instruments import Channel
from cracktie.campaign.layout import channels as layout_channels
from cracktie.campaign.layout import overridden
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, ModelInputError
from cracktie.lab import channels as lab
from cracktie.lab.clocks import synchronise
from cracktie.lab.read import read_log
from cracktie.lab.trail import Trail
from cracktie.reduced import LogUse
from cracktie.units import UnitError, factor

if TYPE_CHECKING:
    from cracktie.lab.report import Block

INTERNAL = {
    "load": "N", "reaction": "N", "displacement": "mm", "FRP strain": "-", "bar strain": "-", "concrete strain": "-",
    "anchor strain": "-", "crack opening": "mm", "crack sliding": "mm", "diagonal displacement": "mm",
    "rotation": "deg", "temperature": "degC", "time": "s", "time mark": "-",
}  # fmt: skip
"""Internal unit of each measured quantity."""
NOT_ZEROED = ("temperature", "time", "time mark")
STRAINS = ("FRP strain", "bar strain", "concrete strain", "anchor strain")
STATED = "stated in reduction.yaml"
LONGEST_SHIFT = 900.0
"""Largest shift tried between two clocks, s."""
FIRST_SECONDS = 0.02
"""Share of the record taken as zero window where the campaign names none."""


class NotReduced(CracktieError, ValueError):
    """A test cannot be reduced; the text says what is missing."""


@dataclass(frozen=True)
class Signal:
    """One channel on the test's clock: readings in internal units, NaN where missing or dead."""

    channel: Channel
    values: Any
    u_zero: float
    noise: float
    lost: lab.GaugeLoss | None = None


@dataclass
class Signals:
    """All channels of a test on one clock (s); collected while logs are read."""

    time: Any
    found: dict[str, Signal]
    logs: list[LogUse] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    trail: Trail = field(default_factory=Trail)
    kept: dict[str, Any] = field(default_factory=dict, repr=False)  # what later steps have read once

    def of(self, quantity: str, at: str | None = None) -> list[Signal]:
        """Signals of a quantity, at a place where one is named."""
        return [s for s in self.found.values() if s.channel.quantity == quantity and at in (None, s.channel.at)]


def read_signals(campaign: Campaign, name: str, test: Test, span: str) -> Signals:
    """Read, map, zero and synchronise the logs of a test.

    Raises `NotReduced` where there is no log, no time or no load; unmapped columns and gauges that were lost are notes.
    """
    if campaign.folder is None or not test.logs:
        raise NotReduced("no log")
    choice = campaign.reduction.tests.get(name, Choice())
    known = layout_of(campaign, test, span)
    whole: Signals | None = None
    for log_name in test.logs:
        part = _one_log(campaign, log_name, choice, known, test)
        whole = part if whole is None else _joined(whole, part, log_name, choice)
    assert whole is not None
    _leave_out(whole, choice)
    if not whole.of("load"):
        loads = [c.name for c in known.values() if c.quantity == "load"]
        why = [note for note in whole.notes if note.partition(":")[0] in loads]
        named = "no column is mapped to a load; name it in reduction.yaml (logs: map) or in the layout"
        raise NotReduced(f"no usable load: {'; '.join(why)}" if why else named)
    return whole


def layout_of(campaign: Campaign, test: Test, span: str) -> dict[str, Channel]:
    """Channels by the name a column may carry: own name and the logger's alias."""
    layouts = campaign.rig.layouts
    layout = layouts.get(test.layout or "") or (next(iter(layouts.values())) if len(layouts) == 1 else None)
    if layout is None:
        return {}
    made = [overridden(c, test.overrides) for c in layout_channels(layout, campaign.specimen(test.specimen), span)]
    dead = set(test.dead_channels)
    found = {c.name: c for c in made if c.name not in dead}
    found.update({c.alias: c for c in made if c.alias and c.name not in dead})
    return found


def _one_log(campaign: Campaign, log_name: str, choice: Choice, known: Mapping[str, Channel], test: Test) -> Signals:
    assert campaign.folder is not None
    how = next((c for c in choice.logs if c.log == log_name), LogChoice(log=log_name))
    order = how.date_order if how.date_order in ("dmy", "mdy") else None
    log = read_log(
        campaign.folder / log_name,
        delimiter=how.delimiter,
        decimal=how.decimal,
        encoding=how.encoding,
        date_order=order,
    )
    block = max(log.blocks, key=lambda b: b.frame.height)
    time = _time(log_name, block, how)
    signals = Signals(time, {})
    lines = tuple(line for line in log.report.lines() if not line.startswith("question: "))
    signals.logs.append(LogUse(log_name, log.sha256, block.frame.height, lines, log.simulated))
    lines_used = {"first_line": block.first_line, "last_line": block.last_line}
    arguments: dict[str, Any] = {"log": log_name, "block": block.name, **lines_used}
    signals.trail = signals.trail.add("read", arguments, block.frame.height)
    signals.notes += [f"{log_name}: {q.meanwhile if q.kind == 'encoding' else q}" for q in log.report.questions]
    unknown = []
    for column in block.columns:
        if column in (block.time, how.time):
            continue
        channel = known.get(how.map.get(column, column))
        if channel is not None:
            _add(signals, channel, block, column, choice, log_name)
        elif how.map.get(column, column) not in test.dead_channels:
            unknown.append(column)
    if unknown:
        names = ", ".join(map(repr, unknown))
        signals.notes.append(f"{log_name}: not used, of no channel of the layout: column {names}")
    return signals


def _time(log_name: str, block: Block, how: LogChoice) -> Any:
    column = how.time or block.time
    if column is None or column not in block.columns:
        raise NotReduced(f"{log_name}: no time column; name it in reduction.yaml (logs: time)")
    time = block.values(column)
    scale = factor(block.units[column], "s") if block.units.get(column) else 1.0
    time = time * scale
    if np.isnan(time).any() or (np.diff(time) < 0).any():
        raise NotReduced(f"{log_name}: the time {column!r} is missing or runs backwards in places")
    return time


def _add(signals: Signals, channel: Channel, block: Block, column: str, choice: Choice, log_name: str) -> None:
    internal = INTERNAL[channel.quantity]
    unit = block.units.get(column) or channel.unit or ""
    try:
        scale = factor(unit, internal) if unit else 1.0
    except UnitError as error:
        signals.notes.append(f"{log_name}: column {column!r} is left out, {error.message}")
        return
    made = lab.Channel(channel.name, unit, signals.time, block.values(column), signals.trail)
    if scale * channel.factor != 1.0:
        made = lab.apply_factor(made, scale * channel.factor, internal)
    if channel.sign != 1:
        made = lab.apply_sign(made, channel.sign)
    u_zero = noise = 0.0
    if channel.quantity not in NOT_ZEROED:
        start, end = _zero_window(signals, choice, channel.name, log_name)
        try:
            made, zero = lab.remove_zero(made, start, end)
        except (CracktieError, ValueError) as error:
            signals.notes.append(f"{channel.name}: not zeroed, {error}")
            signals.trail = made.trail
            return
        u_zero, noise = zero.u, zero.sigma
    lost = lab.find_gauge_loss(made.time, made.values) if channel.quantity in STRAINS else None
    if lost is not None:
        made = lab.drop_dead(made, lost)
    signals.trail = made.trail
    signals.found[channel.name] = Signal(channel, made.values, u_zero, noise, lost)


def _zero_window(signals: Signals, choice: Choice, channel: str, log_name: str) -> tuple[float, float]:
    fitting: list[ZeroWindow] = [
        z for z in choice.zeros if z.log in (None, log_name) and (z.channels is None or channel in z.channels)
    ]
    if fitting:
        return float(fitting[-1].start), float(fitting[-1].end)
    first, last = float(signals.time[0]), float(signals.time[-1])
    end = first + FIRST_SECONDS * (last - first)
    text = f"{log_name}: no zero window is named; the first {end - first:.0f} s are taken"
    if text not in signals.notes:
        signals.notes.append(text)
    return first, end


def _leave_out(signals: Signals, choice: Choice) -> None:
    """Leave out what was chosen, in times of the first log; one note a channel tells of choice and loss."""
    for name, signal in signals.found.items():
        lost, told = signal.lost, []
        for excluded in (e for e in choice.excluded if e.channel == name):
            after = -np.inf if excluded.after is None else float(excluded.after)
            mask = signals.time >= after
            signal = replace(signal, values=np.where(mask, np.nan, signal.values))
            signals.trail = signals.trail.add("exclude", {"channel": name, "reason": excluded.reason}, mask)
            since = "" if excluded.after is None else f" from {after:g} s on"
            told.append(f"left out by choice{since}, {excluded.reason}")
        if lost is not None:
            told.append(f"lost at {lost.time:.1f} s, {lost.reason}; not used from there on")
        if told:
            signals.notes.append(f"{name}: {'; '.join(told)}")
        signals.found[name] = signal


def _joined(first: Signals, second: Signals, log_name: str, choice: Choice) -> Signals:
    """Both logs on the clock of the first; the second is left out where its clock cannot be placed."""
    stated = next((c.clock_offset for c in choice.logs if c.log == log_name and c.clock_offset is not None), None)
    first.logs += second.logs
    first.notes += second.notes
    offset, u, how = (float(stated), None, STATED) if stated is not None else _found_offset(first, second)
    if offset is None:
        first.notes.append(f"{log_name}: left out, its clock could not be placed: {how}; state clock_offset")
        return first
    moved = second.time + offset
    arguments: dict[str, Any] = {"log": log_name, "offset_s": offset, "u_s": u, "how": how}
    trail = Trail((*first.trail.steps, *second.trail.steps)).add("synchronise", arguments, len(moved))
    for name, signal in second.found.items():
        if name in first.found:
            continue
        good = np.isfinite(signal.values)
        values = np.full(len(first.time), np.nan)
        if good.any():
            inside = (first.time >= moved[good][0]) & (first.time <= moved[good][-1])
            values[inside] = np.interp(first.time[inside], moved[good], signal.values[good])
        lost = signal.lost
        if lost is not None:
            at = lost.time + offset
            lost = replace(lost, row=int(np.searchsorted(first.time, at)), time=at)
        first.found[name] = replace(signal, values=values, lost=lost)
    first.trail = trail.add("interpolate", {"log": log_name, "onto": "first log's clock"}, len(first.time))
    first.notes.append(f"{log_name}: clock moved by {offset:+.3f} s ({how})")
    return first


def _found_offset(first: Signals, second: Signals) -> tuple[float | None, float | None, str]:
    a, b = first.of("load"), second.of("load")
    if not a or not b:
        return None, None, "the two logs share no load channel"
    try:
        found = synchronise(first.time, a[0].values, second.time, b[0].values, max_shift=LONGEST_SHIFT)
    except ModelInputError as error:
        return None, None, str(error)
    if found.status != "accepted":
        return None, None, found.reason
    return found.offset, found.u, f"{found.reason}, u = {found.u:.3f} s"
