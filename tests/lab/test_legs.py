"""Debonding, anchor failure and rupture of legs: strains from closed forms and from the mechanics of a strip.

A leg that is free between crack and held end has one strain all along, (opening)/(length), elementary statics; a bonded
one falls off exponentially from the crack (Yuan et al. 2004, before softening).
"""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.lab.debonding import leg_events
from cracktie.lab.legs import Leg, LegGauge
from cracktie.mechanics import bond_law
from cracktie.mechanics.crossing import at_openings, follow_strip, strains_at
from cracktie.mechanics.strip import Anchor, Side

T = np.arange(0.0, 400.0, 0.2)
CRACK, END = 150.0, 350.0
HEIGHTS = (170.0, 240.0, 330.0)
DEBONDS, FAILS = 200.0, 300.0


def noisy(values, seed=0):
    return values + np.random.default_rng(seed).normal(0.0, 3e-6, len(values))


def load(*drops, size=0.03):
    """Up to 400 kN; at each time `size` of the load is lost and comes back."""
    found = T.copy()
    for at in drops:
        found = found * np.where(at <= T, 1.0 - size * np.exp(-(T - at) / 10.0), 1.0)
    return found + np.random.default_rng(9).normal(0.0, 0.05, T.size)


def held_leg(*, debonds=DEBONDS, fails=None, kept=0.05, gauges=HEIGHTS, anchor=False, fan=None, **more):
    """Bonded up to `debonds`, then free (1 mm a 400 s over 200 mm), then without its anchor from `fails` on."""
    free = T / 400.0 / 200.0
    made = []
    for i, z in enumerate(gauges):
        bonded = 4.5e-3 * np.sqrt(T / 200.0) * np.exp(-(z - CRACK) / 60.0)
        values = np.where(debonds <= T, free, bonded)
        if fan is not None and z > END - 60.0:
            values = values * (1.0 - 0.6 * np.clip((T - fails + fan) / fan, 0.0, 1.0))
        if fails is not None:
            values = np.where(fails <= T, kept * free[np.searchsorted(T, fails)], values)
        made.append(LegGauge(f"G{i + 1}", noisy(values, i), z))
    on_anchor = []
    if anchor:
        carried = np.where(debonds <= T, 0.8 * free, 0.0)
        on_anchor = [LegGauge("A", noisy(carried if fails is None else np.where(fails <= T, 0.0, carried), 7), END)]
    return Leg(3, "front", made, "anchor", (END,), None, on_anchor, **more)


def other_leg():
    return Leg(1, "front", [LegGauge("O", noisy(8e-6 * T, 20), 200.0)], "free", (END,))


def events(*legs, drops=(), **more):
    return leg_events(T, load(*drops), [*legs, other_leg()], deflection=T / 40.0, **more)[0]


def test_debonding_of_a_held_leg_is_no_failure_of_its_anchor():
    (event,) = events(held_leg(), drops=(DEBONDS,))
    assert (event.kind, event.strip, event.face) == ("debonding", 3, "front")
    assert event.time == pytest.approx(DEBONDS, abs=0.5)
    assert "evens out" in event.evidence


def test_an_anchor_that_fails_takes_the_whole_leg():
    first, second = events(held_leg(fails=FAILS), drops=(DEBONDS, FAILS))
    assert [e.kind for e in (first, second)] == ["debonding", "anchor failure"]
    assert second.time == pytest.approx(FAILS, abs=0.5)
    assert second.value == pytest.approx(FAILS, rel=0.01)
    assert second.detail == ""
    assert "fan or dowel not told apart" in second.evidence


def test_an_anchor_that_fails_before_any_debonding_was_seen_tells_the_latest_debonding():
    """Bonded by its gauges until everything falls at once: fibres must be free all the way to pull at an anchor."""
    e = 15e-6 * T
    gauges = [LegGauge(f"G{i + 1}", noisy(np.where(FAILS <= T, 0.05 * e[-1], e), i), z) for i, z in enumerate(HEIGHTS)]
    found = events(Leg(3, "front", gauges, "anchor", (END,), None, []), drops=(FAILS,))
    debonding = next(event for event in found if event.kind == "debonding")
    failure = next(event for event in found if event.kind == "anchor failure")
    assert (debonding.row, debonding.value, debonding.strip) == (failure.row, failure.value, 3)
    assert debonding.method == "no later than the anchor failure"
    assert debonding.confidence < failure.confidence
    assert (
        len([event for event in events(held_leg(fails=FAILS), drops=(DEBONDS, FAILS)) if event.kind == "debonding"])
        == 1
    )


def test_all_at_once_with_the_anchor_is_fan_or_dowel():
    *_, event = events(held_leg(fails=FAILS, anchor=True), drops=(DEBONDS, FAILS))
    assert (event.kind, event.detail) == ("anchor failure", "")
    assert "a dowel or a fan that lets go at once" in event.evidence


@pytest.mark.parametrize("anchor", [True, False])
def test_a_fan_takes_the_gauges_near_it_first(anchor):
    *_, event = events(held_leg(fails=FAILS, anchor=anchor, fan=5.0), drops=(DEBONDS, FAILS))
    assert (event.kind, event.detail) == ("anchor failure", "fan")
    assert "G3 near the fan sinks" in event.evidence


