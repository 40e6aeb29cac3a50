"""What stands in TDMS, MDF 4 and MATLAB files: channels of equal length and clock, gathered in groups."""

from __future__ import annotations

import io
import re
import struct
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np

MOST_CHANNELS = 2000
_DEEPEST = 4


@dataclass
class Group:
    """Channels of equal length and clock: readings by name, units, texts, name and origin of their common time."""

    name: str
    values: dict[str, Any] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    texts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    time: str | None = None
    origin: datetime | None = None

    def add(self, name: str, values: Any, unit: str = "") -> None:
        """Keep a channel; a name that is taken gets a number."""
        n, free = 2, name
        while free in self.values:
            free, n = f"{name} ({n})", n + 1
        self.values[free], self.units[free] = values, unit


@dataclass
class Contents:
    """A container as found: (key, value) pairs of its properties, groups, and what could not be taken."""

    preamble: list[tuple[str, str]] = field(default_factory=list)
    groups: list[Group] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def is_matlab_4(raw: bytes) -> bool:
    """True for the oldest MATLAB files, which have no mark but five whole numbers and the name of a variable."""
    for order in "<>":
        if len(raw) < 20:
            return False
        kind, rows, columns, imaginary, length = struct.unpack(f"{order}5i", raw[:20])
        digits = [kind // 1000, kind // 100 % 10, kind // 10 % 10, kind % 10]
        stored = all(0 <= d <= top for d, top in zip(digits, (4, 0, 5, 2), strict=True)) and kind >= 0
        if stored and rows >= 0 and columns >= 0 and imaginary in (0, 1) and 2 <= length <= 64:
            name = raw[20 : 20 + length]
            return name.endswith(b"\0") and re.fullmatch(rb"[A-Za-z]\w*", name[:-1]) is not None
    return False


def numeric(values: Any) -> bool:
    """True for real numbers and for true/false."""
    kind = np.asarray(values).dtype.kind
    return kind in "iufb"


def _texts(values: Any) -> tuple[str, ...]:
    """The first twenty different words of a channel of text."""
    words = (v.decode("utf-8", "replace") if isinstance(v, bytes) else str(v) for v in np.asarray(values).ravel())
    return tuple(dict.fromkeys(word.strip("\0 ") for word in words))[:20]


def _tdms(raw: bytes) -> Contents:
    from nptdms import TdmsFile

    file = TdmsFile.read(io.BytesIO(raw))
    out = Contents([(str(k), str(v)) for k, v in file.properties.items()])
    for group in file.groups():
        out.preamble += [(f"{group.name}: {k}", str(v)) for k, v in group.properties.items()]
        clocks: dict[tuple[Any, ...], Group] = {}
        stamped: dict[int, Any] = {}
        texts: dict[str, tuple[str, ...]] = {}
        for channel in group.channels()[:MOST_CHANNELS]:
            try:
                values = np.asarray(channel[:])
            except Exception as error:  # one channel with a broken scale leaves the others readable
                out.notes.append(f"channel {channel.name!r} cannot be read ({type(error).__name__}: {error})"[:160])
                continue
            if values.dtype.kind == "M" and len(values):
                stamped.setdefault(len(values), (channel.name, values))
            elif numeric(values):
                key = _clock(clocks, len(values), *_waveform(channel.properties))
                kept = clocks.setdefault(key, Group(group.name))
                unit = channel.properties.get("unit_string") or channel.properties.get("NI_UnitDescription") or ""
                kept.add(channel.name, values, str(unit))
            elif len(values):
                texts[channel.name] = _texts(values)
        out.groups += _on_clocks(group.name, clocks, stamped, texts)
    return out


def _waveform(properties: Mapping[str, Any]) -> tuple[float | None, float, Any]:
    """Step, first time (s) and start of a channel's own clock; a step of None where it has none."""
    step = properties.get("wf_increment")
    if not isinstance(step, (int, float, np.number)) or not np.isfinite(step) or step <= 0:
        return None, 0.0, None
    return float(step), float(properties.get("wf_start_offset", 0.0)), properties.get("wf_start_time")


def _clock(clocks: Mapping[tuple[Any, ...], Group], length: int, step: float | None, first: float, start: Any) -> Any:
    """The clock a channel goes with: a start or a step that it leaves open is that of a channel as long before it."""
    stated = first != 0.0 or start is not None
    for key in clocks:
        same = key[0] == length and (step is None or key[1] == step)
        if same and (not stated or key[2:] == (first, start)):
            return key
    return length, step, first, start


def _on_clocks(
    name: str, clocks: dict[tuple[Any, ...], Group], stamped: dict[int, Any], texts: dict[str, tuple[str, ...]]
) -> Iterator[Group]:
    """The groups with their time columns; further clocks of one group carry the length and step in their name."""
    for number, ((length, step, first, start), group) in enumerate(clocks.items()):
        timed = Group(name if number == 0 else f"{name}, {length} rows" + (f" at {step:g} s" if step else ""))
        if step is not None:
            timed.add("time", first + step * np.arange(length), "s")
            timed.time, timed.origin = "time", _moment(start)
        elif length in stamped:
            label, moments = stamped[length]
            timed.add(label, (moments - moments[0]) / np.timedelta64(1, "us") / 1e6, "s")
            timed.time, timed.origin = label, _moment(moments[0])
        for channel, values in group.values.items():
            timed.add(channel, values, group.units[channel])
        timed.texts = texts if number == 0 else {}
        yield timed


def _moment(value: Any) -> datetime | None:
    """A start time as stored (UTC in both formats), without its zone; None for none and for the zero of the format."""
    if value is None:
        return None
    if isinstance(value, datetime):
        found = value.replace(tzinfo=None)
    else:
        moment = np.datetime64(value)
        if np.isnat(moment):
            return None
        found = moment.astype("datetime64[us]").item()
    return found if isinstance(found, datetime) and found.year > 1970 else None


def _mdf(raw: bytes) -> Contents:
    from asammdf import MDF

    if raw[64:68] != b"##HD":
        raise ValueError("no header of version 4 behind its name")
    with MDF(io.BytesIO(raw)) as file:
        comment = " ".join(re.sub(r"<[^>]*>", " ", str(file.header.comment)).split())
        out = Contents([("version", str(file.version)), ("comment", comment[:2000])])
        stored_groups: Any = file.groups
        for number, stored in enumerate(stored_groups):
            label = str(getattr(stored.channel_group, "acq_name", "") or "")
            group = Group(label or f"group {number + 1}", time="time", origin=_moment(file.header.start_time))
            picked = [(None, number, i) for i in range(min(len(stored.channels), MOST_CHANNELS))]
            for signal in file.select(picked):
                _take_signal(signal, group, out.notes)
            out.groups.append(group)
    return out


def _take_signal(signal: Any, group: Group, notes: list[str]) -> None:
    """A numeric signal becomes a channel, one of text its words; cells marked invalid are missing."""
    samples = np.asarray(signal.samples)
    if samples.dtype.kind in "SUO" and len(samples):
        group.texts[signal.name] = _texts(samples)
        return
    if not numeric(samples) or samples.ndim != 1:
        notes.append(f"channel {signal.name!r} holds no single numbers and is left out")
        return
    if "time" not in group.values:
        group.add("time", np.asarray(signal.timestamps, dtype=float), "s")
    if np.array_equal(samples, signal.timestamps):
        return  # the master channel itself
    values = samples.astype(float)
    invalid = signal.invalidation_bits
    if invalid is not None:
        values[np.asarray(invalid, dtype=bool)] = np.nan
    group.add(signal.name, values, str(signal.unit or ""))


def _matlab(raw: bytes) -> Contents:
    from scipy.io import loadmat

    out = Contents()
    found: dict[str, Any] = {}
    for name, value in loadmat(io.BytesIO(raw), squeeze_me=True, struct_as_record=True).items():
        if not name.startswith("__"):
            _take_variable(name, value, found, out, 0)
    lengths = dict.fromkeys(len(v) for v in found.values())
    for number, length in enumerate(lengths):
        group = Group("variables" if number == 0 else f"variables, {length} rows")
        for name, values in found.items():
            if len(values) == length:
                group.add(name, values)
        out.groups.append(group)
    return out


def _take_variable(name: str, value: Any, found: dict[str, Any], out: Contents, depth: int) -> None:
    """A vector is a channel, a matrix one a column, a structure its fields, a text or single number a property."""
    values = np.asarray(value)
    if values.dtype.names and values.size == 1 and depth < _DEEPEST:
        for inner in values.dtype.names:
            _take_variable(f"{name}.{inner}", values.reshape(-1)[0][inner], found, out, depth + 1)
    elif values.dtype == object and values.ndim == 0 and values.item() is not value and depth < _DEEPEST:
        _take_variable(name, values.item(), found, out, depth + 1)
    elif values.size == 0:
        out.notes.append(f"variable {name!r} is empty")
    elif values.dtype.kind in "US" or (numeric(values) and values.size == 1):
        out.preamble.append((name, ", ".join(map(str, values.ravel()[:5]))[:200]))
    elif numeric(values) and values.ndim == 1:
        found[name] = values
    elif numeric(values) and values.ndim == 2:
        table = values if values.shape[0] >= values.shape[1] else values.T
        if table is not values:
            out.notes.append(f"variable {name!r} is wider than long: each of its rows is taken for a channel")
        found |= {f"{name}_{i + 1}": table[:, i] for i in range(min(table.shape[1], MOST_CHANNELS))}
    else:
        kind = "complex numbers" if values.dtype.kind == "c" else f"{values.ndim} dimensions" if numeric(values) else ""
        why = kind or "a cell array or an object (save its columns as vectors)"
        out.notes.append(f"variable {name!r} is left out: {why}")


READERS: Mapping[str, Callable[[bytes], Contents]] = {"TDMS": _tdms, "MDF": _mdf, "MATLAB": _matlab}
