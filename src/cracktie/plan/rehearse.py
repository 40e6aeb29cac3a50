"""Rehearsal: simulated logs of a test with known truth, from the campaign's files and a seed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any

import numpy as np

from cracktie.campaign.choices import LogChoice
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.plan.instruments import Instruments, draw_instruments
from cracktie.plan.loading import Path, loading_path
from cracktie.plan.logfile import RAIL, Column, Faults, Style, log_bytes
from cracktie.plan.planted import planted
from cracktie.plan.response import Response, respond
from cracktie.plan.sensors import Sensor, sensors
from cracktie.plan.truth import Law, TestTruth, generator, plant_test

RATES = (10.0, 5.0)
"""Readings a second of the first and of the second logger."""
NOISE = {"kN": 0.05, "N": 50.0, "mm": 0.0015, "um/m": 1.6, "degC": 0.03}
OFFSET = {"load": 1.8, "displacement": 4.0, "diagonal displacement": 0.4, "crack opening": 0.4}


@dataclass(frozen=True)
class SimulatedLogs:
    """Logs of one test: `files` maps the name in tests.yaml to bytes, `truth` holds what was planted (plain mapping,
    N, mm, MPa, s), `clean` the faultless channels in logger units with `time` in s, and V, V_c, V_s, V_f in N."""

    test: str
    files: dict[str, bytes]
    truth: dict[str, Any]
    clean: dict[str, Any]


def simulate_test(
    campaign: Campaign, test_id: str, truth: TestTruth | None = None, seed: int = 0, faults: Faults | None = None
) -> SimulatedLogs:
    """Simulated logs of one test; the same campaign, seed and faults give the same bytes, in any order of tests.

    Raises `KeyError` for an unknown test, `UnknownName` for a setup or layout that rig.yaml does not hold, and
    `OutOfScope` for a specimen that is no beam.
    """
    test = campaign.tests[test_id]
    faults = faults or Faults()
    law = truth or plant_test(campaign, test_id, seed)
    path = loading_path(law, test.history, generator(seed, "loading", test_id), 1.0 / RATES[0])
    places = sensors(campaign, test)
    response = respond(campaign, test, law, path, seed)
    clean = {s.name: response.channel(s) for s in places}
    shared = _share(test, places, faults)
    lag = round(float(generator(seed, "clock", test_id).uniform(25.0, 70.0)), 2) if len(shared) > 1 else 0.0
    marks = _Marks(seed, test_id, faults, places, response)
    if faults.instruments:
        marks.instruments = draw_instruments(campaign, test, places, generator(seed, "instruments", test_id))
    files = {}
    for number, (name, own) in enumerate(shared.items()):
        files[name] = _file(campaign, test, test_id, name, own, clean, path, marks, number, lag, len(shared))
    told = law.to_dict() | planted(response, places)
    told |= {"clock_lag_of_second_log": lag, "lost_gauges": marks.lost, "offsets": marks.offsets}
    told |= {"spikes": marks.spikes, "missing": marks.missing, "seed": seed}
    told["instrument_errors"] = marks.instruments.to_dict()
    return SimulatedLogs(
        test_id, files, told, clean | {"time": path.time, "deflection": path.deflection} | response.shares
    )


def rehearse(
    campaign: Campaign, seed: int, faults: Mapping[str, Faults] | None = None, law: Law | None = None
) -> dict[str, SimulatedLogs]:
    """Simulated logs of every test on a beam; `faults` by test, the usual ones where a test is not named."""
    beams = [name for name, t in campaign.tests.items() if campaign.specimen(t.specimen).kind == "beam"]
    chosen = faults or {}
    return {n: simulate_test(campaign, n, plant_test(campaign, n, seed, law), seed, chosen.get(n)) for n in beams}


def _share(test: Test, places: Sequence[Sensor], faults: Faults) -> dict[str, list[Sensor]]:
    """Which log holds which channels: of two logs the second takes FRP strains and temperature, both take the load.

    With the second clock off everything stands in the first log.
    """
    names = [str(PurePosixPath(name)) for name in test.logs] or ["logs/simulated.csv"]
    if len(names) == 1 or not faults.second_clock:
        return {names[0]: list(places)}
    moved = ("FRP strain", "anchor strain", "temperature")
    return {
        names[0]: [s for s in places if s.quantity not in moved],
        names[1]: [s for s in places if s.quantity in (*moved, "load")],
    }


class _Marks:
    """Where the faults of one test sit; drawn once, so that both logs of a test tell the same story."""

    def __init__(self, seed: int, test: str, faults: Faults, places: Sequence[Sensor], response: Response):
        self.faults, self.seed, self.test = faults, seed, test
        self.instruments = Instruments(0.0, {})
        rng = generator(seed, "faults", test)
        self.offsets = {}
        for s in places:
            size = OFFSET.get(s.quantity, 90.0 if s.unit == "um/m" else 0.0)
            self.offsets[s.name] = round(float(rng.uniform(-size, size)), 3) if faults.offsets else 0.0
        path = response.path
        end = float(path.time[np.argmax(path.load)])
        strained = [s.name for s in places if s.quantity == "bar strain"]
        strained += [s.name for s in places if s.strip is not None and s.face == "back"]
        moving = [s.name for s in places if s.quantity == "displacement" and s.at == "load"]
        self.lost: dict[str, float] = {}
        self.spikes: dict[str, float] = {}
        self.missing: dict[str, list[float]] = {}
        if faults.lost_gauge and strained:
            self.lost[strained[int(rng.integers(len(strained)))]] = round(end * float(rng.uniform(0.55, 0.85)), 1)
        if faults.spike and moving:
            self.spikes[moving[-1]] = round(end * float(rng.uniform(0.3, 0.7)), 1)
        if faults.missing_words and strained:
            start = round(end * float(rng.uniform(0.3, 0.5)), 1)
            self.missing[strained[-1]] = [start, start + 6.0]


def _file(
    campaign: Campaign, test: Test, test_id: str, name: str, own: Sequence[Sensor], clean: dict[str, Any], path: Path,
    marks: _Marks, number: int, lag: float, count: int,
) -> bytes:  # fmt: skip
    faults, rng = marks.faults, generator(marks.seed, "noise", test_id, str(number))
    rate = RATES[0] if number == 0 else RATES[1]
    own_time = path.time if number == 0 else np.arange(0.0, float(path.time[-1]) + lag + 12.0, 1.0 / rate)
    true_time = own_time - (lag if number else 0.0)
    choice = _choice(campaign, test_id, name)
    called = {channel: column for column, channel in choice.map.items()} if choice is not None else {}
    clock = choice.time if choice is not None and choice.time else "Time"
    columns = [Column(clock, "s", own_time, {})]
    for sensor in own:
        read = _read(sensor, clean[sensor.name], marks.instruments)
        values = read if number == 0 else np.interp(true_time, path.time, read)
        columns.append(_faulty(sensor, called.get(sensor.name, sensor.name), values, true_time, marks, rng))
    last = number == count - 1
    comma, latin = faults.decimal_comma and last, faults.latin1 and last
    style = Style(
        comma, latin, _preamble(test, test_id, rate, columns, own) if faults.preamble else (), faults.unit_row
    )
    return log_bytes(columns, style)


def _choice(campaign: Campaign, test_id: str, name: str) -> LogChoice | None:
    choice = campaign.reduction.tests.get(test_id)
    found = next((c for c in choice.logs if c.log == name), None) if choice is not None else None
    return found.over(campaign.reduction.loggers.get(found.logger or "")) if found is not None else None


def _read(sensor: Sensor, clean: Any, instruments: Instruments) -> Any:
    """What the instrument makes of a faultless record, before offset and noise."""
    if sensor.quantity == "load":
        return clean * (1.0 + instruments.cell_gain)
    transducer = instruments.channels.get(sensor.name)
    return clean if transducer is None else clean + transducer.error(clean)


def _faulty(sensor: Sensor, column: str, values: Any, time: Any, marks: _Marks, rng: np.random.Generator) -> Column:
    out, words = values + marks.offsets[sensor.name], {}
    if marks.faults.noise:
        out = out + rng.normal(0.0, NOISE.get(sensor.unit, 0.0), len(out))
    if sensor.name in marks.spikes:
        row = int(np.searchsorted(time, marks.spikes[sensor.name]))
        out[row] += 6.4
    if sensor.name in marks.missing:
        start, end = marks.missing[sensor.name]
        words = {int(row): "NaN" for row in np.flatnonzero((time >= start) & (time < end))}
    if sensor.name in marks.lost:
        row = int(np.searchsorted(time, marks.lost[sensor.name]))
        out[row:] = RAIL
        words |= dict.fromkeys(range(row + 20, min(row + 26, len(out))), "OVER")
    return Column(column, sensor.unit, out, words)


def _preamble(
    test: Test, test_id: str, rate: float, columns: Sequence[Column], own: Sequence[Sensor]
) -> tuple[str, ...]:
    lines = [
        f"Specimen: {test.specimen}",
        f"Test: {test_id}",
        f"Date: {test.date or 'not given'}",
        f"Rate: {rate:g} Hz",
    ]
    renamed = [f"{c.name} = {s.name}" for c, s in zip(columns[1:], own, strict=True) if c.name != s.name]
    return (*lines, *([f"Channels: {' / '.join(renamed)}"] if renamed else []))


def without(faults: Faults, *names: str) -> Faults:
    """The same faults with some switched off."""
    return replace(faults, **dict.fromkeys(names, False))
