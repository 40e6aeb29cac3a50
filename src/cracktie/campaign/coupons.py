"""Values of materials.yaml that come from test results (`from: coupons/FILE`): computed on reading, never written back.

What is typed under `nominal`, `characteristic` or `guaranteed` stands; what is typed where the file gives a value too
is an error, because two truths would stand side by side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cracktie.campaign.coupon_bond import INTERFACE, SUBSTRATE, anchors, pull_offs
from cracktie.campaign.coupon_rows import CouponRow, read_rows
from cracktie.campaign.materials import (
    SHAPES,
    Bar,
    BarValues,
    Concrete,
    ConcreteValues,
    FrpSystem,
    FrpValues,
    StrengthTest,
)
from cracktie.errors import CracktieError, Problem
from cracktie.stats.fractile import FLOOR, GUARANTEED_TESTS, five_percent, guaranteed
from cracktie.units import Quantity

GOOD_FAILURE = "gauge"
"""FRP coupons count only where they fail between the grips (ASTM D7565/D7565M, scope)."""
SIZE_SLACK = 3.0
"""mm by which the sizes of a cylinder or cube may differ from those of a named shape; our own choice."""


@dataclass(frozen=True)
class Summary:
    """One property of one group of coupons, internal units.

    `u` is the standard uncertainty of the mean: u^2 = s^2/n + u_instrument^2, the scatter between specimens averaged
    over n, the instrument's (mean of those stated) not, because all specimens share machine and sensors. `s` is None
    for one specimen. `fractile` is the 5 % fractile (EN 1990 D.7, V_X unknown, not less than 0.10), `guaranteed` the
    mean less three standard deviations.
    """

    name: str
    unit: str
    n: int
    mean: float
    s: float | None
    u_instrument: float | None
    u: float | None
    fractile: float | None
    guaranteed: float | None
    group: str = ""

    @property
    def cv(self) -> float | None:
        """Coefficient of variation between specimens."""
        return None if self.s is None else self.s / self.mean

    @property
    def value(self) -> Quantity:
        """Mean with its standard uncertainty."""
        return Quantity(self.mean, self.u)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        return {**self.__dict__, "cv": self.cv}


@dataclass(frozen=True)
class CouponSet:
    """What one material's file gave: its summaries, specimens left out with the reason, and remarks."""

    file: str
    summaries: tuple[Summary, ...]
    left_out: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def summary(self, name: str, group: str = "") -> Summary | None:
        """One property of one group; None where the file does not give it."""
        return next((s for s in self.summaries if s.name == name and s.group == group), None)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        summaries = [s.to_dict() for s in self.summaries]
        return {"file": self.file, "summaries": summaries, "left_out": dict(self.left_out), "notes": list(self.notes)}


@dataclass
class Filled:
    """A material with its computed values, what they came from, the problems on the way, and keys given twice."""

    entry: Any
    coupons: CouponSet | None = None
    twice: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def fill(kind: str, entry: Any, folder: Path, use: Callable[[str], bool]) -> Filled:
    """A material of `kind` ('concretes', ...) with the values of its coupon file filled in.

    `use` notes a file that was read. Raises `FileTrouble` where a file cannot be opened.
    """
    from cracktie.campaign.coupon_logs import read_logs

    name = entry.source
    done = Filled(entry)
    if kind not in _FILL:
        done.problems.append(Problem("error", name, f"coupons are not read for {kind}", fix="type the values"))
        return done
    if name.lower().endswith((".yaml", ".yml")):
        rows, done.problems = read_logs(folder / name, name, kind, use)
    else:
        rows, done.problems = read_rows(folder / name, name, kind)
    if any(p.level == "error" for p in done.problems):
        return done
    left_out = {row.specimen: reason for row in rows if (reason := _reason(kind, row)) is not None}
    kept = [row for row in rows if row.specimen not in left_out]
    if not kept:
        done.problems.append(Problem("error", name, "no specimen counts: all are left out", fix="test more coupons"))
        return done
    collected = _Collected(name, kept, done.problems)
    updates = _FILL[kind](entry, collected)
    done.twice = _twice(entry, updates)
    done.entry = entry.model_copy(update={k: v for k, v in updates.items() if v is not None})
    done.coupons = CouponSet(name, tuple(collected.summaries), left_out, tuple(collected.notes))
    return done


