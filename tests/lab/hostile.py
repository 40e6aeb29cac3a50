"""Hostile logs, one a name, and a child process that reads one under a limit of memory: run as a script with a path.

The child prints one line of JSON: what the reader said, and its peak memory above that of an import.
"""

from __future__ import annotations

import contextlib
import gzip
import io
import json
import struct
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

MIB = 1 << 20


def zipped(*members: tuple[str, bytes], level: int = 9) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return out.getvalue()


def lying_zip(claimed: int) -> bytes:
    """A member of 300 MiB of zeros whose directory claims another size."""
    raw = bytearray(zipped(("a.csv", b"0" * (300 * MIB)), level=1))
    for mark, place in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = raw.rfind(mark)
        raw[at + place : at + place + 4] = struct.pack("<I", claimed)
    return bytes(raw)


def workbook(sheet: bytes, shared: bytes = b"") -> bytes:
    """The least xlsx around the XML of one sheet."""
    kind = b"application/vnd.openxmlformats-officedocument.spreadsheetml."
    ns = b'xmlns="http://schemas.openxmlformats.org/'
    rel = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    parts = {
        "[Content_Types].xml": b"<Types " + ns + b'package/2006/content-types"><Override PartName="/xl/workbook.xml" '
        b'ContentType="' + kind + b'sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="'
        + kind + b'worksheet+xml"/></Types>',
        "_rels/.rels": b"<Relationships " + ns + b'package/2006/relationships"><Relationship Id="r1" Type="' + rel
        + b'/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": b"<workbook " + ns + b'spreadsheetml/2006/main" xmlns:r="' + rel
        + b'"><sheets><sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": b"<Relationships " + ns + b'package/2006/relationships"><Relationship Id="r1" '
        b'Type="' + rel + b'/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": b"<worksheet " + ns + b'spreadsheetml/2006/main"><sheetData>' + sheet
        + b"</sheetData></worksheet>",
    }  # fmt: skip
    return zipped(*parts.items())


def cell(place: str, value: str) -> bytes:
    return f'<c r="{place}"><v>{value}</v></c>'.encode()


def rows(n: int, width: int = 4, mark: bytes = b";") -> bytes:
    return b"".join(mark.join(b"%d.%d" % (i + c, c) for c in range(width)) + b"\n" for i in range(n))


def nested(depth: int) -> bytes:
    raw = zipped(("a.csv", rows(100)))
    for i in range(depth):
        raw = zipped((f"{i}.zip", raw))
    return raw


FAR_CELL = b'<row r="1">' + cell("A1", "1") + b'</row><row r="1048576">' + cell("XFD1048576", "2") + b"</row>"

