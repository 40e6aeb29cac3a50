"""How numbers and units are shown: significant digits, uncertainty, SI or US customary units."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cracktie import units

DIGITS = 4
"""Significant digits where no uncertainty tells better."""

FORCE_DECIMALS = {"si": 1, "us": 2}
"""Decimals of a force in a table, kN or kip."""

SMALLEST, LARGEST = 1e-4, 1e7
"""Outside these magnitudes a number is written with a power of ten."""

ROUND_OFF = 1e-14
"""Below this a number is shown as 0: the cosine of 90 degrees in floating point, never a quantity in our units."""

_SI = {"N": (1e3, 1e-3, "kN"), "N mm": (1e5, 1e-6, "kN m")}
_US = {
    "N": ((0.0, 1 / 4.4482216152605, "lbf"), (4448.2216152605, 1 / 4448.2216152605, "kip")),
    "mm": ((0.0, 1 / 25.4, "in"),),
    "mm2": ((0.0, 1 / 25.4**2, "in2"),),
    "mm4": ((0.0, 1 / 25.4**4, "in4"),),
    "MPa": (
        (0.0, 25.4**2 / 4.4482216152605, "psi"),
        (6.894757293168361, 25.4**2 / 4448.2216152605, "ksi"),
    ),
    "N/mm": ((0.0, 25.4 / 4.4482216152605, "lbf/in"), (175.12683524647636, 25.4 / 4448.2216152605, "kip/in")),
    "N mm": ((0.0, 1 / (4448.2216152605 * 304.8), "kip ft"),),
}
"""Internal unit -> (from this magnitude on, factor, shown unit). 1 in = 25.4 mm, 1 lbf = 4.4482216152605 N exactly
(yard and pound agreement of 1959, standard gravity)."""

_UNIT_TEXT = {"-": "", "deg": "°", "um/m": "µm/m", "percent": "%"}


@dataclass(frozen=True)
class Shown:
    """A number and its unit as text; `str` joins them."""

    text: str
    unit: str

    def __str__(self) -> str:
        unit = unit_text(self.unit)
        return f"{self.text}{'' if unit in ('', '°') else ' '}{unit}"


def significant(value: float, digits: int = DIGITS) -> str:
    """At least `digits` significant digits; whole digits left of the point are kept, a power of ten only for extremes.

    0.0039524 -> '0.003952', 54652.3 -> '54652', 1.2e-6 -> '1.200e-06', not finite -> 'none'.
    """
    if not math.isfinite(value):
        return "none"
    if abs(value) < ROUND_OFF:
        return "0"
    if not SMALLEST <= abs(value) < LARGEST:
        return f"{value:.{digits - 1}e}"
    exponent = int(f"{value:.{digits - 1}e}".partition("e")[2])  # of the rounded value: 999.96 counts as 1000
    return f"{value:.{max(0, digits - 1 - exponent)}f}"


def short(value: float, digits: int = DIGITS) -> str:
    """A number as it was given where seven digits suffice (so that inputs read as entered), else `significant`."""
    if math.isfinite(value) and value != 0 and SMALLEST <= abs(value) < LARGEST:
        given = f"{value:.7g}"
        if float(given) == value and "e" not in given:
            return given
    return significant(value, digits)


def with_uncertainty(value: float, standard: float) -> tuple[str, str]:
    """Value and its standard uncertainty, both to two significant digits of the uncertainty.

    (28.4371, 0.8912) -> ('28.44', '0.89'). An uncertainty that is zero or not finite gives (`significant`, '').
    """
    if not (math.isfinite(value) and math.isfinite(standard)) or standard <= 0:
        return significant(value), ""
    places = 1 - math.floor(math.log10(float(f"{standard:.1e}")))
    if places >= 0:
        return f"{value:.{places}f}", f"{standard:.{places}f}"
    return f"{round(value, places):.0f}", f"{round(standard, places):.0f}"


def power_of_ten(shown: str) -> tuple[str, int | None]:
    """Mantissa and exponent of a shown number: '1.200e-06' -> ('1.200', -6), '54652' -> ('54652', None)."""
    mantissa, mark, exponent = shown.partition("e")
    return (mantissa, int(exponent)) if mark and exponent.lstrip("+-").isdigit() else (shown, None)


def shown(value: float, unit: str, system: str = "si", digits: int = DIGITS, as_given: bool = False) -> Shown:
    """A value in an internal unit, in the unit it is shown in: `system` is 'si' or 'us'.

    `as_given` keeps the digits of an input. A unit without entry (a ratio, psi of an inch-pound step) stays.
    """
    if system not in ("si", "us"):
        raise ValueError(f"units are shown as 'si' or 'us', not {system!r}")
    factor, name = 1.0, unit
    if system == "si" and unit in _SI:
        start, scale, larger = _SI[unit]
        if abs(value) >= start:
            factor, name = scale, larger
    elif system == "us":
        for start, scale, other in _US.get(unit, ()):
            if abs(value) >= start:
                factor, name = scale, other
    write = short if as_given and factor == 1.0 else significant
    return Shown(write(value * factor, digits), name)


def microstrain(value: float) -> Shown:
    """A measured strain in um/m, whole digits (gauges resolve about 1 um/m); strains of models stay ratios."""
    return Shown(f"{value * 1e6:.0f}", "um/m")


def force_text(value: float | None, system: str = "si", *, bound: bool = False) -> str:
    """A force (N) in kN to 0.1 or kip to 0.01, '≥' before a lower bound, a dash for none: a cell of a table."""
    if value is None:
        return "–"
    number = units.shown(value, "N", system)[0]
    return f"{'≥ ' if bound else ''}{number:.{FORCE_DECIMALS[system]}f}"


def unit_text(unit: str) -> str:
    """Unit as printed: 'mm2' -> 'mm²', 'N mm' -> 'N·mm', '-' -> ''."""
    if unit in _UNIT_TEXT:
        return _UNIT_TEXT[unit]
    raised = str.maketrans("234", "²³⁴")
    pieces = (p.translate(raised) if p[:1].isalpha() else p for p in unit.replace("/", " / ").split(" "))
    return "·".join(pieces).replace("·/·", "/")