def _reason(kind: str, row: CouponRow) -> str | None:
    if "excluded" in row.texts:
        return row.texts["excluded"]
    failure = row.texts.get("failure")
    if kind == "frp_systems" and failure is not None and failure != GOOD_FAILURE:
        return f"failed at the {failure}, not between the grips"
    return None


class _Collected:
    """Rows of one file on their way to summaries."""

    def __init__(self, file: str, rows: list[CouponRow], problems: list[Problem]):
        self.file, self.rows, self.problems = file, rows, problems
        self.summaries: list[Summary] = []
        self.notes: list[str] = []

    def one(self, row: CouponRow, value: Callable[[CouponRow], Quantity | None]) -> Quantity | None:
        """What `value` gives for a row; None where it gives nothing, or a problem."""
        try:
            return value(row)
        except CracktieError as error:
            self.problems.append(row.problem(str(error)))
            return None

    def summarise(
        self, name: str, unit: str, value: Callable[[CouponRow], Quantity | None], *,
        rows: Iterable[CouponRow] | None = None, group: str = "",
    ) -> Summary | None:  # fmt: skip
        """Summary of what `value` gives for the rows; None where it gives nothing."""
        found = [one for row in (self.rows if rows is None else rows) if (one := self.one(row, value)) is not None]
        if not found:
            return None
        made = summary(name, unit, found, group)
        self.summaries.append(made)
        return made


def summary(name: str, unit: str, values: Sequence[Quantity], group: str = "") -> Summary:
    """Mean, scatter, uncertainty and fractiles of one property."""
    n = len(values)
    mean = math.fsum(values) / n
    s = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)) if n > 1 else None
    stated = [v.u for v in values if v.u is not None]
    instrument = math.fsum(stated) / len(stated) if stated else None
    parts = [p for p in (None if s is None else s / math.sqrt(n), instrument) if p is not None]
    low = five_percent(mean, s, n) if s is not None and n >= 3 else None
    sure = guaranteed(mean, s) if s is not None else None
    return Summary(name, unit, n, mean, s, instrument, math.hypot(*parts) if parts else None, low, sure, group)


def _product(*factors: tuple[Quantity, int]) -> Quantity:
    """Product of quantities raised to powers, with first-order uncertainty of independent inputs."""
    value = math.prod(float(q) ** power for q, power in factors)
    relative = math.hypot(*(power * (q.u or 0.0) / float(q) for q, power in factors))
    return Quantity(value, value * relative if any(q.u is not None for q, _ in factors) else None)


def _times(q: Quantity, factor: float) -> Quantity:
    return Quantity(q * factor, None if q.u is None else q.u * factor)


def _concrete(entry: Concrete, c: _Collected) -> dict[str, Any]:
    groups: dict[tuple[float, str], list[CouponRow]] = {}
    for row in c.rows:
        if c.one(row, _f_c) is None:
            continue
        shape = row.texts.get("shape") or _shape(row)
        if shape not in SHAPES:
            told = f"possible: {', '.join(SHAPES)}"
            c.problems.append(row.problem(f"the shape {shape or ''!r} is not known", told))
        elif "age" not in row.values:
            c.problems.append(row.problem("the age is missing", "add a column age [d]"))
        else:
            groups.setdefault((float(row.values["age"]), shape), []).append(row)
    tests = []
    for (age, shape), rows in sorted(groups.items()):
        made = c.summarise("f_c", "MPa", _f_c, rows=rows, group=f"{shape}, {age:g} d")
        if made is not None:
            tests.append(StrengthTest(age=Quantity(age), f_c=made.value, n=made.n, shape=shape))
    E_c = c.summarise("E_c", "MPa", lambda r: r.values.get("E_c"))
    split = c.summarise("f_ct_split", "MPa", _split)
    found = {"E_c": E_c, "f_ct_split": split, "pull_off": pull_offs(c, SUBSTRATE, "the concrete")}
    values = {k: v.value for k, v in found.items() if v is not None}
    _ages(c, values)
    return {"strength": tuple(tests) or None, "measured": _over(ConcreteValues, entry.measured, values)}


