"""Reference cases: numbers printed by others (or worked by hand) against the models, with the source beside each.

A file holds a list of cases:

    - id: a name of its own
      model: concrete_shear.jsce_2007        # or `function: cracktie.some.module.name`
      source: {key: JSCE_QA_2002, where: worked number}   # or `citation: Author (year), title`
      known: printed on the page named, read
      inputs: {f_c: 24 MPa, b_w: 1000 mm, form: design}
      coefficients: {gamma_C: 1.4}           # optional
      expected: {beta_d: "1.187", V_c: "160.3 kN"}
      slack: {V_c: [0.3 kN, the page rounds its intermediates]}   # optional

An output is the model's result, any step of it by name, or, for a function, `value` or a key of what it returns;
a bare expected number is in the unit of its step, and names outside the glossary are bare numbers. The
tolerance is half a unit of the last printed digit unless `slack` widens it and says why ("0.3 kN", or "1 %").
"""

from __future__ import annotations

import importlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from cracktie import clause, symbols, units
from cracktie.errors import CracktieError, InputRefused, Problem

_FIELDS = {"id", "model", "function", "source", "known", "inputs", "coefficients", "expected", "slack"}
_NEEDED = ("id", "source", "known", "inputs", "expected")
_PRINTED = re.compile(r"^\s*([+-]?\d*\.?\d*)(?:[eE]([+-]?\d+))?\s*(.*?)\s*$")


@dataclass(frozen=True)
class ValueCheck:
    """One compared value, in internal units; `deviation` is got minus expected."""

    file: str
    case: str
    output: str
    printed: str
    expected: float
    got: float
    tolerance: float
    source: str
    known: str
    slack: str = ""

    @property
    def deviation(self) -> float:
        """Got minus expected."""
        return self.got - self.expected

    @property
    def passed(self) -> bool:
        """Within the tolerance; a NaN never passes. The bit beyond it is for the binary form of decimal halves."""
        return abs(self.deviation) <= self.tolerance * (1 + 1e-9) + 1e-12 * abs(self.expected)

    def sentence(self) -> str:
        """The outcome in words."""
        verdict = "agrees" if self.passed else "DIFFERS"
        off = "" if self.passed else f", allowed +- {self.tolerance:.3g}"
        return (
            f"{self.file}: {self.case}: {self.output} {verdict}: printed {self.printed}, computed {self.got:.6g}{off}"
        )


