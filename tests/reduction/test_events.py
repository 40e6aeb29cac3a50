"""Events of a test with the engineer's choices on them, and the failure modes they are evidence of."""

from __future__ import annotations

import json

import numpy as np
import pytest

from cracktie.actions import open_campaign
from cracktie.errors import CracktieError
from cracktie.reduction import reduce_campaign, reduce_test
from cracktie.reduction.explain import explain

from .conftest import csv, record


def two_debondings(second=170.0):
    """Strip 1 lets go at 150 s, strip 2 at `second`; each fall of a gauge comes with 5 % less load and a rise."""
    columns = record()
    t = columns["Time"]
    for name, other, at in (("G1", "G2", 150.0), ("G2", "G1", second)):
        later = t >= at
        columns[name] = np.where(later, 0.1 * columns[name], columns[name])
        columns[other] = columns[other] + np.where(later, 120.0, 0.0)
        columns["P"] = columns["P"] * np.where(later, 1.0 - 0.05 * np.exp(-(t - at) / 4.0), 1.0)
    return {"logs/T.csv": csv(columns)}


def chosen(changed, *events):
    return changed("reduction", lambda r: r["tests"]["T"].update(events=list(events)))


def marks(result, kind):
    return [m for m in result.marks if m.kind == kind]


@pytest.fixture
def reduced(build, changed):
    """reduced(*events, logs=...): the test with these choices in reduction.yaml."""
    count = iter(range(100))

    def make(*events, logs=None, **more):
        campaign = build(logs=logs or two_debondings(), folder=f"c{next(count)}", **chosen(changed, *events), **more)
        return reduce_test(campaign, "T")

    return make


def test_every_debonding_has_its_strip_and_order(reduced):
    result = reduced()
    (first,), (second,) = marks(result, "first debonding"), marks(result, "debonding")
    assert (first.strip, second.strip) == (1, 2)
    assert first.time == pytest.approx(149.5)
    assert second.time == pytest.approx(169.5)
    assert result.value("V_deb") == pytest.approx(first.V)
    assert first.V < second.V
    assert "load drops" in first.evidence
    drops = marks(result, "load drop")
    assert [round(d.time) for d in drops[:2]] == [150, 170]
    assert drops[0].evidence.endswith("with debonding of strip 1")


def test_both_levels_behind_the_peak_are_marked(reduced):
    """100 kN at 200 s, 60 kN half a second later: 85 kN after 0.1875 s, 80 kN after 0.25 s."""
    result = reduced(logs={"logs/T.csv": csv(record())})
    (at85,), (at80,) = marks(result, "85 % after the peak"), marks(result, "80 % after the peak")
    assert at85.time == pytest.approx(200.1875)
    assert at80.time == pytest.approx(200.25)
    assert float(at80.V) == pytest.approx(50.7e3)  # 0.6 (80 + 2) + 1.5


def test_a_choice_is_told_apart_by_strip(reduced):
    rejected = reduced({"event": "debonding", "strip": 1, "status": "rejected", "reason": "knock"})
    (first,) = marks(rejected, "first debonding")
    assert first.strip == 2  # the next one is the first now
    (kept,) = [m for m in rejected.marks if m.status == "rejected"]
    assert (kept.strip, kept.reason, kept.proposed["time"]) == (1, "knock", kept.time)
    moved = reduced({"event": "debonding", "strip": 2, "status": "moved", "time": "160 s"})
    (second,) = marks(moved, "debonding")
    assert (second.time, second.status) == (160.0, "moved")
    assert second.proposed["time"] == pytest.approx(169.5)
    assert marks(moved, "first debonding")[0].status == "proposed"


def test_a_choice_is_told_apart_by_the_time_of_its_proposal(reduced):
    result = reduced(
        {"event": "load drop", "status": "rejected", "time": "171 s", "reason": "valve"},
        {"event": "load drop", "status": "moved", "proposed_at": "148 s", "time": "140 s"},
    )
    assert [(round(m.time), m.status) for m in marks(result, "load drop")[:2]] == [(140, "moved"), (170, "rejected")]


