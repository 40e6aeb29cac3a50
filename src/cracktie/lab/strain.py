"""Strain gauges: from bridge output to strain, and the corrections that go with it. Strains are ratios.

Formulas from memory and derived anew: every bridge below from the ratio of its two dividers, rosettes and transverse
sensitivity from the strain tensor. `tests/lab/test_strain.py` computes the circuits and the tensors themselves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError

NU_0 = 0.285
"""Poisson ratio of the beam on which makers calibrate gauge factors (common practice, no source)."""
BRIDGES = (
    "quarter", "half dummy", "half bending", "half poisson", "half opposite", "full bending", "full poisson",
    "full bending poisson",
)  # fmt: skip
"""Arrangements of gauges in the four arms; `bridge_gains` says what each one's output is."""
LEADS = {2: 2.0, 3: 1.0, 4: 2.0, 6: 0.0}
"""Wires -> leads in series with the gauge's arm (2 and 3), or with the supply of a full bridge (4; 6 senses it)."""


def bridge_gains(bridge: str, nu: float = 0.3) -> tuple[float, float]:
    """(k, m) of V = -k x/(4 + 2 m x), x = GF eps the relative change of an active gauge, V output over excitation.

    With the dividers r1/(r1 + r2) of both sides, gauges at +x, at -x on the other face, at -nu x across:
    quarter and half dummy (1, 1); half bending, +x and -x in one divider (2, 0); half poisson, +x and -nu x in one
    divider (1 + nu, 1 - nu); half opposite, +x in opposite arms (2, 1); full bending, both dividers +x and -x (4, 0);
    full poisson, both +x and -nu x (2 (1 + nu), 1 - nu); full bending poisson, +x and -x in one, +nu x and -nu x in
    the other divider (2 (1 + nu), 0). m is the non-linearity. Raises `ModelInputError` for another word.
    """
    gains = {
        "quarter": (1.0, 1.0),
        "half dummy": (1.0, 1.0),
        "half bending": (2.0, 0.0),
        "half poisson": (1.0 + nu, 1.0 - nu),
        "half opposite": (2.0, 1.0),
        "full bending": (4.0, 0.0),
        "full poisson": (2.0 * (1.0 + nu), 1.0 - nu),
        "full bending poisson": (2.0 * (1.0 + nu), 0.0),
    }
    if bridge not in gains:
        raise ModelInputError(f"no bridge {bridge!r}; there are {', '.join(BRIDGES)}")
    return gains[bridge]


def bridge_strain(
    output: Any, gauge_factor: float, bridge: str = "quarter", *, nu: float = 0.3, lead: float = 0.0,
    gauge: float = 120.0,
) -> Any:  # fmt: skip
    """Strain -4 V/(GF (k + 2 m V)) (1 + R_lead/R_gauge) from V = change of output voltage over excitation.

    The minus sign belongs to the wiring in which tension lowers the output; others wire it the other way, so check it
    with a shunt step of known sign. `lead` is the resistance in series with the gauge in its own arm, in ohm.
    """
    _above_zero(gauge_factor=gauge_factor, gauge=gauge)
    k, m = bridge_gains(bridge, nu)
    v = np.asarray(output, dtype=float)
    strain = -4.0 * v / (gauge_factor * (k + 2.0 * m * v)) * (1.0 + lead / gauge)
    return strain if strain.ndim else float(strain)


def quarter_bridge(output: Any, gauge_factor: float, *, lead: float = 0.0, gauge: float = 120.0) -> Any:
    """`bridge_strain` of one active gauge."""
    return bridge_strain(output, gauge_factor, lead=lead, gauge=gauge)


def straightened(strain: Any, set_factor: float, bridge: str = "quarter", *, nu: float = 0.3) -> Any:
    """Strain (at the factor `set_factor` still) where the logger divided the output by its slope at zero.

    Such a logger shows eps_i = -4 V/(k GF_set); put into V = -k x/(4 + 2 m x): x = GF_set eps_i/(1 - m GF_set eps_i/2).
    In a quarter bridge at GF 2, 1 % of strain is shown 1 % too small in tension.
    """
    _, m = bridge_gains(bridge, nu)
    shown = np.asarray(strain, dtype=float)
    return shown / (1.0 - 0.5 * m * set_factor * shown)


def lead_factor(wire: float, wires: int, gauge: float) -> float:
    """1 + n R_wire/R_gauge: what leads of `wire` ohm each take from the output (n of `LEADS`)."""
    _above_zero(gauge=gauge)
    if wires not in LEADS:
        raise ModelInputError(f"{wires} wires to a gauge; there are {', '.join(map(str, LEADS))}")
    return 1.0 + LEADS[wires] * wire / gauge


def shunt_strain(shunt: float, gauge_factor: float, gauge: float = 120.0) -> float:
    """Strain that a resistor of `shunt` ohm across the gauge imitates (negative: compression)."""
    _above_zero(shunt=shunt, gauge_factor=gauge_factor, gauge=gauge)
    return -gauge / (gauge_factor * (gauge + shunt))


