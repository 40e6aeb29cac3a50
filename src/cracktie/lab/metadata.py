"""What a log's own words say against its readings: typed dates, sizes and mass, a peak that the controller held."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from cracktie.lab.cells import number, stamp
from cracktie.lab.coupons import density
from cracktie.lab.plausible import kind_of
from cracktie.lab.report import Block

_DATE_WORDS = re.compile(r"(?<![a-zà-ÿ])(date|datum|day|tag|fecha)(?![a-zà-ÿ])", re.I)
_MASS = re.compile(r"^(mass|masse|gewicht|weight)\b", re.I)
_DIAMETER = re.compile(r"^(diameter|durchmesser|diamètre)\b", re.I)
_HEIGHT = re.compile(r"^(height|höhe|hauteur|länge|length)\b", re.I)
_UNIT = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]\s*$")
_SUMMARY_ROWS = 5
NO_CONCRETE = (1200.0, 3500.0)
"""Densities (kg/m3) beyond those of light and heavy concrete; limits of our own."""


def doubts(preamble: Sequence[tuple[str, str]], blocks: Sequence[Block], decimal: str) -> list[str]:
    """Sentences on what does not go together."""
    return [*held_peaks(blocks), *typed_dates(preamble, blocks), *typed_density(preamble, decimal)]


def held_peaks(blocks: Sequence[Block]) -> list[str]:
    """Short blocks whose extreme of a load lies beyond that of the log itself: the controller saw more than the log."""
    if len(blocks) < 2:
        return []
    long = max(blocks, key=lambda b: b.frame.height)
    out = []
    for block in blocks:
        if block is long or block.frame.height > _SUMMARY_ROWS:
            continue
        for name in (n for n in block.columns if n in long.columns and kind_of(n, block.units.get(n, "")) == "load"):
            held, logged = _extreme(block.values(name)), _extreme(long.values(name))
            unit = long.units.get(name, "")
            if held and logged and 1.0 < held / logged < 1.1:
                out.append(
                    f"{name!r} reaches {logged:.6g} {unit} in the log and {held:.6g} {unit} in block {block.name!r}, "
                    f"{held / logged - 1:.1%} more: a peak held by the controller belongs into tests.yaml "
                    f"(peak_hold: {abs(held):.6g} {unit})"
                )
    return out


def _extreme(values: Any) -> float:
    finite = values[np.isfinite(values)]
    return float(finite[np.argmax(np.abs(finite))]) if finite.size else 0.0


def typed_dates(preamble: Sequence[tuple[str, str]], blocks: Sequence[Block]) -> list[str]:
    """Dates in the head that are not the day of the first reading."""
    origins = [o for b in sorted(blocks, key=lambda b: -b.frame.height) for o in b.origins.values()]
    if not origins:
        return []
    day = origins[0].date()
    out = []
    for key, value in preamble:
        first = value.split(" ")[0].rstrip(",")
        found = stamp(first) if _DATE_WORDS.search(key) else None
        if found is None or found.year is None:
            continue
        meant = [_day(found.day(o)) for o in ("dmy", "mdy", "ymd") if found.fits(o)]
        if day not in meant:
            out.append(f"{key} in the head is {first}, the readings are of {day.isoformat()}: which is right?")
    return list(dict.fromkeys(out))


def day_against(stated: date, origin: datetime) -> str:
    """A sentence where readings are of another day than the one stated for the test; '' where they agree."""
    day = origin.date()
    if day == stated:
        return ""
    swapped = day.day <= 12 and day == date(stated.year, stated.day, stated.month) if stated.day <= 12 else False
    hint = ": day and month are swapped in one of the two" if swapped else ""
    return f"the readings are of {day.isoformat()}, the test of {stated.isoformat()}{hint}"


def _day(number_: int) -> date:
    return date(1970, 1, 1) + timedelta(days=number_)


def typed_density(preamble: Sequence[tuple[str, str]], decimal: str) -> list[str]:
    """Mass, diameter and height of a cylinder in the head that no concrete has."""
    found: Mapping[str, float | None] = {
        what: _value(preamble, form, decimal) for what, form in (("m", _MASS), ("d", _DIAMETER), ("h", _HEIGHT))
    }
    m, d, h = found["m"], found["d"], found["h"]
    if not (m and d and h):
        return []
    made, _ = density(m, np.pi * d**2 / 4.0, h)
    low, high = NO_CONCRETE
    if low <= made <= high:
        return []
    return [
        f"mass, diameter and height in the head ({m:g} g, {d:g} mm, {h:g} mm) give {made:.0f} kg/m3, which no concrete "
        "has: one of them is typed wrong"
    ]


def _value(preamble: Sequence[tuple[str, str]], form: re.Pattern[str], decimal: str) -> float | None:
    """The first number of a key of that form, in g or mm (the units a key without one is taken to have)."""
    for key, value in preamble:
        if form.match(key.strip()):
            size = number(value.split(" ")[0], decimal)
            unit = _UNIT.search(key)
            scale = {"kg": 1e3, "cm": 10.0, "m": 1e3}.get(unit[1], 1.0) if unit else 1.0
            return None if size is None else size * scale
    return None