def _ages(c: _Collected, values: Mapping[str, Any]) -> None:
    for name, key in (("E_c", "E_c"), ("f_ct_split", "split_force")):
        ages = {float(r.values["age"]) for r in c.rows if "age" in r.values and (name in r.values or key in r.values)}
        if name in values and len(ages) > 1:
            c.notes.append(f"{name}: ages {', '.join(f'{a:g}' for a in sorted(ages))} d are taken together")


def _f_c(row: CouponRow) -> Quantity | None:
    from cracktie.lab.coupons import slenderness_factor

    v = row.values
    if "f_c" in v:
        return v["f_c"]
    if "force" not in v:
        return None
    if "width" in v and "depth" in v:
        return _product((v["force"], 1), (v["width"], -1), (v["depth"], -1))
    if "diameter" not in v:
        raise CracktieError("the force needs a diameter, or width and depth, to become a strength")
    factor = slenderness_factor(v["length"] / v["diameter"]) if "length" in v else 1.0
    return _times(_product((v["force"], 1), (v["diameter"], -2)), 4.0 / math.pi * factor)


def _split(row: CouponRow) -> Quantity | None:
    v = row.values
    if "f_ct_split" in v or "split_force" not in v:
        return v.get("f_ct_split")
    if "diameter" not in v or "length" not in v:
        raise CracktieError("the splitting force needs diameter and length to become a strength")
    return _times(_product((v["split_force"], 1), (v["diameter"], -1), (v["length"], -1)), 2.0 / math.pi)


def _shape(row: CouponRow) -> str | None:
    """The named shape whose sizes a row has, within `SIZE_SLACK`."""
    v = row.values
    for shape in SHAPES:
        kind, _, sizes = shape.partition(" ")
        wanted = [float(s) for s in sizes.split("x") if s]
        names = ("diameter", "length") if kind == "cylinder" else ("width", "depth") if kind == "cube" else ()
        wanted = wanted * 2 if kind == "cube" else wanted
        if names and all(n in v and abs(v[n] - w) <= SIZE_SLACK for n, w in zip(names, wanted, strict=True)):
            return shape
    return None


def _bar(entry: Bar, c: _Collected) -> dict[str, Any]:
    def stress(name: str, force: str) -> Callable[[CouponRow], Quantity | None]:
        def of(row: CouponRow) -> Quantity | None:
            if name in row.values or force not in row.values:
                return row.values.get(name)
            return _product((row.values[force], 1), (_bar_area(entry, row), -1))

        return of

    found = {
        "f_y": c.summarise("f_y", "MPa", stress("f_y", "yield_force")),
        "f_u": c.summarise("f_u", "MPa", stress("f_u", "max_force")),
        "E_s": c.summarise("E_s", "MPa", lambda r: r.values.get("E_s")),
        "A_gt": c.summarise("A_gt", "-", lambda r: r.values.get("A_gt")),
    }
    return {"measured": _over(BarValues, entry.measured, {k: s.value for k, s in found.items() if s is not None})}


def _bar_area(entry: Bar, row: CouponRow) -> Quantity:
    if "area" in row.values:
        return row.values["area"]
    if "diameter" in row.values:
        return _times(_product((row.values["diameter"], 2)), math.pi / 4.0)
    if entry.area is not None:
        return Quantity(entry.area)
    if entry.diameter is not None:
        return Quantity(entry.diameter.area)
    raise CracktieError("the force needs an area: a column area or diameter, or the bar's nominal diameter")


