"""Following a test on a terminal: lines as they come, and notes by single keys."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from cracktie import actions, console, keys
from cracktie.errors import FileTrouble

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.reduction.notes import NoteTaker


def follow_test(campaign: Campaign, name: str) -> int:
    """Follow a test until Ctrl-C; at a terminal, one key writes a line of its event log. Gives the exit status."""
    test = campaign.tests.get(name)
    if test is None or campaign.folder is None or not keys.is_terminal():
        return console.follow(actions.watch(campaign, name))
    from cracktie.reduction.notes import KEYS, NoteTaker

    file = test.event_log or f"logs/{name}_notes.csv"
    notes = NoteTaker(campaign.folder / file)
    print(f"keys for {file}: {', '.join(f'{key} {words}' for key, words in KEYS.items())}")
    with keys.single_keys() as wait:
        status = console.follow(actions.watch(campaign, name, sleep=_sleeper(wait, notes), notes=notes))
    if test.event_log is None and notes.path.exists():
        print(f"name the notes in tests.yaml: event_log: {file}")
    return status


def _sleeper(wait: keys.Wait, notes: NoteTaker) -> Callable[[float], None]:
    """A sleep during which keys are noted."""

    def sleep(seconds: float) -> None:
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0.0:
            key = wait(left)
            if key is None:
                continue
            try:
                said = notes.key(key.lower())
            except FileTrouble as trouble:
                said = f"not noted: {trouble}"
            if said:
                print(said, flush=True)

    return sleep
