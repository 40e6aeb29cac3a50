"""Strain profiles of a test, zeroed, cleaned and laid on strips or crack: as readings, curves and values."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.campaign.profiles import Stretch
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, ModelInputError
from cracktie.lab import profile as lab
from cracktie.lab.budget import Budget, Component
from cracktie.reduced import Curve
from cracktie.reduction.budgets import Found
from cracktie.reduction.opening import Moment
from cracktie.reduction.profile_files import Loaded, loaded_profiles
from cracktie.reduction.signals import Signals
from cracktie.units import parse

LEVELS = (0.4, 0.6, 0.8)
"""Shares of P_max at which the growth of a profile is shown, at their first crossing."""

BACK = 5
"""Readings before the one used that give the rate of the strain (their median: one spike counts for nothing)."""


@dataclass(frozen=True)
class ProfileReading:
    """Strain along a strip or the crack at one moment.

    `position` is in mm, ascending: z for a strip, distance along the crack from its lower end for a crack. `strain` is
    a ratio from its zero, tension positive, NaN where missing; `u` its standard uncertainty at each place; `flags` say
    how each place stands (numbers of `lab.profile.FLAGS`). `time` is that of the reading, on the clock of the first
    log. `u_common` is the part of `u` that all places share (accuracy, clock, lag, temperature): it does not average
    out.
    """

    along: str
    strip: int | None
    face: str
    position: Any
    strain: Any
    u: Any
    file: str
    time: float = math.nan
    flags: Any = None
    u_common: Any = None

    @property
    def where(self) -> str:
        """Place in words."""
        return ("the critical crack" if self.along == "crack" else f"strip {self.strip}") + f" ({self.face})"


def profile_readings(
    campaign: Campaign, test: Test, signals: Signals, row: int, notes: list[str], *, keep: bool = True
) -> list[ProfileReading]:
    """Every profile of a test at a row of its first log; one that cannot be used becomes a note. `keep` puts the step
    into the trail."""
    found: list[ProfileReading] = []
    for loaded in loaded_profiles(campaign, test, signals, notes):
        try:
            found += _at(loaded, signals, row, keep)
        except CracktieError as error:
            _say(notes, f"{loaded.told.file}: profile not used: {'; '.join(str(error).splitlines())}")
    return found


def profile_curves(
    campaign: Campaign, test: Test, signals: Signals, moments: Sequence[Moment], P: Any, notes: list[str]
) -> list[Curve]:
    """A curve a line at every moment (V_max, V_deb) and at `LEVELS` of the largest load, V_max with a note."""
    curves = []
    top = next(m.row for m in moments if m.name == "V_max")
    rows = [(f"at {m.name}", m.row) for m in moments] + [(f"at {100 * s:g} % of P_max", r) for s, r in _levels(P, top)]
    for words, row in rows:
        said: list[str] = notes if row == top else []
        for reading in profile_readings(campaign, test, signals, row, said, keep=row == top):
            good = np.isfinite(reading.strain)
            if row == top:
                _say(notes, _told(reading, good))
            if good.any():
                axis = "s_cr" if reading.along == "crack" else "z"
                name = f"strain along {reading.where} {words}, {reading.file}"
                curves.append(Curve(name, axis, "eps_f", reading.position[good].copy(), reading.strain[good].copy()))
    return curves


def _levels(P: Any, top: int) -> Iterator[tuple[float, int]]:
    """First rows at which the load reaches its shares."""
    for share in LEVELS:
        reached = np.flatnonzero(P[: top + 1] >= share * float(P[top]))
        if reached.size and reached[0] < top:
            yield share, int(reached[0])


def _told(reading: ProfileReading, good: Any) -> str:
    start = f"{reading.file}: strain along {reading.where} at V_max, reading at {reading.time:.1f} s: "
    counts = [(int((reading.flags == kind).sum()), lab.FLAGS[kind]) for kind in range(1, len(lab.FLAGS))]
    odd = "".join(f", {n} {word}" for n, word in counts if n)
    if not good.any():
        return f"{start}no strain at any of {len(good)} places{odd}"
    most = int(np.nanargmax(reading.strain))
    largest, u = 1e6 * reading.strain[most], 1e6 * reading.u[most]
    return (
        f"{start}largest {largest:.0f} um/m at {reading.position[most]:.1f} mm, u = {u:.0f} um/m; {int(good.sum())} of "
        f"{len(good)} places with a strain{odd}"
    )


def profile_values(readings: Sequence[ProfileReading]) -> Iterator[Found]:
    """Largest strain, mean strain and their ratio D along the critical crack at V_max, from its profile (the first file
    along it with a strain).

    The mean is over the length from the first to the last reading, by trapezoids over the places that read; what lies
    beyond them is no part of it. With weights g_i of the places, u of the mean joins their independent parts,
    sqrt(sum (g_i u_i)^2), the part they share, sum g_i u_common,i, and what a straight line over a gap might miss: half
    the range of the strains over the share of the length in gaps, rectangular.
    """
    for reading in readings:
        good = np.flatnonzero(np.isfinite(reading.strain))
        if reading.along != "crack" or good.size < 2:
            continue
        s, e, u, common = (a[good] for a in (reading.position, reading.strain, reading.u, reading.u_common))
        length = float(s[-1] - s[0])
        weight = np.gradient(s) if good.size > 2 else np.full(2, length / 2)
        weight[[0, -1]] = 0.5 * (s[1] - s[0]), 0.5 * (s[-1] - s[-2])
        weight = weight / length
        mean, most = float((weight * e).sum()), int(np.argmax(e))
        gaps = float(np.diff(s)[np.diff(good) > 1].sum()) / length
        parts = [
            Component(
                "zero and noise of the places", math.sqrt(float((weight**2 * (u**2 - common**2)).sum())), kind="A"
            ),
            Component("accuracy, clock and temperature", float((weight * common).sum())),
            Component(
                "gaps", 0.5 * gaps * float(np.ptp(e)) / math.sqrt(3.0), "rectangular", note=f"{gaps:.0%} of length"
            ),
        ]
        of = f"{reading.file}, {good.size} places over {length:.0f} mm of the crack ({reading.face})"
        own = math.sqrt(max(float(u[most] ** 2 - common[most] ** 2), 0.0))
        one = Budget((Component("zero and noise of the place", own, kind="A"),
                      Component("accuracy, clock and temperature", float(common[most]))))  # fmt: skip
        yield Found("eps_f_line_max", float(e[most]), "-", one, f"at {s[most]:.0f} mm from its lower end; {of}")
        budget = Budget(tuple(c for c in parts if c.u > 0.0))
        yield Found("eps_f_line_mean", mean, "-", budget, f"by trapezoids; {of}")
        if e[most] > 0.0:
            ratio = mean / float(e[most])
            told = (Component("mean", budget.u / float(e[most])), Component("largest", ratio * one.u / float(e[most])))
            yield Found("D_f_line", ratio, "-", Budget(told), f"mean over largest strain; {of}")
        return


def _say(notes: list[str], text: str) -> None:
    if text not in notes:
        notes.append(text)


def _at(loaded: Loaded, signals: Signals, row: int, keep: bool) -> Iterator[ProfileReading]:
    told, profile, zero = loaded.told, loaded.profile, loaded.zero
    moment = float(signals.time[row]) - loaded.offset
    k = profile.row(moment)
    flags = lab.flags_at(profile, zero, k)
    strain = np.asarray(profile.strain[k], dtype=float) - zero.level
    u_warmth = 0.0
    if told.loose is not None:
        warmth, u_warmth = lab.loose_strain(profile, zero, k, min(told.loose), max(told.loose))
        strain = strain - warmth
    common = np.hypot(_u_common(loaded, strain, k, moment), u_warmth)
    u = np.sqrt(zero.u**2 + zero.sigma**2 + common**2)
    strain = np.where(flags == lab.READ, strain, np.nan)
    time = float(profile.time[k]) + loaded.offset
    if keep:
        _keep_step(loaded, signals, row, k, flags)
    for line in told.lines:
        if isinstance(line, Stretch):
            ends = (line.fibre[0], line.fibre[1]), (line.place[0], line.place[1])
            index, position = lab.mapped(profile.position, *ends)
            if index.size == 0:
                raise ModelInputError(f"no place of the fibre lies between {min(ends[0]):g} and {max(ends[0]):g} mm")
        else:
            index, position = np.arange(len(profile.position)), profile.position
        e, s, kinds = lab.filled(position, strain[index], u[index], flags[index])
        yield ProfileReading(
            str(line.along), line.strip, str(line.face), position, e, s, told.file, time, kinds, common[index]
        )


def _keep_step(loaded: Loaded, signals: Signals, row: int, k: int, flags: Any) -> None:
    """One step of the trail a file and row, however often it is read."""
    told, profile = loaded.told, loaded.profile
    done: set[tuple[str, int]] = signals.kept.setdefault("profile steps", set())
    if (told.file, row) in done:
        return
    done.add((told.file, row))
    arguments: dict[str, Any] = {"file": told.file, "time_s": float(profile.time[k]), "offset_s": loaded.offset}
    arguments |= {"sha256": signals.kept.get("profile hashes", {}).get(told.file, "")[:16]}
    arguments |= {"zero_readings": loaded.zero.readings, "places": len(flags)}
    arguments |= {word: int((flags == kind).sum()) for kind, word in enumerate(lab.FLAGS) if (flags == kind).any()}
    signals.trail = signals.trail.add("profile", arguments, np.array([row]))


def _u_common(loaded: Loaded, strain: Any, k: int, moment: float) -> Any:
    """Standard uncertainty that all places share: stated accuracy (rectangular), and what the strain ran on from the
    reading to the moment at its rate before (rectangular), or may have within the u of the clock."""
    profile = loaded.profile
    stated = (loaded.told.uncertainty or "").strip()
    half = np.zeros(len(strain))
    if stated.endswith("%"):
        half = float(parse(stated, "-")) * np.abs(np.nan_to_num(strain))
    elif stated:
        half = np.full(len(strain), float(parse(stated, "-")))
    rates = [
        np.abs(np.asarray(profile.strain[k], dtype=float) - np.asarray(profile.strain[j], dtype=float))
        / float(profile.time[k] - profile.time[j])
        for j in range(max(k - BACK, 0), k)
    ]
    rate = np.median(np.nan_to_num(rates), axis=0) if rates else np.zeros(len(strain))
    late = max(moment - float(profile.time[k]), 0.0)
    return np.sqrt(half**2 / 3.0 + rate**2 * (late**2 / 3.0 + loaded.u_offset**2))
