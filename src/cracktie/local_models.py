"""Models of the user's own: `models/*.py` in a campaign folder, run only after consent, and checked like ours.

A file holds functions under the same `@model` decorator with ids that start with `local.`, and may state
`SAMPLES = {"input": (low, high)}`, plausible ranges from which the checks draw their cases.
"""

from __future__ import annotations

import hashlib
import sys
import traceback
import types
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from cracktie import clause
from cracktie.clause import Model
from cracktie.errors import InputRefused, Problem
from cracktie.modelcheck import SIZE, check_model
from cracktie.samples import RANGES

PREFIX = "local."

Consent = Callable[[Path, str], bool] | bool
"""Whether a file may run: for all files, or asked for each with its path and the SHA-256 of its bytes."""

Ranges = Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class LocalFile:
    """One file of models; `ran` is false, and `models` empty, without consent."""

    path: Path
    sha256: str
    ran: bool
    models: tuple[Model, ...] = ()
    samples: Ranges = field(default_factory=dict)

    def sentence(self) -> str:
        """What became of the file."""
        if self.ran:
            return f"{self.path.name}: {', '.join(m.id for m in self.models)} (SHA-256 {self.sha256})"
        return f"{self.path.name}: not run, so its models are missing; --allow-code runs it (SHA-256 {self.sha256})"


def load_local_models(folder: str | Path, consent: Consent) -> tuple[LocalFile, ...]:
    """Register the models of `folder`/models/*.py in place of those of any folder loaded before.

    A file runs only where `consent` says so; the bytes that run are the bytes whose hash was shown. Raises
    `InputRefused` with the problems of all files; then none of them is registered.
    """
    published = forget_local_models()
    files: list[LocalFile] = []
    problems: list[Problem] = []
    for path in sorted((Path(folder) / "models").glob("*.py")):
        try:
            files.append(_load(path, consent))
        except InputRefused as refusal:
            problems += refusal.problems
    if problems:
        clause.restore(published)
        raise InputRefused(problems)
    return tuple(files)


def forget_local_models() -> dict[str, Model]:
    """Take the models of every folder out of the registry; returns the published ones, which stay."""
    published = {i: m for i, m in clause.registered().items() if not i.startswith(PREFIX)}
    clause.restore(published)
    return published


def check_file(path: str | Path, *, allow_code: bool) -> tuple[list[str], bool]:
    """Run every check on the models of one file; returns lines for the reader and whether all passed.

    Raises `InputRefused` where the file may not run (status 2 at the command line) or cannot be loaded, and `OSError`.
    The registry is left as it was.
    """
    path = Path(path)
    before = clause.registered()
    clause.restore({i: m for i, m in before.items() if not i.startswith(PREFIX)})
    try:
        file = _load(path, allow_code)
        if not file.ran:
            raise InputRefused(_not_run(file))
        return _report(file)
    finally:
        clause.restore(before)


def _not_run(file: LocalFile) -> Problem:
    return Problem(
        "error",
        file.path.name,
        f"holds program code, which was not run (SHA-256 {file.sha256})",
        fix=f"read the file; if you trust it: cracktie models check {file.path} --allow-code",
    )


def _report(file: LocalFile) -> tuple[list[str], bool]:
    lines, passed = [f"{file.path.name}: SHA-256 {file.sha256}"], True
    taken = {n for made in file.models for n in made.inputs}
    unused = [n for n in file.samples if n not in taken]
    if unused:
        passed = False
        lines.append(f"SAMPLES names {', '.join(unused)}, which no model of the file takes")
    for made in file.models:
        branches, findings = check_model(made, _ranges(made, file.samples))
        passed = passed and not findings
        counted = f"{branches} branch{'es' if branches != 1 else ''} with {SIZE} cases each"
        lines.append(f"{made.id}: {'FAILED' if findings else f'all checks passed, {counted}'}")
        lines += [f"  {finding}" for finding in findings]
    return lines, passed


