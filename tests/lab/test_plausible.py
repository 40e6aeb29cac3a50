"""Suspicions on planted faults: each is found, and the same record without the fault is not suspected."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.lab.plausible import constant_factor, factor_words, kind_of, odd_sizes, strain_unit, suspicions

RNG = np.random.default_rng(7)
T = np.arange(600) / 2.0
D = np.where(T > 30, (T - 30) * 0.05, 0.0) + RNG.normal(0, 2e-4, T.size)
P = np.where(T > 250, 0.4, 1.0) * 120.0 * (1.0 - np.exp(-np.clip(T - 30, 0, None) / 80.0)) + RNG.normal(0, 0.02, T.size)
UNITS = {"Load": "kN", "Stroke": "mm"}


def test_a_sound_record_raises_no_suspicion():
    assert suspicions({"Load": P, "Stroke": D}, UNITS, T) == []


def test_swapped_columns():
    (told,) = suspicions({"Load": np.cumsum(np.abs(D)) / 60, "Stroke": P}, UNITS, T)
    assert "'Load' never falls and 'Stroke' ends" in told


def test_a_test_stopped_under_load_is_no_swap():
    end = T < 240
    assert suspicions({"Load": P[end], "Stroke": D[end]}, UNITS, T[end]) == []


def test_load_counted_negative():
    (told,) = suspicions({"Load": -P, "Stroke": D}, UNITS, T)
    assert "'Load' goes to -1" in told
    assert "sign: -1" in told


def test_transducers_set_to_zero_during_rest():
    moved = D + np.where(T < 20, 1.25, 0.0)
    (told,) = suspicions({"Load": P, "Stroke": moved}, UNITS, T)
    assert "'Stroke' by -1.25 at 20 s" in told


@pytest.mark.parametrize(
    ("factor", "words"),
    [(1.0, ""), (1.001, ""), (1.0197, "disagree by 2.0% .*kgf"), (0.982, "disagree by 1.8%"), (1000.0, "N and kN"),
     (1 / 4.448, "kip and kN"), (1 / 25.4, "in and mm"), (1.6, "")],
)  # fmt: skip
def test_two_recorders_of_one_load(factor, words):
    found = suspicions({"Load": P, "Load 2": P * factor + RNG.normal(0, 1e-3 * factor, T.size)}, {}, T)
    assert len(found) == bool(words)
    if words:
        assert pytest.importorskip("re").search(words, found[0])


def test_two_channels_that_only_look_alike_have_no_factor():
    assert constant_factor(P, P * np.abs(P) ** 0.05) is None
    assert constant_factor(P, np.full(T.size, np.nan)) is None
    assert factor_words(2.0) == ""


@pytest.mark.parametrize(
    ("top", "unit", "words"),
    [(0.004, "um/m", "size of a ratio"), (4000.0, "m/m", "size of um/m"), (0.004, "", "a ratio"), (4000.0, "", "um/m"),
     (4000.0, "um/m", ""), (0.004, "m/m", ""), (2.0, "", "")],
)  # fmt: skip
def test_units_of_strains(top, unit, words):
    found = strain_unit(np.linspace(0, top, 50), unit)
    assert len(found) == bool(words)
    assert not words or words in found[0]


@pytest.mark.parametrize(
    ("name", "unit", "kind"),
    [("Ch 1 Kraft", "", "load"), ("Machine_Load", "", "load"), ("Last", "", "load"), ("Ballast", "", ""),
     ("x", "kip", "load"), ("Weg 1", "", "displacement"), ("LVDT 3", "", "displacement"), ("Gewegt", "", ""),
     ("eps_1", "", "strain"), ("a", "um/m", "strain")],
)  # fmt: skip
def test_kinds_by_unit_or_word(name, unit, kind):
    assert kind_of(name, unit) == kind


def test_one_of_a_series_in_another_unit():
    """The published series that set the case: one specimen in N, six in kN."""
    series = {"001": 843.8, "002": 0.8276, "003": 0.81, "004": 0.79, "005": 0.88, "006": 0.84, "007": 0.80}
    assert list(odd_sizes(series)) == ["001"]
    assert odd_sizes({"a": 120.0, "b": 0.12}) == {}
    assert odd_sizes({"a": 60.0, "b": 120.0, "c": 240.0, "d": float("nan"), "e": 0.0}) == {}
