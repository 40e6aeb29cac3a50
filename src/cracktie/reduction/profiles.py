"""Strain profiles of a test on its clock: zeroed, cleaned and laid on strips or crack; as readings and as curves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice
from cracktie.campaign.profiles import ProfileFile, Stretch
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, ModelInputError
from cracktie.lab import profile as lab
from cracktie.lab.clocks import synchronise
from cracktie.lab.profile_table import read_profile
from cracktie.reduced import Curve
from cracktie.reduction.signals import LONGEST_SHIFT, Signals
from cracktie.units import parse


@dataclass(frozen=True)
class ProfileReading:
    """Strain along a strip or the crack at one moment.

    `position` is in mm, ascending: z for a strip, distance along the crack from its lower end for a crack. `strain` is
    a ratio from its zero, tension positive, NaN where missing; `u` its standard uncertainty at each place; `flags` say
    how each place stands (`lab.profile.FLAGS`). `time` is that of the reading, on the clock of the first log.
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

    @property
    def where(self) -> str:
        """Place in words."""
        return ("the critical crack" if self.along == "crack" else f"strip {self.strip}") + f" ({self.face})"


@dataclass(frozen=True)
class _Loaded:
    """A profile file ready for use: its clock (time of the log = its time + offset), its zero, its stated accuracy."""

    told: ProfileFile
    profile: lab.Profile
    zero: lab.ZeroLine
    offset: float
    u_offset: float
    how: str


def profile_readings(
    campaign: Campaign, test: Test, signals: Signals, row: int, notes: list[str]
) -> list[ProfileReading]:
    """Every profile of a test at a row of its first log; one that cannot be used becomes a note."""
    found: list[ProfileReading] = []
    for loaded in _loaded(campaign, test, signals, notes):
        try:
            found += _at(loaded, signals, row)
        except CracktieError as error:
            _say(notes, f"{loaded.told.file}: profile not used: {'; '.join(str(error).splitlines())}")
    return found


def profile_curves(campaign: Campaign, test: Test, signals: Signals, row: int, notes: list[str]) -> list[Curve]:
    """One curve a line at a row of the first log, with a note on its largest strain."""
    curves = []
    for reading in profile_readings(campaign, test, signals, row, notes):
        good = np.isfinite(reading.strain)
        if not good.any():
            _say(notes, f"{reading.file}: profile along {reading.where} not used: no strain at {reading.time:.1f} s")
            continue
        _say(notes, _told(reading, good))
        axis = "s_cr" if reading.along == "crack" else "z"
        name = f"strain along {reading.where} at V_max, {reading.file}"
        curves.append(Curve(name, axis, "eps_f", reading.position[good].copy(), reading.strain[good].copy()))
    return curves


def _told(reading: ProfileReading, good: Any) -> str:
    most = int(np.nanargmax(reading.strain))
    largest, u = 1e6 * reading.strain[most], 1e6 * reading.u[most]
    counts = [(int((reading.flags == kind).sum()), lab.FLAGS[kind]) for kind in range(1, len(lab.FLAGS))]
    odd = "".join(f", {n} {word}" for n, word in counts if n)
    return (
        f"{reading.file}: strain along {reading.where} at V_max, reading at {reading.time:.1f} s: largest "
        f"{largest:.0f} um/m at {reading.position[most]:.1f} mm, u = {u:.0f} um/m; "
        f"{int(good.sum())} of {len(good)} places with a strain{odd}"
    )


def _say(notes: list[str], text: str) -> None:
    if text not in notes:
        notes.append(text)


def _loaded(campaign: Campaign, test: Test, signals: Signals, notes: list[str]) -> list[_Loaded]:
    """The profile files of a test, read once a reduction."""
    if campaign.folder is None:
        return []
    if "profiles" not in signals.kept:
        signals.kept["profiles"] = list(_load_all(campaign, test, signals))
    found = []
    for item in signals.kept["profiles"]:
        for note in item[1]:
            _say(notes, note)
        found += [item[0]] if item[0] is not None else []
    return found


def _load_all(campaign: Campaign, test: Test, signals: Signals) -> Iterator[tuple[_Loaded | None, list[str]]]:
    name = next((n for n, t in campaign.tests.items() if t is test), "")
    choice = campaign.reduction.tests.get(name, Choice())
    for told in test.profiles:
        notes: list[str] = []
        try:
            yield _load(campaign, told, choice, signals, notes), notes
        except CracktieError as error:
            yield None, [f"{told.file}: profile not used: {'; '.join(str(error).splitlines())}"]


def _load(campaign: Campaign, told: ProfileFile, choice: Choice, signals: Signals, notes: list[str]) -> _Loaded:
    assert campaign.folder is not None
    profile = read_profile(campaign.folder / told.file, told.file, told.unit, place_unit=told.place_unit)
    notes += [f"{told.file}: {note}" for note in profile.notes]
    profile, words = lab.without_sentinels(profile)
    notes += [
        f"{told.file}: {count} reading(s) such as {value * 1e6:.0f} um/m taken for 'no reading'"
        for value, count in words
    ]
    if told.sign < 0:
        profile = replace(profile, strain=-profile.strain)
    offset, u_offset, how = _clock(told, profile, signals)
    notes.append(f"{told.file}: clock moved by {offset:+.3f} s ({how})")
    zero = _zero(told, profile, choice, offset, notes)
    return _Loaded(told, profile, zero, offset, u_offset, how)


