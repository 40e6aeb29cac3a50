"""Instruments and readings as the campaign files state them: what is taken and what is refused, in words."""

from __future__ import annotations

import pytest

from cracktie.campaign.read import read_campaign
from cracktie.errors import InputRefused

from .beams import folder


def refused(place, **files) -> list[str]:
    with pytest.raises(InputRefused) as caught:
        read_campaign(folder(place, **files))
    return [str(p) for p in caught.value.problems if p.level == "error"]


def test_the_peak_that_the_controller_kept(tmp_path):
    campaign = read_campaign(folder(tmp_path, tests="tests: {T: {specimen: S1, peak_hold: 312.4 kN}}\n"))
    assert campaign.tests["T"].peak_hold == pytest.approx(312_400.0)


def test_a_peak_with_a_sign_is_refused(tmp_path):
    (told,) = refused(tmp_path, tests="tests: {T: {specimen: S1, peak_hold: -312.4 kN}}\n")
    assert told.startswith("tests.yaml:1:9: tests.T: peak_hold is the largest force the controller kept, written with")
