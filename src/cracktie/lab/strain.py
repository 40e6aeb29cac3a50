"""Strain gauges: from bridge output to strain, and the corrections that go with it. Strains are ratios."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError


def quarter_bridge(output: Any, gauge_factor: float, *, lead: float = 0.0, gauge: float = 120.0) -> Any:
    """Strain -4 V/(GF (1 + 2 V)) (1 + R_lead/R_gauge) from the bridge output V = change of voltage over excitation.

    The minus sign belongs to the wiring in which tension lowers the output; others wire it the other way, so
    check it with a shunt step of known sign. `lead` is the resistance in the gauge's own arm in ohm: one wire with
    three-wire connection, both with two wires. Formula from memory.
    """
    _above_zero(gauge_factor=gauge_factor, gauge=gauge)
    v = np.asarray(output, dtype=float)
    strain = -4.0 * v / (gauge_factor * (1.0 + 2.0 * v)) * (1.0 + lead / gauge)
    return strain if strain.ndim else float(strain)


def shunt_strain(shunt: float, gauge_factor: float, gauge: float = 120.0) -> float:
    """Strain that a resistor of `shunt` ohm across the gauge imitates (negative: compression)."""
    _above_zero(shunt=shunt, gauge_factor=gauge_factor, gauge=gauge)
    return -gauge / (gauge_factor * (gauge + shunt))


def other_gauge_factor(strain: Any, used: float, right: float) -> Any:
    """Strain after the logger was set to a wrong gauge factor: strain times used over right."""
    _above_zero(used=used, right=right)
    return np.asarray(strain, dtype=float) * used / right


def thermal_output(alpha_substrate: float, alpha_gauge: float, change: float) -> float:
    """Apparent strain from a temperature change in K (coefficients per K).

    The alloy's own curve is left out; correct with it only where the temperature was measured, otherwise take the
    amount as half-width of a rectangular uncertainty.
    """
    return (alpha_substrate - alpha_gauge) * change


def rosette(a: Any, b: Any, c: Any) -> tuple[Any, Any, Any]:
    """Principal strains (larger, smaller) and the angle of the larger from gauge a, degrees, for 0/45/90.

    Positive angles turn from a towards b. The angle of equal principal strains is returned as 0.
    """
    ea, eb, ec = (np.asarray(x, dtype=float) for x in (a, b, c))
    middle = 0.5 * (ea + ec)
    radius = np.sqrt(0.5 * ((ea - eb) ** 2 + (eb - ec) ** 2))
    angle = np.degrees(0.5 * np.arctan2(2.0 * eb - ea - ec, ea - ec))
    return middle + radius, middle - radius, angle


def transverse_corrected(along: Any, across: Any, sensitivity: float, nu_0: float = 0.285) -> Any:
    """Strain along a gauge from two gauges at right angles with transverse `sensitivity` (ratio).

    `nu_0` is the Poisson ratio of the maker's calibration beam (0.285: common practice, no source).
    """
    if not abs(sensitivity) < 1.0:
        raise ModelInputError(f"transverse sensitivity is {sensitivity}; write a ratio, for example 0.007 for 0.7 %")
    x, y = np.asarray(along, dtype=float), np.asarray(across, dtype=float)
    return (1.0 - nu_0 * sensitivity) * (x - sensitivity * y) / (1.0 - sensitivity**2)


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0 or math.isinf(value):
            raise ModelInputError(f"{name.replace('_', ' ')} is {value}; a positive number is needed")
