"""The profile files of a test made ready: read, on the clock of the first log, with their zero line."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice
from cracktie.campaign.geometry import lean, numbered, strip_positions
from cracktie.campaign.profiles import ProfileFile
from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import wrap_edges
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, ModelInputError
from cracktie.lab import profile as lab
from cracktie.lab.clocks import synchronise
from cracktie.lab.fullfield import is_points, read_points
from cracktie.lab.profile_table import read_profile
from cracktie.reduction.clocks import LONGEST_SHIFT
from cracktie.reduction.crossing import critical_crack
from cracktie.reduction.signals import Signals


@dataclass(frozen=True)
class Loaded:
    """A profile ready for use: its clock (time of the first log = its time + `offset`) and its zero line."""

    told: ProfileFile
    profile: lab.Profile
    zero: lab.ZeroLine
    offset: float
    u_offset: float


def loaded_profiles(campaign: Campaign, test: Test, signals: Signals, notes: list[str]) -> list[Loaded]:
    """The profile files of a test, read once a reduction; one that cannot be used becomes a note."""
    if campaign.folder is None:
        return []
    if "profiles" not in signals.kept:
        signals.kept["profiles"] = list(_load_all(campaign, test, signals))
        signals.kept["profile hashes"] = {t.file: campaign.sources.get(t.file, "") for t in test.profiles}
    found = []
    for item, said in signals.kept["profiles"]:
        notes += [note for note in said if note not in notes]
        found += [item] if item is not None else []
    return found


def _load_all(campaign: Campaign, test: Test, signals: Signals) -> Iterator[tuple[Loaded | None, list[str]]]:
    name = next((n for n, t in campaign.tests.items() if t is test), "")
    choice = campaign.reduction.tests.get(name, Choice())
    for same in _frames_together(test.profiles):
        notes: list[str] = []
        try:
            profile = _joined([_read(campaign, name, test, told) for told in same])
            yield _load(same[0], profile, choice, signals, notes), notes
        except CracktieError as error:
            yield None, [f"{same[0].file}: profile not used: {'; '.join(str(error).splitlines())}"]


def _frames_together(told: Iterable[ProfileFile]) -> Iterator[list[ProfileFile]]:
    """Files of one moment each (`at`) that lie along the same line are one profile; every other file is its own."""
    whole = [t for t in told if t.at is None]
    yield from ([t] for t in whole)
    key = lambda t: (t.along, t.strip or 0, t.face)  # noqa: E731
    for _, group in itertools.groupby(sorted((t for t in told if t.at is not None), key=key), key=key):
        yield sorted(group, key=lambda t: float(t.at or 0.0))


def _joined(frames: list[lab.Profile]) -> lab.Profile:
    """Frames of one moment each as one profile on the places of the first."""
    first = frames[0]
    if len(frames) == 1:
        return first
    rows = [
        np.interp(first.position, f.position, f.strain[0]) if len(f.position) else np.full(len(first.position), np.nan)
        for f in frames
    ]
    time = np.array([float(f.time[0]) for f in frames])
    if (np.diff(time) <= 0.0).any():
        raise ModelInputError("two of its files name the same moment (at)")
    return lab.Profile(time, first.position, np.array(rows), first.notes)


def _read(campaign: Campaign, name: str, test: Test, told: ProfileFile) -> lab.Profile:
    assert campaign.folder is not None
    path = campaign.folder / told.file
    if not is_points(path, told.file):
        return read_profile(path, told.file, told.unit, place_unit=told.place_unit)
    if told.along is None:
        raise ModelInputError("a table of points needs along: crack or along: strip, not stretches")
    line, direction, place = _line(campaign, name, test, told)
    found = read_points(
        path, told.file, told.unit, line, column=told.column, direction=direction, place_unit=told.place_unit,
        tolerance=None if told.tolerance is None else float(told.tolerance),
        at=None if told.at is None else float(told.at),
    )  # fmt: skip
    return replace(found, position=place(found.position))


def _line(campaign: Campaign, name: str, test: Test, told: ProfileFile) -> tuple[Any, float, Any]:
    """Corners (x, z) of the line on the face from its lower end, direction of the fibres in degrees from the x axis,
    and what turns a distance along the line into its place (z of a strip)."""
    from cracktie.reduction import studied_span

    span = studied_span(campaign, test)
    specimen = campaign.specimen(test.specimen)
    wrap, section = (specimen.spans[span].wrap if span in specimen.spans else None), specimen.section
    beta = 90.0 if wrap is None else float(wrap.beta)
    direction = 180.0 - beta if span == "A" else beta
    if told.along == "crack":
        found = critical_crack(campaign, name, test, span)
        if found.assumed:
            raise ModelInputError("no critical crack is digitised (observations.yaml, crack_lines: critical: true)")
        x, z = found.line(str(told.face))
        return ((x, z) if z[0] <= z[-1] else (x[::-1], z[::-1])), direction, lambda along: along
    if wrap is None or section is None or wrap.layout != "strips":
        raise ModelInputError(f"span {span} of {test.specimen} has no strips")
    centres = numbered(strip_positions(specimen, span))
    if told.strip not in centres:
        raise ModelInputError(f"there is no strip {told.strip}; there are {', '.join(map(str, centres))}")
    low, high = wrap_edges(wrap, section, str(told.face))
    x = tuple(centres[told.strip] + lean(specimen, span, beta, z) for z in (low, high))
    return (x, (low, high)), direction, lambda along: low + along * math.sin(math.radians(beta))


def _load(told: ProfileFile, profile: lab.Profile, choice: Choice, signals: Signals, notes: list[str]) -> Loaded:
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
    return Loaded(told, profile, _zero(told, profile, choice, offset, notes), offset, u_offset)


def _clock(told: ProfileFile, profile: lab.Profile, signals: Signals) -> tuple[float, float, str]:
    """Shift of the profile's clock and its standard uncertainty: stated, else from the load, else refused."""
    if told.clock_offset is not None:
        return float(told.clock_offset), 0.0, "stated in tests.yaml"
    if told.at is not None:
        return 0.0, 0.0, "its moments are stated in tests.yaml, in times of the first log"
    why = "there is no load"
    for load in signals.of("load"):
        try:
            found = synchronise(signals.time, load.values, profile.time, _mean(told, profile), max_shift=LONGEST_SHIFT)
        except ModelInputError as error:
            why = str(error)
            continue
        why = f"mean strain against {load.channel.name}, {found.reason}"
        if found.status == "accepted":
            return found.offset, found.u, f"{why}, u = {found.u:.3f} s"
    raise ModelInputError(
        f"its clock could not be placed: {why}; state clock_offset in tests.yaml (0 s if it is the same clock)"
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