def other_gauge_factor(strain: Any, used: float, right: float) -> Any:
    """Strain after the logger was set to a wrong gauge factor: strain times used over right."""
    _above_zero(used=used, right=right)
    return np.asarray(strain, dtype=float) * used / right


def thermal_output(
    alpha_substrate: float, alpha_gauge: float, change: Any, *, curve: Sequence[float] = (), temperature: Any = 0.0
) -> Any:
    """Apparent strain from a temperature change in K (coefficients per K).

    `curve` is the maker's polynomial of the alloy, constant first, strain over degC on the material the gauge is
    matched to; it is taken from `temperature - change` to `temperature`. Without it the alloy's own curve is left out.
    """
    t = np.asarray(temperature, dtype=float)
    own = np.polynomial.polynomial.polyval(t, curve) if curve else 0.0
    before = np.polynomial.polynomial.polyval(t - change, curve) if curve else 0.0
    return (alpha_substrate - alpha_gauge) * change + own - before


def tensor(readings: Sequence[Any], angles: Sequence[float], sensitivities: Sequence[float] = (0.0, 0.0, 0.0),
           nu_0: float = NU_0) -> tuple[Any, Any, Any]:  # fmt: skip
    """(eps_x, eps_y, gamma_xy) from three gauges at `angles` (degrees) with their transverse sensitivities (ratios).

    A gauge at phi shows (1 - nu_0 K) e = (1 - K) eps(phi) + K (eps_x + eps_y), for eps(phi + 90) is the sum of the
    strains of any two directions at right angles less eps(phi). Raises `ModelInputError` for angles that do not give
    three independent strains.
    """
    rows, shown = [], []
    for e, angle, k in zip(readings, angles, sensitivities, strict=True):
        _small(k)
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        rows.append([(1.0 - k) * c * c + k, (1.0 - k) * s * s + k, (1.0 - k) * s * c])
        shown.append((1.0 - nu_0 * k) * np.asarray(e, dtype=float))
    matrix = np.array(rows)
    if abs(float(np.linalg.det(matrix))) < 1e-3:
        raise ModelInputError(
            f"gauges at {', '.join(f'{a:g}' for a in angles)} deg do not give three strains; turn them apart"
        )
    x, y, xy = np.linalg.solve(matrix, np.stack([np.atleast_1d(v) for v in shown]))
    scalar = all(np.ndim(e) == 0 for e in readings)
    return (float(x[0]), float(y[0]), float(xy[0])) if scalar else (x, y, xy)


def strain_along(x: Any, y: Any, xy: Any, angle: float) -> Any:
    """Strain of a tensor in the direction `angle` (degrees from x towards y)."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return x * c * c + y * s * s + xy * s * c


def principal(x: Any, y: Any, xy: Any) -> tuple[Any, Any, Any]:
    """Principal strains (larger, smaller) of a tensor and the angle of the larger from x, degrees in (-90, 90].

    The angle of equal principal strains is returned as 0.
    """
    middle, half, shear = 0.5 * (x + y), 0.5 * (x - y), 0.5 * xy
    radius = np.hypot(half, shear)
    return middle + radius, middle - radius, np.degrees(0.5 * np.arctan2(shear, half))


def rosette(a: Any, b: Any, c: Any, angles: Sequence[float] = (0.0, 45.0, 90.0)) -> tuple[Any, Any, Any]:
    """Principal strains (larger, smaller) and the angle of the larger from gauge a, degrees, for 0/45/90 or 0/60/120.

    Positive angles turn from a towards b. The angle of equal principal strains is returned as 0.
    """
    return principal(*tensor((a, b, c), [angle - angles[0] for angle in angles]))


def transverse_corrected(
    along: Any, across: Any, sensitivity: float, nu_0: float = NU_0, other: float | None = None
) -> Any:
    """Strain along a gauge from two gauges at right angles of transverse `sensitivity` (ratio; `other` of the second).

    Each shows (1 - nu_0 K) e = eps_along + K eps_across, so with a and b the left sides of both:
    eps = (a - K b)/(1 - K K_other).
    """
    second = sensitivity if other is None else other
    _small(sensitivity)
    _small(second)
    a = (1.0 - nu_0 * sensitivity) * np.asarray(along, dtype=float)
    b = (1.0 - nu_0 * second) * np.asarray(across, dtype=float)
    return (a - sensitivity * b) / (1.0 - sensitivity * second)


def transverse_factor(sensitivity: float, ratio: float, nu_0: float = NU_0) -> float:
    """True over shown strain where the strain across is `ratio` times that along: (1 - nu_0 K)/(1 + K ratio)."""
    _small(sensitivity)
    return (1.0 - nu_0 * sensitivity) / (1.0 + sensitivity * ratio)


def _small(sensitivity: float) -> None:
    if not abs(sensitivity) < 1.0:
        raise ModelInputError(f"transverse sensitivity is {sensitivity}; write a ratio, for example 0.007 for 0.7 %")


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0 or math.isinf(value):
            raise ModelInputError(f"{name.replace('_', ' ')} is {value}; a positive number is needed")
