"""Cases for the generic tests; the plausible ranges stand in `cracktie.samples`: add a new input there."""

from __future__ import annotations

from cracktie.samples import INTEGERS, RANGES, RELATED, case, draw

__all__ = ["INTEGERS", "RANGES", "RELATED", "case", "draw"]
