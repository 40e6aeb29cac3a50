"""A log of a test opened for reduction: read as its logger says, one table on one clock, columns named as channels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice, LogChoice, Logger
from cracktie.campaign.explain import near
from cracktie.campaign.instruments import Channel
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.lab.answers import Stated
from cracktie.lab.metadata import day_against
from cracktie.lab.read import read_log
from cracktie.lab.report import Block, LogFile, Question
from cracktie.lab.timeline import segment_times
from cracktie.reduction.readings import NotReduced
from cracktie.units import factor

READING = ("delimiter", "decimal", "encoding", "date_order", "time_unit", "clock", "clock_change")
ANSWERED_BY = {
    "encoding": "encoding", "decimal": "decimal", "date order": "date_order", "time unit": "time_unit",
    "clock": "clock", "clock change": "clock_change",
}  # fmt: skip
MOST_UNTIMED = 0.05
"""Largest share of rows without a time that is filled in between the others."""


@dataclass
class OpenLog:
    """One table of a log on its clock (`time`, s, never falling); `channels` by column, what was done, what was not;
    `began`: the time of day in s at which the clock reads zero, where stamps tell."""

    name: str
    log: LogFile
    block: Block
    time: Any
    channels: dict[str, Channel] = field(default_factory=dict)
    unused: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    steps: list[tuple[str, dict[str, Any], int]] = field(default_factory=list)
    began: float | None = None


def open_log(
    folder: Path, name: str, how: LogChoice, loggers: Mapping[str, Logger], known: Mapping[str, Channel], test: Test
) -> OpenLog:
    """Read a log and put its columns beside the channels they may carry (`known`, by name and alias).

    A named logger is used where `how` names it, or where `how` states no map and the columns fit exactly one logger.
    Raises `NotReduced` with what to state, `InputRefused` and `FileTrouble` as `read_log`.
    """
    chosen, found = how.over(loggers.get(how.logger or "")), how.logger
    log = _read(folder, name, chosen, test)
    notes = []
    if how.logger is None and not how.map:
        fits = fitting(log, loggers)
        if len(fits) > 1:
            notes.append(f"{name}: its columns are those of loggers {_quoted(fits)}; name one (`logger: {fits[0]}`)")
        elif fits:
            (found,) = fits
            chosen = how.over(loggers[found])
            notes.append(f"{name}: read as logger {found!r}, whose columns it has")
            if _reads_otherwise(log, chosen):
                log = _read(folder, name, chosen, test)
    block = _table(name, log, chosen, known)
    block, untimed = _with_other_blocks(block, log, known, chosen)
    opened = OpenLog(name, log, block, None, notes=notes)
    opened.notes += [f"{name}: {_asked(q)}" for q in log.report.questions if _open(q, chosen)]
    opened.notes += [f"{name}: {note}" for note in untimed]
    _put_on_clock(opened, chosen)
    if found is not None:
        opened.steps.append(("columns", {"log": name, "logger": found}, opened.block.frame.height))
    _name_columns(opened, chosen, known, set(test.dead_channels))
    _tell_day(opened, test)
    return opened


def _read(folder: Path, name: str, chosen: LogChoice, test: Test) -> LogFile:
    stated = Stated(**{key: getattr(chosen, key) for key in READING})  # type: ignore[typeddict-item]
    return read_log(folder / name, dates=_days(test), **stated)


def _days(test: Test) -> tuple[date, ...]:
    try:
        return (date.fromisoformat(str(test.date)),) if test.date else ()
    except ValueError:
        return ()


def _reads_otherwise(log: LogFile, chosen: LogChoice) -> bool:
    """Whether a logger's words would have changed how a log was read."""
    differs = any(
        said is not None and log_said and said.lower() != log_said.lower()
        for said, log_said in (
            (chosen.delimiter, log.delimiter), (chosen.decimal, log.decimal), (chosen.encoding, log.encoding)
        )
    )  # fmt: skip
    return differs or any(q.kind != "encoding" and not _open(q, chosen) for q in log.report.questions)


def _open(question: Question, chosen: LogChoice) -> bool:
    return getattr(chosen, ANSWERED_BY.get(question.kind, ""), None) is None


def _asked(question: Question) -> str:
    if question.kind == "encoding":
        return f"{question.meanwhile} (`{question.answers[0]}` in reduction.yaml settles it)"
    how = f"; answer with `{'` or `'.join(question.answers)}` at this log in reduction.yaml" if question.answers else ""
    return f"{question.text}; until answered: {question.meanwhile}{how}"


def fitting(log: LogFile, loggers: Mapping[str, Logger]) -> list[str]:
    """The loggers whose mapped columns a log has, all of them and no other (in its longest table that fits any)."""
    for block in sorted(log.blocks, key=lambda b: -b.frame.height):
        columns = set(block.columns)
        fits = [
            name
            for name, logger in loggers.items()
            if logger.map and columns - {block.time, logger.time} == set(logger.map) - {block.time, logger.time}
        ]
        if fits:
            return fits
    return []


