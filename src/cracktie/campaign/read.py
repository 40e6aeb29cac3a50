"""The reader of campaign folders and of one-beam files: collects every problem before it refuses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from cracktie.campaign.checks import check
from cracktie.campaign.explain import explain, near
from cracktie.campaign.fields import Entry, check_id
from cracktie.campaign.groups import design_groups
from cracktie.campaign.inherit import name_heirs, resolve
from cracktie.campaign.positions import Document, Node, load
from cracktie.campaign.reading import COLLECTIONS, SPECIMENS, Reading, fill_coupons, hash_file
from cracktie.campaign.schema import FILES, Campaign, Head
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.campaign.upgrade import upgrade
from cracktie.errors import InputRefused, Problem
from cracktie.units import FILE_UNITS, UnitError, factor

ONE_BEAM = "beam.yaml"
"""What `cracktie new --one-beam` calls its file."""


def read_campaign(folder: str | Path, *, awaited: str | None = None) -> Campaign:
    """The campaign of a folder. Raises `InputRefused` with all problems at once, `FileTrouble` for unreadable files.

    The logs of the `awaited` test need not be there yet.
    """
    folder = Path(folder)
    if not folder.is_dir():
        what = "is a file; name the folder that holds it" if folder.exists() else "there is no such folder"
        raise InputRefused(Problem("error", str(folder), what, fix="`cracktie new FOLDER` makes a campaign"))
    documents, problems = {}, _misnamed(folder)
    for name in (*FILES, SPECIMENS):
        if (folder / name).exists():
            documents[name] = load(folder / name)
    if SPECIMENS not in documents:
        fix = "`cracktie new FOLDER` writes one to start from"
        if (folder / ONE_BEAM).exists():
            fix = f"for one beam name its file: `cracktie predict {folder / ONE_BEAM}`"
        found = Problem("error", SPECIMENS, "is missing", fix=fix)
        problems.append(found)
    return assemble(Reading(documents, folder, problems=problems, awaited=awaited))


def read_single(path: str | Path) -> Campaign:
    """The campaign of a one-beam file with `materials: {...}` and `specimen: {...}`.

    `specimen` may hold its `id`; the keys of campaign.yaml (`units`, `title`, `guideline_sets`, ...) may stand beside
    them. Raises as `read_campaign`.
    """
    path = Path(path)
    if not path.is_file():
        raise InputRefused(Problem("error", str(path), "there is no such file", fix="name a YAML file of one beam"))
    whole = load(path)
    documents, problems = _split_single(whole)
    return assemble(Reading(documents, None, problems=problems, sources={whole.name: whole.sha256}))


def _split_single(whole: Document) -> tuple[dict[str, Document], list[Problem]]:
    """A one-beam file as the documents of a folder; every node keeps its own place."""
    root = whole.root
    if root is None or root.items is None:
        if whole.problems:
            return {}, list(whole.problems)
        return {}, [Problem("error", whole.name, "holds no beam", fix="write `materials: {...}` and `specimen: {...}`")]
    problems = list(whole.problems)
    items = dict(root.items)
    specimen, materials = items.pop("specimen", None), items.pop("materials", None)
    known = ("materials", "specimen", *Head.model_fields)
    for key in [key for key in items if key not in known]:
        problems.append(items.pop(key).key_problem("unknown key", near(key, known)))
    beside = {"units": items["units"]} if "units" in items else {}
    documents = {"campaign.yaml": replace(whole, root=replace(root, items=items), problems=())}
    if materials is not None:
        inner = replace(materials, items=beside | materials.items) if materials.items is not None else materials
        documents["materials.yaml"] = replace(whole, root=inner, problems=())
    if specimen is None:
        problems.append(root.problem("is missing", "add `specimen: {section: {...}, ...}`", below=("specimen",)))
        return documents, problems
    id, like = specimen.get("id"), specimen.get("like")
    if like is not None:
        problems.append(like.key_problem("a file of one beam has nothing to inherit from", "write the design out"))
    own = {key: node for key, node in (specimen.items or {}).items() if key not in ("id", "like")}
    one = replace(specimen, items=own) if specimen.items is not None else specimen
    name = id.text if id is not None and id.text else "beam"
    entries = replace(root, items={name: one})
    documents[SPECIMENS] = replace(whole, root=replace(root, items=beside | {"specimens": entries}), problems=())
    return documents, problems


def assemble(reading: Reading) -> Campaign:
    """Check everything and build the campaign; raises `InputRefused` with all problems."""
    for name, document in reading.documents.items():
        reading.problems += document.problems
        if reading.folder is not None:
            reading.sources[name] = document.sha256
    reading.documents, stopped = upgrade(reading.documents)
    if stopped is not None:
        raise InputRefused([stopped])
    for name in reading.documents:
        _header(reading, name)
        _clean(reading, name)
    for name in FILES:
        reading.entries[name] = _whole(reading, name, FILES[name])
    coupons = fill_coupons(reading)
    _build_specimens(reading)
    tests = _tests(reading)
    groups, findings = design_groups(reading.specimens, reading.resolved)
    reading.problems += findings
    check(reading, tests, groups)
    ordered = sorted(name_heirs(reading), key=_order)
    if any(p.level == "error" for p in ordered):
        raise InputRefused(ordered)
    made = {name.removesuffix(".yaml"): reading.entries[name] for name in FILES}
    return Campaign(
        head=made["campaign"], materials=made["materials"], specimens=reading.specimens, tests=tests,
        rig=made["rig"], observations=made["observations"], reduction=made["reduction"], folder=reading.folder,
        warnings=tuple(ordered), sources=reading.sources, groups=groups, units=reading.units,
        coupons=coupons,
    )  # fmt: skip


def _order(problem: Problem) -> tuple[Any, ...]:
    return (problem.file, problem.line or 0, problem.column or 0, problem.key)


def _misnamed(folder: Path) -> list[Problem]:
    """YAML files beside the known ones whose names look like a slip."""
    import difflib

    known = [*FILES, SPECIMENS]
    found = []
    for path in sorted(folder.glob("*.y*ml")):
        close = difflib.get_close_matches(path.stem.lower() + ".yaml", known, 1, 0.75)
        if path.name not in known and close and not (folder / close[0]).exists():
            found.append(Problem("warning", path.name, "is not read", fix=f"should it be named {close[0]!r}?"))
    return found


_UNITS = {"length": "mm", "force": "kN", "stress": "MPa", "modulus": "GPa", "strain": "um/m", "angle": "deg"}


def _header(reading: Reading, name: str) -> None:
    """Units a file declares for its bare numbers."""
    root = reading.root(name)
    node = root.get("units") if root is not None else None
    if node is None or node.empty:
        return
    if node.items is None:
        reading.problems.append(node.problem("must be a mapping", "write for example `units: {length: mm, force: kN}`"))
        return
    good: dict[str, str] = {}
    for word, unit in node.items.items():
        if word not in FILE_UNITS:
            reading.problems.append(unit.key_problem("unknown kind of unit", near(word, FILE_UNITS)))
            continue
        try:
            factor(unit.text or "", FILE_UNITS[word])
            good[word] = unit.text or ""
        except UnitError as error:
            reading.problems.append(unit.problem(error.message, f"write for example `{word}: {_UNITS[word]}`"))
    reading.units[name] = good


def _clean(reading: Reading, name: str) -> None:
    """Problems any file can have: no mapping, empty values, bad or clashing ids."""
    root = reading.root(name)
    if root is None:
        return
    if root.items is None:
        reading.problems.append(root.problem("the file must hold `key: value` lines", ""))
        reading.documents[name] = replace(reading.documents[name], root=None, no_mapping=True)
        return
    collections = COLLECTIONS[name]
    for key, node in root.items.items():
        if node.empty and key not in collections:
            reading.problems.append(node.problem("has no value", "write one, or delete the key"))
        reading.problems += [
            below.problem("has no value", "write one, or delete the key")
            for below in _empties(node)
            if below is not node
        ]
        if key in collections and node.items is not None:
            reading.problems += _clashes(node)


def _empties(node: Node) -> Iterable[Node]:
    if node.empty:
        yield node
    for below in [*(node.items or {}).values(), *(node.parts or [])]:
        yield from _empties(below)


def _clashes(node: Node) -> Iterable[Problem]:
    seen: dict[str, tuple[str, Node]] = {}
    for id, entry in (node.items or {}).items():
        before = seen.setdefault(id.lower(), (id, entry))
        if before[1] is not entry:
            line = (before[1].key_place or (0, 0))[0]
            message = f"differs only in case from {before[0]!r} in line {line}"
            yield entry.key_problem(message, "choose another id: some systems would mix up their files")


def _whole(reading: Reading, name: str, model: type[Entry]) -> Any:
    """The entry of a file; faulty entries are reported and left out so that the rest can still be checked."""
    from pydantic import ValidationError

    root = reading.root(name)
    if root is None:
        return model()
    raw = root.raw()
    for key in COLLECTIONS[name]:
        if key in raw and raw[key] is None:
            del raw[key]
    if "units" in raw:
        raw["units"] = reading.units.get(name)  # its problems are told already
    context = {"units": reading.units.get(name, {})}
    for attempt in range(2):
        try:
            return model.model_validate(raw, context=context)
        except ValidationError as error:
            if attempt == 0:
                reading.problems += explain(error, root, model)
            for item in error.errors(include_url=False, include_input=False):
                _drop(raw, item["loc"], COLLECTIONS[name])
    return model()


def _drop(raw: dict[str, Any], location: tuple[Any, ...], collections: tuple[str, ...]) -> None:
    if not location:
        return
    top = location[0]
    if top in collections and len(location) > 1 and isinstance(raw.get(top), dict):
        raw[top].pop(location[1], None)
    else:
        raw.pop(top, None)


def _build_specimens(reading: Reading) -> None:
    root = reading.root(SPECIMENS)
    if root is None:
        document = reading.documents.get(SPECIMENS)
        if document is not None and not document.problems and not document.no_mapping:
            reading.problems.append(Problem("error", SPECIMENS, "holds no specimen", fix="write `specimens: {...}`"))
        return
    entries = root.get("specimens")
    too_high = _top_level(reading, root)
    if entries is None or not entries.items:
        fix = "write `specimens:` and the specimens by id below it"
        if entries is not None and entries.items is None and not entries.null:
            reading.problems.append(
                entries.problem("must be a mapping", "write each specimen below its id: `B1: {...}`")
            )
        elif not too_high:
            reading.problems.append((entries or root).problem("holds no specimen", fix))
        return
    reading.resolved, problems = resolve(entries)
    reading.problems += problems
    for id, node in reading.resolved.items():
        _build_specimen(reading, id, node)


def _top_level(reading: Reading, root: Node) -> bool:
    """Report unknown keys of specimens.yaml; True if specimens seem to stand at the top level."""
    too_high = False
    for key, node in (root.items or {}).items():
        if key not in ("units", "specimens"):
            misplaced = node.get("section") is not None or node.get("like") is not None
            too_high |= misplaced
            hint = "specimens stand one level deeper, below `specimens:`" if misplaced else ""
            fix = hint or near(key, ("specimens", "units"))
            reading.problems.append(node.key_problem("unknown key", fix))
    return too_high


def _build_specimen(reading: Reading, id: str, node: Node) -> None:
    from pydantic import ValidationError

    raw = node.raw()
    try:
        check_id(id)
    except UnitError as error:
        reading.problems.append(node.key_problem(error.message, error.fix))
        return
    if not isinstance(raw, dict):
        if not node.empty:
            reading.problems.append(node.problem("must be a mapping", "write `key: value` lines below it"))
        return
    own_id = node.get("id")
    if own_id is not None:
        reading.problems.append(own_id.key_problem("unknown key", "the id is the key above it"))
    context = {"units": reading.units.get(SPECIMENS, {})}
    try:
        reading.specimens[id] = Specimen.model_validate({**raw, "id": id}, context=context)
    except ValidationError as error:
        reading.problems += explain(error, node, Specimen)


def _tests(reading: Reading) -> dict[str, Test]:
    """Tests as listed, or one test per specimen with the logs that carry its id; hashes the logs."""
    if "tests.yaml" in reading.documents:
        tests = dict(reading.entries["tests.yaml"].tests)
    else:
        tests = {}
        place = reading.folder / "logs" if reading.folder is not None else None
        for id in reading.specimens:
            found = place.glob("*") if place is not None else ()
            logs = sorted(p.name for p in found if p.is_file() and p.stem == id)
            tests[id] = Test(specimen=id, spans_at_risk=1, logs=tuple(f"logs/{name}" for name in logs))
    for test in tests.values():
        for log in test.logs:
            hash_file(reading, log)
    return tests