def _ranges(made: Model, samples: Ranges) -> dict[str, tuple[float, float]]:
    """Where cases are drawn from: the file's SAMPLES, else the model's own limits, narrowed to ordinary beams."""
    ranges: dict[str, tuple[float, float]] = {}
    for limit in made.limits:
        low, high = ranges.get(limit.name, RANGES.get(limit.name, (-np.inf, np.inf)))
        narrow = (max(low, limit.low), min(high, limit.high))
        if np.isfinite(narrow).all() and narrow[0] < narrow[1]:
            ranges[limit.name] = narrow
        elif np.isfinite((limit.low, limit.high)).all():
            ranges[limit.name] = (limit.low, limit.high)
    return {**ranges, **samples}


def _load(path: Path, consent: Consent) -> LocalFile:
    content = path.read_bytes()
    digest = hashlib.sha256(content).hexdigest()
    agreed = consent(path, digest) if callable(consent) else consent
    if not agreed:
        return LocalFile(path, digest, ran=False)
    before = clause.registered()
    try:
        module = _run(path, content, digest)
        now = clause.registered()
        made = tuple(m for i, m in now.items() if before.get(i) is not m)
        _refuse_foreign(path, made)
        return LocalFile(path, digest, True, made, _samples(path, getattr(module, "SAMPLES", {})))
    except InputRefused:
        clause.restore(before)
        raise


def _run(path: Path, content: bytes, digest: str) -> types.ModuleType:
    """Execute the file as a module of its own; every failure becomes a problem with its line."""
    module = types.ModuleType(f"cracktie_local_{path.stem}_{digest[:12]}")
    module.__file__ = str(path)
    sys.modules[module.__name__] = module  # dataclasses look their module up there
    try:
        exec(compile(content, str(path), "exec"), module.__dict__)
    except SyntaxError as error:
        sys.modules.pop(module.__name__)
        raise InputRefused(
            Problem("error", path.name, f"is no Python: {error.msg}", error.lineno, error.offset)
        ) from error
    except (Exception, SystemExit) as error:
        sys.modules.pop(module.__name__)
        here = [f.lineno for f in traceback.extract_tb(error.__traceback__) if f.filename == str(path)]
        said = f"stopped: {type(error).__name__}: {error}"
        raise InputRefused(Problem("error", path.name, said, here[-1] if here else None)) from error
    return module


def _refuse_foreign(path: Path, made: Iterable[Model]) -> None:
    made = tuple(made)
    foreign = [m.id for m in made if not m.id.startswith(PREFIX)]
    if foreign:
        names = ", ".join(foreign)
        fix = f"write @model({PREFIX + foreign[0].rsplit('.', 1)[-1]!r}, ...)"
        raise InputRefused(Problem("error", path.name, f"{names}: ids of own models start with {PREFIX!r}", fix=fix))
    if not made:
        raise InputRefused(
            Problem("error", path.name, "registers no model", fix="decorate a function with @model(...)")
        )


def _samples(path: Path, given: Any) -> dict[str, tuple[float, float]]:
    form = "SAMPLES must be {'input': (low, high)} with low below high"
    if not isinstance(given, Mapping):
        raise InputRefused(Problem("error", path.name, form))
    taken: dict[str, tuple[float, float]] = {}
    for name, span in given.items():
        try:
            low, high = (float(v) for v in span)
        except (TypeError, ValueError):
            low = high = np.nan
        if not (np.isfinite((low, high)).all() and low < high):
            raise InputRefused(Problem("error", path.name, form, key=f"SAMPLES[{name!r}]", value=str(span)))
        taken[str(name)] = (low, high)
    return taken


def not_loaded(sets: Iterable[object]) -> dict[str, str]:
    """Own models among the ids of guideline sets that are not there, with the reason."""
    from cracktie.clause import registered

    reason = "own model that was not loaded (--allow-code runs the files in models/)"
    wanted = [id for id in map(str, sets) if id.startswith("local.")]
    return {id: reason for id in wanted if id not in registered()}
