"""Published models as plain functions: registration, look-up and evaluation on numbers or arrays.

A model is one numpy function with keyword-only inputs, coefficients as float defaults and `step` last;
`@model` only registers it, the function itself stays callable as written. `evaluate` adds what a caller
needs around it: input checks, categorical grouping, chunks, the applicability mask and the range masks.
"""

from __future__ import annotations

import difflib
import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from cracktie.errors import ModelInputError, UnknownName

CHUNK = 32_000
"""Cases evaluated at once: the working arrays of one chunk stay in the processor's cache."""

FORMS = ("test", "design")
EDITIONS = ("si", "inch-pound")
SCHEMES = ("side", "u", "full")
LAYOUTS = ("strips", "continuous")
CHOICES: Mapping[str, tuple[Any, ...]] = {
    "form": FORMS,
    "edition": EDITIONS,
    "scheme": SCHEMES,
    "layout": LAYOUTS,
    "anchored": (False, True),
}
"""Words a categorical input may take unless a model narrows or adds them."""

LEVELS = ("doubtful", "memory", "own", "derived", "checked")
"""Status levels, weakest first: how far the coefficients are known to agree with their source."""

Step = Callable[..., Any]


def no_step(name: str, value: Any, unit: str = "-", where: str = "", text: str = "") -> Any:
    """Hand the value back: the default of every model, so that array runs stay bare numpy."""
    return value


def section(step: Step, title: str, source: str = "") -> None:
    """Head the following steps on a calculation sheet; nothing where `step` keeps no sections."""
    begin = getattr(step, "begin", None)
    if begin is not None:
        begin(title, source)


class Keep:
    """A step that keeps a few named intermediates of a run.

    `values` maps name -> number, or in an array run -> array in case order; NaN marks cases whose branch does not
    have the step.
    """

    def __init__(self, *names: str):
        self.names = frozenset(names)
        self.values: dict[str, Any] = {}
        self._part: Any = None
        self._size = 0

    def at(self, part: Any, size: int) -> None:
        """Tell which cases of an array run of `size` cases the next steps belong to; None: a run of one case."""
        self._part, self._size = part, size

    def __call__(self, name: str, value: Any, unit: str = "-", where: str = "", text: str = "") -> Any:
        if name in self.names:
            if self._part is None:
                self.values[name] = value
            else:
                if np.shape(self.values.get(name, 0.0)) != (self._size,):
                    self.values[name] = np.full(self._size, np.nan)
                self.values[name][self._part] = value
        return value


@dataclass(frozen=True)
class Ref:
    """A source: key in references.bib and the place inside it."""

    key: str
    where: str = ""


@dataclass(frozen=True)
class Limit:
    """Published range of one input; outside it the value stands but is marked as extrapolated.

    `when` narrows it to a branch by words of categorical inputs: `{"form": "design"}`.
    """

    name: str
    low: float = -np.inf
    high: float = np.inf
    why: str = ""
    when: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def outside(self, inputs: Mapping[str, Any]) -> Any:
        """True where the input lies outside the range and the words of `when` hold; shape of the input."""
        value = np.asarray(inputs[self.name])
        if any(inputs.get(k) != v for k, v in self.when.items()):
            return np.zeros(value.shape, dtype=bool)
        return (value < self.low) | (value > self.high)

    def sentence(self, unit: str = "") -> str:
        """The range in words."""
        from cracktie.symbols import plain

        unit = "" if unit in ("", "-") else f" {unit}"
        shown = plain(self.name)
        if np.isneginf(self.low):
            span = f"at most {self.high:g}{unit}"
        elif np.isposinf(self.high):
            span = f"at least {self.low:g}{unit}"
        else:
            span = f"{self.low:g} to {self.high:g}{unit}"
        words = ", ".join(f"{k} = {v}" for k, v in self.when.items())
        return f"{shown} {span}{f' ({words})' if words else ''}: {self.why}"


@dataclass(frozen=True)
class Applies:
    """A condition of use: where `test(inputs)` is false the model gives no value; `sentence` says why."""

    test: Callable[[Mapping[str, Any]], Any]
    sentence: str
    where: str = ""


