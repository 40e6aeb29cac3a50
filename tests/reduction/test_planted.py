"""Planted truth: what the simulated logs of the demo hold is found within the stated uncertainty.

The logs carry errors drawn within the half-widths of rig.yaml; forty seeds are in docs/evidence/planted_truth.json.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from evidence.planted_truth import judge, judge_seed, lost_gauges, planted_values, summary, without_exclusions

from cracktie.actions import open_campaign, reduce
from cracktie.demo.write import TRUTH_FILE, write_demo

EVIDENCE = Path(__file__).parents[2] / "docs" / "evidence" / "planted_truth.json"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return write_demo(tmp_path_factory.mktemp("planted") / "demo")


@pytest.fixture(scope="module")
def reduced(demo):
    return reduce(open_campaign(demo))


@pytest.fixture(scope="module")
def truth(demo):
    return json.loads((demo / TRUTH_FILE).read_text(encoding="utf-8"))["tests"]


def test_every_test_of_the_demo_reduces(reduced):
    assert len(reduced.tests) == 14
    assert reduced.skipped == {}
    assert reduced.warnings == ()


def test_every_planted_quantity_is_found_within_three_standard_uncertainties(reduced, truth):
    judged = {name: judge(result, truth[name]) for name, result in reduced.tests.items()}
    far = {(n, q): round(z, 2) for n, one in judged.items() for q, z in one["z"].items() if abs(z) > 3.0}
    assert far == {}
    assert all(one["missed"] == [] for one in judged.values())
    assert all(one["made_up"] == [] for one in judged.values())
    assert sum(len(one["z"]) for one in judged.values()) > 80


def test_the_planted_errors_are_large_enough_to_test_anything(reduced, truth):
    """A reduction that claimed a third of its uncertainty of V_max would fail; no error is within rounding."""
    z = [judge(result, truth[name])["z"]["V_max"] for name, result in reduced.tests.items()]
    assert 0.5 < np.std(z) < 1.6
    assert max(map(abs, z)) > 1.0


def test_lost_gauges_are_the_planted_ones(reduced, truth):
    for name, result in reduced.tests.items():
        assert set(lost_gauges(result)) == set(truth[name]["lost_gauges"])
        assert judge(result, truth[name])["lost_found"] == judge(result, truth[name])["lost_planted"]


def test_uncertainties_are_neither_idle_nor_silly(reduced):
    """Cell 0.4 % and places 3 mm in 2500 mm: about 0.3 % of V_max; a few per cent for an event sought by eye."""
    for result in reduced.tests.values():
        for name, low, high in (("V_max", 0.002, 0.005), ("V_dia", 0.003, 0.06), ("V_deb", 0.002, 0.02)):
            quantity = result.values.get(name)
            if quantity is not None:
                assert low < quantity.u / quantity.value < high, (result.test, name)


def test_judging_can_fail(reduced, truth):
    """The judge itself: a planted value moved by ten uncertainties is far, an event taken out is made up."""
    result = reduced.tests["OV-05"]
    moved = dict(truth["OV-05"])
    moved["V_max"] += 10 * result.values["V_max"].u
    assert judge(result, moved)["z"]["V_max"] < -7.0
    assert judge(result, moved | {"V_first_debonding": None})["made_up"] == ["V_deb"]
    assert judge(result, moved | {"lost_gauges": {"W1": 300.0}})["lost_found"] == 0
    assert "clock_lag" not in planted_values(truth["OV-05"])
    assert "clock_lag" in planted_values(truth["OV-08"])


@pytest.mark.slow
def test_other_seeds_are_covered_as_the_intervals_say(tmp_path):
    """Twelve seeds of five tests: of every quantity at least 90 % within +-2 u, all within 4 u, none made up."""
    campaign = without_exclusions(open_campaign(write_demo(tmp_path / "demo")))
    tests = ("OV-02", "OV-04", "OV-06", "OV-08", "OV-12-B")
    found = summary(judge_seed(campaign, 900 + seed, tests) for seed in range(12))
    assert found["lost_gauges"] == {"planted": 36, "found": 36, "made_up": 0}
    for name, row in found["quantities"].items():
        assert row["coverage"] >= 0.9, (name, row)
        assert row["largest_z"] < 4.0, (name, row)
        assert row["missed"] == row["made_up"] == 0, (name, row)


def test_the_evidence_says_what_the_page_promises():
    """The stored run of forty seeds: coverage of every quantity, and none missed."""
    stored = json.loads(EVIDENCE.read_text(encoding="utf-8"))
    assert stored["samples"] == 40
    for name, row in stored["result"]["quantities"].items():
        assert row["coverage"] >= 0.9, name
        assert row["covered"] <= row["number"]
