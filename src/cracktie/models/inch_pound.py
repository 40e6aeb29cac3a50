"""Inch-pound units for documents issued in them: steps are written in the edition's own units.

Factors: 1 in = 25.4 mm and 1 lbf = 4.4482216152605 N exactly (international yard and pound agreement, standard
gravity 9.80665 m/s2), 1 psi = 1 lbf/in2.
"""

from __future__ import annotations

from typing import Any

from cracktie.clause import Step

INCH = 25.4
LBF = 4.4482216152605
PSI = LBF / INCH**2
KSI = 1000.0 * PSI
KIP = 1000.0 * LBF

_CONVERSION = "unit of the edition"


def psi(step: Step, name: str, stress: Any) -> Any:
    """Stress in MPa as psi, recorded as `name`_psi."""
    return step(f"{name}_psi", stress / PSI, "psi", text=_CONVERSION)


def ksi(step: Step, name: str, stress: Any) -> Any:
    """Stress in MPa as ksi, recorded as `name`_ksi."""
    return step(f"{name}_ksi", stress / KSI, "ksi", text=_CONVERSION)


def inch(step: Step, name: str, length: Any) -> Any:
    """Length in mm as inches, recorded as `name`_in."""
    return step(f"{name}_in", length / INCH, "in", text=_CONVERSION)


def inch2(step: Step, name: str, area: Any) -> Any:
    """Area in mm2 as square inches, recorded as `name`_in2."""
    return step(f"{name}_in2", area / INCH**2, "in2", text=_CONVERSION)


def newton(step: Step, name: str, force: Any) -> Any:
    """Force in lbf as N, recorded as `name`."""
    return step(name, force * LBF, "N", text=_CONVERSION)
