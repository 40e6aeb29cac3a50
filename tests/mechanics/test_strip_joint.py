"""The closed form of a joint, and the march against it in every stage."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.mechanics import bond_law, joint, strip

E_T, WIDTH = 45600.0, 80.0
LAW = bond_law.bilinear(3.45, 0.04485, 0.27078558)
LENGTHS = [12.0, 30.0, 60.0, 85.8, 86.0, 100.0, 200.0, 350.0]

REGRESSION = {30.0: "7882.9437", 60.0: "13572.677", 100.0: "16271.283", 200.0: "16511.741", 350.0: "16511.812"}
"""Loads of an earlier program of ours (closed form, exact march, Runge-Kutta and finite differences agreed)."""


def side(length: float, **more: object) -> strip.Side:
    return strip.Side(length, E_T, WIDTH, LAW, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("length", LENGTHS)
def test_peak_of_the_march_is_that_of_the_closed_form(length: float) -> None:
    """Yuan and others 2004, derived here anew; asked for: 1e-6."""
    load, softening = joint.peak_load(length, E_T, WIDTH, LAW)
    peak = strip.peak(side(length), slip_max=3.0)
    assert peak.force == pytest.approx(load, rel=1e-12)
    assert 0.0 < softening[0] < length


@pytest.mark.parametrize(("length", "printed"), REGRESSION.items())
def test_regression_of_the_peak(length: float, printed: str) -> None:
    half_digit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert joint.peak_load(length, E_T, WIDTH, LAW)[0][0] == pytest.approx(float(printed), abs=half_digit)


@pytest.mark.parametrize("length", LENGTHS)
def test_every_stage_lies_on_the_marched_path(length: float) -> None:
    """Distance of each closed-form state from the marched polyline, in shares of the largest slip and load."""
    curve = joint.full_range(length, E_T, WIDTH, LAW, points=40)
    path = strip.follow(side(length), slip_max=3.0, points=4000)
    keep = path.far_slip[0] <= 0.27078558
    x, y = path.slip[0, keep] / curve.slip.max(), path.force[0, keep] / curve.force.max()
    start, step = np.column_stack([x[:-1], y[:-1]]), np.column_stack([np.diff(x), np.diff(y)])
    squares = np.maximum((step**2).sum(axis=1), 1e-300)
    for at in np.column_stack([curve.slip / curve.slip.max(), curve.force / curve.force.max()]):
        t = np.clip(((at - start) * step).sum(axis=1) / squares, 0.0, 1.0)
        distance = np.sqrt(((start + t[:, None] * step - at) ** 2).sum(axis=1)).min()
        assert distance < 1e-6


def test_stages_follow_one_another() -> None:
    short, long = joint.full_range(60.0, E_T, WIDTH, LAW), joint.full_range(200.0, E_T, WIDTH, LAW)
    assert list(dict.fromkeys(short.stage)) == ["E", "ES", "S"]
    assert list(dict.fromkeys(long.stage)) == ["E", "ES", "ESD", "SD"]
    for curve in (short, long):
        at = np.flatnonzero(curve.stage[1:] != curve.stage[:-1])
        assert curve.slip[at + 1] == pytest.approx(curve.slip[at], rel=1e-6)
        assert curve.force[at + 1] == pytest.approx(curve.force[at], rel=1e-6)
        assert curve.force[-1] == pytest.approx(0.0, abs=1e-6)
    snapped = long.slip[long.stage == "SD"]
    assert (np.diff(snapped) < 0.0).all()


def test_effective_length_carries_its_share() -> None:
    """Exact property: 0.97 (Yuan and others 2004) and 0.99 (Lu and others 2005), shares from memory."""
    for share in (0.9, 0.97, 0.99):
        length = joint.effective_length(E_T, LAW, share)
        load, _ = joint.peak_load(length, E_T, WIDTH, LAW)
        assert load == pytest.approx(share * joint.infinite_load(E_T, WIDTH, LAW), rel=1e-12)


def test_long_joint() -> None:
    """width sqrt(2 G_f E t) for any law."""
    by_hand = 80.0 * np.sqrt(2.0 * 0.4671051255 * 45600.0)
    assert joint.infinite_load(E_T, WIDTH, LAW) == pytest.approx(by_hand, rel=1e-9)
    assert joint.peak_load(2000.0, E_T, WIDTH, LAW)[0] == pytest.approx(by_hand, rel=1e-9)


def test_brittle_law_in_closed_form() -> None:
    """Without softening P = width tau_max/l tanh(l L), all of it elastic; then straight to the debonded state."""
    law = bond_law.brittle(4.0, 0.2)
    rate = np.sqrt(4.0 / (0.2 * E_T))
    for length in (20.0, 120.0):
        peak = strip.peak(strip.Side(length, E_T, WIDTH, law), slip_max=1.0)
        assert peak.force == pytest.approx(WIDTH * 4.0 / rate * np.tanh(rate * length), rel=1e-9)
        assert peak.slip == pytest.approx(0.2, rel=1e-6)


def test_what_the_closed_form_refuses() -> None:
    with pytest.raises(ModelInputError, match="bilinear law that softens, without friction"):
        joint.peak_load(100.0, E_T, WIDTH, bond_law.brittle(3.0, 0.1))
    with pytest.raises(ModelInputError, match=r"stiffness = -5 N/mm; it must be a number above 0"):
        joint.peak_load(100.0, -5.0, WIDTH, LAW)
    with pytest.raises(ModelInputError, match=r"share = 1; it must lie between 0 and 1"):
        joint.effective_length(E_T, LAW, 1.0)
    with pytest.raises(ModelInputError, match=r"give one case; given 2"):
        joint.full_range([100.0, 200.0], E_T, WIDTH, LAW)  # type: ignore[arg-type]