def test_an_event_may_be_added(reduced):
    result = reduced(
        {"event": "anchor failure", "status": "added", "time": "195 s", "anchor": "2B", "detail": "dowel"},
        {"event": "first diagonal crack", "status": "added", "time": "65 s", "reason": "seen"},
    )
    (anchor,) = marks(result, "anchor failure")
    assert (anchor.strip, anchor.face, anchor.detail, anchor.status) == (2, "back", "dowel", "added")
    assert anchor.proposed is None
    assert result.value("V_dia") == pytest.approx(0.6 * (25e3 + 2e3) + 1.5e3, rel=1e-3)
    assert "added" in result.values["V_dia"].status


def test_a_moved_event_stays_when_its_proposal_disappears(reduced):
    choice = {"event": "first debonding", "status": "moved", "time": "110 s", "reason": "heard"}
    before = reduced(choice)
    after = reduced(choice, logs={"logs/T.csv": csv(record())})
    assert marks(before, "first debonding")[0].proposed["time"] == pytest.approx(149.5)
    (kept,) = marks(after, "first debonding")
    assert (kept.time, kept.status, kept.proposed) == (110.0, "moved", None)
    assert after.value("V_deb") == pytest.approx(0.6 * (50e3 + 2e3) + 1.5e3, rel=1e-6)
    assert any("nothing is proposed any more" in note for note in after.notes)


def test_a_rerun_keeps_the_choice_and_the_trail_has_both(build, changed):
    choice = {"event": "first debonding", "status": "moved", "time": "110 s", "reason": "heard"}
    campaign = build(logs=two_debondings(), **chosen(changed, choice))
    one = reduce_campaign(campaign, fresh=True).tests["T"]
    two = reduce_campaign(open_campaign(campaign.folder), fresh=False).tests["T"]
    assert json.dumps(one.to_dict()) == json.dumps(two.to_dict())
    (step,) = [dict(s.arguments) for s in two.trail if dict(s.arguments).get("event") == "first debonding"]
    assert (step["proposed_s"], step["used_s"], step["status"]) == (149.5, 110.0, "moved")
    kept = json.loads((campaign.folder / "out" / "reduced" / "T.json").read_text(encoding="utf-8"))["result"]
    (mark,) = [m for m in kept["marks"] if m["kind"] == "first debonding"]
    assert (mark["time"], mark["proposed"]["time"]) == (110.0, 149.5)
    lines = "\n".join(explain(campaign, "T", "V_deb").lines())
    assert "proposed_s=149.5" in lines
    assert "used_s=110" in lines


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        ({"event": "debonding", "strip": 7}, "no such event is proposed; proposed: strip 1 at 149.5 s"),
        ({"event": "load drop", "status": "rejected", "time": "60 s"}, "no such event is proposed"),
        ({"event": "debonding"}, "2 events of that kind are proposed"),
        ({"event": "debonding", "strip": 2, "status": "moved", "time": "900 s"}, "outside the record"),
        ({"event": "strip rupture", "strip": 1}, "no such event is proposed"),
    ],
)
def test_a_choice_that_matches_nothing_is_told_with_its_place(reduced, choice, said):
    (note,) = [n for n in reduced(choice).notes if "reduction.yaml:" in n]
    assert said in note
    line = note.split(":")[1]
    assert line.isdecimal()
    assert int(line) > 1
    assert "tests.T.events.1" in note


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        ({"event": "first debondig"}, "did you mean 'first debonding'"),
        ({"event": "debonding", "status": "moved"}, "needs the time of the event"),
        ({"event": "V_max", "status": "rejected"}, "every test has one V_max"),
        ({"event": "load drop", "strip": 2}, "happens on no strip"),
        ({"event": "anchor failure", "anchor": "3F", "strip": 3}, "keep one of them"),
        ({"event": "gauge loss", "status": "rejected"}, "needs its channel"),
    ],
)
def test_an_impossible_choice_is_refused_on_reading(build, changed, choice, said):
    with pytest.raises(CracktieError, match=said) as caught:
        build(**chosen(changed, choice))
    assert "reduction.yaml:" in str(caught.value)


# peak


