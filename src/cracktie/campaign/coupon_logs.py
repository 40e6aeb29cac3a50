"""Coupons from raw logs of testing machines: a small YAML file says which log is which specimen, and its sizes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pydantic import Field, model_validator

from cracktie.campaign.coupon_concrete import LOADINGS
from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.explain import explain
from cracktie.campaign.fields import (
    Age,
    Area,
    Date,
    Entry,
    Id,
    Length,
    Mass,
    Ratio,
    Seconds,
    Size,
    Strain,
    Stress,
    words,
)
from cracktie.campaign.materials import SHAPES
from cracktie.campaign.positions import Node, load
from cracktie.errors import CracktieError, InputRefused, Problem

WHAT = {
    "cylinder strength": "concretes",
    "cube strength": "concretes",
    "splitting strength": "concretes",
    "flexural strength": "concretes",
    "cylinder modulus": "concretes",
    "bar tension": "bars",
    "frp tension": "frp_systems",
    "adhesive tension": "adhesives",
    "anchor pull-out": "anchors_tested",
    "pull-off of concrete": "concretes",
    "pull-off of adhesive": "adhesives",
}
"""What a file of raw logs may hold, and the kind of material it belongs to."""


STANDARDS = ("EN 12390-13 A", "EN 12390-13 B", "ASTM C469")


class Settings(Entry):
    """Columns, sizes and how the logs are read; given once for all specimens, or for one of them."""

    force: str | None = None
    force_unit: str | None = None
    strain: str | None = None
    strain_unit: str | None = None
    transducers: tuple[str, ...] | None = None
    transducer_unit: str | None = None
    time: str | None = None
    diameter: Size | None = None
    length: Size | None = None
    width: Size | None = None
    depth: Size | None = None
    thickness: Size | None = None
    area: Area | None = None
    mass: Mass | None = None
    span: Size | None = None
    loading: words(*LOADINGS) | None = None  # type: ignore[valid-type]
    base_length: Size | None = None
    standard: words(*STANDARDS) | None = None  # type: ignore[valid-type]
    strength: Stress | None = None
    lower_stress: Stress | None = None
    upper_stress: Stress | None = None
    lower_strain: Strain | None = None
    upper_strain: Strain | None = None
    start: Seconds | None = None
    age: Age | None = None
    tested: Date | None = None
    shape: words(*SHAPES) | None = None  # type: ignore[valid-type]
    strain_to_failure: bool | None = None
    mode: str | None = None
    failure: str | None = None
    f_c: Stress | None = None
    u_force: Ratio | None = None
    u_size: Length | None = None
    u_base_length: Length | None = None
    u_strain: Ratio | None = None
    encoding: str | None = None
    decimal: words(".", ",") | None = None  # type: ignore[valid-type]
    delimiter: str | None = None
    date_order: words("dmy", "mdy") | None = None  # type: ignore[valid-type]


class OneLog(Settings):
    """One specimen: its log (a path from the folder of this file), and what differs from the others."""

    log: str
    excluded: str | None = None


class CouponLogs(Settings):
    """The whole of a YAML file in coupons/."""

    what: words(*WHAT)  # type: ignore[valid-type]
    specimens: dict[Id, OneLog] = Field(min_length=1)

    @model_validator(mode="after")
    def _named(self) -> CouponLogs:
        for id, one in self.specimens.items():
            if one.force is None and self.force is None:
                raise ValueError(f"specimen {id}: name the column of the force (force: ...)")
        return self

    def of(self, id: str) -> dict[str, Any]:
        """Settings of one specimen: its own before those of all."""
        own = {k: getattr(self.specimens[id], k) for k in OneLog.model_fields}
        return {k: getattr(self, k, None) if v is None else v for k, v in own.items()}


def read_logs(path: Path, name: str, kind: str, use: Callable[[str], bool]) -> tuple[list[CouponRow], list[Problem]]:
    """Rows of a YAML file that lists raw logs, and what is wrong; `use` notes a file that was read (false: not there).

    Raises `FileTrouble` where a file cannot be opened.
    """
    from pydantic import ValidationError

    document = load(path, name)
    if document.root is None:
        return [], list(document.problems) or [Problem("error", name, "holds no coupon", fix="write `what: ...`")]
    if document.root.items is None:
        return [], [document.root.problem("the file must hold `key: value` lines")]
    try:
        listed = CouponLogs.model_validate(document.root.raw(), context={"units": {}})
    except ValidationError as error:
        return [], [*document.problems, *explain(error, document.root, CouponLogs)]
    problems = list(document.problems)
    if WHAT[listed.what] != kind:
        at = document.root.get("what") or document.root
        return [], [*problems, at.problem(f"belongs to {WHAT[listed.what]}, not to {kind}", "name another file")]
    rows = []
    for id in listed.specimens:
        node = document.root.get("specimens", id) or document.root
        settings = listed.of(id)
        log = f"{name.rsplit('/', 1)[0]}/{settings['log']}" if "/" in name else settings["log"]
        if not use(log):
            problems.append((node.get("log") or node).problem("there is no such file in the campaign folder"))
            continue
        try:
            row, warnings = _specimen(listed.what, id, settings, path.parent / settings["log"], name, node)
            rows.append(row)
            problems += [Problem("warning", name, f"{id}: {told}", row.line) for told in warnings]
        except InputRefused as refusal:
            problems += refusal.problems
        except CracktieError as error:
            problems.append(node.problem(str(error)))
    return rows, problems


def _specimen(
    what: str, id: str, settings: Mapping[str, Any], path: Path, name: str, node: Node
) -> tuple[CouponRow, list[str]]:
    """Row of one specimen and what deserves a second look; an excluded one is not reduced."""
    from cracktie.campaign.coupon_reduce import reduce_log
    from cracktie.lab.read import read_log

    line = (node.key_place or (node.line, 1))[0]
    texts = {"log": settings["log"]}
    if settings["excluded"]:
        return CouponRow(name, line, id, {}, {**texts, "excluded": settings["excluded"]}), []
    reading = {k: settings[k] for k in ("delimiter", "decimal", "encoding", "date_order")}
    made = reduce_log(what, settings, read_log(path, **reading))
    for key in ("age", "mass", "f_c") if what == "anchor pull-out" else ("age", "mass"):
        if settings[key] is not None:
            made.values.setdefault(key, settings[key])
    for key in ("shape", "mode", "failure", "tested", "loading"):
        if settings[key] is not None:
            texts[key] = settings[key]
    row = CouponRow(name, line, id, made.values, {**texts, **made.texts}, tuple(made.notes), made.curve)
    return row, made.warnings
