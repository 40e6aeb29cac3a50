"""Header and unit rows above a block: names, units, titles."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_UNITS = {
    "n",
    "kn",
    "mn",
    "mm",
    "cm",
    "m",
    "um",
    "nm",
    "in",
    "in.",
    "inch",
    "inches",
    "ft",
    "pa",
    "kpa",
    "mpa",
    "gpa",
    "psi",
    "ksi",
    "bar",
    "n/mm2",
    "n/mm^2",
    "n/mm²",
    "um/m",
    "mm/m",
    "m/m",
    "mm/mm",
    "in/in",
    "ue",
    "microstrain",
    "ustrain",
    "strain",
    "s",
    "sec",
    "secs",
    "seconds",
    "ms",
    "min",
    "h",
    "d",
    "v",
    "mv",
    "mv/v",
    "uv",
    "v/v",
    "ma",
    "a",
    "ohm",
    "deg",
    "°",
    "degc",
    "°c",
    "°f",
    "c",
    "k",
    "rad",
    "mrad",
    "%",
    "‰",
    "kip",
    "kips",
    "lb",
    "lbf",
    "hz",
    "khz",
    "kg",
    "g",
    "t",
    "knm",
    "kn/s",
    "mm/s",
    "mm/min",
    "-",
    "1",
    "gf",
    "kgf",
    "tonf",
    "counts",
    "raw",
    "date",
    "time",
    "hh:mm:ss",
    "dd.mm.yyyy",
    "sekunden",
    "µm",
    "µm/m",
    "µε",
    "με",
}
_SUFFIX = {
    "kn",
    "mm",
    "mpa",
    "gpa",
    "kpa",
    "um/m",
    "µm/m",
    "mv/v",
    "degc",
    "°c",
    "kips",
    "kip",
    "psi",
    "ksi",
    "microstrain",
    "µε",
    "ue",
    "inches",
    "sec",
    "mm/s",
}
_STANDARD = {
    "sec": "s",
    "secs": "s",
    "seconds": "s",
    "sekunden": "s",
    "µm": "um",
    "µm/m": "um/m",
    "µε": "um/m",
    "ue": "um/m",
    "microstrain": "um/m",
    "ustrain": "um/m",
    "n/mm2": "MPa",
    "n/mm^2": "MPa",
    "n/mm²": "MPa",
    "°c": "degC",
    "°": "deg",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    "kips": "kip",
}
_IDLE = {"-", "1", "[-]", "(-)", "date", "time"}
_BRACKETS = re.compile(r"^(?P<name>.*?)\s*[\[(<{](?P<unit>[^\[\](){}<>]*)[\])>}]\s*$")
_SLASH = re.compile(r"^(?P<name>.+?)(?:\s+(?:/|in)\s+|\s*,\s+)(?P<unit>\S+)$")
_CLOSE = re.compile(r"^(?P<name>[^/]*[^/\W_][^/]*)/(?P<unit>\S+)$")
_CLOSE_UNITS = {"s", "N", "kN", "MN", "mm", "cm", "MPa", "GPa", "µm", "um", "um/m", "µm/m", "mm/m", "m/m", "mV/V", "mV",
                "kip", "psi", "ksi", "°C", "degC", "µε", "min", "Hz", "bar", "kNm"}  # fmt: skip
_LABEL = re.compile(r"^(?:units?|einheit(?:en)?|unité)\s*[:=]?\s*(?=\S)", re.I)
_TIMES = re.compile(r"^(?:.*[ _])?(?:time|zeit|laufzeit|temps|elapsed|t)$", re.I)
_TAIL = re.compile(r"^(?P<name>.+?)[ _](?P<unit>[^ _]+)$")


@dataclass(frozen=True)
class Heads:
    """Names, units and original header texts of the columns, all of one length."""

    names: tuple[str, ...]
    units: tuple[str, ...]
    originals: tuple[str, ...]


def standard_unit(text: str) -> str:
    """A unit as written, in the spelling used inside the project (`um/m`, `degC`); unknown ones unchanged."""
    unit = _LABEL.sub("", text.strip()).strip("[](){}<>").strip().replace("μ", "µ")
    return _STANDARD.get(unit.lower(), unit)


def is_unit(text: str) -> bool:
    """True for a known unit, with or without brackets and the word `Unit:` before it."""
    return _LABEL.sub("", text.strip()).strip("[](){}<>").strip().replace("μ", "µ").lower() in _UNITS


def is_unit_row(row: Sequence[str]) -> bool:
    """True when at least 60 % of the filled cells are units and one of them is more than a dash or a 1."""
    filled = [cell for cell in row if cell.strip()]
    if not filled:
        return False
    known = [cell for cell in filled if is_unit(cell) or (cell.strip()[:1] in "[(" and cell.strip()[-1:] in ")]")]
    telling = [cell for cell in known if cell.strip().lower() not in _IDLE]
    return len(known) >= 0.6 * len(filled) and bool(telling)


def split_unit(header: str) -> tuple[str, str]:
    """Name and unit of a header such as `load [kN]`, `load (kN)`, `load / kN` or `load_kN`."""
    header = header.strip()
    found = _BRACKETS.match(header)
    if found and found["name"].strip():
        return found["name"].strip().rstrip("/").rstrip(), standard_unit(found["unit"])
    found = _SLASH.match(header)
    if found and is_unit(found["unit"]):
        return found["name"].strip(), standard_unit(found["unit"])
    found = _CLOSE.match(header)
    if found and not is_unit(header) and found["unit"].replace("μ", "µ") in _CLOSE_UNITS:
        return found["name"].strip(), standard_unit(found["unit"])
    found = _TAIL.match(header)
    if found and found["unit"].replace("μ", "µ").lower() in _SUFFIX:
        return found["name"].strip(), standard_unit(found["unit"])
    if found and found["unit"] in ("s", "ms") and _TIMES.match(found["name"]):
        return found["name"].strip(), found["unit"]
    return header, ""


def heads(header: Sequence[str] | None, unit_row: Sequence[str] | None, columns: int) -> Heads:
    """Names and units for `columns` columns; missing headers become `column_3`, repeated ones `name (2)`."""
    names: list[str] = []
    taken: dict[str, int] = {}
    units: list[str] = []
    originals: list[str] = []
    for i in range(columns):
        original = header[i] if header is not None and i < len(header) else ""
        name, unit = split_unit(original)
        if unit_row is not None and i < len(unit_row) and unit_row[i].strip():
            unit = standard_unit(unit_row[i])
            name = original.strip() if not split_unit(original)[1] else name
        names.append(_unique(name or f"column_{i + 1}", taken))
        units.append(unit)
        originals.append(original)
    return Heads(tuple(names), tuple(units), tuple(originals))


def _unique(name: str, taken: dict[str, int]) -> str:
    """The name, with a number behind it where it was taken before."""
    if name not in taken:
        taken[name] = 1
        return name
    while True:
        taken[name] += 1
        numbered = f"{name} ({taken[name]})"
        if numbered not in taken:
            taken[numbered] = 1
            return numbered