def test_one_gauge_alone_on_a_leg_says_what_it_can():
    first, second = events(held_leg(gauges=(160.0,), fails=FAILS), drops=(DEBONDS, FAILS))
    assert first.kind == "debonding"
    assert second.kind == "anchor failure"
    assert "not told apart" in second.evidence


def test_a_closed_wrap_tears():
    leg = held_leg(fails=FAILS)
    *_, event = events(Leg(leg.strip, leg.face, leg.gauges, "wrap", strength=0.005), drops=(DEBONDS, FAILS))
    assert event.kind == "strip rupture"
    assert "75 % of the rupture strain" in event.evidence  # 300 s: 3750 um/m of 5000


def test_no_event_without_a_reason():
    steady = [LegGauge(f"G{i}", noisy(5e-6 * T * f, i), z) for i, (f, z) in enumerate(zip((1, 0.4, 0.1), HEIGHTS))]  # noqa: B905
    assert events(Leg(3, "front", steady, "anchor", (END,))) == []


def test_a_step_of_an_amplifier_is_no_debonding():
    """The gauge reads 500 um/m less from 250 s on and goes on rising as before; nothing else happens."""
    values = noisy(10e-6 * T - np.where(T >= 250.0, 5e-4, 0.0))
    for held in ("free", "anchor"):
        assert events(Leg(3, "front", [LegGauge("G1", values, 170.0)], held, (END,))) == []
    dropped = events(Leg(3, "front", [LegGauge("G1", values, 170.0)], "free", (END,)), drops=(250.0,))
    assert [e.kind for e in dropped] == ["debonding"]  # with a drop of the load it is one


def test_a_hold_with_relaxation_is_no_event():
    t = np.arange(0.0, 400.0, 0.2)
    level = np.interp(t, [0, 200, 300, 400], [0, 200, 196, 300])
    strain = 10e-6 * np.maximum.accumulate(level) * np.where((t > 200) & (t < 300), 1 - 0.03 * (t - 200) / 100, 1.0)
    leg = Leg(3, "front", [LegGauge("G1", noisy(strain), 170.0)], "free", (END,))
    d = np.maximum.accumulate(level) / 40.0
    assert leg_events(t, level + np.random.default_rng(1).normal(0, 0.05, t.size), [leg], deflection=d)[0] == []


def test_behind_the_wreck_nothing_is_sought():
    """Below two thirds of the peak the legs of a broken beam do what they like."""
    t = np.arange(0.0, 300.0, 0.2)
    broken = np.where(t < 200.0, t, 100.0)
    strain = np.where(t < 250.0, 2e-3, 1e-4) * np.minimum(t / 100.0, 1.0)
    leg = Leg(
        3, "front", [LegGauge("G1", noisy(strain), 170.0), LegGauge("G2", noisy(strain, 2), 200.0)], "free", (END,)
    )
    assert leg_events(t, broken, [leg], deflection=t / 40.0)[0] == []


def strip_record(anchors, peeled=None):
    """A strip whose crack opens 1 mm in 50 s, by the march of its bond; gauges at `HEIGHTS`."""
    law = bond_law.bilinear(3.0, 0.05, 0.5, 0.05)
    upper = Side(END - CRACK, 39e3, 60.0, law, anchors=anchors)
    lower = Side(CRACK, 39e3, 60.0, law, fixed=True)
    w = np.maximum(T / 50.0, 1e-3)
    states = at_openings(follow_strip(upper, lower, opening_max=8.1), w)
    strains = strains_at(upper, states.upper, np.array([END - z for z in HEIGHTS]), 5.0)
    return states, [LegGauge(f"G{i + 1}", noisy(strains[:, i], i), z) for i, z in enumerate(HEIGHTS)]


def test_a_free_strip_lets_go_from_the_crack_where_its_force_falls():
    states, gauges = strip_record(())
    fallen = int(np.argmax(states.force < 0.5 * np.maximum.accumulate(states.force)))
    (event,) = events(Leg(3, "front", gauges, "free", (END,)), drops=(T[fallen],))
    assert event.time == pytest.approx(T[fallen], abs=0.5)
    assert event.detail == "crack-induced"


def test_an_anchored_strip_debonds_where_its_end_has_softened_and_fails_where_its_spring_does():
    spring = Anchor(20e3, 22e3, 0.05, 0.0)
    states, gauges = strip_record((spring,))
    softened = T[int(np.argmax(states.upper[:, 0] >= 0.5))]
    begun = T[int(np.argmax(states.upper[:, 0] >= 0.05))]
    failed = T[int(np.argmax(states.upper[:, 0] >= 22e3 / 20e3))]
    assert begun <= softened < failed
    first, second = events(Leg(3, "front", gauges, "anchor", (END,)), drops=(failed,))
    assert (first.kind, second.kind) == ("debonding", "anchor failure")
    assert begun - 1.0 <= first.time <= softened + 5.0
    assert second.time == pytest.approx(failed, abs=1.0)
