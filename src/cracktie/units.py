"""Text with a unit <-> internal float, at the border only. Inside: N, mm, MPa, degrees, strain as a ratio."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Any

from cracktie.errors import CracktieError


class UnitError(CracktieError, ValueError):
    """A text is no number with a fitting unit; `fix` says what to write."""

    def __init__(self, message: str, fix: str):
        super().__init__(f"{message}; {fix}")
        self.message, self.fix = message, fix


class Quantity(float):
    """A float in internal units that may carry a standard uncertainty `u` (None where not stated)."""

    u: float | None

    def __new__(cls, value: float, u: float | None = None) -> Quantity:
        made = super().__new__(cls, value)
        made.u = u
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return (Quantity, (float(self), self.u))


EXAMPLES = {
    "mm": "60 mm",
    "N": "120 kN",
    "MPa": "30 MPa",
    "deg": "90 deg",
    "-": "12 %",
    "mm2": "314 mm2",
    "s": "0.2 s",
    "d": "28 d",
    "g/m2": "300 g/m2",
    "N/mm": "2.5 kN/m",
    "N/mm3": "25 kN/m3",
    "degC": "21 degC",
    "mm/min": "0.5 mm/min",
    "g": "12 g",
    "N/s": "0.5 kN/s",
    "ohm": "120 ohm",
    "V": "5 V",
    "K": "3 K",
    "Hz": "2 Hz",
}
"""What a well-formed value of each internal unit looks like."""

NATURE = {
    "mm": "a length",
    "N": "a force",
    "MPa": "a stress or modulus",
    "deg": "an angle",
    "-": "a ratio or strain",
    "mm2": "an area",
    "s": "a time",
    "d": "an age",
    "g/m2": "a mass per area",
    "N/mm": "a force per length",
    "N/mm3": "a weight per volume",
    "degC": "a temperature",
    "mm/min": "a rate",
    "g": "a mass",
    "N/s": "a load rate",
    "ohm": "a resistance",
    "V": "a voltage",
    "K": "a change of temperature",
    "Hz": "a frequency",
}

FILE_UNITS = {"length": "mm", "force": "N", "stress": "MPa", "modulus": "MPa", "strain": "-", "angle": "deg"}
"""Words a file may use in its own `units:` entry, with the internal unit of each."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_VALUE = re.compile(rf"^\s*({_NUMBER})\s*(?:(?:\+-|\+/-|±)\s*({_NUMBER}))?\s*(.*?)\s*$")
_NAME = r"[^\W\d_]+(?:\^?[2-4²³])?"
_UNIT = re.compile(rf"^(?:-|[%‰°]|°C|{_NAME}(?:[*/·]{_NAME})*)$")
"""Names joined by '/' or '*', with exponents: keeps '60 mm 2' and '60 mm * 2' from being read as products."""
_COMMA = re.compile(r"^\s*[+-]?\d+,\d+")
_PINT_NAMES = {"-": "", "%": "percent", "°": "degree", "deg": "degree", "um/m": "1e-6", "µm/m": "1e-6", "με": "1e-6"}
_PINT_NAMES |= {
    "ue": "1e-6",
    "strain": "1e-6 * 1e6",
    "‰": "1e-3",
    "lb": "lbf",
    "kips": "kip",
    "degC": "degC",
    "°C": "degC",
}


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@lru_cache(maxsize=512)
def factor(unit: str, internal: str) -> float:
    """How many `internal` units one `unit` is; raises `UnitError` for unknown or unfitting units.

    Strain units (`um/m`, `mm/m`, `%`) count as ratios. Temperatures are not converted (only degC).
    """
    if unit == internal:
        return 1.0
    if internal == "degC":
        raise UnitError(f"{unit!r} is no temperature this tool takes", f"write for example '{EXAMPLES['degC']}'")
    nature, example = NATURE.get(internal, internal), EXAMPLES.get(internal, f"1 {internal}")
    registry = _registry()
    try:
        given = registry.Quantity(_pint_text(unit))
        return float(given.to(_pint_text(internal) or "dimensionless").magnitude)
    except Exception as error:  # pint raises a family of its own, plus tokenizer errors, for odd texts
        kind = type(error).__name__
        if kind == "DimensionalityError":
            raise UnitError(f"{unit!r} does not measure {nature}", f"write for example '{example}'") from None
        raise UnitError(f"unit {unit!r} is not known", f"write for example '{example}'") from None


def _pint_text(unit: str) -> str:
    unit = unicodedata.normalize("NFKC", unit).replace("μ", "µ").strip()
    if unit in _PINT_NAMES:
        return _PINT_NAMES[unit]
    unit = unit.replace("µ", "u").replace("·", "*").replace("²", "2").replace("³", "3")
    unit = re.sub(r"([A-Za-z])\^?([23])(?![0-9])", r"\1**\2", unit)
    return unit if "lbf" in unit else re.sub(r"\blb\b", "lbf", unit)


def parse(text: Any, internal: str, *, bare: str | None = None, example: str | None = None) -> Quantity:
    """Value of `text` ('60 mm', '28.4 +- 0.9 MPa', '12 %') in the `internal` unit, with its standard uncertainty.

    `bare` is the unit a number without a unit takes; None makes such a number an error. `example` is what messages
    suggest. Raises `UnitError`.
    """
    example = example or EXAMPLES.get(internal, f"1 {internal}")
    if isinstance(text, bool) or text is None or isinstance(text, (dict, list)):
        raise UnitError("not a number followed by a unit", f"write for example '{example}'")
    shown = str(text).strip()
    match = _VALUE.match(shown)
    if _COMMA.match(shown):
        point = re.sub(r"(\d),(\d)", r"\1.\2", shown)
        raise UnitError("a decimal comma is not read", f"write '{point}'")
    if not match:
        raise UnitError("not a number followed by a unit", f"write for example '{example}'")
    number, spread, unit = match.groups()
    if unit and not _UNIT.match(unit):
        raise UnitError("not a number followed by a unit", f"write for example '{example}'")
    if unit and unit[0].isalpha() and re.match(r"^[oOlI]\d|^[oO]\s", unit):
        raise UnitError("not a number followed by a unit", f"write for example '{example}'")
    if not unit:
        if bare is None and internal != "-":
            usual = example.split(" ", 1)[1]
            likely = "MPa" if usual == "GPa" and abs(float(number)) >= 1000.0 else usual
            raise UnitError("the unit is missing", f"write for example '{shown} {likely}'")
        unit = bare or "-"
    scale = factor(unit, internal)
    return Quantity(float(number) * scale, None if spread is None else abs(float(spread)) * scale)


SHOWN = {
    "si": {"N": ("kN", 1e-3), "MPa": ("MPa", 1.0), "mm": ("mm", 1.0), "mm2": ("mm²", 1.0), "deg": ("°", 1.0)},
    "us": {
        "N": ("kip", 1 / 4448.2216152605),
        "MPa": ("ksi", 1 / 6.894757293168361),
        "mm": ("in", 1 / 25.4),
        "mm2": ("in²", 1 / 645.16),
        "deg": ("°", 1.0),
    },
}
"""Units that views show for an internal unit: system -> internal -> (text, factor)."""


def shown(value: float, internal: str, system: str = "si") -> tuple[float, str]:
    """Value and unit text as a view shows them; units without an entry stay as they are."""
    text, scale = SHOWN[system].get(internal, (internal, 1.0))
    return value * scale, "" if text == "-" else text
