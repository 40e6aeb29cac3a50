from __future__ import annotations

import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie.units import EXAMPLES, FILE_UNITS, NATURE, SHOWN, Quantity, UnitError, factor, parse, shown

VALUES = [
    ("60 mm", "mm", 60.0),
    ("60mm", "mm", 60.0),
    ("6 cm", "mm", 60.0),
    ("0.656 in", "mm", 0.656 * 25.4),  # 1 in = 25.4 mm by definition
    ("1 ft", "mm", 304.8),
    ("-12.5 mm", "mm", -12.5),
    ("+3e2 mm", "mm", 300.0),
    (".5 m", "mm", 500.0),
    ("120 kN", "N", 120e3),
    ("1 kip", "N", 4448.2216152605),  # 1 lbf = 4.4482216152605 N by definition
    ("1 lb", "N", 4.4482216152605),
    ("230 GPa", "MPa", 230e3),
    ("1 ksi", "MPa", 6.894757293168361),
    ("30 N/mm2", "MPa", 30.0),
    ("30 N/mm^2", "MPa", 30.0),
    ("30 N/mm²", "MPa", 30.0),
    ("4000 psi", "MPa", 27.579029172673444),
    ("12 %", "-", 0.12),
    ("3100 um/m", "-", 3.1e-3),
    ("3100 µm/m", "-", 3.1e-3),
    ("3100 μm/m", "-", 3.1e-3),
    ("0.004", "-", 0.004),
    ("4 mm/m", "-", 0.004),
    ("90 deg", "deg", 90.0),
    ("90°", "deg", 90.0),
    ("1 rad", "deg", 180 / math.pi),
    ("314 mm2", "mm2", 314.0),
    ("0.5 in2", "mm2", 0.5 * 645.16),
    ("2 min", "s", 120.0),
    ("4 weeks", "d", 28.0),
    ("300 g/m2", "g/m2", 300.0),
    ("2.5 kN/m", "N/mm", 2.5),
    ("25 kN/m3", "N/mm3", 25e-6),
    ("21 degC", "degC", 21.0),
    ("1 mm/s", "mm/min", 60.0),
    ("0.5 kN/s", "N/s", 500.0),
]


@pytest.mark.parametrize(("text", "internal", "expected"), VALUES)
def test_text_with_a_unit(text, internal, expected):
    assert parse(text, internal) == pytest.approx(expected, rel=1e-12)


def test_a_standard_uncertainty_takes_the_same_unit():
    for text in ("28.4 +- 0.9 MPa", "28.4 +/- 0.9 MPa", "28.4 ± 0.9 MPa", "28.4+-0.9MPa"):
        found = parse(text, "MPa")
        assert (found, found.u) == (28.4, 0.9)
    assert parse("1.2 +- 0.1 GPa", "MPa").u == pytest.approx(100)
    assert parse("28.4 MPa", "MPa").u is None
    kept = pickle.loads(pickle.dumps(Quantity(2.0, 0.5)))
    assert (kept, kept.u) == (2.0, 0.5)


REFUSED = [
    ("6o mm", "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("mm", "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("", "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("60 mm 2", "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("60 mm * 2", "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("60 mm # x", "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("2 x 60 mm", "mm", "not a number followed by a unit; write for example '60 mm'"),
    (None, "mm", "not a number followed by a unit; write for example '60 mm'"),
    (True, "mm", "not a number followed by a unit; write for example '60 mm'"),
    ({"a": 1}, "mm", "not a number followed by a unit; write for example '60 mm'"),
    ("60", "mm", "the unit is missing; write for example '60 mm'"),
    (60, "mm", "the unit is missing; write for example '60 mm'"),
    ("0,167 mm", "mm", "a decimal comma is not read; write '0.167 mm'"),
    ("60 MPa", "mm", "'MPa' does not measure a length; write for example '60 mm'"),
    ("60 mn", "N", "unit 'mn' is not known; write for example '120 kN'"),
    ("60 F", "degC", "'F' is no temperature this tool takes; write for example '21 degC'"),
]


@pytest.mark.parametrize(("text", "internal", "expected"), REFUSED)
def test_what_is_refused_says_what_to_write(text, internal, expected):
    with pytest.raises(UnitError) as caught:
        parse(text, internal)
    assert str(caught.value) == expected


def test_a_bare_number_takes_the_unit_it_is_given_and_only_then():
    assert parse("2", "mm", bare="in") == pytest.approx(50.8)
    assert parse(2, "mm", bare="mm") == 2.0
    assert parse("2 mm", "mm", bare="in") == 2.0


@pytest.mark.parametrize("internal", EXAMPLES)
def test_every_internal_unit_has_a_nature_and_an_example_it_reads(internal):
    assert internal in NATURE
    assert parse(EXAMPLES[internal], internal) > 0


def test_words_of_a_units_header_lead_to_internal_units():
    assert set(FILE_UNITS.values()) <= set(EXAMPLES)
    assert factor("GPa", FILE_UNITS["modulus"]) == 1000.0
    assert factor("um/m", FILE_UNITS["strain"]) == pytest.approx(1e-6)


@given(st.floats(-1e6, 1e6), st.sampled_from(["mm", "cm", "m", "in", "ft"]))
def test_a_length_goes_there_and_back(value, unit):
    assert parse(f"{value!r} {unit}", "mm") / factor(unit, "mm") == pytest.approx(value, rel=1e-12, abs=1e-12)


@given(st.text(max_size=30))
def test_any_text_is_a_number_or_a_unit_error(text):
    try:
        found, fix = float(parse(text, "mm")), "none needed"
    except UnitError as error:
        found, fix = 0.0, error.fix
    assert isinstance(found, float)
    assert fix


@pytest.mark.parametrize("system", SHOWN)
def test_shown_units_agree_with_the_units_read(system):
    for internal, (text, scale) in SHOWN[system].items():
        assert factor(text, internal) * scale == pytest.approx(1.0, rel=1e-12)


def test_units_without_another_view_stay_as_they_are():
    assert shown(0.12, "-") == (0.12, "")
    assert shown(5.0, "s", "us") == (5.0, "s")
    assert shown(25.4, "mm", "us") == (pytest.approx(1.0), "in")
