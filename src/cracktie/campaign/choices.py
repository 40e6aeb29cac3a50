"""Choices made on the logs as written in reduction.yaml; s."""

from __future__ import annotations

from pydantic import Field, model_validator

from cracktie.campaign.fields import Entry, Frequency, Id, Seconds, words
from cracktie.campaign.instruments import QUANTITIES
from cracktie.units import Quantity


class Carried(Entry):
    """What channels read at the end of an earlier test (its last 2 %, or from `start` to `end` of its first log)."""

    test: Id
    start: Seconds | None = None
    end: Seconds | None = None


def _in_order(start: float, end: float) -> None:
    if end <= start:
        raise ValueError(f"a window from {start:g} s to {end:g} s has no readings; put the earlier first")


class ZeroWindow(Entry):
    """Times at which some channels rest (all when neither channels nor quantities are named).

    They read zero then, or `value` ('60 kN', '350 um/m'), or what `carry` says an earlier test left. `after: true`:
    the channels are unloaded again, so what they read is drift: in the uncertainty, or taken off along a straight line.
    """

    start: Seconds
    end: Seconds
    channels: tuple[str, ...] | None = None
    quantities: tuple[words(*QUANTITIES), ...] | None = None  # type: ignore[valid-type]
    log: str | None = None
    value: str | None = None
    carry: Carried | None = None
    after: bool = False
    drift: words("uncertain", "linear") = "uncertain"  # type: ignore[valid-type]

    @model_validator(mode="after")
    def _possible(self) -> ZeroWindow:
        _in_order(self.start, self.end)
        if self.value is not None and self.carry is not None:
            raise ValueError("value and carry both say what the channels read in the window; keep one")
        if self.after and (self.value is not None or self.carry is not None):
            raise ValueError("a window after the test tells the drift; value and carry belong to one before it")
        return self

    def fits(self, channel: str, quantity: str, log: str) -> bool:
        """Whether the window speaks of a channel of a log."""
        if self.log not in (None, log):
            return False
        if self.channels is None and self.quantities is None:
            return True
        return channel in (self.channels or ()) or quantity in (self.quantities or ())


EVENT_KINDS = (
    "first flexural crack",
    "first diagonal crack",
    "first debonding",
    "debonding",
    "strip rupture",
    "anchor failure",
    "load drop",
    "gauge loss",
    "V_max",
    "85 % after the peak",
    "80 % after the peak",
)
LEG_EVENTS = ("first debonding", "debonding", "strip rupture", "anchor failure")
"""Events that happen on one strip and face."""
DETAILS = ("strip end", "crack-induced", "fan", "dowel")


class EventChoice(Entry):
    """What the engineer makes of a proposed event, or an event added by hand.

    Which of several of one kind is meant follows from strip and face (or `anchor`: '3F' is strip 3, front), from the
    gauge's `channel`, or from `proposed_at`, the time of the proposal; `time` is where a moved or added event lies.
    """

    event: words(*EVENT_KINDS)  # type: ignore[valid-type]
    status: words("accepted", "moved", "rejected", "added") = "accepted"  # type: ignore[valid-type]
    time: Seconds | None = None
    proposed_at: Seconds | None = None
    strip: int | None = None
    face: words("front", "back") | None = None  # type: ignore[valid-type]
    anchor: str | None = Field(default=None, pattern=r"^[0-9]{1,3}[FB]$")
    channel: str | None = None
    detail: words(*DETAILS) | None = None  # type: ignore[valid-type]
    reason: str | None = None

    @model_validator(mode="after")
    def _possible(self) -> EventChoice:
        if self.status in ("moved", "added") and self.time is None:
            raise ValueError(f"{self.status} needs the time of the event, for example time: 312.4 s")
        if self.status == "added" and self.proposed_at is not None:
            raise ValueError("an added event has no proposal: delete proposed_at, or write status: moved")
        placed = [k for k in ("strip", "face", "anchor", "detail") if getattr(self, k) is not None]
        if placed and self.event not in LEG_EVENTS:
            raise ValueError(f"{self.event} happens on no strip; {', '.join(placed)} belong to {', '.join(LEG_EVENTS)}")
        if self.anchor is not None and (self.strip is not None or self.face is not None):
            raise ValueError("anchor names strip and face already (3F: strip 3, front); keep one of them")
        if self.event == "V_max" and self.status in ("rejected", "added"):
            raise ValueError("every test has one V_max: move it (status: moved, time: ...)")
        if self.event == "gauge loss" and self.channel is None:
            raise ValueError("a gauge loss needs its channel")
        return self

    @property
    def leg(self) -> tuple[int | None, str | None]:
        """Strip and face meant, None where not stated."""
        if self.anchor is None:
            return self.strip, self.face
        return int(self.anchor[:-1]), "front" if self.anchor[-1] == "F" else "back"


