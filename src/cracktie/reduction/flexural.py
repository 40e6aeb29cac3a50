"""The first flexural crack on ever shorter ranges of the load, the bias of two straight lines in its uncertainty."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from cracktie.lab.cracks import first_flexural_crack
from cracktie.lab.events import Event

NARROWER = 0.35
"""Each next range of the search for the first flexural crack, of which there are `RANGES`; starting values of ours."""
RANGES = 3


def flexural_crack(time: Any, delta: Any, load: Any, diagonal: Event | None) -> Event | None:
    """First flexural crack, sought below the first diagonal crack, whose kink would hide it.

    The two lines of the fit are an idealisation: behind the crack the curve goes on bending as cracks spread, and
    draws the fitted kink upwards. So the fit is repeated on ever shorter ranges, `NARROWER` of the last above the
    kink. A shorter range has less of that bias and more noise: were the steps a geometric sequence, the kink would
    still move by q/(1 - q) of its last step (a step is taken as at least q times the one before: it may be short
    by chance); the range with the least root sum of squares of that and of the fit's own uncertainty is taken, and
    the sum is its uncertainty. The first step is not judged: it mostly leaves out the softening towards the
    diagonal crack. Still shorter ranges would be no better: noise of the deflection, of which least squares on the
    load knows nothing, flattens the second line there.
    """
    if delta is None:
        return None
    top = float(np.nanmax(load))
    below = 0.4 if diagonal is None else min(0.4, 0.95 * diagonal.value / top)
    last = first_flexural_crack(time, delta, load, below=below)
    found, step = [] if last is None else [last], 0.0
    for number in range(RANGES):
        if last is None:
            break
        at = last.value / top
        below = at + NARROWER * (below - at)
        event = first_flexural_crack(time, delta, load, below=below)
        if event is not None:
            step = max(abs(event.value - last.value), NARROWER * step)
            if number > 0:
                found.append(replace(event, u=math.hypot(event.u, NARROWER / (1 - NARROWER) * step)))
        last = event
    return min(found[1:] or found, key=lambda event: event.u, default=None)
