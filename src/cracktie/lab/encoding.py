"""From bytes to text: magic bytes, byte order mark, strict UTF-8, and only then a guess that is said aloud."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

from cracktie.errors import InputRefused, Problem
from cracktie.lab.report import Question

_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_BINARY = (
    (b"TDSm", "a TDMS file"),
    (b"MDF ", "an MDF file"),
    (b"UnFinMF", "an unfinished MDF file"),
    (b"PAR1", "a Parquet file"),
    (b"\x89HDF", "an HDF5 file"),
    (b"MATLAB 5", "a MATLAB file"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"\x7fELF", "a program"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"PK\x03\x04", "an archive inside an archive"),
)


@dataclass(frozen=True)
class Decoded:
    """Text of a file with line ends unified to LF, the encoding and how it was decided."""

    text: str
    encoding: str
    how: str
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


def refuse(file: str, message: str, fix: str, line: int | None = None, value: str | None = None) -> InputRefused:
    """An `InputRefused` with one problem; the caller raises it."""
    return InputRefused(Problem("error", file, message, line=line, value=value, fix=fix))


def decode(raw: bytes, file: str, encoding: str | None = None) -> Decoded:
    """Text of `raw`; `encoding` is the user's word and is then applied strictly.

    Raises `InputRefused` for empty and binary content and for bytes that contradict a given encoding.
    """
    if not raw.strip(b"\x00 \t\r\n\x1a"):
        found = "the file is empty" if not raw else f"the file holds {len(raw)} bytes of blanks or NUL only"
        raise refuse(file, found, "copy the log again from the logger")
    for magic, kind in _BINARY:
        if raw.startswith(magic):
            raise refuse(
                file, f"this is {kind}, not a text log or spreadsheet", "export the readings as text, csv or xlsx"
            )
    if encoding is not None:
        return _given(raw, file, encoding)
    for mark, name in _MARKS:
        if raw.startswith(mark):
            return _marked(raw, file, mark, name)
    if raw.count(0) > 0:
        return _with_nul(raw, file)
    _check_controls(raw, file)
    return _unmarked(raw)


def _given(raw: bytes, file: str, encoding: str) -> Decoded:
    try:
        text = raw.decode(encoding)
    except LookupError:
        raise refuse(file, f"no encoding is called {encoding!r}", "use for example utf-8, cp1252 or utf-16") from None
    except (UnicodeError, ValueError) as trouble:
        raise refuse(
            file, f"the bytes are not {encoding}: {_short(trouble)}", "leave the encoding out or name another one"
        ) from None
    if not isinstance(text, str) or "\x00" in text:
        raise refuse(
            file,
            f"read as {encoding} the file holds NUL characters: it is binary or of another encoding",
            "leave the encoding out or export the readings as text",
        )
    return Decoded(_unify(text.lstrip("\ufeff")), encoding, "stated by the user")


def _marked(raw: bytes, file: str, mark: bytes, name: str) -> Decoded:
    body = raw[len(mark) :]
    codec = "utf-8" if name == "utf-8-sig" else name
    cut = codec != "utf-8" and len(body) % 2 == 1
    try:
        text = (body[:-1] if cut else body).decode(codec)
    except UnicodeError as trouble:
        raise refuse(
            file,
            f"the byte order mark says {codec}, but {_short(trouble)}: the file is damaged or mixed",
            "copy it again, or state the encoding",
        ) from None
    if "\x00" in text or not text.strip():
        raise refuse(file, f"a byte order mark ({codec}) and then no readable text", "copy the log again")
    notes = ("the last byte is half a character: the file is cut off",) if cut else ()
    return Decoded(_unify(text), name, "byte order mark", notes=notes)


def _with_nul(raw: bytes, file: str) -> Decoded:
    sample = raw[:4096]
    even, odd = sample[0::2].count(0), sample[1::2].count(0)
    half = max(1, len(sample) // 2)
    for name, here, there in (("utf-16-le", odd, even), ("utf-16-be", even, odd)):
        if here > 0.7 * half and there == 0:
            try:
                text = raw[: len(raw) // 2 * 2].decode(name)
            except UnicodeError:
                continue
            if "\x00" not in text:
                question = Question(
                    "encoding",
                    f"{file} has no byte order mark but looks like {name}",
                    (name, "another encoding"),
                    f"read as {name}",
                    (f"encoding: {name}", "encoding: ..."),
                )
                return Decoded(_unify(text), name, "pattern of zero bytes", (question,))
    first = raw.index(0)
    line = raw.count(b"\n", 0, first) + 1
    raise refuse(
        file,
        f"{raw.count(0)} NUL bytes, the first in line {line}: binary data, or a log cut off by a power failure",
        "export the readings as text, or cut the damaged part off in a copy",
        line,
    )


def _check_controls(raw: bytes, file: str) -> None:
    allowed = {9, 10, 11, 12, 13, 26, 27}
    table = bytes(b for b in range(32) if b not in allowed)
    sample = raw[:1_000_000]
    count = len(sample) - len(sample.translate(None, table))
    if count > 0.002 * len(sample):
        raise refuse(
            file,
            f"{count} control characters in the first {len(sample)} bytes: this is binary data",
            "export the readings as text, csv or xlsx",
        )


def _unmarked(raw: bytes) -> Decoded:
    try:
        text = raw.decode("utf-8")
        how = "plain ASCII" if text.isascii() else "valid UTF-8"
        return Decoded(_unify(text), "utf-8", how)
    except UnicodeDecodeError as trouble:
        if trouble.reason == "unexpected end of data" and trouble.start >= len(raw) - 3 and trouble.start > 0:
            note = "the last character is incomplete: the file is cut off"
            return Decoded(_unify(raw[: trouble.start].decode("utf-8")), "utf-8", "valid UTF-8", notes=(note,))
        at = trouble.start
    try:
        text, name = raw.decode("cp1252"), "cp1252"
    except UnicodeDecodeError:
        text, name = raw.decode("latin-1"), "latin-1"
    line = raw.count(b"\n", 0, at) + 1
    around = text[max(text.rfind("\n", 0, at) + 1, at - 12) : at + 12].split("\n")[0].strip()
    question = Question(
        "encoding",
        f"not UTF-8 (first such byte in line {line}, near {around!r})",
        (name, "another one-byte encoding"),
        f"read as {name}; numbers are not affected",
        (f"encoding: {name}", "encoding: ..."),
    )
    return Decoded(_unify(text), name, "not UTF-8; Western one-byte encoding assumed", (question,))


def _unify(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def _short(trouble: Exception) -> str:
    return str(trouble).split("\n")[0][:160]
