"""Field types of campaign files: quantities, lists of positions, bar groups, ids.

A text is converted by `cracktie.units`. Validation context: `units` (a file's own units for bare numbers, by word
such as 'length'); without a context (objects built in Python) bare numbers are in internal units.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, PlainValidator, ValidationInfo, WithJsonSchema

from cracktie.units import EXAMPLES, Quantity, UnitError, parse

_WORD = {"mm": "length", "N": "force", "MPa": "stress", "-": "strain", "deg": "angle"}
_ID = re.compile(r"^[A-Za-z0-9_.-]+$")
_DEVICES = {"con", "prn", "aux", "nul", *(f"{p}{n}" for p in ("com", "lpt") for n in range(1, 10))}


@dataclass(frozen=True)
class Internal:
    """Marks a field's annotation with its internal unit and an example of what a file writes."""

    unit: str
    example: str


class Entry(BaseModel):
    """Base of every entry of a campaign file: unknown keys are errors, instances are frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


def _bare(internal: str, word: str | None, info: ValidationInfo) -> str | None:
    if info.context is None:
        return internal
    units = info.context.get("units") or {}
    return units.get(word or _WORD.get(internal, ""))


MODULUS = "230 GPa"
"""What messages suggest for a modulus of elasticity; other stresses are written in MPa."""


def quantity(internal: str, word: str | None = None, *, low: float | None = None, strict: bool = False) -> Any:
    """Annotation of a float in `internal` units read from text; `low` is the least value (excluded if `strict`)."""

    example = MODULUS if word == "modulus" else EXAMPLES.get(internal, f"1 {internal}")

    def convert(value: Any, info: ValidationInfo) -> Quantity:
        if isinstance(value, Quantity):
            found = value
        else:
            found = parse(value, internal, bare=_bare(internal, word, info), example=example)
        _bound(found, low, strict, value)
        return found

    schema = {"type": ["string", "number"], "description": "number with a unit", "examples": [example]}
    return Annotated[Quantity, PlainValidator(convert), WithJsonSchema(schema), Internal(internal, example)]


def _bound(found: float, low: float | None, strict: bool, given: Any) -> None:
    if not math.isfinite(found):
        raise UnitError("must be a finite number", f"given {given}")
    if low is None:
        return
    if found < low or (strict and found <= low):
        need = "greater than" if strict else "at least"
        raise UnitError(f"must be {need} {low:g}", f"given {given}")


Length = quantity("mm", low=0.0)
Size = quantity("mm", low=0.0, strict=True)
Coordinate = quantity("mm")
Area = quantity("mm2", low=0.0, strict=True)
Force = quantity("N")
Stress = quantity("MPa", low=0.0, strict=True)
Modulus = quantity("MPa", "modulus", low=0.0, strict=True)
Strain = quantity("-", low=0.0, strict=True)
Ratio = quantity("-", "ratio", low=0.0)
Angle = quantity("deg")
Age = quantity("d", low=0.0)
Seconds = quantity("s")
MassPerArea = quantity("g/m2", low=0.0, strict=True)
LineLoad = quantity("N/mm", low=0.0)
Temperature = quantity("degC")
Mass = quantity("g", low=0.0)
Density = quantity("N/mm3", low=0.0, strict=True)
Resistance = quantity("ohm", low=0.0, strict=True)
Voltage = quantity("V", low=0.0, strict=True)
TemperatureChange = quantity("K", low=0.0)
Frequency = quantity("Hz", low=0.0, strict=True)
SignedRatio = quantity("-", "ratio")
SignedStrain = quantity("-")


def number_text(value: float) -> str:
    """Shortest usual text of a float that reads back as the same float."""
    short = f"{value:.15g}"
    return short if float(short) == value else repr(float(value))


_STEPS = re.compile(r"^first\s+(?P<first>.+?),\s*(?P<count>\d+)\s*@\s*(?P<step>.+)$")


def _texts(value: Any) -> Iterable[Any]:
    return value if isinstance(value, (list, tuple)) else [value]


def read_lengths(value: Any, bare: str | None) -> tuple[float, ...]:
    """Lengths in mm from '50, 150, 250 mm', 'first 75 mm, 8 @ 120 mm', or a list of such texts."""
    found: list[float] = []
    for text in _texts(value):
        steps = _STEPS.match(str(text).strip())
        if steps:
            first, step = parse(steps["first"], "mm", bare=bare), parse(steps["step"], "mm", bare=bare)
            if len(steps["count"]) > 4:
                raise UnitError(f"{steps['count']} positions are too many", "write at most 9999")
            found += [first + i * step for i in range(int(steps["count"]))]
            continue
        parts = [p.strip() for p in str(text).split(",") if p.strip()]
        unit = re.sub(r"^[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*", "", parts[-1]) if parts else ""
        for part in parts:
            own = re.sub(r"^[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*", "", part)
            found.append(float(parse(part if own or not unit else f"{part} {unit}", "mm", bare=bare)))
    if not found:
        raise UnitError("no position given", "write for example '50, 150, 250 mm' or 'first 75 mm, 8 @ 120 mm'")
    for number in found:
        _bound(number, None, False, value)
    return tuple(found)


def _positions(value: Any, info: ValidationInfo) -> tuple[float, ...]:
    return read_lengths(value, _bare("mm", None, info))


Positions = Annotated[
    tuple[float, ...],
    PlainValidator(_positions),
    WithJsonSchema({"type": ["string", "array"], "items": {}, "examples": ["50, 150, 250 mm"]}),
    Internal("mm", "50, 150, 250 mm"),
]


@dataclass(frozen=True)
class BarGroup:
    """`count` equal bars of `diameter` mm and `area` mm2 each; `str` gives what a file may hold."""

    count: int
    diameter: float
    area: float

    def __str__(self) -> str:
        size = next((n for n in _US_AREA if read_bar_size(f"No. {n}") == (self.diameter, self.area)), None)
        return f"{self.count} x " + (f"{number_text(self.diameter)} mm" if size is None else f"No. {size}")

    @property
    def total(self) -> float:
        """Area of the group, mm2."""
        return self.count * self.area


_GROUP = re.compile(r"^\s*(\d+)\s*x\s*(.+?)\s*$")
_US_SIZE = re.compile(r"^No\.\s*(\d{1,3})$", re.IGNORECASE)
_US_AREA = {3: 0.11, 4: 0.20, 5: 0.31, 6: 0.44, 7: 0.60, 8: 0.79, 9: 1.00, 10: 1.27, 11: 1.56, 14: 2.25, 18: 4.00}
"""Nominal areas of US bar sizes in square inches (ASTM A615/A615M, table of nominal dimensions; from memory)."""
_US_DIAMETER = {9: 1.128, 10: 1.270, 11: 1.410, 14: 1.693, 18: 2.257}


def read_bar_size(text: str) -> tuple[float, float]:
    """Diameter in mm and nominal area in mm2 of '20 mm' or 'No. 6'."""
    us = _US_SIZE.match(text.strip())
    if us:
        size = int(us[1])
        if size not in _US_AREA:
            raise UnitError(f"no bar size No. {size}", f"sizes: {', '.join(map(str, _US_AREA))}")
        return _US_DIAMETER.get(size, size / 8) * 25.4, _US_AREA[size] * 645.16
    diameter = float(parse(text, "mm"))
    if not 0 < diameter < math.inf:
        raise UnitError("a bar diameter must be greater than 0", "write for example '20 mm'")
    return diameter, 3.141592653589793 * diameter**2 / 4


def _bars(value: Any) -> BarGroup:
    if isinstance(value, BarGroup):
        return value
    match = _GROUP.match(str(value))
    if not match or len(match[1]) > 3 or int(match[1]) < 1:
        raise UnitError("not a number of bars and their size", "write for example '3 x 20 mm' or '3 x No. 6'")
    return BarGroup(int(match[1]), *read_bar_size(match[2]))


def _bar_size(value: Any, info: ValidationInfo) -> BarGroup:
    if isinstance(value, BarGroup):
        return value
    text = str(value)
    if info.context is None and isinstance(value, (int, float)):
        text = f"{value} mm"
    return BarGroup(1, *read_bar_size(text))


Bars = Annotated[
    BarGroup,
    PlainValidator(_bars),
    WithJsonSchema({"type": "string", "examples": ["3 x 20 mm"]}),
    Internal("", "3 x 20 mm"),
]
BarSize = Annotated[
    BarGroup,
    PlainValidator(_bar_size),
    WithJsonSchema({"type": ["string", "number"], "examples": ["10 mm"]}),
    Internal("", "10 mm"),
]


def _date(value: Any) -> str:
    text = str(value).strip()
    try:
        datetime.datetime.fromisoformat(text)
    except ValueError:
        raise UnitError("no date", "write year-month-day, for example 2026-03-02") from None
    return text


Date = Annotated[
    str,
    PlainValidator(_date),
    WithJsonSchema({"type": "string", "examples": ["2026-03-02"]}),
    Internal("", "2026-03-02"),
]


def check_id(value: Any) -> str:
    """An id as text; raises `UnitError` (with the fix) for other characters and for device names."""
    text = str(value)
    if not _ID.match(text):
        raise UnitError(f"{text!r} is no id", "use letters, digits, '-', '_' and '.'")
    if text.split(".")[0].lower() in _DEVICES:
        raise UnitError(f"{text!r} is a device name on some systems", "choose another id")
    return text


Id = Annotated[
    str,
    PlainValidator(check_id),
    WithJsonSchema({"type": ["string", "number"], "pattern": _ID.pattern}),
    Internal("", "B1"),
]


def words(*allowed: str) -> Any:
    """Annotation of a text that is one of the given words."""

    def convert(value: Any) -> str:
        if value not in allowed:
            import difflib

            lower = {word.lower(): word for word in allowed}
            near = difflib.get_close_matches(str(value).lower(), lower, 1)
            hint = f"did you mean {lower[near[0]]!r}? " if near else ""
            raise UnitError(f"{value!r} is none of the possible words", f"{hint}possible: {', '.join(allowed)}")
        return str(value)

    return Annotated[
        str, PlainValidator(convert), WithJsonSchema({"enum": list(allowed)}), Internal("", str(allowed[0]))
    ]


Converter = Callable[[Any, ValidationInfo], Any]
