"""Read a log of any common shape into tables of numbers, saying how it was understood and what was lost."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, Unpack

import numpy as np

from cracktie.errors import FileTrouble, InputRefused
from cracktie.lab import bulk
from cracktie.lab.answers import Answers, Stated, check_answers, dates_in
from cracktie.lab.archives import MAX_BYTES, is_spreadsheet, unpack
from cracktie.lab.columns import Column, read_columns
from cracktie.lab.containers import container_kind, read_container
from cracktie.lab.dialect import Dialect, cells, find_dialect, has_thousands, without_thousands
from cracktie.lab.encoding import decode, refuse
from cracktie.lab.findings import find_time, finish
from cracktie.lab.headers import heads
from cracktie.lab.lines import MOST_RUNS, Lines, TooManyRuns, index_lines, sample_lines
from cracktie.lab.metadata import doubts
from cracktie.lab.report import Block, BlockReport, ImportReport, LogFile, Lost, Question
from cracktie.lab.segments import SIMULATED, Table, segment
from cracktie.lab.spreadsheets import sheets_as_text
from cracktie.lab.stamps import DAY, serial_days

MAX_COLUMNS = 2000
"""Most columns of a block; a wider table is a transposed one or was cut at a wrong delimiter."""

LONGEST_LINE = 1_000_000
"""Most characters of a line; 2000 columns need a tenth of that."""

_DATE_NAMES = ("d", "date", "datum", "fecha", "data")


def read_log(path: str | Path, *, dates: Iterable[date] = (), **stated: Unpack[Stated]) -> LogFile:
    """Read text logs, spreadsheets, zipped logs and containers (TDMS, MDF 4, MATLAB); the file is never changed.

    Delimiter, decimal mark, encoding, order of day and month and the like are found from the content where they are not
    `stated` (words: `cracktie.lab.answers.Stated`); what stays open is a question in `report.questions`. `dates` are
    days known from elsewhere on which the test may have been; days in the names of file and folder join them. Raises
    `InputRefused` for content without readings, `FileTrouble` where the file cannot be opened.
    """
    path = Path(path)
    answers = Answers(**stated, dates=(*dates, *dates_in(path.name), *dates_in(path.parent.name)))
    check_answers(path.name, answers)
    try:
        kind = path.stat()
        if not stat.S_ISREG(kind.st_mode):
            what = "a folder" if stat.S_ISDIR(kind.st_mode) else "a device or a pipe"
            raise FileTrouble(f"{path.name}: this is {what}, not a file; name the log itself")
        if bulk.LEAST <= kind.st_size <= bulk.MOST and (found := _in_pieces(path, answers)) is not None:
            return found
        if kind.st_size > MAX_BYTES:
            raise refuse(
                path.name,
                f"{kind.st_size / 2**20:.0f} MiB, the limit is {MAX_BYTES / 2**20:.0f} MiB for a log that is not one "
                "table of numbers",
                "split the log",
            )
        raw = path.read_bytes()
    except FileTrouble:
        raise
    except (OSError, ValueError) as trouble:  # ValueError: a NUL in the name
        told = getattr(trouble, "strerror", None) or trouble
        raise FileTrouble(f"{path.name}: cannot be read ({told}); check name and permissions") from None
    try:
        return _read(raw, path.name, answers)
    except MemoryError:
        raise refuse(path.name, "it does not fit into the free memory", "split it, or export it as csv") from None


def _in_pieces(path: Path, answers: Answers) -> LogFile | None:
    """A long regular log, read in pieces; None where the careful reader has to look at all of it."""
    with path.open("rb") as stream:
        raw = stream.read(bulk.HEAD)
    raw = raw[: raw.rfind(b"\n") + 1]
    if not raw or raw.startswith((b"PK", b"\x1f\x8b", b"\xd0\xcf", b"\xef\xbb\xbf")) or b"\0" in raw or b'"' in raw:
        return None
    try:
        head = _read(raw, path.name, answers)
    except InputRefused:
        return None  # the careful reader says why
    if not head.blocks or b"\r" in raw:
        return None
    start = 0
    for _ in range(head.blocks[0].first_line - 1):
        start = raw.index(b"\n", start) + 1
    return bulk.read_bulk(path, head, start, answers)


def read_log_bytes(raw: bytes, name: str, *, dates: Iterable[date] = (), **stated: Unpack[Stated]) -> LogFile:
    """As `read_log`, for content that is in memory; `name` is used in messages."""
    answers = Answers(**stated, dates=(*dates, *dates_in(name)))
    check_answers(name, answers)
    return _read(raw, name, answers)


def _read(raw: bytes, name: str, answers: Answers) -> LogFile:
    digest = hashlib.sha256(raw).hexdigest()
    content, member = (raw, None) if is_spreadsheet(raw) else unpack(raw, name)
    kind = container_kind(content)
    if kind is not None:
        return read_container(content, name, kind, digest, answers)
    reader = _Reader(name, answers)
    reader.notes += [f"read {member} inside the archive"] if member else []
    if is_spreadsheet(content):
        how = ("spreadsheet", "cells of a spreadsheet")
        reader.answers = replace(answers, delimiter="\t", decimal=answers.decimal or ".")
        for sheet, text in sheets_as_text(content, name):
            reader.read(sheet, text)
    else:
        decoded = decode(content, name, answers.encoding)
        how = (decoded.encoding, decoded.how)
        reader.questions += decoded.questions
        reader.notes += decoded.notes
        reader.read("", decoded.text)
    return reader.finish(digest, how)


class _Reader:
    """Gathers blocks and findings over the parts (sheets) of one file."""

    def __init__(self, file: str, answers: Answers):
        self.file, self.answers = file, answers
        self.questions: list[Question] = []
        self.notes: list[str] = []
        self.blocks: list[Block] = []
        self.reports: list[BlockReport] = []
        self.lost: list[Lost] = []
        self.preamble: list[tuple[str, str]] = []
        self.rows_read = 0
        self.text_lines = 0
        self.simulated = False
        self.example: tuple[int | None, str | None] = (None, None)
        self.dialect = Dialect("\t", ".", 0.0)

    def read(self, sheet: str, text: str) -> None:
        """Take the tables of one part of the file."""
        lines = index_lines(text)
        self._refuse_long_lines(lines)
        self.text_lines += len(lines)
        sample = sample_lines(lines)
        stated = self.answers.decimal
        if stated and has_thousands(sample, self.answers.delimiter, stated):
            lines = index_lines(without_thousands(text, stated))
            sample = sample_lines(lines)
        dialect = find_dialect(sample, self.answers.delimiter, stated)
        try:
            preamble, tables, width = segment(lines, dialect)
        except TooManyRuns:
            raise refuse(
                self.file,
                f"rows and other lines alternate more than {MOST_RUNS} times in {len(lines)} lines",
                "give a log in which the rows of a table follow one another, or state its delimiter and decimal mark",
            ) from None
        self.preamble += [_key_value(line, dialect.delimiter) for line in preamble if line.strip()]
        self.simulated |= any(SIMULATED in line.lower() for line in preamble)
        if not tables:
            self.example = _first_digits(text)
            return
        self.dialect = dialect
        self.questions += dialect.questions
        for table in tables:
            block = self._block(lines, width, table, dialect, sheet, len(tables))
            if block is not None:
                self.blocks.append(block)

    def _refuse_long_lines(self, lines: Lines) -> None:
        length = lines.ends - lines.starts
        if length.size and length.max() > LONGEST_LINE:
            at = int(length.argmax())
            raise refuse(
                self.file,
                f"a line of {length[at] / 1e6:.1f} million characters; {LONGEST_LINE / 1e6:g} million is the most",
                "give a log with a row a line: this one is binary, damaged, or has lost its line ends",
                line=at + 1,
            )

    def finish(self, digest: str, how: tuple[str, str]) -> LogFile:
        """The log as read. Raises `InputRefused` where no part held readings."""
        if not self.blocks:
            raise refuse(
                self.file,
                f"{self.text_lines} lines of text, none of them readings (numbers side by side)",
                "give a log with numbers in columns, or state its delimiter and decimal mark",
                *self.example,
            )
        self.notes += doubts(self.preamble, self.blocks, self.dialect.decimal)
        report = ImportReport(
            self.rows_read,
            sum(b.frame.height for b in self.blocks),
            tuple(self.lost),
            tuple(self.reports),
            tuple(dict.fromkeys(self.questions)),
            tuple(dict.fromkeys(self.notes)),
        )
        return LogFile(
            self.file,
            digest,
            *how,
            self.dialect.delimiter,
            self.dialect.decimal,
            tuple(self.preamble),
            tuple(self.blocks),
            report,
            self.simulated,
        )

    def _block(self, lines: Lines, width: Any, table: Table, dialect: Dialect, sheet: str, count: int) -> Block | None:
        if table.width > MAX_COLUMNS:
            raise refuse(
                self.file,
                f"{table.width} columns, the limit is {MAX_COLUMNS}",
                "give a log with one row a reading (transpose the table) or state its delimiter",
                line=int(table.rows[0]) + 1,
            )
        rows = table.rows
        self.rows_read += len(rows)
        rows = self._drop_bad_rows(lines, width[rows], rows, table.width, dialect)
        if len(rows) == 0:
            return None
        found = read_columns(lines, rows, table.width, dialect.delimiter, dialect.decimal, self.answers, self.file)
        name = self._name(table, dialect, sheet, count)
        head = heads(table.header, table.units, table.width)
        columns, units, headers = _named(found, head)
        for column in columns.values():
            self.questions += column.questions
            self.notes += column.notes
        units = _serial_columns(columns, units, self.notes)
        block = _make_block(name, columns, units, headers, rows, table)
        if block is None:
            self.lost.append(Lost("no column of numbers", len(rows), _first_lines(rows)))
            return None
        if table.repeats:
            self.notes.append(f"block {name!r}: header repeated {table.repeats} times between the rows")
        if table.comments:
            shown = "; ".join(" ".join(text.split())[:40] for _, text in table.comments[:3])
            self.notes.append(f"block {name!r}: {len(table.comments)} lines of text among or below the rows ({shown})")
        if table.header is None:
            self.notes.append(f"block {name!r}: no header found, columns are numbered")
        block, report, asked = finish(block, columns, self.answers)
        self.reports.append(report)
        self.questions += asked
        return block

    def _drop_bad_rows(self, lines: Lines, count: Any, rows: Any, width: int, dialect: Dialect) -> Any:
        odd = np.flatnonzero(count != width)
        if odd.size == 0:
            return rows
        too_many = [int(i) for i in odd if count[i] > width and _overfull(lines.text(int(rows[i])), width, dialect)]
        short = [int(i) for i in odd if count[i] < width]
        drop = list(too_many)
        last = len(rows) - 1
        if last in short and not lines.closed and rows[last] == len(lines) - 1 and len(rows) > 1:
            drop.append(last)
            short.remove(last)
            self.lost.append(Lost("the last row is cut off", 1, (int(rows[last]) + 1,)))
        if too_many:
            self.lost.append(Lost(f"more than {width} filled cells", len(too_many), _first_lines(rows[too_many])))
        if short:
            where = ", ".join(str(n) for n in _first_lines(rows[short])[:5])
            self.notes.append(
                f"{len(short)} rows have fewer than {width} cells (lines {where}); the rest counts as missing"
            )
        keep = np.ones(len(rows), dtype=bool)
        keep[drop] = False
        return rows[keep]

    def _name(self, table: Table, dialect: Dialect, sheet: str, count: int) -> str:
        title = [c for c in cells(table.title[-1], dialect.delimiter) if c] if table.title else []
        name = sheet or ("readings" if count == 1 else f"block {len(self.blocks) + 1}")
        if count > 1 and title and not title[0].endswith(":") and not any(c.isdigit() for c in title[0]):
            name = title[0].strip("#% ") or name
        taken = {block.name for block in self.blocks}
        base, n = name, 2
        while name in taken:
            name, n = f"{base} ({n})", n + 1
        return name


def _overfull(line: str, width: int, dialect: Dialect) -> bool:
    return any(cells(line, dialect.delimiter)[width:])


def _named(found: Sequence[Column], head: Any) -> tuple[dict[str, Column], dict[str, str], dict[str, str]]:
    columns: dict[str, Column] = {}
    units: dict[str, str] = {}
    headers: dict[str, str] = {}
    for column, name, unit, original in zip(found, head.names, head.units, head.originals, strict=True):
        if not original and not unit and np.isnan(column.values).all() and not column.unreadable:
            continue  # a delimiter at the end of each line makes no column
        columns[name] = column
        units[name] = "s" if column.stamps else unit
        headers[name] = original
    return columns, units, headers


def _serial_columns(columns: dict[str, Column], units: dict[str, str], notes: list[str]) -> dict[str, str]:
    out = dict(units)
    for name, column in columns.items():
        dated = units[name] == "d" or any(word in name.lower() for word in _DATE_NAMES[1:])
        if column.stamps or not dated:
            continue
        serial = serial_days(column.values)
        finite = column.values[np.isfinite(column.values)]
        if serial is not None:
            column.values, column.origin = serial
            column.stamps, out[name] = True, "s"
            notes.append(f"column {name!r}: spreadsheet day numbers, the first is {column.origin:%Y-%m-%d %H:%M:%S}")
        elif units[name] == "d" and finite.size and finite.min() >= 0 and finite.max() < 1:
            column.values = column.values * DAY
            column.stamps, out[name] = True, "s"
            notes.append(f"column {name!r}: fractions of a day, turned into seconds after midnight")
    return out


def _make_block(
    name: str, columns: dict[str, Column], units: dict[str, str], headers: dict[str, str], rows: Any, table: Table
) -> Block | None:
    import polars as pl

    numeric = {key: column for key, column in columns.items() if not column.texts}
    if not numeric or all(np.isnan(column.values).all() for column in numeric.values()):
        return None
    frame = pl.DataFrame({key: pl.Series(key, c.values, dtype=pl.Float64).fill_nan(None) for key, c in numeric.items()})
    stamped = {key: column.stamps for key, column in numeric.items()}
    return Block(
        name,
        frame,
        {key: units[key] for key in numeric},
        {key: headers[key] for key in columns},
        int(rows[0]) + 1,
        int(rows[-1]) + 1,
        {key: frame[key].null_count() for key in numeric},
        find_time(frame, units, stamped),
        _origins(numeric),
        table.title,
        {key: column.texts for key, column in columns.items() if column.texts},
        tuple(table.comments[:1000]),
    )


def _origins(columns: dict[str, Column]) -> dict[str, datetime]:
    """Origins by column; a time of day beside a column of one date takes that date."""
    out = {name: column.origin for name, column in columns.items() if column.origin is not None}
    dates = [out[name] for name in out if np.nanmax(columns[name].values) == 0 and out[name] == _midnight(out[name])]
    if len(dates) == 1:
        for name, column in columns.items():
            if column.stamps and column.origin is None and np.isfinite(column.values).any():
                out[name] = dates[0]
    return out


def _midnight(moment: datetime) -> datetime:
    return moment.replace(hour=0, minute=0, second=0, microsecond=0)


def _first_digits(text: str) -> tuple[int | None, str | None]:
    """Number and beginning of the first line with a digit, to be shown where nothing could be read."""
    for number, line in enumerate(text[:100_000].split("\n"), start=1):
        if any(character.isdigit() for character in line):
            return number, line.strip()[:60]
    return None, None


def _first_lines(rows: Any) -> tuple[int, ...]:
    return tuple(int(i) + 1 for i in rows[:20])


def _key_value(line: str, delimiter: str) -> tuple[str, str]:
    bare = line.strip().lstrip("#%! ").strip()
    row = [cell for cell in cells(bare, delimiter) if cell] if delimiter != " " else [bare]
    if len(row) > 1:
        return row[0].rstrip(" :="), " ".join(row[1:]).lstrip(":= ")
    for mark in (": ", "="):
        key, found, value = bare.partition(mark)
        if found and key.strip():
            return key.strip(), value.strip()
    return bare.removesuffix(":"), ""
