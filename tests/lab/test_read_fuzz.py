"""Whatever the bytes: the reader gives a table or one clear refusal, never another error, and never hangs."""

from __future__ import annotations

import io
import sys
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from cracktie.errors import InputRefused
from cracktie.lab.read import read_log_bytes

sys.path.insert(0, str(Path(__file__).parent))
from make_logs import truth, write

pytestmark = pytest.mark.slow

QUICK = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
WORDS = [
    "1",
    "-2.5",
    "3,25",
    "1e-3",
    "OVER",
    "NaN",
    "-",
    "#####",
    "9.9E37",
    "",
    "abc",
    "kN",
    "mm",
    "[s]",
    "12.03.2024",
    "03/04/05",
    "23:59:59",
    "2024-02-30",
    "99.99.9999",
    "load [kN]",
    "\ufeff",
    "µm/m",
    "1.234.567",
    "1,234,567",
    '"',
    '""',
    '"1;2"',
    "'",
    "# x",
    "45370",
    "0,5",
    "time",
    "1" * 400,
    "1e999",
    "-",
    "+",
    ".",
    "e",
    "٣",
    "½",
    "\x0b",
]
MARKS = ["\t", ";", ",", " ", "|"]


def table_or_refusal(raw: bytes, **options) -> None:
    refusal = None
    try:
        log = read_log_bytes(raw, "fuzz.dat", **options)
    except InputRefused as caught:
        refusal = caught
    if refusal is not None:
        assert refusal.problems
        assert all(p.file == "fuzz.dat" and p.message and p.fix for p in refusal.problems)
        return
    assert log.blocks
    assert log.report.rows_kept == sum(b.frame.height for b in log.blocks) > 0
    assert log.report.rows_read == log.report.rows_kept + sum(loss.rows for loss in log.report.lost)
    for block in log.blocks:
        assert block.first_line <= block.last_line
        assert set(block.missing) == set(block.columns) == set(block.units)
        for name in block.columns:
            values = block.values(name)
            assert not np.isinf(values).any()
            assert np.isnan(values).sum() == block.missing[name]
    assert log.report.lines()


@QUICK
@given(st.binary(max_size=3000))
@example(b"\xff\xfe")
@example(b"\xef\xbb\xbf")
@example(b"PK\x03\x04")
@example(b"PK\x05\x06" + b"\0" * 18)
@example(b"\x1f\x8b")
@example(b"1")
@example(b"1;2")
@example(b'"')
@example(b'1;"2\n3;4')
def test_random_bytes(raw):
    table_or_refusal(raw)


LINE = st.tuples(st.sampled_from(MARKS), st.lists(st.sampled_from(WORDS), max_size=6)).map(lambda t: t[0].join(t[1]))


@QUICK
@given(
    st.lists(LINE, max_size=25),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-16", "utf-8-sig", "utf-16-le"]),
)
def test_random_cells(lines, end, codec):
    table_or_refusal(end.join(lines).encode(codec))


@QUICK
@given(
    st.lists(LINE, max_size=25),
    st.sampled_from([None, *MARKS]),
    st.sampled_from([None, ".", ","]),
    st.sampled_from([None, "dmy", "mdy"]),
)
def test_random_cells_with_stated_options(lines, delimiter, decimal, order):
    table_or_refusal("\n".join(lines).encode(), delimiter=delimiter, decimal=decimal, date_order=order)


WHOLE = write(truth(60), preamble=("Prüfung: März", ""), decimal=",").encode("cp1252")


@QUICK
@given(st.integers(0, len(WHOLE)))
def test_truncated_anywhere(cut):
    table_or_refusal(WHOLE[:cut])


@QUICK
@given(st.integers(0, len(WHOLE)), st.binary(min_size=1, max_size=40))
def test_foreign_bytes_anywhere(at, insert):
    table_or_refusal(WHOLE[:at] + insert + WHOLE[at:])


@QUICK
@given(st.integers(0, len(WHOLE)))
def test_mixed_encodings(at):
    text = write(truth(30), preamble=("Prüfung: März",))
    table_or_refusal(WHOLE[:at] + text.encode("utf-8") + text.encode("utf-16"))
    table_or_refusal(text.encode("utf-8") + WHOLE[at:])


def containers() -> list[bytes]:
    """A workbook and a zipped log, made once: a workbook holds the time of its making."""
    book = openpyxl.Workbook()
    for i in range(5):
        book.active.append([i, i * 0.5])
    workbook, zipped = io.BytesIO(), io.BytesIO()
    book.save(workbook)
    with zipfile.ZipFile(zipped, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", WHOLE)
    return [workbook.getvalue(), zipped.getvalue()]


CONTAINERS = containers()


@QUICK
@given(
    st.integers(0, 1),
    st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=6),
    st.floats(0.001, 1),
)
def test_damaged_containers(which, damage, kept):
    raw = bytearray(CONTAINERS[which])
    for place, value in damage:
        raw[int(place * len(raw))] = value
    table_or_refusal(bytes(raw[: max(1, int(kept * len(raw)))]))
    table_or_refusal(bytes(raw))


@pytest.mark.parametrize(
    "raw",
    [
        b"1," * 300_000 + b"1\n",
        b"x" * 2_000_000,
        b"1" * 2_000_000 + b"\n",
        b"\n" * 500_000 + b"1;2\n",
        b"1;2\n\n" * 20_000,
        b"1 2\n# note\n" * 5_000,
        b"a b c " * 100_000,
        b'"1;2\n' * 1000,
    ],
    ids=[
        "many cells",
        "long word",
        "long number",
        "blank lines",
        "double spaced",
        "remarks",
        "long text",
        "open quotes",
    ],
)
def test_huge_lines_and_odd_layouts(raw):
    table_or_refusal(raw)