CASES: dict[str, Callable[[], bytes]] = {
    "one line of 100 MB of digits": lambda: b"1" * 100_000_000,
    "one line of 100 MB of letters": lambda: b"x" * 100_000_000,
    "one line of 100 MB of cells": lambda: b"1.5;" * 25_000_000,
    "100 MB of delimiters": lambda: b";" * 100_000_000,
    "100 MB of line ends": lambda: b"\n" * 100_000_000,
    "100 MB of NUL": lambda: b"\0" * 100_000_000,
    "20 MB of remarks": lambda: b"# x\n" * 5_000_000,
    "20 MB of words": lambda: b"word word\n" * 2_000_000,
    "20 MB of one column of words and numbers": lambda: b"a\n1\n" * 5_000_000,
    "20 MB of tables of one row": lambda: b"a;b\n1;2\n\n" * 2_000_000,
    "20 MB of different widths": lambda: b"".join(b"1;" * (i % 9 + 1) + b"2\n" for i in range(1_500_000)),
    "20 MB of odd cells": lambda: b"".join(b"%d;x%d\n" % (i, i) for i in range(1_200_000)),
    "20 MB of strange stamps": lambda: b"".join(
        b"%d;%d.%d.%d\n" % (i, i % 40, i % 15, i % 9999) for i in range(1_200_000)
    ),
    "20 MB of thousands": lambda: b"".join(b"%d;1'%03d'%03d.5\n" % (i, i % 1000, i % 1000) for i in range(900_000)),
    "100 000 columns": lambda: (b";".join(b"%d" % i for i in range(100_000)) + b"\n") * 20,
    "100 000 names over readings": lambda: b";".join(b"c%d" % i for i in range(100_000)) + b"\n" + rows(100),
    "a header of 1 000 columns, 10 000 rows": lambda: rows(10_000, 1000),
    "surrogate halves": lambda: "a;\ud800b\n1;2\n".encode("utf-8", "surrogatepass") * 1000,
    "surrogate halves in UTF-16": lambda: b"\xff\xfe" + b"\x00\xd8" * 1000,
    "right-to-left marks": lambda: "\u202e\u200flast;\u2066weg\n".encode() + rows(100, 2),
    "marks within numbers": lambda: b"t;P\n" + "".join(f"{i};\u200f1\u200e{i}\n" for i in range(100)).encode(),
    "a byte order mark alone": lambda: b"\xef\xbb\xbf",
    "mixed line ends": lambda: b"t;P\r\n" + b"1;2\r2;3\n3;4\r\n" * 100,
    "zip: 100 000 empty members": lambda: zipped(*((f"{i}.csv", b"") for i in range(100_000))),
    "zip: claims little, holds 300 MiB": lambda: lying_zip(100),
    "zip: claims 4 GiB": lambda: lying_zip(0xFFFFFFF0),
    "zip in zip": lambda: nested(1),
    "gzip in gzip": lambda: gzip.compress(gzip.compress(rows(100))),
    "workbook: two cells at far corners": lambda: workbook(FAR_CELL),
    "workbook: 200 MiB of cells": lambda: workbook(b'<row r="1">' + cell("A1", "1") * (8 * MIB) + b"</row>"),
    "workbook: an unknown entity": lambda: workbook(b'<row r="1"><c r="A1" t="str"><v>&a;</v></c></row>'),
    "TDMS that claims 2^60 values": lambda: b"TDSm" + struct.pack("<iIQQ", 0x0E, 4713, 1 << 60, 40) + struct.pack(
        "<II", 1, 9) + b"/'g'/'c'" + b"\0" + struct.pack("<IIIQ", 20, 10, 1, 1 << 60) + struct.pack("<I", 0),
    "MATLAB 5 that claims 2^31 bytes": lambda: b"MATLAB 5.0 MAT-file".ljust(124) + b"\x00\x01IM" + struct.pack(
        "<II", 14, 0x7FFFFFF0) + b"\0" * 64,
    "MATLAB 4 that claims 2^31 rows": lambda: struct.pack("<5i", 0, 0x7FFFFFFF, 2, 0, 2) + b"a\0" + b"\0" * 64,
    "MDF of zeros": lambda: b"MDF     4.10    ".ljust(64, b"\0") + b"##HD" + b"\xff" * 4000,
}  # fmt: skip


def child(path: str, memory: int) -> None:
    """Read under a limit of address space (MiB beyond the import's) and print what came of it."""
    import resource
    import time

    import numpy  # noqa: F401
    import polars  # noqa: F401

    from cracktie.errors import CracktieError
    from cracktie.lab.read import read_log

    for module in ("openpyxl", "python_calamine", "nptdms", "asammdf", "scipy.io"):
        with contextlib.suppress(ImportError):
            __import__(module)
    used = int(next(line.split()[1] for line in Path("/proc/self/status").read_text().splitlines() if "VmSize" in line))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    limit = used * 1024 + memory * MIB
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    begin = time.process_time()
    try:
        log = read_log(path)
        said = {"rows": log.report.rows_kept, "lost": sum(part.rows for part in log.report.lost)}
        assert log.report.rows_read == said["rows"] + said["lost"]
    except CracktieError as refusal:
        said = {"refused": str(refusal)[:300]}
    except BaseException as wrong:  # whatever else is the finding
        said = {"wrong": f"{type(wrong).__name__}: {wrong}"[:300]}
    peak = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    print(json.dumps({**said, "MiB": round(peak), "seconds": round(time.process_time() - begin, 2)}))


if __name__ == "__main__":
    child(sys.argv[1], int(sys.argv[2]))
