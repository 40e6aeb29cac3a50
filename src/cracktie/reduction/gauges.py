"""Readings of strain gauges at one row, and how far they can be trusted."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cracktie.reduction.signals import Signal
from cracktie.units import parse

U_GAUGE = 0.01
"""Relative standard uncertainty of gauge factor and amplifier where the channel states none (no source)."""
U_OTHER_LEG = 0.25
"""Relative standard uncertainty of a leg without a gauge, taken like its neighbours: judgement, no source."""


def reading(signal: Signal, row: int) -> float:
    """Reading of a channel at a row."""
    return float(signal.values[row])


def accuracy(gauges: Sequence[Signal], row: int) -> float:
    """Largest relative standard uncertainty that the channels state; `U_GAUGE` where they state none.

    Rectangular; a percentage is one of the reading, a strain (10 um/m) is divided by the reading.
    """
    stated = []
    for gauge in gauges:
        text, strain = (gauge.channel.uncertainty or "").strip(), abs(reading(gauge, row))
        if text.endswith("%"):
            stated.append(float(parse(text, "-")) / math.sqrt(3))
        elif text and strain > 0.0:
            stated.append(float(parse(text, "-")) / strain / math.sqrt(3))
    return max(stated, default=U_GAUGE)