class Excluded(Entry):
    """A channel left out, with the reason: from `after` on, up to `before`, between them where `after` is the earlier
    one, or as a whole."""

    channel: str
    reason: str
    after: Seconds | None = None
    before: Seconds | None = None


class Flag(Entry):
    """Readings that the engineer flags as spikes, or keeps although they look like some: at `time`, or from `start` to
    `end`, in times of the first log."""

    channel: str
    status: words("flagged", "kept") = "flagged"  # type: ignore[valid-type]
    time: Seconds | None = None
    start: Seconds | None = None
    end: Seconds | None = None
    reason: str | None = None

    @model_validator(mode="after")
    def _placed(self) -> Flag:
        whole = self.start is not None and self.end is not None
        if (self.time is None) != whole or (self.start is None) != (self.end is None):
            raise ValueError("a flag has its time, or start and end; write for example time: 312.4 s")
        if self.start is not None and self.end is not None:
            _in_order(self.start, self.end)
        return self


class ShuntWindow(Entry):
    """Times at which the shunts of some gauges (all that have one when none is named) were switched in."""

    start: Seconds
    end: Seconds
    channels: tuple[str, ...] | None = None
    log: str | None = None

    @model_validator(mode="after")
    def _possible(self) -> ShuntWindow:
        _in_order(self.start, self.end)
        return self


class Cleaning(Entry):
    """How spikes are sought: rows on each side, limit in robust standard deviations, time round brittle events in which
    nothing is flagged; and the zero-phase low-pass of slopes (never of peaks), none where no frequency is given."""

    spikes: bool = True
    rows: int = Field(default=5, ge=2, le=500)
    threshold: float = Field(default=3.5, ge=1.0)
    guard: Seconds = Quantity(0.5)
    lowpass: Frequency | None = None


class Logger(Entry):
    """How the files of one logger are read: `map` from its columns to channels, and answers to the reader's questions.

    `segment`: which stretch between restarts, counted from 1, or `all` one behind the other; `block`: which of several
    tables.
    """

    map: dict[str, str] = Field(default_factory=dict)
    time: str | None = None
    time_unit: words("s", "ms", "min", "h", "d") | None = None  # type: ignore[valid-type]
    clock: words("h:m", "m:s") | None = None  # type: ignore[valid-type]
    clock_change: words("undo", "keep") | None = None  # type: ignore[valid-type]
    block: str | None = None
    segment: str | None = Field(default=None, pattern=r"^(all|[1-9][0-9]{0,3})$")
    encoding: str | None = None
    decimal: words(".", ",") | None = None  # type: ignore[valid-type]
    delimiter: str | None = None
    date_order: words("dmy", "mdy", "ymd") | None = None  # type: ignore[valid-type]


class LogChoice(Logger):
    """How one log file is read: by a named `logger`, by keys of its own, or both; its own keys win."""

    log: str
    logger: Id | None = None
    clock_offset: Seconds | None = None

    def over(self, logger: Logger | None) -> LogChoice:
        """What is stated here over what a logger says; the maps are joined."""
        if logger is None:
            return self
        said = {key: getattr(logger, key) for key in logger.model_fields_set}
        own = {key: getattr(self, key) for key in self.model_fields_set}
        return self.model_copy(update={**said, **own, "map": {**logger.map, **self.map}})


class Choice(Entry):
    """Choices made on the logs of one test; channels named `absolute` are read as logged, with no zero taken off."""

    logs: tuple[LogChoice, ...] = ()
    zeros: tuple[ZeroWindow, ...] = ()
    events: tuple[EventChoice, ...] = ()
    excluded: tuple[Excluded, ...] = ()
    absolute: tuple[str, ...] = ()
    flags: tuple[Flag, ...] = ()
    shunts: tuple[ShuntWindow, ...] = ()
    cleaning: Cleaning = Field(default_factory=Cleaning)

    def of_log(self, name: str) -> LogChoice:
        """How a log is read; an empty choice where none is made."""
        return next((c for c in self.logs if c.log == name), LogChoice(log=name))


class Reduction(Entry):
    """The whole of reduction.yaml: named loggers, and the choices by test."""

    units: dict[str, str] | None = None
    loggers: dict[Id, Logger] = Field(default_factory=dict)
    tests: dict[Id, Choice] = Field(default_factory=dict)
