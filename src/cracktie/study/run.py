"""Studies of one span: every function takes the span as `wrapped_span` makes it and names of what varies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.anchorage import anchor_resistance
from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.beam.response import FAST, OFFSETS, Fineness, peaks
from cracktie.beam.specimen import Wrapped
from cracktie.errors import ModelInputError
from cracktie.study.sampling import RIDGE, Variable, mixing, points, samples, values_at

ANCHOR = "anchor."
OUTPUTS = ("V_max", "V_f", "V_f_max", "gain", "V_deb", "strain_mean", "strain_most", "strain_ever", "F_anchor")
MODEL_COV: Mapping[str, tuple[float, float]] = {"side": (0.14, 0.36), "u": (0.12, 0.34), "full": (0.30, 0.88)}
"""COV of test over prediction of V and of V_f: 88, 64 and 23 published beams without anchors (second-hand table), no
coefficient fitted to single beams; scatter of beams is in it. For anchored wraps nothing is known; those of 'u' are
taken and are a lower bound of the error."""


def evaluate_span(
    made: Wrapped,
    values: Mapping[str, Any],
    *,
    fineness: Fineness = FAST,
    offsets: int = OFFSETS,
    coefficients: Mapping[str, float] | None = None,
    workers: int = 1,
) -> dict[str, Any]:
    """`OUTPUTS` by name, arrays (n,), with inputs, coefficients and anchor inputs replaced by `values` (n,).

    The concrete term follows f_c with its root unless `V_c0` is given; anchors are worked out anew, hole and fibre
    follow the dowel diameter unless given. `F_anchor` is the
    resistance of one anchor by its models times k_F, NaN without. Raises `ModelInputError` for unknown names.
    """
    if made.why:
        raise ModelInputError(f"{made.specimen.id}, span {made.span}: {made.why}")
    inputs, changed, force = _placed(made, values)
    size = max((np.size(v) for v in values.values()), default=1)
    inputs["h"] = np.broadcast_to(inputs["h"], (size,))
    found = peaks(
        inputs, coefficients={**(coefficients or {}), **changed}, offsets=offsets, centres=made.centres,
        fineness=fineness, workers=workers,
    )  # fmt: skip
    out = {n: getattr(found, n) for n in OUTPUTS if n != "F_anchor"}
    share = changed.get("k_F", (coefficients or {}).get("k_F", 1.0))
    out["F_anchor"] = np.broadcast_to(np.asarray(force, dtype=float) * share, (size,))
    return out


def _placed(made: Wrapped, values: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any], Any]:
    """Inputs and coefficients with the values in their places, and the force of one anchor."""
    inputs, changed, own = dict(made.inputs), {}, {}
    known = {n for n, v in inputs.items() if not isinstance(v, (str, bool))}
    anchor_names = set(made.anchor.values) if made.anchor is not None else set()
    for name, value in values.items():
        if name.startswith(ANCHOR) and name[len(ANCHOR) :] in anchor_names:
            own[name[len(ANCHOR) :]] = value
        elif name == "theta" and "theta" in inputs:
            inputs["theta"] = value
        elif name in COEFFICIENTS:
            changed[name] = value
        elif name in known:
            inputs[name] = value
        else:
            names = [*sorted(known), *COEFFICIENTS, *(ANCHOR + n for n in sorted(anchor_names))]
            raise ModelInputError(f"{name} cannot vary here; possible: {', '.join(names)}")
    if "f_c" in values and "V_c0" not in values:
        inputs["V_c0"] = made.inputs["V_c0"] * np.sqrt(np.asarray(values["f_c"]) / made.inputs["f_c"])
    if made.anchor is None:
        return inputs, changed, np.nan
    if not own and "f_c" not in values:
        return inputs, changed, made.anchors["default"].F_u
    sizes = {**made.anchor.values, **own}
    if "d_a" in own:  # the hole keeps its gap, the fibre its share of the dowel, unless they vary by themselves
        was = made.anchor.values
        if "d_0" not in own:
            sizes["d_0"] = np.asarray(own["d_a"]) + (was["d_0"] - was["d_a"])
        if "A_a" not in own:
            sizes["A_a"] = was["A_a"] * (np.asarray(own["d_a"]) / was["d_a"]) ** 2
    if "f_c" in values:
        sizes["f_c"] = values["f_c"]
    found = anchor_resistance(sizes, resistance=made.anchor.resistance, tested_mode=made.anchor.tested_mode)
    if not np.all(np.isfinite(found.F_u)):
        raise ModelInputError("the anchors have no resistance for some of the values: a mechanism does not apply there")
    spring = found.leg(made.anchor.per_leg)
    strip = np.asarray(inputs["f_fu"]) * inputs["n"] * inputs["t_f"] * inputs["w_f"]
    held = {"k_leg": spring.k, "F_leg": np.minimum(spring.F_u, strip), "soft_slip": spring.soft_slip,
            "residual": spring.residual}  # fmt: skip
    return {**inputs, **{n: v for n, v in held.items() if n not in values}}, changed, found.F_u


@dataclass(frozen=True)
class Interval:
    """Mean, standard deviation, median, 5 % fractile and the interval of 95 %."""

    mean: float
    sd: float
    median: float
    fractile_5: float
    low: float
    high: float

    @classmethod
    def of(cls, values: Any) -> Interval:
        """Of samples; NaN ones are left out."""
        kept = np.asarray(values)[np.isfinite(values)]
        if not len(kept):
            return cls(*(6 * [float("nan")]))
        low, five, middle, high = (float(q) for q in np.quantile(kept, [0.025, 0.05, 0.5, 0.975]))
        return cls(float(kept.mean()), float(kept.std()), middle, five, low, high)


@dataclass(frozen=True)
class MonteCarlo:
    """Samples: inputs `values` and `outputs` by name (n,); intervals of the inputs alone and with model error."""

    count: int
    seed: int
    values: Mapping[str, Any]
    outputs: Mapping[str, Any]
    inputs_only: Mapping[str, Interval]
    with_model: Mapping[str, Interval]
    model_note: str

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping without the samples."""
        from cracktie.results import finite

        def plain(table: Mapping[str, Interval]) -> dict[str, Any]:
            return {n: {k: finite(v) for k, v in vars(i).items()} for n, i in table.items()}

        return {"samples": self.count, "seed": self.seed, "inputs_only": plain(self.inputs_only),
                "with_model_error": plain(self.with_model), "model_error": self.model_note}  # fmt: skip


