"""The loss of a gauge as the engineer judges it, where readings are made."""

from __future__ import annotations

from cracktie.campaign.choices import Choice


def loss_refused(choice: Choice, channel: str) -> bool:
    """Whether the engineer rejects or moves the loss that would be found for a gauge."""
    mine = (c for c in choice.events if c.event == "gauge loss" and c.channel == channel)
    return any(c.status in ("rejected", "moved") for c in mine)
