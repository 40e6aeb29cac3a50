"""From raw logs to results: every test of a campaign, one after the other."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError, Problem
from cracktie.reduced import Reduced, TestResult

if TYPE_CHECKING:
    from cracktie.reduction.signals import Signals


def studied_span(campaign: Campaign, test: Test) -> str:
    """The span a test studies: the test's word, else the specimen's, else A."""
    return test.studied or campaign.specimen(test.specimen).tested_span or "A"


def reduce_test(campaign: Campaign, name: str) -> TestResult:
    """Reduce one test; raises `CracktieError` with what is missing."""
    return reduced_with_signals(campaign, name)[0]


def reduced_with_signals(campaign: Campaign, name: str) -> tuple[TestResult, Signals]:
    """A reduced test and the readings it was made from; raises `CracktieError` with what is missing."""
    from cracktie.reduction.results import test_result
    from cracktie.reduction.signals import read_signals

    test = campaign.tests[name]
    span = studied_span(campaign, test)
    signals = read_signals(campaign, name, test, span)
    _refuse_no_loading(signals)
    return test_result(campaign, name, test, span, signals), signals


BELOW = (0.02, 0.03)
"""A load is doubted where this share of its readings lies below minus that share of its largest value; own choice."""


def _refuse_no_loading(signals: Signals) -> None:
    """A load that stays at its zero, or goes down only, gives no result: a peak would be noise. One that goes far below
    its zero is told."""
    import numpy as np

    from cracktie.reduction.signals import NotReduced

    load = signals.of("load")[0]
    if not np.isfinite(load.values).any():
        raise NotReduced(f"the load ({load.channel.name}) has no readings left; look for excluded in reduction.yaml")
    top, bottom = float(np.nanmax(load.values)), float(np.nanmin(load.values))
    if top > max(5.0 * load.noise, -bottom):
        below = float(np.nanquantile(load.values, BELOW[0]))
        if below < -BELOW[1] * top:
            signals.notes.append(
                f"{load.channel.name}: {100 * BELOW[0]:.0f} % of the readings lie below {below / 1000:.2f} kN: the "
                "zero window stands under load, or the cell drifted; name the rows at rest, or its load (zeros: value)"
            )
        return
    said = f"the load ({load.channel.name}) lies between {bottom / 1000:.2f} and {top / 1000:.2f} kN from its zero"
    if -bottom > 5.0 * load.noise:
        raise NotReduced(f"{said}: down is positive; if it was logged the other way, write sign: -1 for its channel")
    raise NotReduced(f"{said}, no more than its noise; check the channel and the zero window")


def reduce_campaign(
    campaign: Campaign, *, advance: Callable[[str, int, int], None] | None = None, fresh: bool = True
) -> Reduced:
    """Reduce every test that has a log; a test that cannot be reduced is skipped with its reason.

    `fresh=False` takes tests whose inputs have not changed from out/.
    """
    from cracktie.reduction.store import Store

    store = Store(campaign, read=not fresh)
    tests: dict[str, TestResult] = {}
    skipped: dict[str, str] = {}
    warnings: list[Problem] = []
    for i, name in enumerate(campaign.tests):
        if advance is not None:
            advance(f"reducing {name}", i, len(campaign.tests))
        if not campaign.tests[name].logs:
            skipped[name] = "no log"
            continue
        kept = store.get(name)
        try:
            tests[name] = kept or reduce_test(campaign, name)
        except CracktieError as error:
            skipped[name] = "; ".join(str(error).splitlines())
            warnings.append(Problem("warning", "tests.yaml", f"not reduced: {skipped[name]}", key=name))
            continue
        if kept is None:
            store.put(tests[name])
    warnings += _odd_in_series(tests)
    return Reduced(campaign.head.title, tests, tuple(warnings), skipped)


def _odd_in_series(tests: dict[str, TestResult]) -> list[Problem]:
    """Tests whose load or deflection is of another order than that of the others: most often a wrong unit."""
    from cracktie.lab.plausible import odd_sizes

    found = []
    for quantity, what, units in (("V_max", "V_max", "N for kN"), ("delta_V_max", "deflection at V_max", "m for mm")):
        sizes = {name: v for name, t in tests.items() if (v := t.value(quantity)) is not None}
        for name, ratio in odd_sizes(sizes).items():
            told = f"{what} is {ratio:.3g} times the median of the tests: is the unit of its channel right ({units})?"
            found.append(Problem("warning", "tests.yaml", told, key=name))
    return found