def _clock(told: ProfileFile, profile: lab.Profile, signals: Signals) -> tuple[float, float, str]:
    """Shift of the profile's clock and its standard uncertainty: stated, else from the load, else refused."""
    if told.clock_offset is not None:
        return float(told.clock_offset), 0.0, "stated in tests.yaml"
    why = "no load"
    for load in signals.of("load"):
        try:
            found = synchronise(signals.time, load.values, profile.time, _mean(told, profile), max_shift=LONGEST_SHIFT)
        except ModelInputError as error:
            why = str(error)
            continue
        if found.status == "accepted":
            return (
                found.offset,
                found.u,
                f"mean strain against {load.channel.name}, {found.reason}, u = {found.u:.3f} s",
            )
        why = f"mean strain against {load.channel.name}: {found.reason}"
    raise ModelInputError(
        f"its clock could not be placed: {why}; state clock_offset in tests.yaml (0 s if it is the same)"
    )


def _mean(told: ProfileFile, profile: lab.Profile) -> Any:
    """Mean strain over the bonded places at every time: what goes with the load."""
    inside = np.zeros(len(profile.position), dtype=bool)
    for line in told.stretches:
        inside |= (profile.position >= min(line.fibre)) & (profile.position <= max(line.fibre))
    block = profile.strain[:, inside] if told.stretches else profile.strain
    good = np.isfinite(block)
    count = good.sum(axis=1)
    total = np.where(good, block, 0.0).sum(axis=1, dtype=float)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _zero(told: ProfileFile, profile: lab.Profile, choice: Choice, offset: float, notes: list[str]) -> lab.ZeroLine:
    """Zero window of the file by name (its own times), else the general one (times of the first log), else none."""
    own = [z for z in choice.zeros if z.log == told.file]
    general = [z for z in choice.zeros if z.log is None and z.channels is None]
    if own:
        return lab.zero_line(profile, float(own[-1].start), float(own[-1].end))
    if general:
        try:
            return lab.zero_line(profile, float(general[-1].start) - offset, float(general[-1].end) - offset)
        except ModelInputError:
            pass  # told below
    notes.append(
        f"{told.file}: not zeroed, as exported: no zero window is named for it (reduction.yaml, zeros: log, start, end "
        "in its own times) and the general one holds none of its readings"
    )
    return lab.no_zero(profile)


def _at(loaded: _Loaded, signals: Signals, row: int) -> Iterator[ProfileReading]:
    told, profile, zero = loaded.told, loaded.profile, loaded.zero
    moment = float(signals.time[row]) - loaded.offset
    k = profile.row(moment)
    flags = lab.flags_at(profile, zero, k)
    strain = np.asarray(profile.strain[k], dtype=float) - zero.level
    u_common = 0.0
    if told.loose is not None:
        warmth, u_common = lab.loose_strain(profile, zero, k, min(told.loose), max(told.loose))
        strain = strain - warmth
    u = np.hypot(_u_places(loaded, strain, k, moment), u_common)
    strain = np.where(flags == lab.READ, strain, np.nan)
    time = float(profile.time[k]) + loaded.offset
    arguments: dict[str, Any] = {"file": told.file, "time_s": float(profile.time[k]), "offset_s": loaded.offset}
    arguments |= {"zero_readings": zero.readings, "read": int((flags == lab.READ).sum()), "places": len(flags)}
    if (told.file, row) not in signals.kept.setdefault("profile steps", set()):
        signals.kept["profile steps"].add((told.file, row))
        signals.trail = signals.trail.add("profile", arguments, np.array([row]))
    for line in told.lines:
        if isinstance(line, Stretch):
            ends = (line.fibre[0], line.fibre[1]), (line.place[0], line.place[1])
            index, position = lab.mapped(profile.position, *ends)
        else:
            index, position = np.arange(len(profile.position)), profile.position
        if index.size == 0:
            raise ModelInputError(f"no place of the fibre lies between {line.fibre[0]:g} and {line.fibre[1]:g} mm")
        e, s, kinds = lab.filled(position, strain[index], u[index], flags[index])
        yield ProfileReading(str(line.along), line.strip, str(line.face), position, e, s, told.file, time, kinds)


def _u_places(loaded: _Loaded, strain: Any, k: int, moment: float) -> Any:
    """Standard uncertainty by place: zero, noise of one reading, stated accuracy, and how strain ran on until the
    moment."""
    profile, zero = loaded.profile, loaded.zero
    stated = (loaded.told.uncertainty or "").strip()
    half: Any = 0.0
    if stated.endswith("%"):
        half = float(parse(stated, "-")) * np.abs(strain)
    elif stated:
        half = float(parse(stated, "-"))
    parts: Sequence[Any] = (zero.u, zero.sigma, half / math.sqrt(3.0))
    if k > 0:
        before = np.asarray(profile.strain[k - 1], dtype=float) - zero.level
        rate = np.abs(np.asarray(profile.strain[k], dtype=float) - zero.level - before)
        rate = np.nan_to_num(rate) / float(profile.time[k] - profile.time[k - 1])
        late = max(moment - float(profile.time[k]), 0.0)
        parts = (*parts, rate * late / math.sqrt(3.0), rate * loaded.u_offset)
    return np.sqrt(sum(np.square(p) for p in parts) + np.zeros(len(profile.position)))
