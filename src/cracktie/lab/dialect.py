"""Delimiter and decimal mark, found by how many cells of the readings can be read with them."""

from __future__ import annotations

import functools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cracktie.lab.cells import is_missing, number, readable
from cracktie.lab.report import Question

DELIMITERS = ("\t", ";", "|", ",", " ")
"""In order of preference where several read the lines equally well; ' ' stands for runs of blanks."""

_TWO_NUMBERS = re.compile(r"[+-]?[\d.,]+(?: +[+-]?[\d.,]+)+\Z")
_COMMENT = ("#", "%", "//", "'", "!")


@dataclass(frozen=True)
class Dialect:
    """How a line falls into cells and which mark opens the decimals."""

    delimiter: str
    decimal: str
    score: float
    questions: tuple[Question, ...] = ()


def cells(line: str, delimiter: str) -> list[str]:
    """The cells of a line, stripped of blanks and quotation marks."""
    if delimiter == " ":
        return [cell.strip('"') for cell in line.split()]
    if '"' in line:
        return _quoted(line, delimiter)
    return [cell.strip() for cell in line.split(delimiter)]


def is_comment(line: str) -> bool:
    """True for lines that loggers mark as remarks."""
    return line.lstrip().startswith(_COMMENT) and not line.lstrip().startswith("##")


def is_data(row: Sequence[str], decimal: str) -> bool:
    """True when a row of cells reads as readings: mostly numbers, stamps or missing words."""
    return _reads_as_data(row, [readable(cell, decimal) for cell in row])


def _reads_as_data(row: Sequence[str], known: Sequence[bool]) -> bool:
    """`is_data` of a row whose cells are known to be readable or not."""
    filled = [(cell, good) for cell, good in zip(row, known, strict=True) if cell]
    if not filled or filled[0][0].endswith(":"):
        return False
    if len(row) == 1 and _TWO_NUMBERS.match(row[0]):
        return False  # `100 200` alone on its line is two cells, not a number with a thousands blank
    good = sum(is_good for _, is_good in filled)
    if good == 0 or all(is_missing(cell) for cell, _ in filled):
        return False
    text = len(filled) - good
    if text == 0:
        return True
    needed = 2 * text if not filled[0][1] else text + 1
    return good >= max(2, needed)


def find_dialect(sample: Sequence[str], delimiter: str | None = None, decimal: str | None = None) -> Dialect:
    """The dialect that reads most of the sampled lines; a given delimiter or decimal mark is not doubted.

    The score of a candidate is the share of lines (comments and blanks apart) that are readings with the
    commonest number of cells.
    """
    lines = [line for line in sample if line.strip() and not is_comment(line)]
    quoted = any('"' in line for line in lines)
    best: Dialect | None = None
    width = 0
    uncut: dict[str, tuple[float, int]] = {}  # by decimal mark: all delimiters that stand nowhere score alike
    for mark in DELIMITERS if delimiter is None else (delimiter,):
        if delimiter is None and mark == " " and best is not None and best.score > 0 and best.delimiter == "\t":
            continue  # blanks would part at the tabs as well and lose empty cells
        for point in (".", ",") if decimal is None else (decimal,):
            if mark == point and not quoted:
                continue  # only quotation marks can keep the two apart
            if mark != " " and not any(mark in line for line in lines):
                score, columns = uncut[point] = uncut.get(point) or _score(lines, mark, point)
            else:
                score, columns = _score(lines, mark, point)
            margin = 0.02 if best is not None and best.delimiter != mark else 0.0
            better = (
                best is None
                or score > best.score + margin
                or (score > 0 and abs(score - best.score) <= margin and columns > width == 1)
            )
            if better:
                best, width = Dialect(mark, point, score), columns
    if best is None:
        best = Dialect(delimiter or "\t", decimal or ".", 0.0)
    return _doubts(best, lines, width, delimiter, decimal)


def _score(lines: Sequence[str], delimiter: str, decimal: str) -> tuple[float, int]:
    widths: Counter[int] = Counter()
    plain = _plain_row(delimiter, decimal)
    for line in lines:
        if plain.match(line):
            widths[len(line.split()) if delimiter == " " else line.count(delimiter) + 1] += 1
            continue
        row = cells(line, delimiter)
        known = [readable(cell, decimal) for cell in row]
        if any(known) and _reads_as_data(row, known):
            widths[len(row)] += 1 if all(known) else 0.9  # type: ignore[assignment]
    if not widths or not lines:
        return 0.0, 0
    columns, count = widths.most_common(1)[0]
    total = sum(widths.values())
    return (count + 0.5 * (total - count)) / len(lines), columns


