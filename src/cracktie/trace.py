"""Calculation sheets: the model function itself, called with numbers that write down how they are used.

`trace_model` runs a registered model on one case, `trace_call` any function written in the same way (for instance a
set that hands its `step` on to several models). Array runs never meet these classes.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from cracktie import symbols
from cracktie.clause import Model, Ref, Status, evaluate, get
from cracktie.errors import CracktieError
from cracktie.expression import (
    FUNCTIONS,
    MARKS,
    Call,
    Choice,
    Coefficient,
    Expression,
    Name,
    Number,
    Operation,
    Unary,
    leaves,
    substituted,
    text,
)

_MARK_OF = {ufunc: mark for mark, (ufunc, _) in MARKS.items()}
_MARK_OF |= {np.bitwise_and: "and", np.bitwise_or: "or", np.float_power: "^"}
_NAME_OF = {ufunc: name for name, ufunc in FUNCTIONS.items()}
_NAME_OF |= {np.deg2rad: "radians", np.rad2deg: "degrees", np.fmin: "min", np.fmax: "max"}
_NOT = (np.logical_not, np.invert)


class NotTraceable(CracktieError, TypeError):
    """A model does something with a number that a calculation sheet cannot write as a formula."""


class Traced(np.lib.mixins.NDArrayOperatorsMixin):
    """A number that keeps the formula it came from.

    `value` is a float (or a truth value for a comparison), `tree` the formula. Kernels that need bare numbers get
    them by `float(x)` or `np.asarray(x, dtype=float)`; the step that takes their result then needs `text`.
    """

    def __init__(self, value: Any, tree: Expression):
        self.value = value
        self.tree = tree

    def __repr__(self) -> str:
        return f"{text(self.tree)} = {self.value:g}"

    def __float__(self) -> float:
        return float(self.value)

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> Any:
        return np.array(self.value, dtype=dtype)

    def __bool__(self) -> bool:
        raise NotTraceable(
            f"`if`, `and`, `or`, min() and max() decide on the number {text(self.tree)}: a model may branch on "
            "categorical words only; use np.where, np.minimum, np.maximum, & and |"
        )

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **options: Any) -> Any:
        if method != "__call__" or options:
            raise NotTraceable(f"a calculation sheet cannot write np.{ufunc.__name__}.{method} with {options}")
        parts = [traced(x) for x in inputs]
        trees = tuple(p.tree for p in parts)
        with np.errstate(all="ignore"):
            value = ufunc(*(p.value for p in parts))
        return Traced(value, _tree_of(ufunc, trees))

    def __array_function__(self, func: Any, types: Any, args: Any, kwargs: Any) -> Any:
        if func is np.where and len(args) == 3 and not kwargs:
            condition, yes, no = (traced(a) for a in args)
            taken = bool(condition.value)
            value = yes.value if taken else no.value
            return Traced(value, Choice(condition.tree, yes.tree, no.tree, taken))
        if func is np.clip and len(args) == 3 and not kwargs:
            return np.minimum(np.maximum(args[0], args[1]), args[2])
        raise NotTraceable(
            f"a calculation sheet cannot write np.{func.__name__}; use ufuncs and np.where, or call it on "
            "np.asarray(x, dtype=float) and give the step a `text`"
        )


def _tree_of(ufunc: Any, trees: tuple[Expression, ...]) -> Expression:
    if ufunc in _MARK_OF:
        return Operation(_MARK_OF[ufunc], *trees)
    if ufunc in _NOT:
        return Unary("not", trees[0])
    if ufunc is np.negative:
        return Unary("-", trees[0])
    if ufunc is np.positive:
        return trees[0]
    if ufunc is np.square:
        return Operation("^", trees[0], Number(2.0))
    if ufunc is np.reciprocal:
        return Operation("/", Number(1.0), trees[0])
    name = _NAME_OF.get(ufunc)
    if name is None:
        raise NotTraceable(f"a calculation sheet cannot write np.{ufunc.__name__}; known: {', '.join(FUNCTIONS)}")
    if name in ("min", "max"):
        first = trees[0].arguments if isinstance(trees[0], Call) and trees[0].function == name else trees[:1]
        return Call(name, (*first, *trees[1:]))
    return Call(name, trees)


def traced(value: Any) -> Traced:
    """The traced number itself, or a literal made of a plain number; raises `NotTraceable` for anything else."""
    if isinstance(value, Traced):
        return value
    number = _plain_number(value)
    if number is None:
        raise NotTraceable(f"a calculation sheet is written for one case of numbers; got {value!r}")
    return Traced(number, Number(float(number)))


def _plain_number(value: Any) -> Any:
    """Float of a number, truth value of a truth value, None for words and arrays."""
    if isinstance(value, (bool, np.bool_)):
        return np.bool_(value)
    if np.ndim(value) or isinstance(value, (str, bytes)) or value is None:
        return None
    try:
        return np.float64(value)
    except (TypeError, ValueError):
        return None


@dataclass(frozen=True)
class Row:
    """One step: the formula is None where a kernel gave the value and `note` says how."""

    name: str
    value: float
    unit: str
    where: str
    formula: Expression | None
    note: str = ""
    section: int = 0

    @property
    def symbolic(self) -> str:
        """Formula with names, or the note."""
        return self.note if self.formula is None else text(self.formula)

    @property
    def numeric(self) -> str:
        """Formula with the numbers in full."""
        return "" if self.formula is None else substituted(self.formula)


@dataclass(frozen=True)
class Section:
    """A heading inside a sheet, with the source of what follows."""

    title: str
    source: str = ""


class Sheet:
    """The recording `step`: keeps every intermediate as a row and hands it on under its name.

    `begin` opens a section; `clause.section(step, ...)` calls it where `step` has it.
    """

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self.sections: list[Section] = []

    def begin(self, title: str, source: str = "") -> None:
        """Rows from here on stand under this heading."""
        self.sections.append(Section(title, source))

    def __call__(self, name: str, value: Any, unit: str = "-", where: str = "", text: str = "") -> Traced:
        opaque = bool(text) and not isinstance(value, Traced)
        kept = traced(value.item() if isinstance(value, np.ndarray) and value.ndim == 0 else value)
        number = float(kept.value)
        formula = None if opaque else kept.tree
        self.rows.append(Row(name, number, unit, where, formula, text, max(0, len(self.sections) - 1)))
        return Traced(np.float64(number), Name(name, number))


@dataclass(frozen=True)
class Trace:
    """A traced call: `result` with plain numbers, its rows and sections, and the coefficients met in the formulas."""

    result: Any
    rows: tuple[Row, ...]
    sections: tuple[Section, ...]

    @property
    def coefficients(self) -> dict[str, float]:
        """Coefficients that a formula of the trace shows: name -> number used."""
        met = (leaf for row in self.rows if row.formula is not None for leaf in leaves(row.formula))
        return {leaf.name: leaf.value for leaf in met if isinstance(leaf, Coefficient)}


def trace_call(
    func: Callable[..., Any],
    inputs: Mapping[str, Any],
    categories: Collection[str] = (),
    coefficients: Mapping[str, float] | None = None,
) -> Trace:
    """Call `func(**inputs, step=sheet)` with traced numbers.

    Words, truth values, None and every name in `categories` pass as they are. Coefficients are the float defaults of
    the signature, replaced by `coefficients` where given. Raises `NotTraceable` where the function does what a sheet
    cannot show.
    """
    sheet = Sheet()
    given: dict[str, Any] = {}
    for name, value in inputs.items():
        number = None if name in categories or isinstance(value, (bool, np.bool_)) else _plain_number(value)
        if number is None and np.ndim(value):
            raise NotTraceable(f"a calculation sheet is written for one case; {name} is an array")
        given[name] = value if number is None else Traced(number, Name(name, float(number)))
    parameters = inspect.signature(func).parameters.values()
    defaults = {p.name: p.default for p in parameters if isinstance(p.default, float)}
    for name, value in {**defaults, **(coefficients or {})}.items():
        given.setdefault(name, Traced(np.float64(value), Coefficient(name, float(value))))
    result = func(**given, step=sheet)
    return Trace(_plain(result), tuple(sheet.rows), tuple(sheet.sections))


def _plain(result: Any) -> Any:
    if isinstance(result, Traced):
        return float(result.value)
    if isinstance(result, Mapping):
        return {k: _plain(v) for k, v in result.items()}
    if isinstance(result, tuple) and not hasattr(result, "_fields"):
        return tuple(_plain(v) for v in result)
    return result


@dataclass(frozen=True)
class Entry:
    """An input or coefficient as a sheet lists it; `published` is the document's value of a changed coefficient."""

    name: str
    value: Any
    symbol: str
    unit: str
    meaning: str = ""
    published: float | None = None


