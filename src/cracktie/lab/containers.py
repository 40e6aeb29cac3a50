"""Binary containers of loggers: TDMS, MDF 4 and MATLAB files as blocks. Their packages are asked for by name."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np

from cracktie.lab.answers import Answers
from cracktie.lab.columns import Column
from cracktie.lab.encoding import refuse
from cracktie.lab.findings import find_time, finish
from cracktie.lab.headers import split_unit, standard_unit
from cracktie.lab.report import Block, BlockReport, ImportReport, LogFile, Question
from cracktie.lab.segments import SIMULATED
from cracktie.lab.stored import READERS, Contents, Group, is_matlab_4

MAGIC: Mapping[bytes, str] = {
    b"TDSm": "TDMS",
    b"MDF     ": "MDF",
    b"UnFinMF ": "MDF",
    b"MATLAB 5.0": "MATLAB",
    b"MATLAB 7.": "MATLAB 7.3",
}
PACKAGES: Mapping[str, str] = {"TDMS": "nptdms", "MDF": "asammdf", "MATLAB": "scipy"}


def container_kind(raw: bytes) -> str | None:
    """Which container a file is, by its first bytes; None for text and spreadsheets."""
    kind = next((kind for magic, kind in MAGIC.items() if raw.startswith(magic)), None)
    return kind or ("MATLAB" if is_matlab_4(raw[:100]) else None)


def read_container(raw: bytes, name: str, kind: str, digest: str, answers: Answers) -> LogFile:
    """All groups of a container as blocks. Raises `InputRefused` for a missing package and for damaged content."""
    if kind not in READERS:
        raise refuse(name, f"{kind} files (HDF5) are not read", "save it in MATLAB with `save(..., '-v7')`, or as CSV")
    contents = _opened(raw, name, kind)
    blocks, reports, questions = _blocks(contents.groups, answers)
    if not blocks:
        left = f" ({'; '.join(contents.notes[:3])})" if contents.notes else ""
        raise refuse(name, f"a {kind} file without numeric channels{left}", "check that the right file was exported")
    rows = sum(b.frame.height for b in blocks)
    notes = (f"{kind} file: numbers as stored, no text to guess at", *contents.notes)
    report = ImportReport(rows, rows, (), tuple(reports), tuple(questions), notes)
    told = " ".join(f"{k} {v}" for k, v in contents.preamble).lower()
    preamble = tuple(contents.preamble)
    return LogFile(
        name, digest, kind, "binary container", "", ".", preamble, tuple(blocks), report, SIMULATED in told
    )  # fmt: skip


def _opened(raw: bytes, name: str, kind: str) -> Contents:
    try:
        return READERS[kind](raw)
    except ImportError as error:
        own = PACKAGES[kind]
        package = own if error.name in (None, own) else f"{own} (with {error.name})"
        fix = f"install it (`pip install {own}`, or `pip install cracktie[loggers]`), or export the log as CSV"
        raise refuse(name, f"{kind} files need the package {package}, which is not installed", fix) from None
    except Exception as error:  # these libraries raise whatever a damaged file leads them to
        text = str(error).splitlines()[0][:120] if str(error) else ""
        told = f"{type(error).__name__}: {text}" if text else type(error).__name__
        raise refuse(name, f"no {kind} file that can be read ({told})", "export it again, or as CSV") from None


def _blocks(groups: list[Group], answers: Answers) -> tuple[list[Block], list[BlockReport], list[Question]]:
    import polars as pl

    blocks: list[Block] = []
    reports: list[BlockReport] = []
    questions: list[Question] = []
    for group in groups:
        units, originals = _heads(group)
        arrays = {n: _finite(group.values[o]) for n, o in originals.items()}
        length = len(next(iter(arrays.values()), ()))
        if not length:
            continue
        taken = [b.name for b in blocks]
        name = group.name if group.name not in taken else f"{group.name} ({len(blocks) + 1})"
        frame = pl.DataFrame({n: pl.Series(n, v).fill_nan(None) for n, v in arrays.items()})
        time = group.time or find_time(frame, units, dict.fromkeys(arrays, False))
        missing = {n: frame[n].null_count() for n in arrays}
        origins: dict[str, datetime] = {} if group.origin is None or time is None else {time: group.origin}
        headers = {**originals, **{n: n for n in group.texts}}
        block = Block(name, frame, units, headers, 1, length, missing, time, origins, text_columns=group.texts)
        columns = {n: Column(None, stamps=n == time and n in origins) for n in arrays}
        block, found, asked = finish(block, columns, answers)
        blocks.append(block)
        reports.append(found)
        questions += asked
    return blocks, reports, questions


def _heads(group: Group) -> tuple[dict[str, str], dict[str, str]]:
    """Units and stored names by channel; a name such as `P_kN` gives the unit where none is stored."""
    units: dict[str, str] = {}
    originals: dict[str, str] = {}
    for stored in group.values:
        name, unit = split_unit(stored) if not group.units.get(stored) else (stored, standard_unit(group.units[stored]))
        if name in originals or (name != stored and name in group.values):
            name, unit = stored, group.units.get(stored, "")
        units[name], originals[name] = unit, stored
    return units, originals


def _finite(values: Any) -> Any:
    """Readings as float; an infinite one is no reading."""
    array = np.array(values, dtype=float)
    array[np.isinf(array)] = np.nan
    return array