@functools.cache
def _plain_row(delimiter: str, decimal: str) -> re.Pattern[str]:
    """Most rows of a log: plain numbers and empty cells, the first of them a number; each cell of it is readable."""
    one = rf"[+-]?[0-9]{{1,30}}+(?:{re.escape(decimal)}[0-9]*+)?(?:[eE][+-]?[0-9]{{1,2}}+)?"
    if delimiter == " ":
        return re.compile(rf" *+{one}(?: ++{one})*+ *+\Z")
    return re.compile(rf" *+{one} *+(?:{re.escape(delimiter)} *+(?:{one} *+)?)*+\Z")


def _doubts(dialect: Dialect, lines: Sequence[str], width: int, delimiter: str | None, decimal: str | None) -> Dialect:
    if decimal is not None or dialect.score <= 0:
        return dialect
    if delimiter is None and dialect.delimiter == "," and (found := _one_comma(dialect, lines)) is not None:
        return found
    if not _only_thousands(lines, dialect):
        return dialect
    mark, name, other = (",", "comma", ".") if dialect.decimal == "," else (".", "point", ",")
    question = Question(
        "decimal",
        f"every {name} is followed by exactly three digits, as in {_example(lines, dialect)!r}",
        (f"decimal {name}", "thousands mark"),
        f"read as decimal {name}",
        (f'decimal: "{mark}"', f'decimal: "{other}"'),
    )
    return replace(dialect, questions=(question,))


def _one_comma(dialect: Dialect, lines: Sequence[str]) -> Dialect | None:
    """Lines of two whole numbers and a comma: two columns, or one of decimals; the header tells which is read."""
    found = [line for line in lines if re.fullmatch(r"\s*[+-]?\d+,\d+\s*", line)]
    if len(found) <= 0.8 * len(lines):
        return None
    head = next((line for line in lines if any(c.isalpha() for c in line)), "")
    one = bool(head) and "," not in head
    read = "one column with a decimal comma" if one else "two columns"
    question = Question(
        "decimal",
        f"each line is two whole numbers with one comma between them, as in {found[0].strip()!r}",
        ("two columns", "one column with a decimal comma"),
        f"read as {read}" + (", for the header has one name" if one else ""),
        ('delimiter: ","', 'decimal: ","'),
    )
    return Dialect("\t" if one else ",", "," if one else ".", dialect.score, (question,))


def _example(lines: Sequence[str], dialect: Dialect) -> str:
    return next(c for line in lines for c in cells(line, dialect.delimiter) if _grouped(c, dialect.decimal))


def _grouped(cell: str, mark: str) -> bool:
    return bool(re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}{re.escape(mark)}\d{{3}}", cell))


def has_thousands(lines: Sequence[str], delimiter: str | None, decimal: str) -> bool:
    """Whether the mark that is not the stated decimal one stands in numbers and parts groups of three in all of them.

    `delimiter` None: looked at between tabs, semicolons or bars, whichever stand in most lines.
    """
    other = "," if decimal == "." else "."
    marks = (delimiter,) if delimiter else tuple(d for d in "\t;|" if 2 * sum(d in line for line in lines) > len(lines))
    return any(mark != other and _only_thousands(lines, Dialect(mark, other, 0.0)) for mark in marks)


def without_thousands(text: str, decimal: str) -> str:
    """The text with the thousands marks of its numbers taken out; `decimal` is the other mark."""
    mark = re.escape("," if decimal == "." else ".")
    grouped = re.compile(rf"(?<![\d{mark}])([1-9]\d{{0,2}}(?:{mark}\d{{3}})+)(?![\d{mark}])")
    return grouped.sub(lambda found: re.sub(mark, "", found[1]), text)


def _only_thousands(lines: Sequence[str], dialect: Dialect) -> bool:
    """Whether each of three or more numbers with the mark could as well be a whole number with a thousands mark."""
    mark, count = dialect.decimal, 0
    for line in lines:
        for cell in cells(line, dialect.delimiter):
            if mark in cell and number(cell, mark) is not None:
                if not _grouped(cell, mark):
                    return False
                count += 1
    return count >= 3


def _quoted(line: str, delimiter: str) -> list[str]:
    out: list[str] = []
    cell: list[str] = []
    inside = False
    for character in line:
        if character == '"':
            inside = not inside
        elif character == delimiter and not inside:
            out.append("".join(cell).strip())
            cell = []
        else:
            cell.append(character)
    out.append("".join(cell).strip())
    return out
