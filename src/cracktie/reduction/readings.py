"""Readings of a test: every channel on one clock, with everything that makes it uncertain, each cause by its name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from cracktie.campaign.choices import Choice, Cleaning
from cracktie.campaign.instruments import Channel
from cracktie.campaign.layout import channels as layout_channels
from cracktie.campaign.layout import overridden
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.lab import channels as lab
from cracktie.lab.trail import Trail
from cracktie.reduced import LogUse


class NotReduced(CracktieError, ValueError):
    """A test cannot be reduced; the text says what is missing."""


@dataclass(frozen=True)
class Part:
    """One cause of uncertainty of a channel: u = `u` |reading|^`order`, standard, in the internal unit of the channel.

    `order` 0 is absolute (zero, drift, temperature), 1 relative (gauge factor, calibration), 2 grows with the square
    (curvature of a bridge). `u` is a number or one a row. `shared` says who else has this very error ('gauges of lot
    K7'): it does not average out over them.
    """

    name: str
    u: Any
    order: int = 0
    shape: str = "normal"
    kind: str = "B"
    note: str = ""
    shared: str = ""

    def at(self, row: int, reading: float) -> float:
        """Standard uncertainty at a row with that reading."""
        size = float(self.u[row]) if np.ndim(self.u) else float(self.u)
        return size * abs(reading) ** self.order

    def scaled(self, by: float) -> Part:
        """The same cause where readings are multiplied by `by`."""
        return replace(self, u=self.u * abs(by) ** (1 - self.order))


@dataclass(frozen=True)
class Signal:
    """One channel on the test's clock: readings in internal units, NaN where missing, dead or flagged.

    `u_zero` is the standard uncertainty of the zero with drift and what was carried; `parts` names its causes and those
    of the scale. `noise` is that of one reading. `flagged` keeps the readings that were left out as spikes, by row.
    `zeroed` is the window of the zero, s. `reached` is the largest strain in the earlier test that was carried.
    """

    channel: Channel
    values: Any
    u_zero: float
    noise: float
    lost: lab.GaugeLoss | None = None
    parts: tuple[Part, ...] = ()
    flagged: Mapping[int, float] = field(default_factory=dict)
    zeroed: tuple[float, float] | None = None
    reached: float = -math.inf

    def with_parts(self, values: Any, *parts: Part, factor: float = 1.0) -> Signal:
        """Corrected readings with more causes; `factor` is what the correction multiplied small readings by."""
        kept = tuple(p.scaled(factor) for p in self.parts)
        return replace(
            self, values=values, parts=(*kept, *parts), u_zero=self.u_zero * abs(factor), noise=self.noise * abs(factor)
        )


@dataclass
class Signals:
    """All channels of a test on one clock (s); collected while logs are read.

    `brittle` are times inside sudden falls of the load; `kept` holds what a step makes once for all that follow.
    `began` is the time of day, s, at which the clock reads zero, where its stamps tell.
    """

    time: Any
    found: dict[str, Signal]
    logs: list[LogUse] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    trail: Trail = field(default_factory=Trail)
    brittle: Any = field(default_factory=lambda: np.array([]))
    cleaning: Cleaning = field(default_factory=Cleaning)
    kept: dict[str, Any] = field(default_factory=dict)
    began: float | None = None

    def of(self, quantity: str, at: str | None = None) -> list[Signal]:
        """Signals of a quantity, at a place where one is named."""
        return [s for s in self.found.values() if s.channel.quantity == quantity and at in (None, s.channel.at)]

    def add_step(self, name: str, arguments: Mapping[str, Any], rows: Any) -> None:
        """Keep a step in the trail."""
        self.trail = self.trail.add(name, arguments, rows)

    def for_slopes(self, values: Any, what: str) -> tuple[Any, int]:
        """Readings for a slope: low-passed without a shift in time where reduction.yaml gives a frequency.

        Returns them and every how many rows one is independent of the last (1 without a filter). The record is cut at
        brittle events and at gaps. Never for peaks.
        """
        step = float(np.median(np.diff(self.time))) if len(self.time) > 1 else 0.0
        cutoff = self.cleaning.lowpass
        if cutoff is None or step <= 0.0 or not cutoff < 0.4 / step:
            return values, 1
        x = np.asarray(values, dtype=float)
        good = np.isfinite(x)
        if good.sum() < 13:
            return values, 1
        filled = np.interp(self.time, self.time[good], x[good])
        gaps = np.flatnonzero(np.diff(self.time) > lab.GAP * step) + 1
        missing = np.flatnonzero(np.diff(np.concatenate(([True], good, [True])).astype(int)))
        long = [r for a, b in zip(missing[::2], missing[1::2], strict=True) if b - a > lab.GAP for r in (a, b)]
        splits = sorted({*map(int, np.searchsorted(self.time, self.brittle)), *map(int, gaps), *map(int, long)})
        smooth = lab.lowpass(filled, 1.0 / step, float(cutoff), splits=[s for s in splits if 0 < s < x.size])
        self.add_step("lowpass", {"of": what, "hertz": float(cutoff), "for": "slopes, not for peaks"}, good)
        return np.where(good, smooth, np.nan), max(1, round(0.5 / (float(cutoff) * step)))


def layout_of(campaign: Campaign, test: Test, span: str) -> dict[str, Channel]:
    """Channels by the name a column may carry: own name and the logger's alias."""
    layouts = campaign.rig.layouts
    layout = layouts.get(test.layout or "") or (next(iter(layouts.values())) if len(layouts) == 1 else None)
    if layout is None:
        return {}
    made = [overridden(c, test.overrides) for c in layout_channels(layout, campaign.specimen(test.specimen), span)]
    dead = set(test.dead_channels)
    found = {c.name: c for c in made if c.name not in dead}
    found.update({c.alias: c for c in made if c.alias and c.name not in dead})
    return found


def choice_of(campaign: Campaign, name: str) -> Choice:
    """The choices on a test's logs; none where reduction.yaml is silent."""
    return campaign.reduction.tests.get(name, Choice())
