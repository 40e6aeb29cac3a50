"""Which way the clock of a second log is found: pulses, a signal of both, sudden events; else all that was tried."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.campaign.choices import Choice
from cracktie.campaign.instruments import Channel
from cracktie.reduction.clocks import clock_of
from cracktie.reduction.joining import joined
from cracktie.reduction.signals import Signal, Signals

SHIFT = 47.3
FALLS = (400.0, 655.0, 910.0, 1300.0, 1490.0)


def load(t):
    """kN: pieces of uneven rate, a hold, and falls."""
    up = np.interp(t, [0, 60, 300, 360, 800, 1400, 1500, 1600], [0, 0, 60, 60, 110, 200, 170, 170])
    return up - sum(np.where(t > f, 9.0, 0.0) for f in FALLS)


def strain(t):
    return 5.0 * np.interp(t, [0, 300, 1600], [0, 0, 900]) + sum(np.where(t > f, 400.0, 0.0) for f in FALLS)


def pulse(t):
    return np.where(np.any([(t > p) & (t < p + 1.0) for p in (130.0, 437.0, 700.0, 1281.0)], axis=0), 5.0, 0.0)


def signals(step, shift, seed, **makers):
    """A log that begins `shift` after the first one; its own time starts at 0."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 1500.0, step)
    found = {}
    for name, make in makers.items():
        quantity = {"P": "load", "S": "time mark", "D": "displacement"}.get(name[0], "FRP strain")
        values = make(time + shift)
        noise = 0.0 if quantity == "time mark" else 0.002 * float(np.ptp(values) or 1.0)
        found[name] = Signal(
            Channel(name=name, quantity=quantity), values + rng.normal(0.0, noise, time.size), 0.0, noise
        )
    return Signals(time, found)


@pytest.mark.parametrize(
    ("one", "two", "way"),
    [
        ({"P": load, "S": pulse}, {"P": load, "S": pulse}, "pulses of S: "),
        ({"P": load}, {"P2": load, "G1": strain}, "P and P2: correlation"),
        ({"P": load, "D1": load}, {"D1": load, "G1": strain}, "D1: correlation"),
        ({"P": load}, {"G1": strain, "G2": strain}, "falls of P against jumps of gauges: "),
        ({"G1": strain}, {"P": load}, "falls of P against jumps of gauges: "),
    ],
)
def test_the_first_way_that_holds_is_taken(one, two, way):
    found = clock_of(signals(0.1, 0.0, 1, **one), signals(0.4, SHIFT, 2, **two))
    assert found.status == "accepted", found.reason
    assert found.reason.startswith(way)
    assert abs(found.offset - SHIFT) < 2.5 * found.u
    assert found.u < 0.5


def test_pulses_that_leave_it_open_hand_on_to_the_load():
    every_second = {"S": lambda t: np.where(t % 1.0 < 0.45, 5.0, 0.0)}
    found = clock_of(signals(0.1, 0.0, 1, P=load, **every_second), signals(0.4, SHIFT, 2, P=load, **every_second))
    assert found.reason.startswith("P: correlation")


def test_one_event_alone_is_a_proposal_not_an_answer():
    def once(t):
        return np.interp(t, [0, 1000], [0, 100]) - np.where(t > 910.0, 20.0, 0.0)

    def jump(t):
        return np.where(t > 910.0, 900.0, 0.0)

    found = clock_of(signals(0.1, 0.0, 1, P=once), signals(0.4, SHIFT, 2, G1=jump))
    assert found.status == "asked"
    offset = float(found.reason.split("clock_offset would be ")[1].split(" s")[0])
    assert offset == pytest.approx(SHIFT, abs=0.5)


def test_nothing_shared_is_told():
    found = clock_of(signals(0.1, 0.0, 1, P=lambda t: t), signals(0.4, SHIFT, 2, G1=lambda t: t))
    assert (found.status, found.reason) == (
        "asked", "the two logs share no load channel, no other signal and no time marks"
    )  # fmt: skip


def test_a_copy_counted_the_other_way_round_places_the_clock_and_is_told():
    found = clock_of(signals(0.1, 0.0, 1, P=load), signals(0.4, SHIFT, 2, P2=lambda t: -load(t)))
    assert found.status == "accepted", found.reason
    assert abs(found.offset - SHIFT) < 2.5 * found.u
    assert "the other way round" in found.reason


@pytest.mark.parametrize(
    ("stated", "told"),
    [("47.5 s", None), ("20 s", "is taken, but the readings place it at 47."), ("5000 s", "it runs from 5000.0 to")],
)
def test_a_stated_clock_against_the_readings(stated, told):
    parts = [signals(0.1, 0.0, 1, P=load), signals(0.4, SHIFT, 2, P2=load)]
    choice = Choice(logs=({"log": "b.csv", "clock_offset": stated},))
    notes = joined(parts, ["a.csv", "b.csv"], choice).notes
    assert any("(stated in reduction.yaml)" in n for n in notes)
    doubts = [n for n in notes if " is taken, but " in n or ": left out, " in n]
    assert bool(doubts) == (told is not None)
    assert told is None or any(told in n for n in doubts)
