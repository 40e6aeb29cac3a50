"""The first page: what was tested and what the comparison found, in sentences that its numbers support."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.compared import Comparison, Gain, SetSummary
    from cracktie.reduced import Reduced
    from cracktie.stats.contrast import Ratio

FEW = 3
"""A mean of fewer tests than this is not called closest."""


def what_was_tested(campaign: Campaign, reduced: Reduced) -> str:
    """One sentence on the tests and how they ended."""
    tests = list(reduced.tests.values())
    if not tests:
        return f"{count(len(campaign.specimens), 'specimen')} planned; no test has been reduced yet."
    ends = Counter(t.outcome or "outcome not stated" for t in tests)
    bounds = sum(t.bound for t in tests)
    kind = "simulated test" if all(t.simulated for t in tests) else "test"
    sentence = (
        f"{count(len(tests), kind)} of {count(len({t.specimen for t in tests}), 'specimen')}: "
        f"{', '.join(f'{n} {end}' for end, n in ends.most_common())}"
    )
    if bounds:
        sentence += f"; {bounds} of them {'gives' if bounds == 1 else 'give'} only a lower bound of the resistance"
    return f"{sentence}. {_wraps(campaign, {t.specimen for t in tests})}"


def _wraps(campaign: Campaign, names: Iterable[str]) -> str:
    kinds: Counter[str] = Counter()
    for name in names:
        spans = campaign.specimens[name].spans.values()
        wraps = [s for s in spans if s.wrap is not None]
        if not wraps:
            kinds["without wrap"] += 1
        elif any(s.anchors is not None for s in wraps):
            kinds["with wrap and spike anchors"] += 1
        else:
            kinds["with wrap, without anchors"] += 1
    return f"Specimens {', '.join(f'{word}: {kinds[word]}' for word in sorted(kinds))}."


def findings(comparison: Comparison) -> tuple[str, ...]:
    """Up to three findings: the largest resolved ratio, how many comparisons are resolved, the closest set.

    A finding the data do not support is left out.
    """
    mark = "Simulated. " if comparison.simulated else ""
    found = (_largest(comparison.gains), _resolved(comparison), _closest(comparison.summaries))
    return tuple(f"{mark}{sentence}" for sentence in found if sentence)


def interval(ratio: Ratio) -> str:
    """A ratio with its interval and verdict in words."""
    high = "no upper limit" if ratio.high is None else f"{ratio.high:.2f}"
    sign = "≥ " if ratio.bound else ""
    return f"{sign}{ratio.value:.2f} ({100 * ratio.level:.0f} % interval {ratio.low:.2f} to {high}, {ratio.verdict})"


def _largest(gains: Sequence[Gain]) -> str:
    roles = list(dict.fromkeys(g.role for g in gains))
    sentences = []
    for role in roles:
        resolved = [g for g in gains if g.role == role and g.ratio.verdict == "resolved" and g.ratio.value > 1]
        if resolved:
            top = max(resolved, key=lambda g: g.ratio.value)
            of = sum(g.role == role for g in gains)
            over = f"{top.item} over {role} {', '.join(top.reference)}"
            sentences.append(f"{over}: {interval(top.ratio)}, the largest of {of}")
    return f"Largest resolved ratios of V_max. {'; '.join(sentences)}." if sentences else ""


def _resolved(comparison: Comparison) -> str:
    parts = []
    for role in dict.fromkeys(g.role for g in comparison.gains):
        parts.append(_tally(f"single beams over {role}", [g.ratio for g in comparison.gains if g.role == role]))
    if comparison.contrasts:
        parts.append(_tally("contrasts of the analysis plan", [c.ratio for c in comparison.contrasts]))
    if not parts:
        return ""
    return f"Resolved, the interval leaving out 1: {'; '.join(parts)}. 'Not resolved' never means 'no effect'."


def _tally(what: str, ratios: Sequence[Ratio]) -> str:
    bounds = sum(r.bound for r in ratios)
    resolved = sum(r.verdict == "resolved" for r in ratios)
    more = f" ({count(bounds, 'lower bound')} among them)" if bounds else ""
    return f"{resolved} of {len(ratios)} {what}{more}"


def _closest(summaries: Sequence[SetSummary]) -> str:
    usable = [(s, s.mean) for s in summaries if s.mean is not None and s.n >= FEW]
    if not usable:
        return ""
    first, mean = min(usable, key=lambda row: abs(math.log(row[1])))
    cv = "" if first.cv is None else f", coefficient of variation {first.cv:.2f}"
    others = [s for s, _ in usable if s is not first]
    sentence = f"On average closest is {first.title}: mean V_max/V_R {mean:.2f}{cv}, {_of(first)}"
    if others:
        listed = "; ".join(f"{s.title} {s.mean:.2f}, {_of(s)}" for s in others)
        sentence += f" (others: {listed})"
    if any(s.of != first.of for s in others):
        sentence += ". The sets are not judged on the same tests"
    return f"{sentence}."


def _of(summary: SetSummary) -> str:
    left = summary.of - summary.n
    return f"n = {summary.n}" + (f", {count(left, 'lower bound')} left out" if left else "")


def count(number: int, word: str) -> str:
    """'1 test', '2 tests'."""
    return f"{number} {word}{'' if number == 1 else 's'}"
