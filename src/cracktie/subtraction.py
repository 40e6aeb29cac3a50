"""V_f by subtraction of a reference beam: instruments and scatter of specimens kept apart, interval by draws; N."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from cracktie.compared import Share
from cracktie.lab.budget import Budget, Component, Simulated, standard
from cracktie.member import Member
from cracktie.reduced import TestResult
from cracktie.reduction.explain import Explanation, budget_lines
from cracktie.stats.contrast import difference_ratio
from cracktie.stats.scatter import Scatter
from cracktie.units import shown

EXPONENTS = {"1/2": 0.5, "1/3": 1.0 / 3.0}
DRAWS = 20_000
"""Draws behind the interval of every share."""
U_NOMINAL = 0.2
"""Relative standard uncertainty of the nominal V_s of a reference, which is not scaled with its concrete: judgement."""
NOMINAL = "nominal yield on a 45 deg crack; not measured"


def shares_of(
    test: TestResult, inputs: Member, controls: Sequence[tuple[TestResult, Member]], spread: Scatter
) -> Iterable[Share]:
    """V_f of one strengthened test by subtraction of the mean of its references, for both usual exponents."""
    V_max = test.value("V_max") or math.nan
    for p, exponent in EXPONENTS.items():
        ratio = [inputs.values["f_c"] / m.values["f_c"] for _, m in controls]
        parts = [_scaled(c, m.values, r**exponent) for (c, m), r in zip(controls, ratio, strict=True)]
        V_ctl, V_scaled, V_c, V_s = (sum(x) / len(parts) for x in zip(*parts, strict=True))
        n = len(parts)
        u_reference = spread.s * V_scaled / math.sqrt(n)
        budget = instruments(test, inputs, controls, exponent)
        drawn = draws(V_max, V_scaled, n, spread, budget)
        yield Share(
            test.test, tuple(c.test for c, _ in controls), p, V_max, V_ctl, V_scaled, V_c, V_s, NOMINAL,
            V_max - V_scaled, math.hypot(spread.s * V_scaled, u_reference), math.hypot(spread.s * V_max, u_reference),
            test.bound, budget.u, u_reference, drawn.low, None if test.bound else drawn.high,
        )  # fmt: skip


def _scaled(control: TestResult, inputs: Mapping[str, Any], factor: float) -> tuple[float, float, float, float]:
    """V_ctl, V_ctl with its concrete part scaled, that concrete part, and V_s of the control; N.

    V_s is the nominal yield force of the stirrups on a 45 degree crack, A_sw f_yw d/s_w, never more than V_ctl.
    """
    V = control.value("V_max") or math.nan
    V_s = min(inputs["A_sw"] * inputs["f_yw"] * inputs["d"] / inputs["s_w"], V)
    V_c = (V - V_s) * factor
    return V, V_c + V_s, V_c, V_s


def instruments(
    test: TestResult, inputs: Member, controls: Sequence[tuple[TestResult, Member]], exponent: float
) -> Budget:
    """What instruments and the scaling add to V_f = V_max - mean of the scaled references; no scatter of specimens.

    Errors that both loadings share (one cell, one set-up, one concrete) count once, with their difference.
    """
    f_c = inputs.values["f_c"]
    parts = [(1.0, test.budgets.get("V_max", Budget(())))]
    scaling = []
    for control, m in controls:
        factor = (f_c / m.values["f_c"]) ** exponent
        _, _, V_c, V_s = _scaled(control, m.values, factor)
        n = len(controls)
        parts.append((-factor / n, control.budgets.get("V_max", Budget(()))))
        for who, of, sign in ((test, inputs, -1), (control, m, 1)):
            u = exponent * V_c / n * of.u.get("f_c", 0.0) / of.values["f_c"]
            scaling.append(Component("concrete strength", u, source=f"f_c of {who.batch}", sign=sign))
        u = U_NOMINAL * V_s * abs(1.0 - factor) / n
        note = "nominal V_s, not scaled; judgement"
        scaling.append(Component("V_s of the reference", u, note=note, source="nominal V_s"))
    parts.append((1.0, Budget(tuple(c for c in scaling if c.u > 0.0))))
    return Budget.combined(parts)


def draws(V_max: float, V_scaled: float, n: int, spread: Scatter, budget: Budget, count: int = DRAWS) -> Simulated:
    """V_f of this beam by draws: its V_c + V_s scatter log-normally about that of n references; V_f may be negative.

    The scatter itself is known with few degrees of freedom, so every draw has its own: s sqrt(nu/chi^2), which makes
    the errors of ln V those of Student's t.
    """
    rng = np.random.default_rng(1)
    s = spread.s * np.ones(count)
    if math.isfinite(spread.dof):
        s = spread.s * np.sqrt(spread.dof / rng.chisquare(spread.dof, count))
    error = s * (rng.standard_normal(count) / math.sqrt(n) + rng.standard_normal(count))
    read = np.zeros(count)
    for c in budget.by_source().components:
        read += c.signed * standard(rng, c.shape, c.dof, count)
    return Simulated.of(V_max + read - V_scaled * np.exp(error))


def share_ratio(share: Share, others: Sequence[Share], spread: Scatter) -> tuple[float, float | None, float | None]:
    """V_f of one test over the mean V_f of others, each less its own scaled reference, with Fieller's 95 % limits.

    Scatter between specimens alone. A reference of all of them moves numerator and denominator together; else each has
    its own.
    """
    n = len(others)
    top, bottom = share.V_f, sum(o.V_f for o in others) / n
    own = spread.s * share.V_max, spread.s * sum(o.V_max for o in others) / n / math.sqrt(n)
    if all(o.reference == share.reference for o in others):
        u = (*own, share.u_reference)
    else:
        u = (math.hypot(own[0], share.u_reference), math.hypot(own[1], sum(o.u_reference for o in others) / n), 0.0)
    return difference_ratio(top, bottom, 0.0, u, spread.dof)


def explain_share(shares: Sequence[Share], budgets: Mapping[str, Budget], spread: Scatter, system: str) -> Explanation:
    """How V_f by subtraction of one test came about; `shares` of that test by exponent, `budgets` by exponent."""
    number, unit = shown(1.0, "N", system)
    test, sections = shares[0].test, []
    for s in shares:
        high = "open" if s.high is None else f"{s.high * number:.4g}"
        budget = budgets[s.p]
        sections.append((f"V_f,sub (V_f_sub) of test {test}, p = {s.p}", (
            f"{'>= ' if s.bound else ''}{s.V_f * number:.5g} {unit} = V_max {s.V_max * number:.5g} - reference "
            f"{s.V_ctl_scaled * number:.5g} {unit}",
            f"reference {', '.join(s.reference)}: {s.V_ctl * number:.5g} {unit}, of it V_s {s.V_s * number:.4g} "
            f"({s.V_s_how}); its V_c is scaled by (ratio of f_c)^{s.p} to {s.V_c * number:.4g} {unit}",
            f"scatter between specimens: u = {s.u_beam * number:.3g} {unit} for this beam, "
            f"{s.u_reference * number:.3g} of it from the reference, shared with all beams set against it; "
            f"{s.u_design * number:.3g} {unit} for the design",
            f"instruments and scaling: u = {budget.u * number:.3g} {unit}",
            *(f"   {line}" for line in budget_lines(budget, number, unit)),
            f"Monte Carlo, {DRAWS} draws of scatter, instruments and scaling, seed 1: {s.low * number:.4g} to {high} "
            f"{unit} at 95 %",
        )))  # fmt: skip
    sections.append(("Scatter", (f"CV {100 * spread.cv:.1f} %, {spread.origin}",)))
    sections.append(("Remarks", (
        "apparent V_f: it holds every change of V_c and V_s that the wrap causes",
        f"for the loadings behind it ask for V_max of {', '.join((test, *shares[0].reference))}",
    )))  # fmt: skip
    return Explanation(test, "V_f_sub", tuple(sections))