@dataclass(frozen=True)
class VerifyResult:
    """Every compared value of the files."""

    values: tuple[ValueCheck, ...]

    @property
    def failed(self) -> tuple[ValueCheck, ...]:
        """Values outside their tolerance."""
        return tuple(v for v in self.values if not v.passed)

    @property
    def passed(self) -> bool:
        """Whether there are values and all agree."""
        return bool(self.values) and not self.failed

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON output."""
        rows = [{**asdict(v), "deviation": v.deviation, "passed": v.passed} for v in self.values]
        return {"schema": 1, "passed": self.passed, "compared": len(self.values), "values": rows}


def verify_files(paths: Iterable[str | Path]) -> VerifyResult:
    """Compare every case of the files.

    Raises `InputRefused` with all problems at once: fields missing or unknown, units that do not fit, models that
    refuse their inputs, sources without an entry, slack without a reason.
    """
    problems: list[Problem] = []
    values: list[ValueCheck] = []
    seen: dict[str, str] = {}
    for path in map(Path, paths):
        for line, case in _cases(path, problems):
            found = _complaints(case)
            name = str(case.get("id", "?"))
            if name in seen:
                found.append(f"id {name!r} is used in {seen[name]} already")
            seen[name] = path.name
            if not found:
                try:
                    values.extend(_compare(path.name, case))
                except CracktieError as error:
                    found.append(str(error))
            problems += [Problem("error", path.name, text, line, 3, name) for text in found]
    if problems:
        raise InputRefused(problems)
    return VerifyResult(tuple(values))


def _cases(path: Path, problems: list[Problem]) -> list[tuple[int, Mapping[str, Any]]]:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        content = YAML(typ="rt").load(path.read_text(encoding="utf-8"))
    except OSError as error:
        problems.append(
            Problem("error", str(path), f"cannot be read ({error.strerror})", fix="name a YAML file of cases")
        )
        return []
    except (YAMLError, ValueError) as error:  # ValueError: bytes that are no UTF-8
        problems.append(Problem("error", path.name, f"cannot be read: {error}"))
        return []
    if not isinstance(content, list) or not all(isinstance(c, dict) for c in content):
        problems.append(Problem("error", path.name, "must be a list of cases", fix="start each case with '- id:'"))
        return []
    lines: Any = content.lc  # type: ignore[attr-defined]  # the round-trip reader keeps the places
    return [(lines.item(i)[0] + 1, case) for i, case in enumerate(content)]


def _complaints(case: Mapping[str, Any]) -> list[str]:
    found = [f"needs {name!r}" for name in _NEEDED if not case.get(name)]
    found += [f"unknown field {name!r}" for name in case if name not in _FIELDS]
    if ("model" in case) == ("function" in case):
        found.append("needs either 'model' or 'function'")
    source = case.get("source") or {}
    if not isinstance(source, dict) or ("key" in source) == ("citation" in source):
        found.append("source needs 'where' and either 'key' (of our bibliography) or 'citation' (author, year, title)")
    elif "key" in source and source["key"] not in _known_sources():
        found.append(f"source {source['key']!r} has no entry in references.bib; give a 'citation' instead")
    for name, slack in (case.get("slack") or {}).items():
        if not isinstance(slack, list) or len(slack) != 2 or len(str(slack[1]).strip()) < 10:
            found.append(f"slack of {name} needs a width and a reason: [0.3 kN, why]")
        if name not in (case.get("expected") or {}):
            found.append(f"slack of {name}, which is not expected")
    return found


def _known_sources() -> set[str]:
    from importlib import resources

    text = (resources.files("cracktie") / "references.bib").read_text(encoding="utf-8")
    return set(re.findall(r"^@\w+\{\s*([^,\s]+)\s*,", text, flags=re.MULTILINE))


def _compare(file: str, case: Mapping[str, Any]) -> list[ValueCheck]:
    got = _run_model(case) if "model" in case else _run_function(case)
    source = case["source"]
    place = f"{source.get('key') or source['citation']}, {source.get('where', '')}".rstrip(", ")
    checks = []
    for name, printed in case["expected"].items():
        if name not in got:
            raise CracktieError(f"gives no {name!r}; it gives {', '.join(got)}")
        value, unit = got[name]
        expected, half = printed_value(str(printed), unit)
        slack = (case.get("slack") or {}).get(name)
        width = half if slack is None else _width(str(slack[0]), unit, expected)
        checks.append(
            ValueCheck(
                file,
                str(case["id"]),
                name,
                str(printed),
                expected,
                value,
                width,
                place,
                str(case["known"]),
                "" if slack is None else str(slack[1]),
            )
        )
    return checks


def printed_value(text: str, unit: str) -> tuple[float, float]:
    """Value of a printed number and half a unit of its last digit, both in `unit`: '54.7 kN' -> 54700 N, 50 N.

    A bare number is in `unit` itself. Raises `UnitError`.
    """
    value = float(units.parse(text, unit, bare=unit))
    match = _PRINTED.match(text)
    if not match or not match.group(1):
        raise CracktieError(f"{text!r} is no printed number")
    digits, exponent, shown = match.groups()
    decimals = len(digits.split(".")[1]) if "." in digits else 0
    half = 0.5 * 10.0 ** (int(exponent or 0) - decimals)
    return value, half * (units.factor(shown, unit) if shown else 1.0)


def _width(text: str, unit: str, expected: float) -> float:
    if text.strip().endswith("%"):
        return float(units.parse(text, "-")) * abs(expected)
    return float(units.parse(text, unit, bare=unit))


def _unit_of(name: str) -> str:
    return symbols.symbol(name).unit if symbols.known(name) else "-"


def _read(name: str, value: Any) -> Any:
    """Input as the models take it: truth values and words as they are, lists item by item."""
    if isinstance(value, bool):
        return value
    if isinstance(value, list):
        return [_read(name, v) for v in value]
    if isinstance(value, str) and not re.match(r"^\s*[+-]?[\d.]", value):
        return value
    return float(units.parse(str(value), _unit_of(name)))


def _run_model(case: Mapping[str, Any]) -> dict[str, tuple[float, str]]:
    made = clause.get(str(case["model"]))
    inputs = {n: _read(n, v) for n, v in case["inputs"].items()}
    unused = [n for n in inputs if n not in made.inputs]
    if unused:
        raise CracktieError(f"{made.id} takes no {', '.join(unused)}; its inputs: {', '.join(made.inputs)}")
    got: dict[str, tuple[float, str]] = {}

    def record(name: str, value: Any, unit: str = "-", where: str = "", text: str = "") -> Any:
        got[name] = (float(value), unit)
        return value

    changed = {n: _read(n, v) for n, v in (case.get("coefficients") or {}).items()}
    result = clause.evaluate(made, inputs, step=record, coefficients=changed)
    got[made.predicts] = (float(result.value), made.unit)
    return got


def _run_function(case: Mapping[str, Any]) -> dict[str, tuple[float, str]]:
    path = str(case["function"])
    if not path.startswith("cracktie."):
        raise CracktieError(f"function {path!r} is not one of cracktie")
    module, _, name = path.rpartition(".")
    try:
        function = getattr(importlib.import_module(module), name)
    except (ImportError, AttributeError):
        raise CracktieError(f"there is no function {path}") from None
    result = function(**{n: _read(n, v) for n, v in case["inputs"].items()})
    if hasattr(result, "_asdict"):
        result = result._asdict()
    if not isinstance(result, Mapping):
        result = {"value": result}
    return {n: (float(v), _unit_of(n)) for n, v in result.items()}
