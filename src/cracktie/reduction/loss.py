"""The loss of a gauge as the engineer judges it, where readings are made."""

from __future__ import annotations

from cracktie.campaign.choices import Choice
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test


def loss_refused(choice: Choice, channel: str) -> bool:
    """Whether the engineer rejects or moves the loss that would be found for a gauge."""
    mine = (c for c in choice.events if c.event == "gauge loss" and c.channel == channel)
    return any(c.status in ("rejected", "moved") for c in mine)


def rupture_strain(campaign: Campaign, test: Test, span: str) -> float | None:
    """Rupture strain of the fibres on a span, where the materials give one."""
    own = campaign.specimen(test.specimen).spans.get(span)
    wrap = own.wrap if own is not None else None
    system = campaign.materials.frp_systems.get(wrap.system) if wrap is not None else None
    if system is None:
        return None
    try:
        return system.values("mean", "characteristic", "guaranteed")[1]["eps_fu"]
    except ValueError:
        return None
