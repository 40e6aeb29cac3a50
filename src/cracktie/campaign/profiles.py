"""Strain profiles of a test as tests.yaml names them; mm, s."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import model_validator

from cracktie.campaign.fields import Entry, Positions, Seconds, Size, words


class Stretch(Entry):
    """A bonded stretch of a fibre: `fibre` are the distances of its two ends along the fibre, `place` where these two
    ends are: z on a strip, or distance along the critical crack from its lower end. Either may run down."""

    fibre: Positions
    place: Positions
    along: words("crack", "strip") = "strip"  # type: ignore[valid-type]
    strip: int | None = None
    face: words("front", "back") = "front"  # type: ignore[valid-type]

    @model_validator(mode="after")
    def _which(self) -> Stretch:
        _strip_number(self.along, self.strip)
        for name, pair in (("fibre", self.fibre), ("place", self.place)):
            if len(pair) != 2 or pair[0] == pair[1]:
                raise ValueError(f"{name} = the two ends of the stretch, for example '{name}: 1200, 1500 mm'")
        return self


class ProfileFile(Entry):
    """An export of strains over a line: along the critical crack (from its lower end) or along a strip (z); a long
    fibre lies in `stretches` instead; an optical export of points (x, z) is taken along that line within
    `tolerance`."""

    file: str
    unit: str
    along: words("crack", "strip") | None = None  # type: ignore[valid-type]
    strip: int | None = None
    face: words("front", "back") = "front"  # type: ignore[valid-type]
    clock_offset: Seconds | None = None
    sign: int = 1
    uncertainty: str | None = None
    place_unit: str | None = None
    stretches: tuple[Stretch, ...] = ()
    loose: Positions | None = None
    column: str | None = None
    tolerance: Size | None = None
    at: Seconds | None = None

    @model_validator(mode="after")
    def _which(self) -> ProfileFile:
        if bool(self.stretches) == (self.along is not None):
            raise ValueError("a profile lies along: crack or along: strip, or names its stretches; one of the two")
        if self.along is not None:
            _strip_number(self.along, self.strip)
        if self.loose is not None and len(self.loose) != 2:
            raise ValueError("loose = the two ends of the stretch that carries no strain, for example '0, 400 mm'")
        if self.sign not in (-1, 1):
            raise ValueError("sign is 1 or -1")
        return self

    @property
    def lines(self) -> Iterable[ProfileFile | Stretch]:
        """What it lies along: its stretches, else itself."""
        return self.stretches or (self,)


def _strip_number(along: str, strip: int | None) -> None:
    if (along == "strip") != (strip is not None):
        raise ValueError("along: strip needs the number of the strip (strip: 2); along: crack has none")
