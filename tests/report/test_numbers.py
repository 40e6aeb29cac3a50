"""Shown numbers and units."""

from __future__ import annotations

import math

import pytest

from cracktie.report.numbers import (
    force_text,
    microstrain,
    power_of_ten,
    short,
    shown,
    significant,
    unit_text,
    with_uncertainty,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0039524, "0.003952"),
        (54652.3, "54652"),
        (51.0953, "51.10"),
        (999.96, "1000"),
        (-0.12345, "-0.1235"),
        (0.0, "0"),
        (1.2e-6, "1.200e-06"),
        (2.5e7, "2.500e+07"),
        (math.cos(math.pi / 2), "0"),
        (math.nan, "none"),
        (math.inf, "none"),
    ],
)
def test_significant(value: float, text: str) -> None:
    assert significant(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.167, "0.167"), (230000.0, "230000"), (357.25, "357.25"), (1 / 3, "0.3333"), (2, "2")]
)
def test_inputs_read_as_entered(value: float, text: str) -> None:
    assert short(value) == text


@pytest.mark.parametrize(
    ("value", "u", "texts"),
    [
        (28.4371, 0.8912, ("28.44", "0.89")),
        (1234.5, 123.0, ("1230", "120")),
        (0.0039524, 0.000996, ("0.0040", "0.0010")),
        (5.0, 0.0, ("5.000", "")),
        (5.0, math.nan, ("5.000", "")),
    ],
)
def test_two_digits_of_the_uncertainty_decide(value: float, u: float, texts: tuple[str, str]) -> None:
    assert with_uncertainty(value, u) == texts


@pytest.mark.parametrize(
    ("value", "unit", "system", "text"),
    [
        (54652.0, "N", "si", "54.65 kN"),
        (999.0, "N", "si", "999.0 N"),
        (-54652.0, "N", "si", "-54.65 kN"),
        (2.5e6, "N mm", "si", "2.500 kN·m"),
        (30.0, "MPa", "si", "30.00 MPa"),
        (314.159, "mm2", "si", "314.2 mm²"),
        (45.0, "deg", "si", "45.00°"),
        (0.004, "-", "si", "0.004000"),
        (4448.2216152605, "N", "us", "1.000 kip"),
        (44.482216152605, "N", "us", "10.00 lbf"),
        (25.4, "mm", "us", "1.000 in"),
        (645.16, "mm2", "us", "1.000 in²"),
        (6894.757293168361, "MPa", "us", "1000 ksi"),
        (3.4473786465841805, "MPa", "us", "500.0 psi"),
        (1355817.9483314004, "N mm", "us", "1.000 kip·ft"),
        (175.12683524647636, "N/mm", "us", "1.000 kip/in"),
        (12.0, "psi", "us", "12.00 psi"),
    ],
)
def test_units_are_shown(value: float, unit: str, system: str, text: str) -> None:
    """US factors by the definitions 1 in = 25.4 mm, 1 lbf = 0.45359237 kg x 9.80665 m/s2, 1 ft = 12 in."""
    assert str(shown(value, unit, system)) == text


def test_an_unknown_system_is_refused() -> None:
    with pytest.raises(ValueError, match="not 'imperial'"):
        shown(1.0, "mm", "imperial")


def test_measured_strain_is_in_micrometres_a_metre() -> None:
    assert str(microstrain(0.0031004)) == "3100 µm/m"


@pytest.mark.parametrize(
    ("unit", "text"),
    [("mm2/mm", "mm²/mm"), ("N mm", "N·mm"), ("-", ""), ("N/mm2", "N/mm²"), ("kN m", "kN·m"), ("in2", "in²")],
)
def test_unit_text(unit: str, text: str) -> None:
    assert unit_text(unit) == text


def test_powers_of_ten_are_taken_apart() -> None:
    assert power_of_ten("1.200e-06") == ("1.200", -6)
    assert power_of_ten("54652") == ("54652", None)
    assert power_of_ten("none") == ("none", None)


def test_forces_in_tables() -> None:
    """1 kip = 4448.2216 N (yard and pound agreement of 1959, standard gravity)."""
    assert force_text(121_423.6) == "121.4"
    assert force_text(4448.2216152605, "us") == "1.00"
    assert force_text(300.0, "us") == "0.07"
    assert force_text(78_886.0, bound=True) == "≥ 78.9"
    assert force_text(None, "us") == "–"
