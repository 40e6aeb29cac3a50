"""Strength classes a document covers, as ranges of f_c in both forms."""

from __future__ import annotations

import numpy as np

from cracktie.clause import Limit

MEAN_ABOVE = 8.0
"""f_cm - f_ck in MPa: EN 1992-1-1:2004 Table 3.1; the Model Codes and the other Eurocodes use the same."""


def strength_classes(high: float, why: str, low: float = -np.inf) -> tuple[Limit, Limit]:
    """Limits on `f_c` from those of f_ck in MPa: f_c is f_ck in the design form and f_cm in the test form."""
    return (
        Limit("f_c", low, high, f"{why}; f_c is f_ck here", {"form": "design"}),
        Limit("f_c", low + MEAN_ABOVE, high + MEAN_ABOVE, f"{why}; f_c is f_cm = f_ck + 8 MPa here", {"form": "test"}),
    )
