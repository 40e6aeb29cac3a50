"""One log of a test: its columns as channels in internal units, zeroed, with the causes of their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from cracktie.campaign.choices import Choice
from cracktie.campaign.instruments import STRAINS, Channel
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab import channels as lab
from cracktie.reduced import LogUse
from cracktie.reduction.conversion import LeftOut, scaled, shunt_checked, to_strain
from cracktie.reduction.loss import loss_refused
from cracktie.reduction.open_log import open_log
from cracktie.reduction.readings import Part, Signal, Signals
from cracktie.reduction.zeroing import Zeroing, bonding_load, left_in_window, zero_off
from cracktie.units import UnitError

if TYPE_CHECKING:
    from cracktie.lab.report import Block


NOT_ZEROED = ": not zeroed, so left out: "


def one_log(
    campaign: Campaign, log_name: str, choice: Choice, known: Mapping[str, Channel], test: Test,
    earlier: Callable[[str], Signals],
) -> Signals:  # fmt: skip
    """The channels of one log on its own clock; `earlier` reads another test of the beam by its name.

    Raises `NotReduced` where the log has no time.
    """
    assert campaign.folder is not None
    how = choice.of_log(log_name)
    opened = open_log(campaign.folder, log_name, how, campaign.reduction.loggers, known, test)
    log, block, time = opened.log, opened.block, opened.time
    signals = Signals(time, {}, cleaning=choice.cleaning)
    lines = tuple(line for line in log.report.lines() if not line.startswith("question: "))
    signals.logs.append(LogUse(log_name, log.sha256, block.frame.height, lines, log.simulated))
    lines_used = {"first_line": block.first_line, "last_line": block.last_line}
    arguments: dict[str, Any] = {"log": log_name, "block": block.name, **lines_used}
    signals.add_step("read", arguments, block.frame.height)
    for step in opened.steps:
        signals.add_step(*step)
    signals.notes += opened.notes
    signals.began = opened.began
    zeroing = Zeroing(choice, test, log_name, time, signals.notes, earlier, bond=bonding_load(test))
    # the load first: the zeros of gauges that were bonded under load hang on it
    for column, channel in sorted(opened.channels.items(), key=lambda pair: pair[1].quantity != "load"):
        _add(signals, channel, block, column, zeroing)
    loads = {c.name for c in opened.channels.values() if c.quantity == "load"}
    signals.notes[:] = _together(signals.notes, loads)
    return signals


def _together(notes: list[str], alone: Collection[str]) -> list[str]:
    """One note for channels that could not be zeroed for one and the same reason; those of `alone` keep theirs."""
    by_reason: dict[str, list[str]] = {}
    for note in notes:
        name, mark, reason = note.partition(NOT_ZEROED)
        by_reason.setdefault(reason if mark and name not in alone else note, []).append(name)
    return [
        reason if names[0] in (reason, *alone) else f"{', '.join(names)}{NOT_ZEROED}{reason}"
        for reason, names in by_reason.items()
    ]


def _add(signals: Signals, channel: Channel, block: Block, column: str, zeroing: Zeroing) -> None:
    """One column as a signal; what cannot be used is told and left out."""
    unit = block.units.get(column) or channel.unit or ""
    made = lab.Channel(channel.name, unit, signals.time, block.values(column), signals.trail)
    try:
        signals.found[channel.name], signals.trail = _signal(made, channel, zeroing)
    except UnitError as error:
        signals.notes.append(f"{zeroing.log}: column {column!r} is left out, {error.message}")
    except LeftOut as error:
        signals.notes.append(f"{channel.name}: left out, {error}")
    except (CracktieError, ValueError) as error:
        signals.notes.append(f"{channel.name}{NOT_ZEROED}{error}")


def _signal(made: lab.Channel, channel: Channel, zeroing: Zeroing) -> tuple[Signal, Any]:
    """Scale, zero, strain, what the window truly read, loss: in this order."""
    first = scaled(made, channel, zeroing.notes)
    made = first.channel
    if channel.quantity == "load":
        zeroing.load = made.values
    zeroed = zero_off(made, channel, zeroing)
    made, slope, more = to_strain(zeroed.channel, channel, first.electrical)
    made, by = shunt_checked(made, channel, slope, zeroing.choice, zeroing.log, zeroing.notes)
    slope *= by
    parts = [*first.parts, *(p.scaled(slope) for p in zeroed.parts), *more]
    left, part, told = left_in_window(channel, zeroing)
    if told:
        made = lab.changed(made, made.values + left, "value_in_zero_window", told)
        parts += [part] if part is not None else []
    lost = lab.find_gauge_loss(made.time, made.values) if channel.quantity in STRAINS else None
    if not loss_refused(zeroing.choice, channel.name):  # else its readings go on, or end where the engineer says
        made = lab.drop_dead(made, lost)
    u_zero = math.hypot(*(_largest(p) for p in parts if p.order == 0 and p.name != "calibration"))
    noise = zeroed.noise * abs(slope)
    reached = float(told.get("largest", -math.inf))
    found = Signal(channel, made.values, u_zero, noise, lost, tuple(parts), zeroed=zeroed.window, reached=reached)
    return found, made.trail


def _largest(part: Part) -> float:
    return float(np.max(part.u))