@dataclass(frozen=True)
class Status:
    """How a model, or the branch of it selected by `when`, is known to agree with its source.

    checked: reproduces a printed number that somebody here has read (`how` names it); derived: follows from an
    identity, our own derivation or an independent library; memory: coefficients recalled with high confidence;
    doubtful: recalled with medium confidence; own: ours.
    """

    level: str
    how: str
    when: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.level not in LEVELS:
            raise ValueError(f"status {self.level!r} is none of {', '.join(LEVELS)}")

    def covers(self, inputs: Mapping[str, Any]) -> bool:
        """True where every word of `when` equals the input's."""
        return all(inputs.get(k) == v for k, v in self.when.items())


@dataclass(frozen=True)
class Model:
    """A registered model; see the module text for how one is written."""

    id: str
    func: Callable[..., Any]
    predicts: str
    unit: str
    source: Ref
    title: str
    status: tuple[Status, ...]
    limits: tuple[Limit, ...] = ()
    applies: tuple[Applies, ...] = ()
    choices: Mapping[str, tuple[Any, ...]] = field(default_factory=dict)
    anchored: str = ""
    """What the document says of anchored U-wraps, with its source; empty where it says nothing known to us."""
    adds_concrete: bool | None = None
    """Stirrup and FRP terms: whether the document adds its concrete term to this one; None where it has no meaning."""
    governs: Callable[[Mapping[str, Any]], str] | None = None
    """Words for what limits one case, from the coefficients, inputs and steps of its run by name. A sum finds the
    words of its terms there as well, as a mapping under `said`."""
    revision: int = 1

    @property
    def topic(self) -> str:
        """First part of the id: the folder the model lives in."""
        return self.id.split(".", 1)[0] if not self.id.startswith("local.") else "local"

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        """Names of the required inputs in the order of the signature."""
        parameters = inspect.signature(self.func).parameters.values()
        return tuple(p.name for p in parameters if p.default is p.empty)

    @cached_property
    def coefficients(self) -> dict[str, float]:
        """Published coefficients: name -> default value."""
        parameters = inspect.signature(self.func).parameters.values()
        return {p.name: p.default for p in parameters if isinstance(p.default, float)}

    @cached_property
    def categories(self) -> dict[str, tuple[Any, ...]]:
        """Categorical inputs and the words each may take."""
        known = {**CHOICES, **self.choices}
        return {n: known[n] for n in self.inputs if n in known}

    def status_of(self, inputs: Mapping[str, Any]) -> Status:
        """Status of the branch the inputs select: the most specific entry that covers them."""
        covering = [s for s in self.status if s.covers(inputs)]
        if not covering:
            raise ModelInputError(f"{self.id}: no status covers {dict(inputs)}")
        return max(covering, key=lambda s: len(s.when))

    @property
    def weakest(self) -> Status:
        """The weakest status of any branch: what a list of models shows."""
        return min(self.status, key=lambda s: LEVELS.index(s.level))

    def branches(self) -> Iterator[dict[str, Any]]:
        """Every combination of categorical words."""
        names = list(self.categories)
        yield from _product(names, [self.categories[n] for n in names])

    def __call__(self, **inputs: Any) -> Any:
        """The bare function."""
        return self.func(**inputs)


def _product(names: Sequence[str], words: Sequence[tuple[Any, ...]]) -> Iterator[dict[str, Any]]:
    if not names:
        yield {}
        return
    for word in words[0]:
        for rest in _product(names[1:], words[1:]):
            yield {names[0]: word, **rest}


_REGISTRY: dict[str, Model] = {}
_discovered = False


