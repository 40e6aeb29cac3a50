"""Drawings of specimens as report figures: elevation and section from the one drawing scene."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from cracktie.report.blocks import Figure

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.campaign.specimen import Specimen

WIDTH = 82
"""Per cent of the text width: elevation and section at one scale of lettering, both on one page with their heading."""


def specimen_figures(campaign: Campaign, specimen: Specimen) -> Iterable[Figure]:
    """Elevation in the rig of the specimen's first test, and the section of its (first strengthened) tested span."""
    from cracktie.draw.elevation import elevation
    from cracktie.draw.section import cross_section
    from cracktie.draw.svg import svg

    tests = campaign.tests_of(specimen.id)
    first = next(iter(tests.values()), None)
    setup = campaign.rig.setups.get(first.setup) if first is not None and first.setup else None
    scene = elevation(specimen, materials=campaign.materials, setup=setup)
    yield Figure(svg(scene), f"{specimen.name}, elevation (mm), not to scale.", f"Elevation of {specimen.name}", WIDTH)
    spans = [t.studied for t in tests.values() if t.studied is not None] or [specimen.tested_span or "A"]
    span = next((s for s in spans if specimen.spans[s].wrap is not None), spans[0])
    section = cross_section(specimen, span)
    yield Figure(svg(section), f"{specimen.name}, section in span {span} (mm), not to scale.",
                 f"Cross-section of {specimen.name}", WIDTH)  # fmt: skip
