"""Binary containers of loggers: TDMS, MDF 4 and MATLAB files. Their packages are optional and asked for by name."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cracktie.lab.columns import Column
from cracktie.lab.encoding import refuse
from cracktie.lab.findings import find_time, look_over
from cracktie.lab.report import Block, BlockReport, ImportReport, LogFile
from cracktie.lab.segments import SIMULATED

MAGIC: Mapping[bytes, str] = {
    b"TDSm": "TDMS",
    b"MDF     ": "MDF",
    b"UnFinMF ": "MDF",
    b"MATLAB 5.0": "MATLAB",
    b"MATLAB 7.3": "MATLAB 7.3",
}
MOST_CHANNELS = 2000


@dataclass
class Group:
    """Channels of equal length: readings as float arrays by name, units, and the name of their common time if any."""

    name: str
    values: dict[str, Any] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    time: str | None = None


def container_kind(raw: bytes) -> str | None:
    """Which container a file is, by its first bytes; None for text and spreadsheets."""
    return next((kind for magic, kind in MAGIC.items() if raw.startswith(magic)), None)


def read_container(raw: bytes, name: str, kind: str, digest: str) -> LogFile:
    """All groups of a container as blocks. Raises `InputRefused` for a missing package and for damaged content."""
    if kind not in _READERS:
        raise refuse(name, f"{kind} files (HDF5) are not read", "save it in MATLAB with `save(..., '-v7')`, or as CSV")
    try:
        preamble, groups = _READERS[kind](raw)
    except ImportError as error:
        package = {"TDMS": "nptdms", "MDF": "asammdf"}.get(kind, error.name or "scipy")
        fix = f"install it (`pip install {package}`, or `pip install cracktie[loggers]`), or export the log as CSV"
        raise refuse(name, f"{kind} files need the package {package}, which is not installed", fix) from None
    except Exception as error:  # these libraries raise whatever a damaged file leads them to
        text = str(error).splitlines()[0][:120] if str(error) else type(error).__name__
        raise refuse(name, f"no {kind} file that can be read ({text})", "export it again, or as CSV") from None
    blocks, reports = _blocks(groups)
    if not blocks:
        raise refuse(name, f"a {kind} file without numeric channels", "check that the right file was exported")
    rows = sum(b.frame.height for b in blocks)
    report = ImportReport(rows, rows, (), tuple(reports), (), (f"{kind} file: numbers as stored, no text to guess at",))
    told = " ".join(f"{k} {v}" for k, v in preamble).lower()
    return LogFile(
        name, digest, kind, "binary container", "", ".", tuple(preamble), tuple(blocks), report, SIMULATED in told
    )


def _blocks(groups: list[Group]) -> tuple[list[Block], list[BlockReport]]:
    import polars as pl

    blocks: list[Block] = []
    reports: list[BlockReport] = []
    for group in groups:
        arrays = {n: np.asarray(v, dtype=float) for n, v in group.values.items()}
        length = len(next(iter(arrays.values()), ()))
        if not length:
            continue
        taken = [b.name for b in blocks]
        name = group.name if group.name not in taken else f"{group.name} ({len(blocks) + 1})"
        frame = pl.DataFrame({n: pl.Series(n, v).fill_nan(None) for n, v in arrays.items()})
        units = {n: group.units.get(n, "") for n in arrays}
        time = group.time or find_time(frame, units, dict.fromkeys(arrays, False))
        missing = {n: frame[n].null_count() for n in arrays}
        blocks.append(Block(name, frame, units, {n: n for n in arrays}, 1, length, missing, time))
        columns = {n: Column(None) for n in arrays}
        reports.append(look_over(name, frame, columns, time, units.get(time or "", "")))
    return blocks, reports


def _by_length(name: str, channels: Mapping[str, Any], units: Mapping[str, str], time: str | None) -> Iterator[Group]:
    """One group a length: channels of other rates make blocks of their own."""
    lengths = dict.fromkeys(len(v) for v in channels.values())
    for number, length in enumerate(lengths):
        kept = {n: v for n, v in channels.items() if len(v) == length}
        label = name if number == 0 else f"{name}, {length} rows"
        yield Group(label, kept, {n: units.get(n, "") for n in kept}, time if time in kept else None)


def _numeric(values: Any) -> bool:
    return np.issubdtype(np.asarray(values).dtype, np.number) and not np.iscomplexobj(values)


def _tdms(raw: bytes) -> tuple[list[tuple[str, str]], list[Group]]:
    from nptdms import TdmsFile

    file = TdmsFile.read(io.BytesIO(raw))
    preamble = [(str(k), str(v)) for k, v in file.properties.items()]
    groups: list[Group] = []
    for group in file.groups():
        channels: dict[str, Any] = {}
        units: dict[str, str] = {}
        for channel in group.channels()[:MOST_CHANNELS]:
            values = channel[:]
            if np.issubdtype(values.dtype, np.datetime64) and len(values):
                values = (values - values[0]) / np.timedelta64(1, "us") / 1e6
                units[channel.name] = "s"
            elif _numeric(values):
                unit = channel.properties.get("unit_string") or channel.properties.get("NI_UnitDescription") or ""
                units[channel.name] = str(unit)
            else:
                continue
            step = channel.properties.get("wf_increment")
            if step and "time" not in channels:
                start = float(channel.properties.get("wf_start_offset", 0.0))
                channels["time"] = start + float(step) * np.arange(len(values))
                units["time"] = "s"
            channels[channel.name] = values
        groups += _by_length(group.name, channels, units, "time" if "time" in channels else None)
    return preamble, groups


def _mdf(raw: bytes) -> tuple[list[tuple[str, str]], list[Group]]:
    from asammdf import MDF

    if raw[64:68] != b"##HD":
        raise ValueError("no header of version 4 behind its name")
    with MDF(io.BytesIO(raw)) as file:
        preamble = [("version", str(file.version)), ("comment", str(file.header.comment)[:2000])]
        groups: list[Group] = []
        for number in range(len(file.groups)):
            channels: dict[str, Any] = {}
            units: dict[str, str] = {}
            for signal in file.select([(None, number, i) for i in range(len(file.groups[number].channels))]):
                if not _numeric(signal.samples) or np.asarray(signal.samples).ndim != 1:
                    continue
                channels.setdefault("time", np.asarray(signal.timestamps, dtype=float))
                units["time"] = "s"
                if signal.name not in channels and not np.array_equal(signal.samples, signal.timestamps):
                    channels[signal.name] = signal.samples
                    units[signal.name] = str(signal.unit or "")
            groups += _by_length(f"group {number + 1}", channels, units, "time")
    return preamble, groups


def _matlab(raw: bytes) -> tuple[list[tuple[str, str]], list[Group]]:
    from scipy.io import loadmat

    preamble: list[tuple[str, str]] = []
    channels: dict[str, Any] = {}
    for name, found in loadmat(io.BytesIO(raw), squeeze_me=True).items():
        values = np.asarray(found)
        if name.startswith("__") or values.size == 0:
            continue
        if values.dtype.kind in "US":
            preamble.append((name, str(found)[:200]))
        elif _numeric(values) and values.ndim == 1:
            channels[name] = values
        elif _numeric(values) and values.ndim == 2:
            table = values if values.shape[0] >= values.shape[1] else values.T
            channels |= {f"{name}_{i + 1}": table[:, i] for i in range(min(table.shape[1], MOST_CHANNELS))}
    return preamble, list(_by_length("variables", channels, {}, None))


_READERS: Mapping[str, Callable[[bytes], tuple[list[tuple[str, str]], list[Group]]]] = {
    "TDMS": _tdms,
    "MDF": _mdf,
    "MATLAB": _matlab,
}
