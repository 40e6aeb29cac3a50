"""A campaign in memory that holds one beam."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from cracktie.campaign.choices import Reduction
from cracktie.campaign.materials import Materials
from cracktie.campaign.schema import Campaign, Head
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Observations, Rig


def single_campaign(specimen: Specimen, materials: Any, settings: Mapping[str, Any] | None = None) -> Campaign:
    """The campaign of one specimen; `materials` is a `Materials` or a plain mapping of the same shape.

    `settings` are keys of campaign.yaml, such as `exposure` for the design form.
    """
    given = materials if isinstance(materials, Materials) else Materials.model_validate(materials or {})
    sets = ("aci14_440", "ec2_04", "chen_teng")
    head = Head.model_validate({"title": specimen.name, "guideline_sets": sets, **(settings or {})})
    specimens = {specimen.id: specimen}
    groups: dict[str, tuple[str, ...]] = {specimen.id: (specimen.id,)}
    return Campaign(head, given, specimens, {}, Rig(), Observations(), Reduction(), groups=groups)