def test_peak_hold_is_taken_and_its_difference_told(reduced, changed):
    """The logger's largest reading is 100 kN, the controller kept 101 kN: 1 kN / sqrt(3) joins u."""
    held = changed("tests", lambda t: t["tests"]["T"].update(peak_hold="101 kN"))
    with_hold, without = reduced(**held), reduced()
    assert with_hold.value("P_max") == pytest.approx(101e3)
    assert with_hold.value("V_max") == pytest.approx(0.6 * (101e3 + 2e3) + 1.5e3)
    assert any("controller" in note and "0.99 % lower" in note for note in with_hold.notes)
    u, plain = with_hold.values["P_max"].u, without.values["P_max"].u
    more = (0.004 * 101e3) ** 2 - (0.004 * 100e3) ** 2
    assert u**2 - plain**2 == pytest.approx((1e3) ** 2 / 3 + more, rel=0.1)
    low = changed("tests", lambda t: t["tests"]["T"].update(peak_hold="99 kN"))
    lower = reduced(**low)
    assert lower.value("P_max") == pytest.approx(100e3, rel=1e-4)
    assert any("higher" in note for note in lower.notes)


def test_v_max_may_be_moved(reduced):
    """A knock of the cell at the end is no peak: the engineer takes 190 s, 94.44 kN."""
    result = reduced({"event": "V_max", "status": "moved", "time": "190 s", "reason": "knock"})
    assert result.value("P_max") == pytest.approx(100e3 * 170 / 180, rel=0.01)
    (mark,) = marks(result, "V_max")
    assert (mark.status, mark.proposed["time"]) == ("moved", 200.0)


# gauges


def _lost(at=120.0):
    columns = record()
    columns["G2"] = np.where(columns["Time"] >= at, 60_000.0, columns["G2"])
    return {"logs/T.csv": csv(columns)}


def test_a_lost_gauge_is_an_event_that_can_be_moved_or_rejected(reduced):
    found = reduced(logs=_lost())
    (mark,) = marks(found, "gauge loss")
    assert (mark.channel, mark.strip, mark.time) == ("G2", 2, 120.0)
    assert found.value("eps_f_max") == pytest.approx(2000e-6)
    earlier = reduced({"event": "gauge loss", "channel": "G2", "status": "moved", "time": "100 s"}, logs=_lost())
    (mark,) = marks(earlier, "gauge loss")
    assert (mark.time, mark.proposed["time"]) == (100.0, 120.0)
    rejected = reduced({"event": "gauge loss", "channel": "G2", "status": "rejected"}, logs=_lost())
    assert rejected.value("eps_f_max") == pytest.approx(60_000e-6)  # its readings count again
    assert not any("lost at" in note for note in rejected.notes)
    added = reduced({"event": "gauge loss", "channel": "G1", "status": "added", "time": "110 s"})
    assert added.value("eps_f_max") < 1500e-6


# failure modes


def observed(build, *modes):
    campaign = build(logs=two_debondings(), folder=f"m{len(modes)}")
    path = campaign.folder / "observations.yaml"
    path.write_text(json.dumps({"specimens": {"S": {"failure_modes": list(modes)}}}) + "\n", encoding="utf-8")
    return reduce_test(open_campaign(campaign.folder), "T")


def test_modes_are_proposed_from_the_gauges(reduced):
    modes = [m for m in reduced().modes if "debonding" in m.modes[0]]
    assert [(m.strip, m.source, m.agreement) for m in modes] == [
        (1, "measured", "proposed, not among the observed"),
        (2, "measured", "proposed, not among the observed"),
    ]
    assert modes[0].modes == ("strip end debonding", "crack-induced debonding")  # one gauge a leg cannot tell


def test_observed_modes_win_and_a_disagreement_is_told(build):
    seen = (
        {"mode": "crack-induced debonding", "strip": 1, "load": "72 kN", "confidence": "certain", "evidence": "sound"},
        {"mode": "web crushing", "load": "100 kN"},
    )
    result = observed(build, *seen)
    first, second = result.modes[:2]
    assert (first.source, first.modes, first.confidence) == ("observed", ("crack-induced debonding",), "certain")
    assert first.agreement.startswith("measured as well at 149.5 s")
    assert (second.modes, second.agreement) == (("web crushing",), "")
    rest = [m for m in result.modes if m.source == "measured" and "debonding" in m.modes[0]]
    assert [m.strip for m in rest] == [2]
    other = observed(build, {"mode": "cover separation", "strip": 1, "load": "72 kN"})
    assert other.modes[0].agreement.startswith("otherwise at 149.5 s: strip end debonding or crack-induced")
    assert any("observed so, measured otherwise" in note for note in other.notes)
