"""Choices made on the logs as written in reduction.yaml; s."""

from __future__ import annotations

from pydantic import Field

from cracktie.campaign.fields import Entry, Id, Seconds, words


class ZeroWindow(Entry):
    """Rows or times taken as zero of some channels (all when none is named)."""

    start: Seconds
    end: Seconds
    channels: tuple[str, ...] | None = None
    log: str | None = None


class EventChoice(Entry):
    """An event accepted or moved by the engineer."""

    event: str
    status: words("accepted", "moved", "rejected") = "accepted"  # type: ignore[valid-type]
    time: Seconds | None = None
    reason: str | None = None


class Excluded(Entry):
    """A channel left out, with the reason."""

    channel: str
    reason: str
    after: Seconds | None = None


class LogChoice(Entry):
    """How one log file is read: its channel map (logger column -> channel) and answers to the reader's questions."""

    log: str
    map: dict[str, str] = Field(default_factory=dict)
    time: str | None = None
    encoding: str | None = None
    decimal: words(".", ",") | None = None  # type: ignore[valid-type]
    delimiter: str | None = None
    date_order: words("dmy", "mdy", "ymd") | None = None  # type: ignore[valid-type]
    clock_offset: Seconds | None = None


class Choice(Entry):
    """Choices made on the logs of one test."""

    logs: tuple[LogChoice, ...] = ()
    zeros: tuple[ZeroWindow, ...] = ()
    events: tuple[EventChoice, ...] = ()
    excluded: tuple[Excluded, ...] = ()


class Reduction(Entry):
    """The whole of reduction.yaml."""

    units: dict[str, str] | None = None
    tests: dict[Id, Choice] = Field(default_factory=dict)
