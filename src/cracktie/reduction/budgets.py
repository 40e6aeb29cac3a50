"""Budgets of results: which cause adds how much. The total agrees with the uncertainty printed beside the result."""

from __future__ import annotations

from dataclasses import dataclass

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
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


@dataclass(frozen=True)
class RigSources:
    """Names of the errors that tests share: one cell, one set-up of supports and load, one concrete."""

    cell: str
    places: str
    weight: str

    @classmethod
    def of(cls, campaign: Campaign, test: Test) -> RigSources:
        """Of a test; a beam turned end for end shares the cell, but not its places."""
        setup = test.setup or "the set-up"
        turned = ", mirrored" if test.mirrored else ""
        return cls(f"cell of {setup}", f"{setup}{turned}", f"concrete {campaign.specimen(test.specimen).batch}")


def shear_budget(
    rule: ShearRule, P: float, *, zero: float, reading: float, total: bool = True, shared: RigSources | None = None
) -> Budget:
    """Budget of a shear in N at jack load P; `zero` and `reading` (noise, row of the event) are of the load, N.

    `total` includes self-weight and rig weight, as the result does. `shared` names the errors that other tests share.
    """
    m, cell = rule.influence, "" if shared is None else shared.cell
    parts = [
        _component("load cell", m * rule.u_cell * P, "rectangular", "stated accuracy of reading", cell),
        Component("zero of the load cell", abs(m * zero), kind="A", note="scatter of the mean in the zero window"),
        Component("reading or row of the event", abs(m * reading), kind="A"),
    ]
    load = P + rule.rig if total else P
    for name, (slope, own) in zip(PLACES, rule.slopes, strict=True):
        moved = slope * load + (own if total else 0.0)
        source = "" if shared is None else f"{name}, {shared.places}"
        parts.append(_component(name, rule.u_position * moved, "rectangular", "stated accuracy of place", source))
    if total:
        source = "" if shared is None else f"unit weight, {shared.weight}"
        parts.append(_component("self-weight", rule.u_own, "rectangular", "unit weight and sizes", source))
    return Budget(tuple(c for c in parts if c.u > 0.0))


def _component(name: str, signed: float, shape: str, note: str, source: str) -> Component:
    return Component(name, abs(signed), shape, note=note, source=source, sign=1 if signed >= 0.0 else -1)
