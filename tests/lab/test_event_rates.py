"""Detection and false alarms on 25 records without and 25 with faults; the full sample is run as evidence."""

from __future__ import annotations

import numpy as np
import pytest
from evidence.event_detection import EVENTS, judge, plant, summary

pytestmark = pytest.mark.slow

RECORDS = 25


@pytest.fixture(scope="module")
def rates():
    rng = np.random.default_rng(20)
    rows = [
        {"faults": faulty, "events": judge(plant(rng, faulty=faulty))}
        for faulty in (False, True)
        for _ in range(RECORDS)
    ]
    return summary(rows)


@pytest.mark.parametrize("faults", ["without faults", "with faults"])
@pytest.mark.parametrize("event", EVENTS)
def test_planted_events_are_found(rates, faults, event):
    found = rates[faults][event]
    assert found["records"] == RECORDS
    if event != "lost gauge" or faults == "with faults":
        assert found["planted"] >= 5
        assert found["found"] >= found["planted"] - 1


@pytest.mark.parametrize("faults", ["without faults", "with faults"])
@pytest.mark.parametrize("event", EVENTS)
def test_few_false_alarms(rates, faults, event):
    assert rates[faults][event]["false"] <= (
        {"flexural": 3, "diagonal": 5}.get(event, 1)
    )  # a drifting gauge alone looks like a crack


def test_the_judgement_can_fail():
    """A record told to hold a crack that it does not hold counts as missed; one denied its crack as a false alarm."""
    rng = np.random.default_rng(1)
    made = next(m for m in (plant(rng, faulty=False) for _ in range(50)) if "diagonal" in m.truth)
    load, at = made.truth["diagonal"]
    made.truth["diagonal"] = (0.5 * load, at)
    assert judge(made)["diagonal"] == {"planted": True, "found": False, "false": True}
    del made.truth["diagonal"]
    assert judge(made)["diagonal"]["false"]
