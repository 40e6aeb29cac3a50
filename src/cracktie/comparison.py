"""Comparison: tests against predictions, beams against their references, and the shares by subtraction.

Every percentage between beams stands beside its interval; lower bounds stay lower bounds; simulated logs are refused
unless asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from cracktie.agreement import Agreement
from cracktie.campaign.factors import confounded, contrasted, role, show
from cracktie.campaign.schema import Campaign, Reference
from cracktie.compared import Comparison, Contrast, Gain, SetSummary, Share, ShareRatio, TestPrediction
from cracktie.errors import CracktieError, UnknownName
from cracktie.member import Member
from cracktie.prediction import Prediction, predict_campaign
from cracktie.reduced import Reduced, TestResult
from cracktie.reduction import reduce_campaign
from cracktie.reduction.explain import Explanation
from cracktie.reduction.explain import explain as of_one_test
from cracktie.stats.contrast import ratio
from cracktie.stats.scatter import Scatter, scatter
from cracktie.subtraction import EXPONENTS, explain_share, instruments, share_ratio, shares_of

if TYPE_CHECKING:
    pass

AFTER_OTHERS = ("retest", "repaired")
"""States of a test on a beam that had failed before: predicted and plotted, but never set beside first loadings."""
OVER = ("control", "unanchored")
"""Roles every strengthened beam is set against, one by one; other roles enter through the contrasts of the plan."""


class SimulatedRefused(CracktieError):
    """Simulated logs reached a step that judges real tests."""


def compare_campaign(
    campaign: Campaign, reduced: Reduced, prediction: Prediction, *, simulated_ok: bool = False
) -> Comparison:
    """Judge the reduced tests. Raises `SimulatedRefused` for simulated logs unless `simulated_ok`."""
    if reduced.simulated and not simulated_ok:
        names = ", ".join(t.test for t in reduced.tests.values() if t.simulated)
        raise SimulatedRefused(f"simulated logs are not compared ({names}); add --simulated-ok to try things out")
    usable, left_out = _usable(reduced)
    spread = campaign_scatter(campaign, usable)
    shares = tuple(s for t in usable.values() for s in _shares(campaign, prediction, usable, t, spread))
    predictions = tuple(_test_predictions(campaign, prediction, usable, shares))
    return Comparison(
        title=campaign.head.title,
        simulated=reduced.simulated,
        scatter=spread,
        predictions=predictions,
        summaries=_summaries(predictions),
        shares=shares,
        gains=tuple(_gains(campaign, usable, spread)),
        contrasts=tuple(_contrasts(campaign, usable, spread, left_out)),
        share_ratios=tuple(_share_ratios(campaign, usable, shares, spread)),
        left_out=left_out,
        agreements=tuple(_agreements(usable, shares, campaign.head.analysis.concrete_exponent)),
    )


def _agreements(usable: Mapping[str, TestResult], shares: Sequence[Share], p: str) -> Iterable[Agreement]:
    for share in (s for s in shares if s.p == p):
        strain = usable[share.test].values.get("V_f_strain")
        if strain is not None and strain.value is not None and strain.u is not None:
            yield Agreement(share.test, p, share.V_f, share.u, strain.value, strain.u, share.bound)


def _usable(reduced: Reduced) -> tuple[dict[str, TestResult], dict[str, str]]:
    left_out = dict(reduced.skipped)
    usable: dict[str, TestResult] = {}
    for name, test in reduced.tests.items():
        if test.fault:
            left_out[name] = "test fault"
        elif not test.value("V_max"):
            left_out[name] = "no V_max"
        elif test.state in AFTER_OTHERS:
            left_out[name] = f"state {test.state}: loaded before, so neither a reference nor compared with references"
            usable[name] = test
        else:
            usable[name] = test
    return usable, left_out


def _resistances(campaign: Campaign, usable: Mapping[str, TestResult]) -> dict[str, list[float]]:
    """V_max by design group, first loadings that failed in shear of the studied span only."""
    found: dict[str, list[float]] = {}
    for t in usable.values():
        if not t.bound and t.state == "virgin" and t.outcome == "shear in studied span":
            found.setdefault(f"{campaign.group_of(t.specimen)}/{t.span}", []).append(t.value("V_max") or math.nan)
    return found


def campaign_scatter(campaign: Campaign, usable: Mapping[str, TestResult]) -> Scatter:
    """Scatter of the campaign: its declared prior (or the tool's) updated by its own replicates."""
    groups = _resistances(campaign, usable).values()
    prior = campaign.head.analysis.prior_scatter
    if prior is None:
        return scatter(groups)
    return scatter(groups, cv=prior.cv, low=prior.low, high=prior.high, source=prior.source)


def role_tests(
    campaign: Campaign, role: str, usable: Mapping[str, TestResult], of: TestResult | None = None
) -> list[TestResult]:
    """Tests that stand for a reference role, matched with a test as the campaign says; first loadings only.

    Raises `UnknownName` for a role campaign.yaml does not declare.
    """
    if role not in campaign.head.references:
        have = ", ".join(campaign.head.references) or "none"
        raise UnknownName(f"campaign.yaml: references has no role {role!r}; it has {have}")
    reference = campaign.head.references[role]
    tests = [t for t in usable.values() if _stands_for(campaign, reference, t)]
    tests = [t for t in tests if of is None or t.test != of.test]
    if of is not None and reference.match == "same batch first":
        same = [t for t in tests if t.batch == of.batch]
        return same or tests
    return tests


def _stands_for(campaign: Campaign, reference: Reference, test: TestResult) -> bool:
    if test.state in AFTER_OTHERS or campaign.bare(test.test):
        return False
    if reference.specimens is not None:
        return test.specimen in reference.specimens
    return campaign.group_of(test.specimen) == reference.group


def explain(campaign: Campaign, name: str, quantity: str, *, samples: int) -> Explanation:
    """The chain behind a number of a test, V_f by subtraction (V_f_sub) included; raises `UnknownName`."""
    if quantity != "V_f_sub" or name not in campaign.tests:
        return of_one_test(campaign, name, quantity, samples=samples)
    usable, _ = _usable(reduce_campaign(campaign, fresh=False))
    prediction = predict_campaign(campaign, sets=())
    spread = campaign_scatter(campaign, usable)
    test = usable.get(name)
    found = None if test is None else _pairs(campaign, prediction, usable, test)
    if test is None or found is None:
        raise UnknownName(
            f"test {name} has no 'V_f_sub': that takes a strengthened beam and a test of its control "
            "(campaign.yaml: references)"
        )
    member, pairs = found
    shares = tuple(shares_of(test, member, pairs, spread))
    budgets = {p: instruments(test, member, pairs, exponent) for p, exponent in EXPONENTS.items()}
    return explain_share(shares, budgets, spread, campaign.head.shown_units)


def _shares(
    campaign: Campaign, prediction: Prediction, usable: Mapping[str, TestResult], test: TestResult, spread: Scatter
) -> Iterable[Share]:
    found = _pairs(campaign, prediction, usable, test)
    if found is not None:
        yield from shares_of(test, *found, spread)


def _pairs(
    campaign: Campaign, prediction: Prediction, usable: Mapping[str, TestResult], test: TestResult
) -> tuple[Member, list[tuple[TestResult, Member]]] | None:
    """Inputs of a strengthened test, and its references with theirs; None where there is nothing to subtract."""
    member = prediction.members.get((test.specimen, test.span, test.test))
    if test.state in AFTER_OTHERS or campaign.bare(test.test) or "control" not in campaign.head.references:
        return None
    if member is None or not member.strengthened:
        return None
    controls = [c for c in role_tests(campaign, "control", usable, test) if not c.bound]
    inputs = [prediction.members.get((c.specimen, c.span, c.test)) for c in controls]
    pairs = [(c, m) for c, m in zip(controls, inputs, strict=True) if m is not None]
    if not pairs:
        return None
    return member, pairs


def _test_predictions(
    campaign: Campaign, prediction: Prediction, usable: Mapping[str, TestResult], shares: Sequence[Share]
) -> Iterable[TestPrediction]:
    chosen = campaign.head.analysis.concrete_exponent
    V_f = {s.test: s for s in shares if s.p == chosen}
    for row in prediction.rows:
        test = usable.get(row.test or "")
        if test is None or row.V_R is None or row.V_R <= 0:
            continue
        share = V_f.get(test.test)
        V_f_test = share.V_f if share is not None else None
        V_f_ratio = V_f_test / row.V_f if V_f_test is not None and row.V_f else None
        V = test.value("V_max") or math.nan
        yield TestPrediction(
            test.test, row.set, row.title, V, row.V_R, V / row.V_R, test.bound, V_f_test, row.V_f, V_f_ratio,
            row.status, row.outside,
        )  # fmt: skip


def _summaries(predictions: Sequence[TestPrediction]) -> tuple[SetSummary, ...]:
    found = []
    for name in dict.fromkeys(t.set for t in predictions):
        rows = [t for t in predictions if t.set == name]
        counted = [t.ratio for t in rows if not t.bound]
        bounds = [t.test for t in rows if t.bound]
        mean = sum(counted) / len(counted) if counted else None
        cv = None
        if mean and len(counted) > 1:
            cv = math.sqrt(sum((r - mean) ** 2 for r in counted) / (len(counted) - 1)) / mean
        left = tuple(f"{b} (lower bound)" for b in bounds)
        low, high = min(counted, default=None), max(counted, default=None)
        found.append(SetSummary(name, rows[0].title, len(counted), len(rows), mean, cv, low, high, left))
    return tuple(found)


def _gains(campaign: Campaign, usable: Mapping[str, TestResult], spread: Scatter) -> Iterable[Gain]:
    for name in (r for r in OVER if r in campaign.head.references):
        members = {t.test for t in role_tests(campaign, name, usable)}
        for test in usable.values():
            against = [r for r in role_tests(campaign, name, usable, test) if not r.bound]
            if not against or test.test in members or not _compared(campaign, name, test):
                continue
            values = [r.value("V_max") or math.nan for r in against]
            found = ratio([test.value("V_max") or math.nan], values, spread, bound=test.bound)
            yield Gain(test.test, (test.test,), name, tuple(r.test for r in against), found)


def _compared(campaign: Campaign, role: str, test: TestResult) -> bool:
    """Controls are not compared with weaker roles: a role's gains are those of beams that carry more than it does."""
    if test.state in AFTER_OTHERS or campaign.bare(test.test):
        return False
    span = campaign.specimens[test.specimen].spans[test.span]
    return (span.wrap if role == "control" else span.anchors) is not None


def _contrasts(
    campaign: Campaign, usable: Mapping[str, TestResult], spread: Scatter, left_out: dict[str, str]
) -> Iterable[Contrast]:
    """The contrasts campaign.yaml declares: 'role / role', or the name of a factor (its last level over its first)."""
    for text in campaign.head.analysis.contrasts:
        warnings: tuple[str, ...] = ()
        if "/" in text:
            upper_name, lower_name = (part.strip() for part in text.split("/", 1))
            sides, what = (role(campaign, upper_name), role(campaign, lower_name)), text
        elif text in campaign.head.factors:
            factor = campaign.head.factors[text]
            levels = list(contrasted(campaign, factor).items())
            if len(levels) < 2:
                left_out[f"contrast {text}"] = "fewer than two levels have specimens"
                continue
            (low, first), (high, last) = levels[0], levels[-1]
            sides, what = (last, first), f"{factor.path} {show(high)} over {show(low)}"
            warnings = tuple(p.message for p in confounded(campaign, text))
        else:
            raise UnknownName(f"campaign.yaml: contrast {text!r} is neither 'role / role' nor a declared factor")
        upper, lower = (_first_loadings(campaign, usable, ids) for ids in sides)
        kept = [t for t in lower if not t.bound]
        if not upper or not kept:
            left_out[f"contrast {text}"] = "no test on one side"
            continue
        V_upper, V_lower = ([t.value("V_max") or math.nan for t in side] for side in (upper, kept))
        found = ratio(V_upper, V_lower, spread, bound=any(t.bound for t in upper))
        yield Contrast(text, what, tuple(t.test for t in upper), tuple(t.test for t in kept), found, warnings)


def _first_loadings(campaign: Campaign, usable: Mapping[str, TestResult], ids: Sequence[str]) -> list[TestResult]:
    """Tests of these specimens that no other loading had damaged or pre-cracked, as designed."""
    return [t for t in usable.values() if t.specimen in ids and t.state == "virgin" and not campaign.bare(t.test)]


def _share_ratios(
    campaign: Campaign, usable: Mapping[str, TestResult], shares: Sequence[Share], spread: Scatter
) -> Iterable[ShareRatio]:
    if "unanchored" not in campaign.head.references:
        return
    chosen = campaign.head.analysis.concrete_exponent
    by_test = {s.test: s for s in shares if s.p == chosen}
    for test in usable.values():
        share = by_test.get(test.test)
        if share is None or campaign.specimens[test.specimen].spans[test.span].anchors is None:
            continue
        others = [by_test[u.test] for u in role_tests(campaign, "unanchored", usable, test) if u.test in by_test]
        others = [o for o in others if not o.bound]
        if not others:
            continue
        value, low, high = share_ratio(share, others, spread)
        names = tuple(o.test for o in others)
        yield ShareRatio(test.test, names, value, low, None if test.bound else high, test.bound)
