"""Spreadsheets (xlsx, xls, ods) as lines of tab-separated text, so that one reader serves all logs."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time, timedelta

from cracktie.errors import InputRefused
from cracktie.lab.archives import MAX_SPREADSHEET, check_unpacked_size
from cracktie.lab.encoding import refuse

MOST_CELLS = 20_000_000
"""Cells of a sheet, empty ones between them included."""
_PLACE = re.compile(rb"""\br=["']([A-Z]{1,3})(\d{1,7})["']""")
_ROW = re.compile(rb"""\br=["'][A-Z]{0,3}(\d{1,7})["']""")


def sheets_as_text(raw: bytes, file: str) -> list[tuple[str, str]]:
    """(sheet name, text) for every sheet that is not empty; line numbers are the rows of the sheet.

    Raises `InputRefused` for damaged or protected files and for files without any filled sheet.
    """
    import python_calamine

    try:
        check_unpacked_size(raw, file, MAX_SPREADSHEET)
        _check_extent(raw, file)
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(raw))
        out = []
        for name in book.sheet_names:
            rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            text = "\n".join("\t".join(_cell(cell) for cell in row) for row in rows)
            if text.strip():
                out.append((name, text + "\n"))
    except InputRefused:
        raise
    except Exception as trouble:  # the reader raises several kinds for damaged files
        raise refuse(
            file,
            f"the spreadsheet cannot be opened ({type(trouble).__name__}: {str(trouble)[:120]})",
            "open it in a spreadsheet program and save it again without a password",
        ) from None
    if not out:
        raise refuse(file, "every sheet of the spreadsheet is empty", "check that this is the file you mean")
    return out


def _check_extent(raw: bytes, file: str) -> None:
    """Refuse a workbook whose cells lie so far apart that the table between them would not fit into memory."""
    if not raw.startswith(b"PK"):
        return
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        for name in archive.namelist():
            if not re.fullmatch(r"xl/worksheets/[^/]+\.xml", name):
                continue
            rows, columns = 1, 1
            with archive.open(name) as stream:
                rest = b""
                while piece := stream.read(1 << 20):
                    places = {letters for letters, _ in _PLACE.findall(rest + piece)}
                    numbers = _ROW.findall(rest + piece)
                    columns = max([columns, *(_column(letters) for letters in places)])
                    rows = max([rows, *(int(number) for number in set(numbers))])
                    rest = piece[-100:]
            if rows * columns > MOST_CELLS:
                raise refuse(
                    file,
                    f"a sheet reaches to row {rows} and column {columns}, {rows * columns / 1e6:.0f} million cells "
                    "with the empty ones",
                    "delete what stands far from the readings, or export the readings as csv",
                )


def _column(letters: bytes) -> int:
    """Number of a column by its letters: A is 1, XFD 16384."""
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "1" if value else "0"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return value.isoformat(sep=" ")
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, timedelta):
        return repr(value.total_seconds())
    return str(value).replace("\t", " ").replace("\n", " ").replace("\r", " ")
