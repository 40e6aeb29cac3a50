"""What else may fail first under the loading of an item: bending of the section, shear in the other span."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cracktie.campaign.schema import Campaign
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.guidelines import GuidelineSet, guideline_set
from cracktie.member import Member, MissingValue, member
from cracktie.prediction.flexure import moment_or_reason
from cracktie.prediction.loading import Loading, loading
from cracktie.prediction.terms import run_set


@dataclass(frozen=True)
class Beside:
    """Forces in N; None where there is none, with the reason.

    `V_flex` and `V_other` are shears in the studied span: at the moment of the section, and when the other span
    reaches `V_R_other`, its own resistance by the same set.
    """

    V_flex: float | None
    flexure: str
    why_no_flexure: str
    V_R_other: float | None
    V_other: float | None
    why_no_other: str
    status: str = ""

    def margin(self, V_R: float | None) -> float | None:
        """Least of both over the resistance of the studied span."""
        known = [v for v in (self.V_flex, self.V_other) if v is not None]
        return min(known) / V_R if known and V_R else None

    def first(self, V_R: float | None) -> str:
        """What fails first, in words."""
        margin = self.margin(V_R)
        if margin is None:
            return ""
        values = {"bending": self.V_flex, "shear in the other span": self.V_other}
        known = {name: v for name, v in values.items() if v is not None}
        least = min(known, key=lambda name: known[name])
        unknown = "".join(f"; {name} not known" for name in values if name not in known)
        order = f"studied span before {least}" if margin > 1.0 else f"{least} before the studied span"
        return f"{order} (ratio {margin:.2f}){unknown}"


NOTHING_BESIDE = Beside(None, "", "not asked for", None, None, "not asked for")


@dataclass(frozen=True)
class Item:
    """One thing to predict: a member with its specimen and, where there is one, its test."""

    campaign: Campaign
    specimen: Specimen
    made: Member
    test: Test | None
    name: str | None


def other_member(item: Item, bare: bool) -> Member | str:
    """The other span as a member, or why it is not to be compared."""
    other = "B" if item.made.span == "A" else "A"
    held = _failed_before(item, other)
    if held:
        return f"span {other} had failed in test {held} before and is held by other means"
    try:
        return member(
            item.campaign, item.specimen.id, other, choice=item.made.choice, test=item.test, bare=bare,
            form=item.made.form,
        )  # fmt: skip
    except MissingValue as error:
        return str(error)


def _failed_before(item: Item, span: str) -> str | None:
    """The earlier test of the specimen that failed this span in shear."""
    if item.test is None:
        return None
    for name, earlier in item.campaign.tests_of(item.specimen.id).items():
        before = (earlier.order or 0) < (item.test.order or 0)
        studied = earlier.studied or item.specimen.tested_span or "A"
        if before and earlier.outcome == "shear in studied span" and studied == span:
            return name
    return None


class Others:
    """What stands beside every set on one item; the moment is worked out once."""

    def __init__(self, item: Item, other: Member | str, edition: str) -> None:
        self._item, self._other, self._edition = item, other, edition
        self._loading: Loading | None = None
        try:
            self._loading = loading(item.campaign, item.specimen, item.made, item.test)
            why = ""
        except CracktieError as error:
            why = str(error)
        moment = None
        if self._loading is not None:
            moment, why = moment_or_reason(item.campaign, item.specimen, item.made, edition)
        V_flex = None
        if moment is not None and self._loading is not None:
            V_flex = self._loading.as_shear(item.made.span, self._loading.at_moment(moment.value))
            if V_flex <= 0.0:
                V_flex, why = None, "the self-weight alone exceeds the moment of the section"
        mode = moment.mode if moment is not None and V_flex is not None else ""
        self._base = Beside(V_flex, mode, why, None, None, why)

    def of(self, chosen: GuidelineSet) -> Beside:
        """The same with the other span by this set; a research term leaves a span without FRP to its host."""
        if isinstance(self._other, str):
            return replace(self._base, why_no_other=self._other)
        if self._loading is None:
            return self._base
        if chosen.research and chosen.host and not self._other.strengthened:
            chosen = guideline_set(chosen.host)
        run = run_set(self._other, chosen, self._edition)
        if run.V_R is None:
            return replace(self._base, why_no_other="; ".join(run.problems))
        load = self._loading.at_shear(self._other.span, run.V_R)
        shear = self._loading.as_shear(self._item.made.span, load)
        status = run.status.level if run.status else ""
        return replace(self._base, V_R_other=run.V_R, V_other=shear, why_no_other="", status=status)
