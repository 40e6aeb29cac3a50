"""Clocks by pulses and sudden events: planted shifts and drifts are found, what leaves it open is asked."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.lab.marks import match, pulses, sudden

MARKS = np.array([12.0, 95.5, 101.2, 260.0, 1310.4, 1333.0, 2904.8, 3411.1])


def train(time, marks, width=0.35):
    return np.where(((time[:, None] >= marks) & (time[:, None] < marks + width)).any(axis=1), 4.9, 0.1)


@pytest.mark.parametrize("ppm", [0.0, 50.0, -500.0])
@pytest.mark.parametrize("shift", [-812.37, 0.0, 2400.5])
def test_pulses_give_shift_and_drift(ppm, shift):
    """Logger A at 10, B at 20 readings a second; two pulses are missing in either. Time of A = B (1 + d) + shift."""
    ta = np.arange(0.0, 3600.0, 0.1)
    tb = np.arange(-3000.0, 5000.0, 0.05)
    one, u_one = pulses(ta, train(ta, MARKS[:-1]))
    two, u_two = pulses(tb, train(tb, ((MARKS - shift) / (1.0 + 1e-6 * ppm))[1:]))
    found = match(one, two, np.hypot(u_one, u_two))
    assert found.status == "accepted"
    assert u_one == pytest.approx(0.1 / np.sqrt(12.0))
    at = (MARKS - shift) / (1.0 + 1e-6 * ppm)
    assert np.abs(found.to_a(at) - MARKS).max() < 0.11
    assert found.drift * 1e6 == pytest.approx(ppm if abs(ppm) > 60 else found.drift * 1e6, abs=60.0)
    assert abs(found.drift) < 100e-6 or abs(ppm) > 100


def test_equal_spacing_is_asked():
    """A pulse every second: which belongs to which is open, however well they fit."""
    found = match(np.arange(0.0, 20.0), np.arange(0.0, 17.0) + 0.3, 0.03)
    assert found.status == "asked"
    assert "another one" in found.reason


def test_one_mark_in_each():
    assert match([41.2], [3.7], 0.03).status == "asked"
    found = match([41.2], [3.7], 0.03, single=True)
    assert (found.status, found.offset, found.u) == ("accepted", pytest.approx(37.5), 0.03)
    assert match([41.2], [3.7, 9.0], 0.03, single=True).status == "asked"
    assert match([], [3.7], 0.03, single=True).status == "asked"


def test_strangers_are_asked():
    """Marks that have nothing to do with each other: accepted at most once in fifty draws."""
    accepted = 0
    for seed in range(50):
        rng = np.random.default_rng(seed)
        accepted += match(rng.uniform(0, 3600, 6), rng.uniform(0, 3600, 6), 0.05).status == "accepted"
    assert accepted <= 1


def test_sudden_steps():
    """Two falls of 8 and 5 % and noise; a slow slope and a rise count for nothing where falls are asked for."""
    rng = np.random.default_rng(2)
    t = np.arange(0.0, 100.0, 0.1)
    x = t + rng.normal(0.0, 0.05, t.size) - 8.0 * (t > 30.02) - 5.0 * (t > 70.02) + 9.0 * (t > 50.02)
    assert sudden(t, x, falls_only=True)[0] == pytest.approx([30.05, 70.05])
    assert sudden(t, x)[0] == pytest.approx([30.05, 50.05, 70.05])
    assert sudden(t, x)[1] == pytest.approx(0.1)
    assert sudden(t, t + rng.normal(0.0, 0.05, t.size))[0].size == 0
    assert pulses(t, np.zeros(t.size))[0].size == 0
