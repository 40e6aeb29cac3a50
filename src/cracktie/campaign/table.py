"""Specimens as a wide table, one row each: headers are dotted paths with the unit in brackets.

`id`, `batch`, `section.b_w [mm]` (or `b_w [mm]`), `bars.1.bars`, `spans.A.wrap.width [mm]` (or `A.wrap.width [mm]`).
An empty cell leaves the key out. A cell may bring its own unit where the header has none.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, get_origin

from cracktie.campaign.explain import explain, near
from cracktie.campaign.fields import number_text
from cracktie.campaign.groups import flatten
from cracktie.campaign.paths import Place, place
from cracktie.campaign.positions import Node
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Section, Span, Specimen
from cracktie.errors import FileTrouble, InputRefused, Problem
from cracktie.units import UnitError, factor

Rows = list[list[str]]


def table_of(campaign: Campaign) -> Rows:
    """The specimens as rows of texts below a row of headers; `specimens_of` reads them back to the same designs."""
    cells = {id: _cells(specimen) for id, specimen in campaign.specimens.items()}
    used = {path for row in cells.values() for path in row}
    columns = sorted(used, key=_rank)
    rows = [[_header(path) for path in columns]]
    return rows + [[row.get(path, "") for path in columns] for row in cells.values()]


def table_csv(campaign: Campaign) -> str:
    """`table_of` as CSV text with commas and line feeds."""
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(table_of(campaign))
    return stream.getvalue()


def _cells(specimen: Specimen) -> dict[str, str]:
    flat = flatten(specimen.model_dump(mode="python", exclude_defaults=True, warnings=False), exact=True)
    return {path: _text(value) for path, value in flat.items()}


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return ", ".join(_text(v) for v in value)
    if isinstance(value, float):
        spread = getattr(value, "u", None)
        return number_text(value) + (f" +- {number_text(spread)}" if spread is not None else "")
    return str(value)


def _rank(path: str) -> tuple[Any, ...]:
    """Order of the schema; entries of a list by number."""
    here: Place | None = Place(Specimen)
    rank: list[Any] = []
    for key in path.split("."):
        names = list(here.fields) if here is not None else []
        rank.append((names.index(key), "") if key in names else (int(key) if key.isdigit() else 0, key))
        here = here.below(key) if here is not None else None
    return tuple(rank)


def _header(path: str) -> str:
    found = place(Specimen, path.split("."))
    unit = found.internal.unit if found is not None and found.internal is not None else ""
    return f"{path} [{unit}]" if unit and unit != "-" else path


def read_table(path: str | Path) -> Rows:
    """Rows of texts of a CSV (comma, semicolon or tab) or XLSX file (its first sheet); empty rows are left out.

    Raises `FileTrouble` for a file that cannot be read, `InputRefused` for one that is no table.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FileTrouble(f"{path}: cannot be read ({error.strerror}); check that it is a file you may read") from None
    rows = _sheet(path, data) if data.startswith(b"PK") else _csv(path, data)
    return [[cell.strip() for cell in row] for row in rows if any(cell.strip() for cell in row)]


def _sheet(path: Path, data: bytes) -> Rows:
    import datetime

    from python_calamine import CalamineWorkbook

    try:
        rows = CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_index(0).to_python()
    except Exception:  # the spreadsheet library raises a family of its own
        raise InputRefused(Problem("error", path.name, "no spreadsheet that can be read", fix="save it anew")) from None

    def text(cell: Any) -> str:
        if isinstance(cell, (datetime.datetime, datetime.date)):
            return cell.isoformat()[:10]
        return number_text(cell) if isinstance(cell, float) else str(cell)

    return [[text(cell) for cell in row] for row in rows]


def _csv(path: Path, data: bytes) -> Rows:
    from cracktie.campaign.positions import decode

    text, problem = decode(data, path.name)
    if problem is not None:
        raise InputRefused(problem)
    head = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=head.count)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error as error:
        raise InputRefused(Problem("error", path.name, f"no table ({error})", fix="save it as CSV again")) from None