def model(
    id: str,
    *,
    predicts: str,
    unit: str,
    source: Ref,
    title: str,
    status: Status | Sequence[Status],
    **more: Any,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Register the decorated function as a model and hand it back unchanged.

    Raises `ValueError` for an id used twice, a positional input, a missing `step` or inputs after coefficients:
    mistakes of whoever writes the model, found on import.
    """

    def register(func: Callable[..., Any]) -> Callable[..., Any]:
        statuses = (status,) if isinstance(status, Status) else tuple(status)
        made = Model(
            id=id,
            func=func,
            predicts=predicts,
            unit=unit,
            source=source,
            title=title,
            status=statuses,
            **more,
        )
        _check_signature(made)
        if id in _REGISTRY and _REGISTRY[id].func.__module__ != func.__module__:
            raise ValueError(f"two models are called {id!r}: {_REGISTRY[id].func.__module__} and {func.__module__}")
        _REGISTRY[id] = made
        return func

    return register


def _check_signature(made: Model) -> None:
    parameters = list(inspect.signature(made.func).parameters.values())
    if any(p.kind is not p.KEYWORD_ONLY for p in parameters):
        raise ValueError(f"{made.id}: every input is keyword-only (start the signature with *)")
    if not parameters or parameters[-1].name != "step":
        raise ValueError(f"{made.id}: the last parameter is step=no_step")
    for limit in made.limits:
        if limit.name not in made.inputs:
            raise ValueError(f"{made.id}: limit on {limit.name!r}, which is no input")
        for name, word in limit.when.items():
            if word not in made.categories.get(name, ()):
                raise ValueError(f"{made.id}: limit on {limit.name!r} when {name} = {word!r}, which is no branch")


def discover() -> None:
    """Import every module under `cracktie.models` once, so that each model registers itself."""
    global _discovered
    if _discovered:
        return
    import cracktie.models as package

    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        importlib.import_module(module.name)
    _discovered = True


def get(id: str) -> Model:
    """The model of that id; raises `UnknownName` with near names."""
    if id not in _REGISTRY:
        discover()
    try:
        return _REGISTRY[id]
    except KeyError:
        near = difflib.get_close_matches(id, _REGISTRY, 3)
        hint = f"; did you mean {', '.join(near)}?" if near else "; `cracktie models` lists them"
        raise UnknownName(f"no model {id!r}{hint}") from None


def all_models(topic: str | None = None) -> tuple[Model, ...]:
    """All registered models in id order, or those of one topic."""
    discover()
    return tuple(m for i, m in sorted(_REGISTRY.items()) if topic is None or m.topic == topic)


def registered() -> dict[str, Model]:
    """Every registered model, published and local, as a copy: id -> model."""
    discover()
    return dict(_REGISTRY)


def restore(models: Mapping[str, Model]) -> None:
    """Make these (taken with `registered` before) the models again; undoes what a user's own file has registered."""
    _REGISTRY.clear()
    _REGISTRY.update(models)


@dataclass(frozen=True)
class Evaluation:
    """Result of a model run.

    `value` (float or array) is NaN where `applicable` is false; `reasons` pairs each unmet condition with its mask,
    `outside` each exceeded range with its mask; `status` is the weakest of the branches met.
    """

    model: str
    value: Any
    unit: str
    applicable: Any
    reasons: tuple[tuple[Applies, Any], ...]
    outside: tuple[tuple[Limit, Any], ...]
    status: Status


def evaluate(
    which: str | Model,
    inputs: Mapping[str, Any],
    *,
    step: Step = no_step,
    coefficients: Mapping[str, float] | None = None,
) -> Evaluation:
    """Run a model on scalars or on one-dimensional arrays of equal length.

    `inputs` may hold more names than the model needs. Categorical inputs are words, or arrays of words (cases are
    then grouped by word). Raises `ModelInputError` for missing inputs, words or coefficients that do not exist and
    for a non-finite value where the model applies.
    """
    made = get(which) if isinstance(which, str) else which
    extra = dict(coefficients or {})
    used = _take(made, inputs, extra)
    size = _length(made, used)
    if size is None:
        return _scalar(made, used, step, extra)
    value = np.empty(size)
    applicable = np.ones(size, dtype=bool)
    reasons = {a: np.zeros(size, dtype=bool) for a in made.applies}
    outside = {lim: np.zeros(size, dtype=bool) for lim in made.limits}
    met: list[Status] = []
    for rows, words in _groups(made, used, size):
        met.append(made.status_of({**{n: used[n] for n in made.categories}, **words}))
        for part in _parts(rows, size):
            chunk = {n: words[n] if n in words else _cut(v, part) for n, v in used.items()}
            _run_chunk(made, chunk, step, extra, part, value, applicable, reasons, outside)
    kept_reasons = tuple((a, m) for a, m in reasons.items() if m.any())
    kept_outside = tuple((lim, m) for lim, m in outside.items() if m.any())
    status = min(met, key=lambda s: LEVELS.index(s.level), default=made.weakest)
    return Evaluation(made.id, value, made.unit, applicable, kept_reasons, kept_outside, status)


def _take(made: Model, inputs: Mapping[str, Any], extra: Mapping[str, float]) -> dict[str, Any]:
    missing = [n for n in made.inputs if n not in inputs]
    if missing:
        raise ModelInputError(f"{made.id} needs {', '.join(missing)}; given {', '.join(sorted(inputs)) or 'nothing'}")
    unknown = [n for n in extra if n not in made.coefficients]
    if unknown:
        have = ", ".join(made.coefficients) or "none"
        raise ModelInputError(f"{made.id} has no coefficient {', '.join(unknown)}; its coefficients: {have}")
    used = {n: inputs[n] for n in made.inputs}
    for name, words in made.categories.items():
        given = used[name]
        for word in np.unique(given) if isinstance(given, np.ndarray) else (given,):
            if word not in words:
                raise ModelInputError(f"{made.id}: {name} = {word!r}; possible: {', '.join(map(str, words))}")
    return used


def _length(made: Model, used: Mapping[str, Any]) -> int | None:
    sizes = {np.shape(v) for v in used.values() if np.ndim(v)}
    if not sizes:
        return None
    if len(sizes) > 1 or len(next(iter(sizes))) != 1:
        raise ModelInputError(f"{made.id}: arrays must be one-dimensional and of one length; given shapes {sizes}")
    return next(iter(sizes))[0]


def _cut(value: Any, part: Any) -> Any:
    return value[part] if np.ndim(value) else value


def _groups(made: Model, used: Mapping[str, Any], size: int) -> Iterator[tuple[Any, dict[str, Any]]]:
    varying = [n for n in made.categories if np.ndim(used[n])]
    if not varying:
        yield slice(None), {}
        return
    columns = [np.unique(used[n], return_inverse=True) for n in varying]
    code = np.zeros(size, dtype=np.int64)
    for words, index in columns:
        code = code * len(words) + index
    for group in np.unique(code):
        rows = np.flatnonzero(code == group)
        yield rows, {n: used[n][rows[0]].item() for n in varying}


def _parts(rows: Any, size: int) -> Iterator[Any]:
    if isinstance(rows, slice):
        for start in range(0, size, CHUNK):
            yield slice(start, min(start + CHUNK, size))
    else:
        for start in range(0, len(rows), CHUNK):
            yield rows[start : start + CHUNK]


def _run_chunk(
    made: Model,
    chunk: Mapping[str, Any],
    step: Step,
    extra: Mapping[str, float],
    part: Any,
    value: Any,
    applicable: Any,
    reasons: Mapping[Applies, Any],
    outside: Mapping[Limit, Any],
) -> None:
    _tell(step, part, len(value))
    with np.errstate(all="ignore"):
        result = made.func(**chunk, step=step, **extra)
    ok: Any = True
    for condition, mask in reasons.items():
        holds = np.asarray(condition.test(chunk), dtype=bool)
        if not holds.all():
            mask[part] = ~holds
            ok = holds & ok
    for limit, mask in outside.items():
        mask[part] = limit.outside(chunk)
    if ok is not True:
        applicable[part] = ok
        result = np.where(ok, result, np.nan)
    finite = np.isfinite(result)
    if not finite.all() and np.any(bad := ~finite & ok):
        row = int(np.flatnonzero(np.broadcast_to(bad, np.shape(value[part])))[0])
        case = {n: (v[row] if np.ndim(v) else v) for n, v in chunk.items()}
        raise ModelInputError(f"{made.id} gives no finite value for {_shown(case)}")
    value[part] = result


def _tell(step: Step, part: Any, size: int) -> None:
    at = getattr(step, "at", None)
    if at is not None:
        at(part, size)


def _scalar(made: Model, used: Mapping[str, Any], step: Step, extra: Mapping[str, float]) -> Evaluation:
    _tell(step, None, 0)
    with np.errstate(all="ignore"):
        unmet = tuple((a, True) for a in made.applies if not bool(a.test(used)))
        value = float("nan") if unmet else float(made.func(**used, step=step, **extra))
    if not unmet and not np.isfinite(value):
        raise ModelInputError(f"{made.id} gives no finite value for {_shown(used)}")
    outside = tuple((lim, True) for lim in made.limits if bool(lim.outside(used)))
    return Evaluation(made.id, value, made.unit, not unmet, unmet, outside, made.status_of(used))


def _shown(case: Mapping[str, Any]) -> str:
    return ", ".join(f"{n} = {v:g}" if isinstance(v, (int, float)) else f"{n} = {v}" for n, v in case.items())