def _frp(entry: FrpSystem, c: _Collected) -> dict[str, Any]:
    """Force and stiffness per width first; stresses only on the thickness of the system's stated convention."""
    p = c.summarise("force_per_width", "N/mm", _per_width("force_per_width", "f_fu", "max_force"))
    K = c.summarise("stiffness_per_width", "N/mm", _per_width("stiffness_per_width", "E_f", None))
    eps = c.summarise("eps_fu", "-", lambda r: r.values.get("eps_fu"))
    if p is None or K is None:
        fix = "give max_force and width (or force_per_width) and stiffness_per_width, or f_fu, E_f and thickness"
        c.problems.append(Problem("error", c.file, "force and stiffness per width are needed", fix=fix))
        return {}
    t = 1.0 / float(entry.thickness)
    text = f"stresses on {float(entry.thickness):g} mm, the {entry.convention} thickness of materials.yaml"
    c.notes.append(f"{text}; only forces per width compare between conventions")
    strain = None if eps is None else eps.value
    E_f = _times(K.value, t)
    updates: dict[str, Any] = {"mean": _frp_values(E_f, _times(p.value, t), strain)}
    if entry.characteristic is None and p.fractile is not None:
        updates["characteristic"] = _frp_values(E_f, Quantity(p.fractile * t), None)
        c.notes.append(f"characteristic strength: 5 % fractile of EN 1990 D.7, V_X not less than {FLOOR:g}, normal")
    if p.guaranteed is not None and entry.guaranteed is None:
        if p.n >= GUARANTEED_TESTS:
            updates["guaranteed"] = _frp_values(E_f, Quantity(p.guaranteed * t), None)
        else:
            c.notes.append(f"no guaranteed value is taken from {p.n} coupons ({GUARANTEED_TESTS} are asked for)")
    return updates


def _per_width(direct: str, stress: str, force: str | None) -> Callable[[CouponRow], Quantity | None]:
    def of(row: CouponRow) -> Quantity | None:
        v = row.values
        if direct in v:
            return v[direct]
        if force is not None and force in v:
            if "width" not in v:
                raise CracktieError(f"{force} needs a width to become a force per width")
            return _product((v[force], 1), (v["width"], -1))
        if stress not in v:
            return None
        if "thickness" not in v:
            raise CracktieError(f"{stress} means nothing without the thickness it was computed on (add thickness [mm])")
        return _product((v[stress], 1), (v["thickness"], 1))

    return of


def _frp_values(E_f: Quantity, f_fu: Quantity, eps_fu: Quantity | None) -> FrpValues:
    return FrpValues(E_f=E_f, f_fu=f_fu, eps_fu=eps_fu)


def _adhesive(entry: Any, c: _Collected) -> dict[str, Any]:
    found = {name: c.summarise(name, "MPa", lambda r, name=name: r.values.get(name)) for name in ("f_t", "E_a")}  # type: ignore[misc]
    found["pull_off"] = pull_offs(c, INTERFACE, "the adhesive and its bond")
    return {k: s.value for k, s in found.items() if s is not None}


def _over(model: type[Any], typed: Any, values: Mapping[str, Any]) -> Any:
    """Typed values with the computed ones over them; None where nothing was computed."""
    if not values:
        return None
    return model(**values) if typed is None else typed.model_copy(update=dict(values))


def _twice(entry: Any, updates: Mapping[str, Any]) -> list[str]:
    """Dotted keys that are typed in materials.yaml although the file gives them."""
    typed = []
    for key, new in updates.items():
        old = getattr(entry, key, None)
        if new is None or not old:
            continue
        fields = type(new).model_fields if hasattr(new, "model_fields_set") else ()
        changed = [k for k in fields if getattr(old, k) is not None and getattr(new, k) is not getattr(old, k)]
        typed += [f"{key}.{k}" for k in changed] if fields else [key]
    return typed


_FILL: Mapping[str, Callable[[Any, _Collected], dict[str, Any]]] = {
    "concretes": _concrete,
    "bars": _bar,
    "frp_systems": _frp,
    "adhesives": _adhesive,
    "anchors_tested": anchors,
}