def monte_carlo(
    made: Wrapped,
    variables: Sequence[Variable],
    *,
    count: int = 2000,
    seed: int = 1,
    correlations: Mapping[tuple[str, str], float] | None = None,
    workers: int = 2,
    **options: Any,
) -> MonteCarlo:
    """Outputs of `count` samples; the same for any number of `workers`. Options as in `evaluate_span`."""
    error = Variable("model error", "normal", 0.0, 1.0)
    chunks = list(samples([*variables, error], count, seed=seed, correlations=with_ridge(variables, correlations)))

    def one(chunk: dict[str, Any]) -> dict[str, Any]:
        return evaluate_span(made, {n: v for n, v in chunk.items() if n != error.name}, **options)

    if workers > 1 and len(chunks) > 1:
        with ThreadPoolExecutor(workers) as pool:
            runs = list(pool.map(one, chunks))
    else:
        runs = [one(chunk) for chunk in chunks]
    outputs = {n: np.concatenate([r[n] for r in runs])[:count] for n in OUTPUTS}
    values = {n: np.concatenate([c[n] for c in chunks]) for n in chunks[0]}
    normal = values.pop(error.name)
    cov, cov_f = MODEL_COV.get(str(made.inputs["scheme"]), (0.12, 0.34))
    spread = {n: _factor(normal, cov_f if n.startswith(("V_f", "gain")) else cov) for n in outputs if n[0] in "Vg"}
    note = f"COV of V {cov:g}, of V_f {cov_f:g}, from published beams without anchors (second-hand)"
    if made.anchored:
        note += "; a lower bound for anchored wraps, on which nothing is known"
    return MonteCarlo(
        count, seed, values, outputs, {n: Interval.of(v) for n, v in outputs.items()},
        {n: Interval.of(outputs[n] * f) for n, f in spread.items()}, note,
    )  # fmt: skip


def _factor(normal: Any, cov: float) -> Any:
    spread = np.sqrt(np.log1p(cov**2))
    return np.exp(spread * normal - 0.5 * spread**2)


def with_ridge(
    variables: Sequence[Variable], correlations: Mapping[tuple[str, str], float] | None
) -> dict[tuple[str, str], float]:
    """The correlations, with that of k_tau and theta where both vary and none is given."""
    made = dict(correlations or {})
    names = {v.name for v in variables}
    if {"k_tau", "theta"} <= names and not {("k_tau", "theta"), ("theta", "k_tau")} & set(made):
        made["k_tau", "theta"] = RIDGE
    return made


@dataclass(frozen=True)
class Sensitivity:
    """Shares of the variance of `output` by variable: `first` alone, `total` with all its interactions."""

    output: str
    names: tuple[str, ...]
    first: tuple[float, ...]
    total: tuple[float, ...]
    samples: int