def _table(name: str, log: LogFile, chosen: LogChoice, known: Mapping[str, Channel]) -> Block:
    """The block that is named, else the longest."""
    if chosen.block is None:
        return max(log.blocks, key=lambda b: b.frame.height)
    for block in log.blocks:
        if block.name == chosen.block:
            return block
    raise NotReduced(f"{name}: no block {chosen.block!r}; {near(chosen.block, [b.name for b in log.blocks])}")


def _with_other_blocks(
    block: Block, log: LogFile, known: Mapping[str, Channel], chosen: LogChoice
) -> tuple[Block, list[str]]:
    """Channels that stand only in other blocks of the same logger, interpolated onto the clock of this one."""
    import polars as pl

    notes: list[str] = []
    time = chosen.time or block.time
    if time is None or time not in block.columns:
        return block, notes
    onto = block.values(time)
    for other in log.blocks:
        if other is block or other.time is None or other.frame.height < 3:
            continue
        clock = other.values(other.time)
        new = [c for c in other.columns if c not in block.columns and chosen.map.get(c, c) in known and c != other.time]
        shift = _between(block, time, other)
        good = np.isfinite(clock)
        rising = good.sum() > 2 and (np.diff(clock[good]) > 0).all()
        overlap = rising and clock[good][0] + shift < np.nanmax(onto) and clock[good][-1] + shift > np.nanmin(onto)
        if not new or not overlap or other.units.get(other.time) != block.units.get(time):
            continue
        added = {
            c: pl.Series(c, np.interp(onto, clock[good] + shift, other.values(c)[good], left=np.nan, right=np.nan))
            for c in new
        }
        frame = block.frame.with_columns([s.fill_nan(None) for s in added.values()])
        units = {**block.units, **{c: other.units.get(c, "") for c in new}}
        missing = {**block.missing, **{c: frame[c].null_count() for c in new}}
        block = replace(block, frame=frame, units=units, missing=missing)
        notes.append(f"of block {other.name!r}, {', '.join(new)}: put onto the clock of block {block.name!r}")
    return block, notes


def _between(block: Block, time: str, other: Block) -> float:
    """Seconds by which the other block's clock has to be moved: the distance of their origins where both have one."""
    mine, others = block.origins.get(time), other.origins.get(other.time or "")
    return (others - mine).total_seconds() if mine is not None and others is not None else 0.0


