"""The channel map of one test kept as a named logger, so that the next test needs none."""

from __future__ import annotations

from typing import Any

from cracktie.campaign.choices import LogChoice, Logger
from cracktie.campaign.explain import near
from cracktie.campaign.fields import check_id
from cracktie.campaign.schema import Campaign
from cracktie.campaign.write import REMOVE, edit_yaml
from cracktie.errors import CracktieError
from cracktie.units import UnitError

DEFAULT = "logger"


class NoMap(CracktieError, ValueError):
    """There is no map to save; the text says where one has to stand."""


def save_map(campaign: Campaign, test: str, name: str | None = None) -> list[str]:
    """Move the maps of a test's logs in reduction.yaml to `loggers`; logs of any test with the same words name them.

    Several logs give NAME, NAME-2, ...; comments survive. Returns what was done, a sentence each. Raises `NoMap` where
    the test has no map, `UnitError` for a name that is no id, `FileTrouble` where the file cannot be written.
    """
    if campaign.folder is None or test not in campaign.tests:
        raise NoMap(f"there is no test {test!r}; {near(test, campaign.tests)}")
    base = check_id(name or DEFAULT)
    choice = campaign.reduction.tests.get(test)
    mapped = [log for log in choice.logs if log.map] if choice else []
    if not mapped:
        kept = sorted({log.logger for log in choice.logs if log.logger}) if choice else []
        told = f": its logs name {', '.join(kept)}" if kept else "; a column that has its channel's name needs none"
        raise NoMap(f"test {test} has no map in reduction.yaml (tests: {test}: logs: map){told}")
    changes: dict[tuple[str, ...], Any] = {}
    done: list[str] = []
    taken = dict(campaign.reduction.loggers)
    for log in mapped:
        words = _words(log)
        free = _free(base, words, taken, name is not None and len(mapped) == 1)
        taken[free] = Logger(**words)
        changes[("loggers", free)] = words
        users = list(_use(campaign, words, free, changes))
        done.append(f"logger {free!r}: {len(log.map)} columns of {log.log}, used by {', '.join(users)}")
    edit_yaml(campaign.folder / "reduction.yaml", changes)
    return done


def _words(log: LogChoice) -> dict[str, Any]:
    """What a log says that is true of its logger: all but its name and where its clock stands."""
    own = ("log", "logger", "clock_offset")
    return {key: getattr(log, key) for key in Logger.model_fields if key in log.model_fields_set and key not in own}


def _free(base: str, words: dict[str, Any], taken: dict[str, Logger], strict: bool) -> str:
    """The name, or one with a number where another logger has it. Raises `UnitError` where it was asked for."""
    name, n = base, 2
    while name in taken and taken[name] != Logger(**words):
        if strict:
            raise UnitError(f"there is a logger {name!r} already with other words", "choose another name")
        name, n = f"{base}-{n}", n + 1
    return name


def _use(campaign: Campaign, words: dict[str, Any], name: str, changes: dict[tuple[str, ...], Any]) -> list[str]:
    """Let every log with these words name the logger; the tests that do."""
    users = []
    for test, choice in campaign.reduction.tests.items():
        for number, log in enumerate(choice.logs):
            if log.logger is None and _words(log) == words:
                place = ("tests", test, "logs", str(number))
                changes |= {(*place, key): REMOVE for key in words}
                changes[(*place, "logger")] = name
                users.append(test)
    return users
