"""Coupons from raw logs of testing machines: a small YAML file says which log is which specimen, and its sizes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import Field, model_validator

from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.explain import explain
from cracktie.campaign.fields import Age, Area, Entry, Id, Length, Ratio, Seconds, Size, Stress, words
from cracktie.campaign.materials import SHAPES
from cracktie.campaign.positions import Node, load
from cracktie.errors import CracktieError, InputRefused, Problem
from cracktie.units import Quantity, UnitError, factor

if TYPE_CHECKING:
    from cracktie.lab.report import Block, LogFile

WHAT = {
    "cylinder strength": "concretes",
    "cube strength": "concretes",
    "splitting strength": "concretes",
    "cylinder modulus": "concretes",
    "bar tension": "bars",
    "frp tension": "frp_systems",
    "anchor pull-out": "anchors_tested",
    "pull-off of concrete": "concretes",
    "pull-off of adhesive": "adhesives",
}
"""What a file of raw logs may hold, and the kind of material it belongs to."""


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
    area: Area | None = None
    base_length: Size | None = None
    lower_stress: Stress | None = None
    upper_stress: Stress | None = None
    start: Seconds | None = None
    age: Age | None = None
    shape: words(*SHAPES) | None = None  # type: ignore[valid-type]
    strain_to_failure: bool | None = None
    mode: str | None = None
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
            rows.append(_specimen(listed.what, id, settings, path.parent / settings["log"], name, node))
        except InputRefused as refusal:
            problems += refusal.problems
        except CracktieError as error:
            problems.append(node.problem(str(error)))
    return rows, problems


def _specimen(what: str, id: str, settings: Mapping[str, Any], path: Path, name: str, node: Node) -> CouponRow:
    from cracktie.lab.read import read_log

    texts = {"log": settings["log"]}
    if settings["excluded"]:
        texts["excluded"] = settings["excluded"]
    reading = {k: settings[k] for k in ("delimiter", "decimal", "encoding", "date_order")}
    log = read_log(path, **reading)
    block = max(log.blocks, key=lambda b: b.frame.height)
    values = _MADE[what](settings, log, block)
    if settings["age"] is not None:
        values["age"] = settings["age"]
    for name in ("shape", "mode"):
        if settings[name] is not None:
            texts[name] = settings[name]
    line = (node.key_place or (node.line, 1))[0]
    return CouponRow(name, line, id, values, texts)


def _column(settings: Mapping[str, Any], block: Block, column: str, unit: str | None, internal: str) -> Any:
    """Readings of a column in an internal unit; the unit is the file's own, or the stated one."""
    if column not in block.columns:
        raise UnitError(f"{settings['log']} has no column {column!r}", f"it has {', '.join(block.columns)}")
    given = unit or block.units.get(column)
    if not given:
        raise UnitError(f"{settings['log']}: column {column!r} has no unit", "state it, for example `force_unit: kN`")
    return block.values(column) * factor(given, internal)


def _force(settings: Mapping[str, Any], log: LogFile, block: Block) -> tuple[Any, float | None]:
    """Force record in N, and the peak that the controller kept (N) where the log has one."""
    from cracktie.lab.coupons import controller_peak

    name = settings["force"]
    force = _column(settings, block, name, settings["force_unit"], "N")
    kept = controller_peak(log, name)
    unit = settings["force_unit"] or block.units.get(name) or "N"
    return force, None if kept is None else kept[0] * factor(unit, "N")


def _need(settings: Mapping[str, Any], *names: str) -> list[Any]:
    missing = [n for n in names if settings[n] is None]
    if missing:
        raise UnitError(
            f"{', '.join(missing)} is missing", f"state it for all specimens or for this one ({missing[0]}: ...)"
        )
    return [settings[n] for n in names]


def _or(value: Any, default: float) -> float:
    return default if value is None else float(value)


