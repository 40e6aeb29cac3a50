"""Strain profiles of a test at V_max as curves; read as exported, neither zeroed nor filtered."""

from __future__ import annotations

from typing import Any

import numpy as np

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab.profile import read_profile
from cracktie.reduced import Curve
from cracktie.reduction.signals import Signals


def profile_curves(campaign: Campaign, test: Test, signals: Signals, row: int, notes: list[str]) -> list[Curve]:
    """One curve a profile file at the time of a row of the first log; a file that cannot be used becomes a note."""
    if campaign.folder is None:
        return []
    curves = []
    for told in test.profiles:
        offset = 0.0 if told.clock_offset is None else float(told.clock_offset)
        try:
            profile = read_profile(campaign.folder / told.file, told.file, told.unit)
            strain, time = profile.at(float(signals.time[row]) - offset)
        except CracktieError as error:
            notes.append(f"{told.file}: profile not used: {'; '.join(str(error).splitlines())}")
            continue
        good = np.isfinite(strain)
        if not good.any():
            notes.append(f"{told.file}: profile not used: no strain at {time:.1f} s")
            continue
        where = "the critical crack" if told.along == "crack" else f"strip {told.strip}"
        most = int(np.nanargmax(strain))
        notes.append(
            f"{told.file}: strain along {where} ({told.face}) at V_max, reading at {time + offset:.1f} s: largest "
            f"{strain[most] * 1e6:.0f} um/m at {profile.position[most]:.1f} mm, {int(good.sum())} of {len(good)} places"
            " with a reading; as exported, not zeroed"
        )
        arguments: dict[str, Any] = {"file": told.file, "time_s": time, "offset_s": offset, "places": int(good.sum())}
        signals.trail = signals.trail.add("profile", arguments, np.array([row]))
        name = f"strain along {where} at V_max, {told.file}"
        axis = "s_cr" if told.along == "crack" else "z"
        curves.append(Curve(name, axis, "eps_f", profile.position[good].copy(), strain[good].copy()))
    return curves
