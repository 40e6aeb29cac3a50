"""Results of a comparison: test against prediction, gains, contrasts and shares, each with its interval."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from cracktie.agreement import Agreement
from cracktie.results import Quantity, finite, frame, versioned
from cracktie.stats.contrast import Ratio
from cracktie.stats.scatter import Scatter

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class TestPrediction:
    """One test over one guideline set: V_max/V_R, and V_f by subtraction over the predicted V_f where both exist."""

    __test__ = False

    test: str
    set: str
    title: str
    V_test: float
    V_R: float
    ratio: float
    bound: bool
    V_f_test: float | None
    V_f_pred: float | None
    V_f_ratio: float | None
    status: str
    outside: tuple[str, ...]


@dataclass(frozen=True)
class SetSummary:
    """Mean and coefficient of variation of test/prediction of one set, and what was left out.

    Lower bounds are left out of mean and CV (and counted); so are predictions of zero.
    """

    set: str
    title: str
    n: int
    of: int
    mean: float | None
    cv: float | None
    low: float | None
    high: float | None
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class Share:
    """Shares of one strengthened test by subtraction, N. `p` is the exponent of the concrete strength ratio.

    `V_f` = V_max - V_ctl', V_ctl' = the reference with its concrete part scaled to the beam's strength. It is an
    apparent V_f: it holds every change of V_c and V_s that the wrap causes. `u_beam` is the standard uncertainty of
    this beam's value (scatter of V_c + V_s in it and of the reference), `u_design` that of the design (scatter of the
    whole V_max and of the reference); both are scatter between specimens alone. `u_instruments` is that of instruments
    and scaling, what both loadings share counted once. `u_reference` is the part of u_beam that all beams set against
    the same reference share: their V_f move together by it. `low` and `high` are the 95 % interval of this beam's value
    by draws of all of it (`high` None for a lower bound).
    """

    test: str
    reference: tuple[str, ...]
    p: str
    V_max: float
    V_ctl: float
    V_ctl_scaled: float
    V_c: float
    V_s: float
    V_s_how: str
    V_f: float
    u_beam: float
    u_design: float
    bound: bool
    u_instruments: float = 0.0
    u_reference: float = 0.0
    low: float = 0.0
    high: float | None = None

    @property
    def u(self) -> float:
        """Standard uncertainty of this beam's value, scatter and instruments."""
        return math.hypot(self.u_beam, self.u_instruments)


@dataclass(frozen=True)
class Gain:
    """V_max of a test or group over a reference role, with its interval."""

    item: str
    members: tuple[str, ...]
    role: str
    reference: tuple[str, ...]
    ratio: Ratio


@dataclass(frozen=True)
class Contrast:
    """A contrast of the analysis plan: geometric means of two sets of tests, with the interval of their ratio.

    `what` says what is over what; `warnings` name what else differs between the two sides.
    """

    name: str
    what: str
    upper: tuple[str, ...]
    lower: tuple[str, ...]
    ratio: Ratio
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class ShareRatio:
    """V_f of an anchored test over V_f of the unanchored reference, by subtraction of the same control."""

    test: str
    reference: tuple[str, ...]
    value: float
    low: float | None
    high: float | None
    bound: bool


@dataclass(frozen=True)
class Comparison:
    """Everything `compare` finds."""

    title: str
    simulated: bool
    scatter: Scatter
    predictions: tuple[TestPrediction, ...]
    summaries: tuple[SetSummary, ...]
    shares: tuple[Share, ...]
    gains: tuple[Gain, ...]
    contrasts: tuple[Contrast, ...]
    share_ratios: tuple[ShareRatio, ...]
    left_out: Mapping[str, str] = field(default_factory=dict)
    agreements: tuple[Agreement, ...] = ()

    def quantities(self) -> Iterable[Quantity]:
        """Tidy rows."""
        for c in self.contrasts:
            yield Quantity(
                c.name, "contrast", c.what, c.ratio.value, "-", None, c.ratio.verdict, bound=c.ratio.bound,
                more={"low": c.ratio.low, "high": c.ratio.high, "level": c.ratio.level},
            )  # fmt: skip
        for t in self.predictions:
            more = {"V_f_ratio": t.V_f_ratio, "outside": list(t.outside)}
            row = Quantity(t.test, "test_prediction", t.set, t.ratio, "-", None, t.status, bound=t.bound, more=more)
            yield row
        for s in self.shares:
            yield Quantity(
                s.test, "V_f", f"subtraction, p = {s.p}", s.V_f, "N", s.u, bound=s.bound,
                more={"low": s.low, "high": s.high, "u_scatter": s.u_beam, "u_instruments": s.u_instruments},
            )  # fmt: skip
        for g in self.gains:
            yield Quantity(
                g.item, "gain", g.role, g.ratio.value, "-", None, g.ratio.verdict, bound=g.ratio.bound,
                more={"low": g.ratio.low, "high": g.ratio.high, "level": g.ratio.level},
            )  # fmt: skip

    def to_frame(self, *, wide: bool = False) -> pandas.DataFrame:
        """Tidy pandas table, or one row an item."""
        return frame(self.quantities(), wide=wide)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        body = {
            "title": self.title,
            "simulated": self.simulated,
            "scatter": {"cv": self.scatter.cv, "dof": finite(self.scatter.dof), "origin": self.scatter.origin},
            "test_prediction": [dict(t.__dict__) for t in self.predictions],
            "summaries": [dict(s.__dict__) for s in self.summaries],
            "shares": [dict(s.__dict__) for s in self.shares],
            "gains": [{**g.__dict__, "ratio": g.ratio.to_dict()} for g in self.gains],
            "contrasts": [{**c.__dict__, "ratio": c.ratio.to_dict()} for c in self.contrasts],
            "share_ratios": [dict(s.__dict__) for s in self.share_ratios],
            "left_out": dict(self.left_out),
            "agreements": [a.to_dict() for a in self.agreements],
        }
        return versioned("comparison", body)
