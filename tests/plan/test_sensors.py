"""Simulated logs hold what a logger would show that does not know the gauge."""

from __future__ import annotations

import pytest

from cracktie.actions import open_campaign
from cracktie.demo.write import write_demo
from cracktie.plan.sensors import sensors


def test_a_gauge_with_another_factor_and_leads(tmp_path):
    """Set to 2.0 for 2.12, 0.6 ohm in the arm of 120: true over shown is 2.0/2.12 x 1.005 (hand); others stay."""
    folder = write_demo(tmp_path / "demo")
    rig = (folder / "rig.yaml").read_text(encoding="utf-8")
    gauge = "{gauge_factor: 2.12, gauge_factor_set: 2.0, resistance: 120 ohm, lead_resistance: 0.6 ohm}"
    (folder / "rig.yaml").write_text(rig.replace("  wrapped:\n", f"  wrapped:\n    gauge: {gauge}\n"), encoding="utf-8")
    campaign = open_campaign(folder)
    found = {s.name: s.scale for s in sensors(campaign, campaign.tests["OV-05"])}
    assert found["S1F1"] == pytest.approx(2.0 / 2.12 * 1.005)
    assert found["DF"] == 1.0
    assert found["SR"] == -1.0