def sensitivities(
    made: Wrapped,
    variables: Sequence[Variable],
    *,
    output: str = "V_max",
    count: int = 1024,
    seed: int = 1,
    **options: Any,
) -> Sensitivity:
    """First-order and total shares with independent variables (correlations left out).

    Estimators: first order of Saltelli and others 2010, total of Jansen 1999 (both from memory). Runs
    count (variables + 2) beams.
    """
    if output not in OUTPUTS:
        raise ModelInputError(f"no output {output!r}; possible: {', '.join(OUTPUTS)}")
    size = len(variables)
    factor = mixing(variables, {})

    def run(u: Any) -> Any:
        return np.asarray(evaluate_span(made, values_at(u, variables, factor), **options)[output])

    u = np.concatenate(list(points(2 * size, count, seed)))
    one, two = u[:, :size], u[:, size:]
    f_one, f_two = run(one), run(two)
    variance = float(np.var(np.concatenate([f_one, f_two])))
    first, total = [], []
    for i in range(size):
        mixed = one.copy()
        mixed[:, i] = two[:, i]
        f = run(mixed)
        first.append(float(np.mean(f_two * (f - f_one)) / variance) if variance > 0.0 else 0.0)
        total.append(float(np.mean((f_one - f) ** 2) / (2.0 * variance)) if variance > 0.0 else 0.0)
    return Sensitivity(output, tuple(v.name for v in variables), tuple(first), tuple(total), count)


def sweep(made: Wrapped, axes: Mapping[str, Any], **options: Any) -> dict[str, Any]:
    """Outputs over one axis (n,) or a grid of two (n, m); `axes` name -> values."""
    if not 1 <= len(axes) <= 2:
        raise ModelInputError(f"a sweep has one axis or two; given {len(axes)}")
    lines = [np.atleast_1d(np.asarray(v, dtype=float)) for v in axes.values()]
    grid = np.meshgrid(*lines, indexing="ij")
    found = evaluate_span(made, {n: g.ravel() for n, g in zip(axes, grid, strict=True)}, **options)
    return {n: np.asarray(v).reshape(grid[0].shape) for n, v in found.items()}


@dataclass(frozen=True)
class GoalSeek:
    """Smallest size that reaches the goal with the wanted probability; None where none of the sizes does.

    `probability` (sizes,) of reaching it; `V_median` (sizes,) in N; `no_more` is the size from which on V_median grows
    by less than 1 % up to the largest size.
    """

    name: str
    sizes: Any
    probability: Any
    V_median: Any
    wanted: float
    smallest: float | None
    no_more: float
    goal: str


def goal_seek(
    made: Wrapped,
    name: str,
    sizes: Any,
    *,
    variables: Sequence[Variable] = (),
    strain: float | None = None,
    gain: float | None = None,
    probability: float = 0.9,
    count: int = 512,
    seed: int = 1,
    correlations: Mapping[tuple[str, str], float] | None = None,
    **options: Any,
) -> GoalSeek:
    """Smallest anchor (input `name`, for example `anchor.h_ef`, over `sizes`) for a goal.

    Goal: some fibre of the strips reaches `strain` at any opening, or V_max exceeds that of the same sample without
    anchors by the share `gain`. Every size meets the same samples. Raises `ModelInputError`.
    """
    if (strain is None) == (gain is None):
        raise ModelInputError("goal seek: give one goal, strain or gain")
    if not made.anchored:
        raise ModelInputError(f"goal seek: {made.specimen.id}, span {made.span} has no anchors to size")
    line = np.asarray(sizes, dtype=float)
    if line.ndim != 1 or line.size < 2 or (np.diff(line) <= 0.0).any():
        raise ModelInputError("goal seek: give at least two sizes in ascending order")
    kept = [v for v in variables if v.name != name]
    chunks = list(samples(kept, count, seed=seed, correlations=with_ridge(kept, correlations))) if kept else [{}]
    base = {n: np.concatenate([c[n] for c in chunks]) for n in chunks[0]}
    bare = evaluate_span(made, {**base, "F_leg": np.zeros(count if kept else 1)}, **options)["V_max"]
    share, middle = [], []
    for size in line:
        found = evaluate_span(made, {**base, name: np.full(len(bare), size)}, **options)
        hit = found["strain_ever"] >= strain if strain is not None else found["V_max"] >= (1.0 + (gain or 0.0)) * bare
        share.append(float(np.mean(hit)))
        middle.append(float(np.median(found["V_max"])))
    enough = [float(s) for s, p in zip(line, share, strict=True) if p >= probability]
    short = np.asarray(middle) < 0.99 * middle[-1]
    last = int(np.flatnonzero(short).max()) + 1 if short.any() else 0
    goal = f"strain {strain:g} in a strip" if strain is not None else f"V_max {100 * (gain or 0):g} % above no anchors"
    return GoalSeek(
        name, line, np.array(share), np.array(middle), probability, min(enough, default=None), float(line[last]), goal
    )
