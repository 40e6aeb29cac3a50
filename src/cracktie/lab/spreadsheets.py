"""Spreadsheets (xlsx, xls, ods) as lines of tab-separated text, so that one reader serves all logs."""

from __future__ import annotations

import io
from datetime import date, datetime, time, timedelta

from cracktie.errors import InputRefused
from cracktie.lab.archives import MAX_SPREADSHEET, check_unpacked_size
from cracktie.lab.encoding import refuse


def sheets_as_text(raw: bytes, file: str) -> list[tuple[str, str]]:
    """(sheet name, text) for every sheet that is not empty; line numbers are the rows of the sheet.

    Raises `InputRefused` for damaged or protected files and for files without any filled sheet.
    """
    import python_calamine

    try:
        check_unpacked_size(raw, file, MAX_SPREADSHEET)
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
