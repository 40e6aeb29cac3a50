"""The campaign: campaign.yaml and the object that holds all files of a campaign folder."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, WithJsonSchema, WrapValidator, model_validator

from cracktie.campaign.choices import Reduction
from cracktie.campaign.coupons import CouponSet
from cracktie.campaign.fields import Entry, Id, Ratio, words
from cracktie.campaign.materials import Materials
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Observations, Rig, Test, Tests
from cracktie.errors import Problem, UnknownName
from cracktie.models.set_titles import SET_TITLES

FORMAT = 1
"""Newest campaign format this version reads and the one it writes."""

SETS = tuple(SET_TITLES)
"""Ids of the published guideline sets."""
OWN = r"^local\.[A-Za-z0-9_.]+$"
"""Ids of the user's own FRP terms (models/*.py of the folder), each of which may stand as a set on a host."""
EXPOSURES = ("interior", "exterior", "aggressive")
"""Surroundings of the FRP, which set its environmental factors in the design form."""
MATCHES = ("same batch first", "all, adjusted for strength", "listed")


def _own_or_published(value: Any, published: Callable[[Any], str]) -> str:
    return value if isinstance(value, str) and re.match(OWN, value) else published(value)


def set_ids() -> Any:
    """Annotation of the id of a published set, or of an own model that stands as one."""
    schema = WithJsonSchema({"anyOf": [{"enum": list(SETS)}, {"type": "string", "pattern": OWN}]})
    return Annotated[words(*SETS), WrapValidator(_own_or_published), schema]


class Reference(Entry):
    """Which tests a role stands for, and how a specimen is matched with them."""

    group: str | None = None
    specimens: tuple[Id, ...] | None = None
    match: words(*MATCHES) = "same batch first"  # type: ignore[valid-type]

    @model_validator(mode="after")
    def _named(self) -> Reference:
        if (self.group is None) == (self.specimens is None):
            raise ValueError("name either the design group or the specimens of this reference")
        if self.match == "listed" and self.specimens is None:
            raise ValueError("match: listed needs specimens: [...]")
        return self


class Factor(Entry):
    """A declared factor: the path it changes, its levels, what moves with it, within which role or group."""

    path: str
    levels: tuple[Any, ...] = ()
    moves: tuple[str, ...] = ()
    within: str | None = None
    reference: Any | None = None


class PriorScatter(Entry):
    """Declared specimen-to-specimen coefficient of variation with its source."""

    cv: Ratio
    low: Ratio | None = None
    high: Ratio | None = None
    source: str


class Analysis(Entry):
    """The analysis plan: written before testing."""

    primary_response: str = "V_max"
    contrasts: tuple[str, ...] = ()
    prior_scatter: PriorScatter | None = None
    concrete_exponent: words("1/2", "1/3") = "1/2"  # type: ignore[valid-type]
    exclusion_rules: tuple[str, ...] = ()


class Head(Entry):
    """The whole of campaign.yaml."""

    cracktie: int = FORMAT
    title: str = "Untitled campaign"
    note: str | None = None
    invented: bool = False
    shown_units: words("si", "us") = "si"  # type: ignore[valid-type]
    units: dict[str, str] | None = None
    guideline_sets: tuple[set_ids(), ...] = ("aci14_440", "ec2_04")  # type: ignore[valid-type]
    host: words(*SETS) = "aci14_440"  # type: ignore[valid-type]
    exposure: words(*EXPOSURES) | None = None  # type: ignore[valid-type]
    confidence_factor: Ratio | None = None
    references: dict[str, Reference] = Field(default_factory=dict)
    factors: dict[str, Factor] = Field(default_factory=dict)
    analysis: Analysis = Analysis()


@dataclass(frozen=True)
class Campaign:
    """Everything a campaign folder says. `folder` is None for a campaign built in memory.

    `warnings` are the reader's findings that did not stop it. `sources` maps a file name to its SHA-256;
    `groups` a design group to its specimens; `units` a file name to the units it declares for bare numbers;
    `coupons` a material ('bars.S8') to the test results its values were computed from.
    """

    head: Head
    materials: Materials
    specimens: dict[str, Specimen]
    tests: dict[str, Test]
    rig: Rig
    observations: Observations
    reduction: Reduction
    folder: Path | None = None
    warnings: tuple[Problem, ...] = ()
    sources: dict[str, str] = field(default_factory=dict)
    groups: dict[str, tuple[str, ...]] = field(default_factory=dict)
    units: dict[str, dict[str, str]] = field(default_factory=dict)
    coupons: dict[str, CouponSet] = field(default_factory=dict)

    def specimen(self, id: str) -> Specimen:
        """The specimen of that id; raises `UnknownName`."""
        if id not in self.specimens:
            raise UnknownName(f"no specimen {id!r}; there are {', '.join(self.specimens)}")
        return self.specimens[id]

    def group_of(self, id: str) -> str:
        """Name of the design group a specimen belongs to."""
        return next(name for name, members in self.groups.items() if id in members)

    def bare(self, name: str) -> bool:
        """Whether a test loaded its beam before the sheet was bonded: a later test finds it pre-cracked."""
        test = self.tests[name]
        later = [t for t in self.tests_of(test.specimen).values() if (t.order or 0) > (test.order or 0)]
        return any(t.state == "precracked" for t in later) and test.state == "virgin"

    def tests_of(self, id: str) -> dict[str, Test]:
        """Tests of one specimen in their order."""
        found = [(t.order or 0, name, t) for name, t in self.tests.items() if t.specimen == id]
        return {name: t for _, name, t in sorted(found, key=lambda row: row[0])}


class Specimens(Entry):
    """The whole of specimens.yaml."""

    units: dict[str, str] | None = None
    specimens: dict[Id, Specimen] = Field(default_factory=dict)


FILES: dict[str, type[Entry]] = {
    "campaign.yaml": Head,
    "materials.yaml": Materials,
    "tests.yaml": Tests,
    "rig.yaml": Rig,
    "observations.yaml": Observations,
    "reduction.yaml": Reduction,
}
"""Files of a campaign folder beside specimens.yaml, with the entry each one holds."""