def _cylinder_strength(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    from cracktie.lab.coupons import cylinder_strength

    force, kept = _force(settings, log, block)
    (diameter,) = _need(settings, "diameter")
    u = {"u_force": _or(settings["u_force"], 0.01), "u_diameter": _or(settings["u_size"], 0.0)}
    found = cylinder_strength(force, diameter=diameter, length=settings["length"], peak_hold=kept, **u)
    return {"f_c": Quantity(found.value, found.u)}


def _cube_strength(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    from cracktie.lab.coupons import cube_strength

    force, kept = _force(settings, log, block)
    width, depth = _need(settings, "width", "depth")
    u = {"u_force": _or(settings["u_force"], 0.01), "u_side": _or(settings["u_size"], 0.0)}
    found = cube_strength(force, width=width, depth=depth, peak_hold=kept, **u)
    return {"f_c": Quantity(found.value, found.u)}


def _splitting(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    from cracktie.lab.coupons import splitting_strength

    force, kept = _force(settings, log, block)
    diameter, length = _need(settings, "diameter", "length")
    u = {"u_force": _or(settings["u_force"], 0.01), "u_size": _or(settings["u_size"], 0.0)}
    found = splitting_strength(force, diameter=diameter, length=length, peak_hold=kept, **u)
    return {"f_ct_split": Quantity(found.value, found.u)}


def _modulus(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    from cracktie.lab.modulus import cylinder_modulus

    names = ("transducers", "diameter", "base_length", "lower_stress", "upper_stress")
    transducers, diameter, base, lower, upper = _need(settings, *names)
    force, _ = _force(settings, log, block)
    time = settings["time"] or block.time
    if time is None:
        raise UnitError(f"{settings['log']} has no time column", "name it (time: ...)")
    lengths = {n: _column(settings, block, n, settings["transducer_unit"], "mm") for n in transducers}
    found = cylinder_modulus(
        block.values(time), force, lengths, diameter=diameter, base_length=base, lower_stress=lower,
        upper_stress=upper, start=settings["start"], u_force=_or(settings["u_force"], 0.01),
        u_diameter=_or(settings["u_size"], 0.0), u_base_length=_or(settings["u_base_length"], 0.0),
        u_transducer=_or(settings["u_strain"], 0.01),
    )  # fmt: skip
    return {"E_c": Quantity(found.value, found.u)}


def _bar(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    from cracktie.lab.tension import bar_coupon

    force, _ = _force(settings, log, block)
    (column,) = _need(settings, "strain")
    strain = _column(settings, block, column, settings["strain_unit"], "-")
    u = _or(settings["u_force"], 0.01)
    area = settings["area"]
    if area is None:
        (diameter,) = _need(settings, "diameter")
        area = math.pi * float(diameter) ** 2 / 4.0
        u = math.hypot(u, 2.0 * _or(settings["u_size"], 0.0) / float(diameter))
    found = bar_coupon(strain, force / float(area))
    f_y = found.proof_stress if found.upper_yield is None else found.upper_yield
    spread = (u**2 + _or(settings["u_strain"], 0.01) ** 2) ** 0.5
    return {
        "f_y": Quantity(f_y, u * f_y),
        "f_u": Quantity(found.strength, u * found.strength),
        "E_s": Quantity(found.modulus.slope, (spread**2 * found.modulus.slope**2 + found.modulus.u**2) ** 0.5),
        "A_gt": Quantity(found.strain_at_max, _or(settings["u_strain"], 0.01) * found.strain_at_max),
    }


def _frp(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    from cracktie.lab.tension import frp_coupon

    force, _ = _force(settings, log, block)
    column, width = _need(settings, "strain", "width")
    strain = _column(settings, block, column, settings["strain_unit"], "-")
    found = frp_coupon(strain, force, width=width, strain_to_failure=bool(settings["strain_to_failure"]))
    u_width = _or(settings["u_size"], 0.0) / float(width)
    u_p = (_or(settings["u_force"], 0.01) ** 2 + u_width**2) ** 0.5
    u_K = (u_p**2 + _or(settings["u_strain"], 0.01) ** 2) ** 0.5
    values = {
        "force_per_width": Quantity(found.force_per_width, u_p * found.force_per_width),
        "stiffness_per_width": Quantity(found.stiffness_per_width, u_K * found.stiffness_per_width),
    }
    if found.measured:
        values["eps_fu"] = Quantity(found.ultimate_strain, _or(settings["u_strain"], 0.01) * found.ultimate_strain)
    return values


def _largest_force(settings: Mapping[str, Any], log: LogFile, block: Block) -> Quantity:
    """Largest unfiltered force in N, or what the controller kept where that is larger."""
    import numpy as np

    force, kept = _force(settings, log, block)
    if not np.isfinite(force).any() or not (peak := max(float(np.nanmax(force)), kept or 0.0)) > 0.0:
        raise UnitError(f"{settings['log']}: the force {settings['force']!r} never rises above 0", "check its sign")
    return Quantity(peak, _or(settings["u_force"], 0.01) * peak)


def _pull_out(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    return {"force": _largest_force(settings, log, block)}


def _pull_off(settings: Mapping[str, Any], log: LogFile, block: Block) -> dict[str, Quantity]:
    (diameter,) = _need(settings, "diameter")
    size = Quantity(float(diameter), _or(settings["u_size"], 0.0) or None)
    return {"pull_off_force": _largest_force(settings, log, block), "diameter": size}


_MADE: Mapping[str, Callable[[Mapping[str, Any], LogFile, Block], dict[str, Quantity]]] = {
    "cylinder strength": _cylinder_strength,
    "cube strength": _cube_strength,
    "splitting strength": _splitting,
    "cylinder modulus": _modulus,
    "bar tension": _bar,
    "frp tension": _frp,
    "anchor pull-out": _pull_out,
    "pull-off of concrete": _pull_off,
    "pull-off of adhesive": _pull_off,
}
