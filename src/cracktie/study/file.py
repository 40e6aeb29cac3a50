"""A study as a small YAML file: which span, what varies, and what is asked. All problems are shown at once."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.beam.prepare import UNITS
from cracktie.beam.specimen import Wrapped
from cracktie.errors import InputRefused, Problem
from cracktie.study.run import ANCHOR, OUTPUTS
from cracktie.study.sampling import Variable
from cracktie.symbols import known, symbol
from cracktie.units import UnitError, parse

KEYS = (
    "campaign", "specimen", "span", "test", "samples", "seed", "set", "own", "vary", "correlate", "sensitivity",
    "sweep", "map", "goal",
)  # fmt: skip
SETS = ("base", "slow")
STEPS = 13


@dataclass(frozen=True)
class Axis:
    """Name and values of one axis of a sweep, a map or a goal."""

    name: str
    values: Any


@dataclass(frozen=True)
class Study:
    """What a study file asks. `own` adds our coefficients over their ranges; `coefficients` are those of the set."""

    variables: tuple[Variable, ...]
    correlations: Mapping[tuple[str, str], float]
    samples: int = 2000
    seed: int = 1
    set: str = "base"
    own: bool = True
    sensitivity: str | None = None
    sweep: tuple[Axis, ...] = ()
    map: tuple[Axis, ...] = ()
    goal: Axis | None = None
    target: Mapping[str, float] = field(default_factory=dict)


def load(path: Path) -> dict[str, Any]:
    """The file as a plain mapping; raises `InputRefused`."""
    from ruamel.yaml import YAML, YAMLError

    try:
        found = YAML(typ="safe").load(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise InputRefused(Problem("error", str(path), f"cannot be read: {error}", fix="name a YAML file")) from None
    except YAMLError as error:
        raise InputRefused(Problem("error", path.name, f"is no YAML: {error}", fix="mend the line it names")) from None
    if not isinstance(found, dict):
        raise InputRefused(Problem("error", path.name, "holds no study", fix="write `specimen: ID` and what varies"))
    return found


class _Reader:
    """Turns the entries of a file into a study and keeps what is wrong with them."""

    def __init__(self, file: str, made: Wrapped) -> None:
        self.file, self.made = file, made
        self.problems: list[Problem] = []

    def wrong(self, key: str, message: str, fix: str = "") -> None:
        self.problems.append(Problem("error", self.file, message, key=key, fix=fix))

    def number(self, key: str, value: Any, unit: str) -> float | None:
        try:
            if unit == "-" and isinstance(value, (int, float)) and not isinstance(value, bool):
                return float(value)
            return float(parse(value, unit))
        except UnitError as error:
            self.wrong(key, error.message, error.fix)
            return None

    def unit(self, name: str) -> str:
        bare = name.removeprefix(ANCHOR)
        if name in COEFFICIENTS:
            return COEFFICIENTS[name].unit
        if name.startswith(ANCHOR) and known(bare):
            return symbol(bare).unit
        return UNITS.get(bare, "mm") or "-"

    def now(self, key: str, name: str) -> float | None:
        """Value that the campaign gives; None with a problem where the name is none that may vary."""
        inputs, anchor = self.made.inputs, self.made.anchor
        if name.startswith(ANCHOR):
            held = anchor.values if anchor is not None else {}
            value = held.get(name.removeprefix(ANCHOR))
            names = [ANCHOR + n for n, v in held.items() if isinstance(v, (int, float))]
        else:
            value = COEFFICIENTS[name].value if name in COEFFICIENTS else inputs.get(name)
            names = [*COEFFICIENTS, *(n for n, v in inputs.items() if isinstance(v, (int, float)))]
        if isinstance(value, bool) or not isinstance(value, (int, float, np.floating)):
            near = difflib.get_close_matches(name, names, 3) or names
            self.wrong(key, f"{name!r} cannot vary in this span", f"possible: {', '.join(near)}")
            return None
        return float(value)

    def variable(self, name: str, given: Any) -> Variable | None:
        key = f"vary.{name}"
        mean = self.now(key, name)
        if mean is None:
            return None
        unit = self.unit(name)
        if given == "range":
            if name not in COEFFICIENTS:
                self.wrong(
                    key, "only coefficients have a range of their own", "write {cov: 5 %} or {low: ..., high: ...}"
                )
                return None
            c = COEFFICIENTS[name]
            return Variable(name, "triangular", c.value, low=c.low, high=c.high)
        if not isinstance(given, dict) or not given:
            self.wrong(
                key, f"{given!r} says no spread", "write `range`, {cov: 5 %}, {sd: 3 mm} or {low: ..., high: ...}"
            )
            return None
        return self._spread(key, name, mean, unit, given)

    def _spread(self, key: str, name: str, mean: float, unit: str, given: Mapping[str, Any]) -> Variable | None:
        allowed = ("mean", "cov", "sd", "low", "high", "distribution")
        for other in given.keys() - set(allowed):
            self.wrong(f"{key}.{other}", "is not known here", f"possible: {', '.join(allowed)}")
        read: dict[str, float | None] = {}
        for part in ("mean", "sd", "low", "high"):
            if part in given:
                read[part] = self.number(f"{key}.{part}", given[part], unit)
        if "cov" in given:
            read["cov"] = self.number(f"{key}.cov", given["cov"], "-")
        if any(v is None for v in read.values()):
            return None
        mean = float(read.get("mean") or mean)
        from cracktie.errors import ModelInputError

        try:
            if "low" in read and "high" in read:
                kind = str(given.get("distribution", "uniform"))
                return Variable(name, kind, mean, low=float(read["low"] or 0.0), high=float(read["high"] or 0.0))
            if "cov" in read:
                kind = str(given.get("distribution", "lognormal"))
                return Variable(name, kind, mean, sd=float(read["cov"] or 0.0) * mean)
            if "sd" in read:
                return Variable(name, str(given.get("distribution", "normal")), mean, sd=float(read["sd"] or 0.0))
        except ModelInputError as error:
            self.wrong(key, str(error), "mend the numbers")
            return None
        self.wrong(key, "says no spread", "write {cov: 5 %}, {sd: 3 mm} or {low: ..., high: ...}")
        return None

    def axis(self, key: str, name: str, given: Any) -> Axis | None:
        if self.now(f"{key}.{name}", name) is None:
            return None
        if not isinstance(given, dict) or not {"from", "to"} <= given.keys():
            self.wrong(f"{key}.{name}", "has no ends", "write {from: 30 mm, to: 120 mm, steps: 10}")
            return None
        ends = [self.number(f"{key}.{name}.{part}", given[part], self.unit(name)) for part in ("from", "to")]
        steps = given.get("steps", STEPS)
        if not isinstance(steps, int) or isinstance(steps, bool) or not 2 <= steps <= 200:
            self.wrong(f"{key}.{name}.steps", f"{steps!r} is no number of steps", "2 to 200")
            return None
        if None in ends:
            return None
        low, high = (float(e) for e in ends if e is not None)
        if not low < high:
            self.wrong(f"{key}.{name}", f"from {low:g} to {high:g}", "the first end must be the smaller one")
            return None
        return Axis(name, np.linspace(low, high, steps))


def read_study(data: Mapping[str, Any], made: Wrapped, file: str) -> Study:
    """The study of a file on its span; raises `InputRefused` with every problem."""
    reader = _Reader(file, made)
    for key in data.keys() - set(KEYS):
        near = difflib.get_close_matches(str(key), KEYS, 1)
        reader.wrong(str(key), "is not known in a study", f"possible: {', '.join(near or KEYS)}")
    variables = [reader.variable(str(n), g) for n, g in _mapping(reader, data, "vary").items()]
    counts = {"samples": 2000, "seed": 1}
    for key, default in counts.items():
        value = data.get(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or value < (1 if key == "samples" else 0):
            reader.wrong(key, f"{value!r} is no whole number", "for example 2000")
            value = default
        counts[key] = value
    chosen = data.get("set", "base")
    if chosen not in SETS:
        reader.wrong("set", f"{chosen!r} is no set of coefficients", f"possible: {', '.join(SETS)}")
    output = data.get("sensitivity")
    if output is not None and output not in OUTPUTS:
        reader.wrong("sensitivity", f"{output!r} is no output", f"possible: {', '.join(OUTPUTS)}")
    axes = {k: [reader.axis(k, str(n), g) for n, g in _mapping(reader, data, k).items()] for k in ("sweep", "map")}
    if data.get("map") is not None and len(axes["map"]) != 2:
        reader.wrong("map", f"has {len(axes['map'])} axes", "a map has two")
    goal, target = _goal(reader, data)
    pairs = _pairs(reader, data)
    if reader.problems:
        raise InputRefused(reader.problems)
    return Study(
        tuple(v for v in variables if v is not None), pairs, counts["samples"], counts["seed"], str(chosen),
        bool(data.get("own", True)), output, tuple(a for a in axes["sweep"] if a), tuple(a for a in axes["map"] if a),
        goal, target,
    )  # fmt: skip


def _mapping(reader: _Reader, data: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found = data.get(key) or {}
    if not isinstance(found, dict):
        reader.wrong(key, f"{found!r} is no list of names", f"write `{key}:` and one name a line below it")
        return {}
    return found


def _pairs(reader: _Reader, data: Mapping[str, Any]) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], float] = {}
    for row in data.get("correlate") or ():
        if not isinstance(row, list) or len(row) != 3 or not isinstance(row[2], (int, float)):
            reader.wrong("correlate", f"{row!r} is no correlation", "write [f_c, E_f, 0.5]")
            continue
        found[str(row[0]), str(row[1])] = float(row[2])
    return found


def _goal(reader: _Reader, data: Mapping[str, Any]) -> tuple[Axis | None, dict[str, float]]:
    given = dict(_mapping(reader, data, "goal"))
    if not given:
        return None, {}
    size = given.pop("size", None)
    if size is None:
        reader.wrong("goal", "has no size", "write size: anchor.h_ef")
        return None, {}
    axis = reader.axis("goal", str(size), {k: given.pop(k) for k in ("from", "to", "steps") if k in given})
    target: dict[str, float] = {}
    for key in ("strain", "gain", "probability"):
        if key in given:
            value = reader.number(f"goal.{key}", given.pop(key), "-")
            if value is not None:
                target[key] = value
    for key in given:
        reader.wrong(f"goal.{key}", "is not known here", "possible: size, from, to, steps, strain, gain, probability")
    if len({"strain", "gain"} & target.keys()) != 1:
        reader.wrong("goal", "needs one goal", "write strain: 0.8 % or gain: 20 %")
    if not 0.0 < target.get("probability", 0.9) <= 1.0:
        reader.wrong("goal.probability", f"{target['probability']:g} is no probability", "above 0, at most 1")
    return axis, target
