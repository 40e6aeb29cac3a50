"""Values of materials.yaml that come from test results (`from: coupons/FILE`): computed on reading, never written back.

What is typed under `nominal`, `characteristic` or `guaranteed` stands; what is typed where the file gives a value too
is an error, because two truths would stand side by side.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cracktie.campaign.coupon_bars import bar_values
from cracktie.campaign.coupon_bond import adhesive_values, anchors
from cracktie.campaign.coupon_concrete import concrete_values
from cracktie.campaign.coupon_frp import failure_place, frp_values
from cracktie.campaign.coupon_rows import CouponRow, read_rows
from cracktie.campaign.coupon_summary import Collected, CouponSet, Summary, summary
from cracktie.campaign.materials import BarValues, ConcreteValues
from cracktie.errors import CracktieError, Problem

__all__ = ["CouponSet", "Filled", "Summary", "fill", "summary"]


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
    from pydantic import ValidationError

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
    if _refused(done.problems):
        return done
    left_out = {row.specimen: reason for row in rows if (reason := _reason(kind, row, done.problems)) is not None}
    kept = [row for row in rows if row.specimen not in left_out]
    if not kept:
        done.problems.append(Problem("error", name, "no specimen counts: all are left out", fix="test more coupons"))
        return done
    collected = Collected(name, kept, done.problems)
    try:
        updates = _FILL[kind](entry, collected)
        if kind in _MEASURED and "measured" in updates:
            updates["measured"] = _over(_MEASURED[kind], entry.measured, updates["measured"])
    except ValidationError as error:  # the schema refuses a value although the single results passed
        told = error.errors()[0]["msg"].removeprefix("Value error, ")
        done.problems.append(Problem("error", name, told, fix="look for a slip of a unit, a size or a column"))
        return done
    if _refused(done.problems):
        return done
    if not any(updates.values()) and not collected.notes:
        told = "gives no value for this material"
        done.problems.append(Problem("error", name, told, fix="add a column of results, with its unit in the header"))
        return done
    done.twice = _twice(entry, updates)
    done.entry = entry.model_copy(update={k: v for k, v in updates.items() if v is not None})
    notes = [*collected.notes, *(f"{row.specimen}: {note}" for row in kept for note in row.notes)]
    curves = {row.specimen: row.curve for row in kept if row.curve is not None}
    done.coupons = CouponSet(name, tuple(collected.summaries), left_out, tuple(dict.fromkeys(notes)), curves)
    return done


def _refused(problems: list[Problem]) -> bool:
    return any(p.level == "error" for p in problems)


def _reason(kind: str, row: CouponRow, problems: list[Problem]) -> str | None:
    """Why a specimen does not count; None where it does."""
    if "excluded" in row.texts:
        return row.texts["excluded"]
    if kind != "frp_systems" or "failure" not in row.texts:
        return None
    try:
        place = failure_place(row.texts["failure"])
    except CracktieError as error:
        problems.append(row.problem(str(error)))
        return None
    return None if place == "gauge" else f"failed {place}, not between the grips"


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
        if new is None or not old or key not in entry.model_fields_set:
            continue
        fields = type(new).model_fields if hasattr(new, "model_fields_set") else ()
        changed = [k for k in fields if getattr(old, k) is not None and getattr(new, k) is not getattr(old, k)]
        typed += [f"{key}.{k}" for k in changed] if fields else [key]
    return typed


_FILL: Mapping[str, Callable[[Any, Collected], dict[str, Any]]] = {
    "concretes": concrete_values,
    "bars": bar_values,
    "frp_systems": frp_values,
    "adhesives": adhesive_values,
    "anchors_tested": anchors,
}
_MEASURED: Mapping[str, type[Any]] = {"concretes": ConcreteValues, "bars": BarValues}