def entry(name: str, value: Any, published: float | None = None) -> Entry:
    """Entry with symbol, unit and meaning from the glossary, as far as it knows the name."""
    plain = value.item() if isinstance(value, np.generic) else value
    if not symbols.known(name):
        return Entry(name, plain, symbols.plain(name), "-", published=published)
    known = symbols.symbol(name)
    return Entry(name, plain, known.symbol, known.unit, known.meaning, published)


@dataclass(frozen=True)
class CalculationSheet:
    """Everything a printed calculation shows; `value` is None where the model does not apply (`reasons` say why)."""

    model: str
    title: str
    predicts: str
    value: float | None
    unit: str
    source: Ref
    status: Status
    inputs: tuple[Entry, ...]
    coefficients: tuple[Entry, ...] = ()
    rows: tuple[Row, ...] = ()
    sections: tuple[Section, ...] = ()
    reasons: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()

    @property
    def applicable(self) -> bool:
        """Whether the model's conditions of use are met."""
        return not self.reasons

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON output; formulas as text."""
        rows = [
            {
                "name": r.name,
                "value": r.value if math.isfinite(r.value) else None,
                "unit": r.unit,
                "where": r.where,
                "formula": r.symbolic,
                "numbers": r.numeric,
                "note": r.note,
                "section": self.sections[r.section].title if self.sections else "",
            }
            for r in self.rows
        ]
        return {
            "model": self.model,
            "title": self.title,
            "predicts": self.predicts,
            "value": self.value,
            "unit": self.unit,
            "source": asdict(self.source),
            "status": {"level": self.status.level, "how": self.status.how},
            "applicable": self.applicable,
            "inputs": [asdict(e) for e in self.inputs],
            "coefficients": [asdict(e) for e in self.coefficients],
            "rows": rows,
            "sections": [asdict(s) for s in self.sections],
            "reasons": list(self.reasons),
            "outside": list(self.outside),
        }


def trace_model(
    which: str | Model,
    inputs: Mapping[str, Any],
    coefficients: Mapping[str, float] | None = None,
) -> CalculationSheet:
    """Sheet of one case of a model; `inputs` are numbers and words and may hold more than the model needs.

    Raises what `clause.evaluate` raises, and `NotTraceable`. Where the model does not apply the sheet has no rows.
    """
    made = get(which) if isinstance(which, str) else which
    result = evaluate(made, inputs, coefficients=coefficients)
    used = {n: inputs[n] for n in made.inputs}
    if np.ndim(result.value):
        raise NotTraceable(f"a calculation sheet is written for one case; {made.id} was given arrays")
    trace = Trace(None, (), ())
    if result.applicable:
        trace = trace_call(made.func, used, made.categories, coefficients)
    published = made.coefficients
    met = trace.coefficients
    if any(row.formula is None for row in trace.rows):
        met = {**published, **(coefficients or {})}  # a kernel may use a coefficient that no formula shows
    listed = tuple(entry(n, v, published[n] if v != published[n] else None) for n, v in met.items() if n in published)
    return CalculationSheet(
        model=made.id,
        title=made.title,
        predicts=made.predicts,
        value=float(trace.result) if result.applicable else None,
        unit=made.unit,
        source=made.source,
        status=result.status,
        inputs=tuple(entry(n, v) for n, v in used.items()),
        coefficients=listed,
        rows=trace.rows,
        sections=trace.sections,
        reasons=tuple(f"{a.sentence}; see {a.where}" if a.where else a.sentence for a, _ in result.reasons),
        outside=tuple(_sentence(lim, used) for lim, _ in result.outside),
    )


def _sentence(limit: Any, used: Mapping[str, Any]) -> str:
    unit = symbols.symbol(limit.name).unit if symbols.known(limit.name) else ""
    shown = "" if unit in ("", "-") else f" {unit}"
    given = f"{symbols.plain(limit.name)} = {used[limit.name]:g}{shown}"
    return f"{given} is outside the published range {limit.sentence(unit)}"