def _put_on_clock(opened: OpenLog, chosen: LogChoice) -> None:
    """The time in s: no gaps in it, one stretch between restarts. Raises `NotReduced` with what to state."""
    name, block = opened.name, opened.block
    column = chosen.time or block.time
    if column is None or column not in block.columns:
        asked = f"no time column {column!r}" if column else "no time column"
        raise NotReduced(f"{name}: {asked}; name it in reduction.yaml (time: ...): {_listed(block)}")
    time = block.values(column) * (factor(block.units[column], "s") if block.units.get(column) else 1.0)
    time = _filled(opened, time, column)
    starts = [0, *(int(i) + 1 for i in np.flatnonzero(np.diff(time) < 0))]
    if len(starts) > 1:
        time = _one_stretch(opened, time, starts, chosen.segment)
    opened.time = time
    moment = block.origins.get(column)
    if moment is not None:
        opened.began = (moment - moment.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds()


def _filled(opened: OpenLog, time: Any, column: str) -> Any:
    """Rows without a time lie evenly between their neighbours; at the ends they are left out."""
    good = np.isfinite(time)
    if good.all():
        return time
    share = 1.0 - good.mean()
    if share > MOST_UNTIMED or good.sum() < 2:
        raise NotReduced(f"{opened.name}: the time {column!r} is missing in {share:.0%} of the rows; name another one")
    rows = np.flatnonzero(good)
    first, last = int(rows[0]), int(rows[-1])
    opened.notes.append(f"{opened.name}: {int((~good).sum())} rows have no time: put between their neighbours")
    filled = np.interp(np.arange(first, last + 1), rows, time[rows])
    opened.block = _sliced(opened.block, first, last)
    return filled


def _one_stretch(opened: OpenLog, time: Any, starts: Sequence[int], which: str | None) -> Any:
    """The chosen stretch, or all stretches one behind the other."""
    name, block = opened.name, opened.block
    segments = tuple(zip(starts, [*(s - 1 for s in starts[1:]), len(time) - 1], strict=True))
    lines = segment_times(time, segments, "s")
    told = "; ".join(lines[:6]) + (f"; ... {len(lines)} in all" if len(lines) > 6 else "")
    if which is None:
        raise NotReduced(
            f"{name}: the time runs backwards at row {starts[1] + 1} (line {block.first_line + starts[1]}), as after a "
            f"restart of the logger; state `segment: 1` or another one of {told}, or `segment: all` to put them one "
            "behind the other"
        )
    if which == "all":
        out = np.array(time)
        step = float(np.median(np.diff(time)[np.diff(time) > 0]))
        for start in starts[1:]:
            out[start:] += out[start - 1] + step - out[start]
        opened.notes.append(f"{name}: {len(starts)} stretches put one behind the other, the pauses not known ({told})")
        opened.steps.append(("join segments", {"log": name, "starts": list(starts)}, len(time)))
        return out
    if int(which) > len(segments):
        raise NotReduced(f"{name}: there is no segment {which}; it has {told}")
    first, last = segments[int(which) - 1]
    opened.block = _sliced(block, first, last)
    opened.notes.append(f"{name}: segment {lines[int(which) - 1]} is used, of {len(segments)}")
    opened.steps.append(("choose segment", {"log": name, "segment": int(which)}, last - first + 1))
    return time[first : last + 1]


def _sliced(block: Block, first: int, last: int) -> Block:
    frame = block.frame.slice(first, last - first + 1)
    missing = {c: frame[c].null_count() for c in frame.columns}
    return replace(
        block, frame=frame, missing=missing, first_line=block.first_line + first, last_line=block.first_line + last
    )


def _name_columns(opened: OpenLog, chosen: LogChoice, known: Mapping[str, Channel], dead: set[str]) -> None:
    for column in opened.block.columns:
        if column in (opened.block.time, chosen.time):
            continue
        said = chosen.map.get(column, column)
        if said in known:
            _take(opened, column, known[said], chosen)
        elif said not in dead:
            opened.unused.append(column)
    if opened.unused:
        opened.notes.append(f"{opened.name}: not used, of no channel of the layout: column {_quoted(opened.unused)}")
    gone = [c for c in chosen.map if c not in opened.block.columns]
    if gone and chosen.logger is None:
        hint = f"; {near(gone[0], opened.block.columns)}" if len(gone) == 1 else ""
        opened.notes.append(f"{opened.name}: the map has columns that the log has not: {_quoted(gone)}{hint}")


def _take(opened: OpenLog, column: str, channel: Channel, chosen: LogChoice) -> None:
    """A column as a channel; of two for one channel that of the map counts, else the first, and both are told."""
    other = next((c for c, taken in opened.channels.items() if taken.name == channel.name), None)
    if other is not None:
        used, lost = (column, other) if column in chosen.map and other not in chosen.map else (other, column)
        opened.notes.append(
            f"{opened.name}: columns {other!r} and {column!r} both carry {channel.name}: {used!r} is taken, {lost!r} "
            "is not used; correct map or alias"
        )
        del opened.channels[other]
        column = used
    opened.channels[column] = channel


def _tell_day(opened: OpenLog, test: Test) -> None:
    for stated in _days(test):
        for origin in list(opened.block.origins.values())[:1]:
            told = day_against(stated, origin)
            if told:
                opened.notes.append(f"{opened.name}: {told}")


def _quoted(names: Sequence[str], most: int = 12) -> str:
    return ", ".join(map(repr, names[:most])) + (f" and {len(names) - most} more" if len(names) > most else "")


def _listed(block: Block, most: int = 40) -> str:
    """The columns of a block with their units."""
    shown = [f"{c!r}" + (f" [{block.units[c]}]" if block.units.get(c) else "") for c in block.columns[:most]]
    more = f" and {len(block.columns) - most} more" if len(block.columns) > most else ""
    return "columns " + ", ".join(shown) + more


def nothing_mapped(campaign: Campaign, test: Test, choice: Choice, known: Mapping[str, Channel]) -> str:
    """What the logs of a test hold, which channels are still without a column, and the lines of a map to fill in."""
    assert campaign.folder is not None
    opened = [
        open_log(campaign.folder, name, choice.of_log(name), campaign.reduction.loggers, known, test)
        for name in test.logs
    ]
    taken = {channel.name for log in opened for channel in log.channels.values()}
    free = {c.name: c for c in known.values() if c.name not in taken}
    out = ["no column is mapped to a load"]
    if not known:
        out.append("the test has no layout, so no channel is known: name one (layout: ...) in tests.yaml")
    out += [f"{log.name} has {_listed(log.block)}" for log in opened]
    out += [note for log in opened for note in log.notes if "`logger: " in note]
    if free:
        names = [f"{c.name} ({c.quantity})" for c in list(free.values())[:40]]
        out.append("channels without a column: " + ", ".join(names) + (" ..." if len(free) > 40 else ""))
        log = opened[0]
        pairs = ", ".join(f"{_key(c)}: {_near_channel(c, free) or '...'}" for c in log.unused[:40])
        out.append(f"write into reduction.yaml at this test: logs: [{{log: {log.name}, map: {{{pairs}}}}}]")
    return "; ".join(out)


def _key(column: str) -> str:
    return column if column.replace("_", "").isalnum() and not column.isdigit() else f'"{column}"'


def _near_channel(column: str, free: Mapping[str, Channel]) -> str | None:
    """A channel of (nearly) the same name, without blanks, case and marks."""
    import difflib

    plain = {"".join(ch for ch in name.lower() if ch.isalnum()): name for name in free}
    word = "".join(ch for ch in column.lower() if ch.isalnum())
    close = difflib.get_close_matches(word, plain, 1, 0.75)
    return plain[close[0]] if close else None