def specimens_of(rows: Sequence[Sequence[str]], name: str = "table") -> dict[str, dict[str, Any]]:
    """Specimens by id as `specimens.yaml` holds them; raises `InputRefused` with all problems by row and column."""
    if len(rows) < 2:
        fix = "write a row of headers (id, batch, b_w [mm], ...) and a row for each specimen"
        raise InputRefused(Problem("error", name, "holds no specimen", fix=fix))
    columns, problems = _columns(rows[0], name)
    if ("id",) not in [path for path, _ in columns.values()]:
        problems.append(Problem("error", name, "there is no column id", 1, fix="add one: it names the specimens"))
    if problems:
        raise InputRefused(problems)
    found: dict[str, dict[str, Any]] = {}
    for number, row in enumerate(rows[1:], start=2):
        root, content = _row(row, number, columns, name)
        id = str(content.get("id", ""))
        if id.lower() in (known.lower() for known in found):
            problems.append(Problem("error", name, f"the id {id!r} stands twice", number, key="id", fix="rename one"))
        problems += _check(root, content)
        found[id] = {key: value for key, value in content.items() if key != "id"}
    if problems:
        raise InputRefused(sorted(problems, key=lambda p: (p.line or 0, p.column or 0)))
    return found


def _columns(headers: Iterable[str], name: str) -> tuple[dict[int, tuple[tuple[str, ...], str]], list[Problem]]:
    """Column index -> (path, unit) for every header that is not empty."""
    found: dict[int, tuple[tuple[str, ...], str]] = {}
    problems = []
    for index, header in enumerate(headers):
        word, _, unit = header.partition("[")
        if not header.strip():
            continue
        path = _path(word.strip())
        if place(Specimen, path) is None or place(Specimen, path).fields:  # type: ignore[union-attr]
            problems.append(Problem("error", name, "unknown column", 1, index + 1, header, fix=_hint(path)))
        elif path in [known for known, _ in found.values()]:
            problems.append(Problem("error", name, "the column stands twice", 1, index + 1, header, fix="delete one"))
        found[index] = (path, unit.strip().rstrip("]").strip())
    return found, problems


def _path(word: str) -> tuple[str, ...]:
    keys = tuple(word.split("."))
    if keys[0] in ("A", "B"):
        return ("spans", *keys)
    if len(keys) == 1 and word in Section.model_fields and word not in Specimen.model_fields:
        return ("section", word)
    return keys


def _hint(path: tuple[str, ...]) -> str:
    if path[0] in Span.model_fields:
        return f"name the span: A.{'.'.join(path)} or B.{'.'.join(path)}"
    for depth in range(len(path)):
        parent = place(Specimen, path[:depth])
        if parent is not None and parent.fields and path[depth] not in parent.fields:
            names = [*parent.fields, *(Section.model_fields if depth == 0 else ())]
            return near(path[depth], names)
    return "write dotted paths such as section.b_w [mm]"


def _row(
    row: Sequence[str], number: int, columns: dict[int, tuple[tuple[str, ...], str]], name: str
) -> tuple[Node, dict[str, Any]]:
    """A row as a tree of nodes (with the cells as their places) and as plain content."""
    root = Node(name, number, 1, items={})
    for index, (path, unit) in columns.items():
        cell = row[index].strip() if index < len(row) else ""
        if not cell:
            continue
        here = root
        for depth, key in enumerate(path[:-1], start=1):
            assert here.items is not None
            here = here.items.setdefault(key, Node(name, number, 1, path[:depth], items={}))
        assert here.items is not None
        here.items[path[-1]] = _cell(cell, unit, path, Node(name, number, index + 1, path))
    return root, _lists(root.raw())


def _cell(cell: str, unit: str, path: tuple[str, ...], node: Node) -> Node:
    found = place(Specimen, path)
    if found is not None and get_origin(found.kind) is tuple and found.internal is None:
        node.parts = [Node(node.file, node.line, node.column, path, text=c.strip()) for c in cell.split(",")]
    else:
        node.text = f"{cell} {unit}" if unit and not _has_unit(cell, unit) else cell
    return node


def _has_unit(cell: str, unit: str) -> bool:
    """True if a cell ends in a unit that could stand for that of its header."""
    own = re.search(r"[\d.]\s*([^\W\d_][\w/]*|[%°])$", cell)
    try:
        return own is not None and factor(own[1], unit) > 0
    except UnitError:
        return False


def _lists(content: Any) -> Any:
    """Mappings with the keys 1, 2, ... become lists."""
    if not isinstance(content, dict):
        return content
    if content and all(key.isdecimal() for key in content):
        return [_lists(content[key]) for key in sorted(content, key=int)]
    return {key: _lists(value) for key, value in content.items()}


def _check(root: Node, content: dict[str, Any]) -> list[Problem]:
    from pydantic import ValidationError

    try:
        Specimen.model_validate(content, context={"units": {}})
    except ValidationError as error:
        return explain(error, _as_lists(root), Specimen)
    return []


def _as_lists(node: Node) -> Node:
    items = node.items
    if items and all(key.isdecimal() for key in items):
        node.parts, node.items = [_as_lists(items[key]) for key in sorted(items, key=int)], None
    for below in (node.items or {}).values():
        _as_lists(below)
    return node
