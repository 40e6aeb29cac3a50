"""Long, regular text logs: the head is understood as any log, the rest is handed to polars piece by piece.

Taken only where every line of the rest is one more row of numbers; anything else falls back on the careful reader, so
that the result is the same and only time and memory differ.
"""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cracktie.lab.answers import Answers
from cracktie.lab.cells import OVER_LIMIT
from cracktie.lab.columns import Column
from cracktie.lab.findings import find_time, finish
from cracktie.lab.report import Block, ImportReport, LogFile, Lost

if TYPE_CHECKING:
    import polars

LEAST = 32_000_000
"""Bytes from which a log counts as long."""
HEAD = 2_000_000
PIECE = 64_000_000
MOST = 1 << 33
"""Largest log read in pieces (8 GiB)."""


def read_bulk(path: Path, head: LogFile, start: int, answers: Answers) -> LogFile | None:
    """The whole log, or None where it is not regular.

    `head` is the log of its first bytes as the careful reader understood it; `start` is the byte of the first reading.
    """
    if not is_regular(head):
        return None
    block = head.blocks[0]
    names = list(block.columns)
    digest = hashlib.sha256()
    pieces: list[polars.DataFrame] = []
    lost: list[Lost] = []
    over = dict.fromkeys(names, 0)
    rest = b""
    with path.open("rb") as stream, ThreadPoolExecutor(1) as hashing:
        digest.update(stream.read(start))
        while data := stream.read(PIECE):
            data += stream.readline()
            pending = hashing.submit(digest.update, data)
            end = len(data) if data.endswith(b"\n") else data.rfind(b"\n") + 1
            whole, rest = (data, b"") if end == len(data) else (data[:end], data[end:])
            frame = _numbers(whole, names, head.delimiter, head.decimal, over) if whole else None
            pending.result()
            if whole and frame is None:
                return None
            if frame is not None:
                pieces.append(frame)
    rows = sum(p.height for p in pieces)
    if rest.strip():
        full = rest.count(head.delimiter.encode()) >= len(names) - 1
        frame = _numbers(rest, names, head.delimiter, head.decimal, over) if full else None
        if full and frame is None:
            return None
        if frame is not None:
            pieces.append(frame)
            rows += frame.height
        else:
            lost.append(Lost("the last row is cut off", 1, (block.first_line + rows,)))
    return _assembled(head, block, pieces, digest.hexdigest(), lost, over, answers)


def is_regular(head: LogFile) -> bool:
    """Whether a head is one block of numbers that runs to its end and leaves nothing to ask."""
    if len(head.blocks) != 1 or head.delimiter == " " or head.encoding not in ("utf-8", "ascii"):
        return False
    block = head.blocks[0]
    plain = not block.text_columns and not block.origins and not block.comments
    counted = block.last_line - block.first_line + 1 == block.frame.height
    asked = head.report.lost or head.report.questions or any(r.unreadable or r.over_range for r in head.report.blocks)
    return plain and counted and not asked and head.report.rows_read == block.frame.height and len(block.columns) > 1


def _numbers(data: bytes, names: list[str], mark: str, decimal: str, over: dict[str, int]) -> polars.DataFrame | None:
    """Rows of a piece; None where a cell is no number or a line has another number of cells."""
    import polars as pl

    try:
        frame = pl.read_csv(
            data, separator=mark, has_header=False, quote_char=None, schema=dict.fromkeys(names, pl.Float64),
            decimal_comma=decimal == ",", ignore_errors=False, truncate_ragged_lines=False,
        )  # fmt: skip
    except pl.exceptions.PolarsError:
        return None
    if frame.height != data.count(b"\n") + (not data.endswith(b"\n")):
        return None  # blank lines part tables
    gaps = frame.null_count().row(0)
    if any(gaps) and data.count(mark.encode()) != frame.height * (len(names) - 1):
        return None
    largest = frame.select(pl.max_horizontal(pl.all().max(), -pl.all().min())).item() if frame.height else None
    if largest is not None and not largest < OVER_LIMIT:  # also true for NaN
        for name, count in zip(names, frame.select((pl.all().abs() >= OVER_LIMIT).sum()).row(0), strict=True):
            over[name] += int(count or 0)
        frame = frame.with_columns(pl.when(pl.all().abs() >= OVER_LIMIT).then(None).otherwise(pl.all()).name.keep())
    return frame.fill_nan(None) if b"n" in data or b"N" in data else frame


def _assembled(
    head: LogFile, block: Block, pieces: list[polars.DataFrame], digest: str, lost: list[Lost], over: dict[str, int],
    answers: Answers,
) -> LogFile:  # fmt: skip
    import polars as pl

    frame = pl.concat(pieces, rechunk=False)
    columns: dict[str, Any] = {
        name: Column(None, unit=block.units.get(name, ""), over=over[name]) for name in frame.columns
    }
    time = find_time(frame, block.units, dict.fromkeys(frame.columns, False))
    whole = replace(
        block, frame=frame, last_line=block.first_line + frame.height - 1, time=time,
        missing={name: frame[name].null_count() for name in frame.columns},
    )  # fmt: skip
    whole, found, asked = finish(whole, columns, answers)
    read = frame.height + sum(part.rows for part in lost)
    report = ImportReport(read, frame.height, tuple(lost), (found,), tuple(asked), head.report.notes)
    return replace(head, sha256=digest, blocks=(whole,), report=report)
