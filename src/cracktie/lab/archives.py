"""Logs inside zip or gzip files, opened with a limit on their size."""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib

from cracktie.lab.encoding import refuse

MAX_BYTES = 1 << 30
"""Largest unpacked log (1 GiB)."""

MAX_SPREADSHEET = 1 << 28
"""Largest unpacked spreadsheet (256 MiB): its cells take many times that in memory."""


def is_spreadsheet(raw: bytes) -> bool:
    """True for xlsx, xlsm, ods (zip containers) and the old xls (OLE container)."""
    if raw.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        return True
    if not raw.startswith(b"PK"):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            names = set(archive.namelist())
            if "xl/workbook.xml" in names or "xl/workbook.bin" in names:
                return True
            return "content.xml" in names and "mimetype" in names
    except (zipfile.BadZipFile, ValueError, OSError, EOFError, NotImplementedError):
        return False


def check_unpacked_size(raw: bytes, file: str, limit: int = MAX_BYTES) -> None:
    """Refuse a zip container (also a spreadsheet) that says it unpacks to more than `limit` bytes."""
    if not raw.startswith(b"PK"):
        return
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        total = sum(info.file_size for info in archive.infolist())
    if total > limit:
        raise refuse(
            file,
            f"unpacks to {total / 2**20:.0f} MiB, the limit is {limit / 2**20:.0f} MiB",
            "split the log, or unpack it yourself if it is trusted",
        )


def unpack(raw: bytes, file: str, limit: int = MAX_BYTES) -> tuple[bytes, str | None]:
    """The log inside a zip or gzip file and the name of the member; other content comes back as it is.

    Raises `InputRefused` for damaged, encrypted or oversized archives and for several logs in one.
    """
    if raw.startswith(b"\x1f\x8b"):
        return _gunzip(raw, file, limit), "the gzip content"
    if not raw.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return raw, None
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            check_unpacked_size(raw, file, limit)
            member = _only_member(archive, file)
            if member.flag_bits & 1:
                raise refuse(
                    file, f"{member.filename!r} in the archive is encrypted", "unpack it with its password first"
                )
            with archive.open(member) as stream:
                content = stream.read(limit + 1)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        NotImplementedError,
        RuntimeError,
        ValueError,
    ) as trouble:
        raise refuse(file, f"the zip archive is damaged or cut off ({str(trouble)[:120]})", "copy it again") from None
    if len(content) > limit:
        raise refuse(file, f"{member.filename!r} unpacks to more than {limit / 2**20:.0f} MiB", "split the log")
    return content, member.filename


def _only_member(archive: zipfile.ZipFile, file: str) -> zipfile.ZipInfo:
    members = [
        info
        for info in archive.infolist()
        if not info.is_dir()
        and not info.filename.startswith("__MACOSX/")
        and info.filename.rsplit("/", 1)[-1] not in (".DS_Store", "Thumbs.db")
    ]
    if not members:
        raise refuse(file, "the archive holds no file", "pack the log itself")
    if len(members) > 1:
        names = ", ".join(repr(info.filename) for info in members[:5]) + (" ..." if len(members) > 5 else "")
        raise refuse(
            file,
            f"the archive holds {len(members)} files ({names}), one log is needed",
            "unpack it and give each log a line of its own",
        )
    return members[0]


def _gunzip(raw: bytes, file: str, limit: int) -> bytes:
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(raw)) as stream:
            content = stream.read(limit + 1)
    except (OSError, EOFError, zlib.error) as trouble:
        raise refuse(file, f"the gzip file is damaged or cut off ({str(trouble)[:120]})", "copy it again") from None
    if len(content) > limit:
        raise refuse(file, f"unpacks to more than {limit / 2**20:.0f} MiB", "split the log")
    return content
