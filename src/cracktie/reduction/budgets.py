"""Budgets of results: which cause adds how much. The total agrees with the uncertainty printed beside the result."""

from __future__ import annotations

from dataclasses import dataclass

from cracktie.lab.budget import Budget, Component
from cracktie.reduction.shear import ShearRule

PLACES = ("place of the left support", "place of the right support", "place of the load")


@dataclass(frozen=True)
class Found:
    """One derived value: glossary name, value, unit, budget (None: not evaluated), how it was found."""

    name: str
    value: float
    unit: str
    budget: Budget | None
    how: str


def shear_budget(rule: ShearRule, P: float, *, zero: float, reading: float, total: bool = True) -> Budget:
    """Budget of a shear in N at jack load P; `zero` and `reading` (noise, row of the event) are of the load, N.

    `total` includes self-weight and rig weight, as the result does.
    """
    m = abs(rule.influence)
    parts = [
        Component("load cell", m * rule.u_cell * abs(P), "rectangular", note="stated accuracy of reading"),
        Component("zero of the load cell", m * zero, kind="A", note="scatter of the mean in the zero window"),
        Component("reading or row of the event", m * abs(reading), kind="A"),
    ]
    load = P + rule.rig if total else P
    for name, (slope, own) in zip(PLACES, rule.slopes, strict=True):
        moved = slope * load + (own if total else 0.0)
        parts.append(Component(name, abs(rule.u_position * moved), "rectangular", note="stated accuracy of place"))
    if total:
        parts.append(Component("self-weight", abs(rule.u_own), "rectangular", note="unit weight and sizes"))
    return Budget(tuple(c for c in parts if c.u > 0.0))
