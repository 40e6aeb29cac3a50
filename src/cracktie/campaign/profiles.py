"""Strain profiles of a test as tests.yaml names them."""

from __future__ import annotations

from pydantic import model_validator

from cracktie.campaign.fields import Entry, Seconds, words


class ProfileFile(Entry):
    """An export of strains over a line: along the critical crack (from its lower end) or along a strip (z)."""

    file: str
    unit: str
    along: words("crack", "strip")  # type: ignore[valid-type]
    strip: int | None = None
    face: words("front", "back") = "front"  # type: ignore[valid-type]
    clock_offset: Seconds | None = None

    @model_validator(mode="after")
    def _which(self) -> ProfileFile:
        if (self.along == "strip") != (self.strip is not None):
            raise ValueError("along: strip needs the number of the strip (strip: 2); along: crack has none")
        return self
