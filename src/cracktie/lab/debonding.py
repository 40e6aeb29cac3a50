"""Debonding of every leg of a wrap from its gauges, strip ruptures, and where anchors give way; see `lab.legs`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from cracktie.lab.anchor_failure import divided
from cracktie.lab.channels import GaugeLoss
from cracktie.lab.episodes import LONE_BEFORE, TOGETHER, Episode, episodes_of
from cracktie.lab.evening import EVEN, Evened, evens_out, jump
from cracktie.lab.events import Event, listed
from cracktie.lab.legs import FULL, PERSISTENT_ROWS, Fall, Leg, Search, falls, prepared
from cracktie.lab.origin import end_or_crack

GONE = 0.25
"""Share of its strain that a leg keeps at most when what held it is gone: friction and a bonded rest."""
PARTLY = 0.6
"""Share of its strain that a debonded leg keeps at most when its anchor gives way in part."""
NEAR_RUPTURE = 0.6
JUMP = 300e-6
"""Sudden rise of a gauge near a held end from which it has taken over what the bond let go."""
COLLAPSE = 0.10
"""Share of the peak load lost at once from which the beam itself fails: legs that keep part of their strain unload."""


def leg_events(
    time: Any, load: Any, legs: Sequence[Leg], *, deflection: Any = None, within: float = 0.5
) -> tuple[list[Event], dict[str, GaugeLoss]]:
    """Debondings, strip ruptures and anchor failures of all legs in order of time, and the gauges that were lost.

    Kinds: 'debonding' (`detail` 'strip end', 'crack-induced' or ''), 'strip rupture', 'anchor failure' ('fan', 'dowel'
    or ''). The value is the load before the fall. A lost gauge is dead from its row on and shows nothing; spikes of one
    or two rows are left out by a running median of five. `within` is the time in s of a sudden fall.
    """
    gauges = [g for leg in legs for g in leg.gauges]
    anchors = [g for leg in legs for g in leg.anchor]
    if not gauges and not anchors:
        return [], {}
    search = prepared(time, load, [*gauges, *anchors], deflection, within)
    found = falls(search)
    out: list[Event] = []
    first, own_anchor = 0, len(gauges)
    for leg in legs:
        own = list(range(first, first + len(leg.gauges)))
        held_by = list(range(own_anchor, own_anchor + len(leg.anchor)))
        first, own_anchor = first + len(own), own_anchor + len(held_by)
        out += _of_leg(search, leg, own, held_by, found)
    return sorted(out, key=lambda event: (event.row, -event.confidence)), search.losses


def _of_leg(search: Search, leg: Leg, own: list[int], anchors: list[int], found: Sequence[Fall]) -> list[Event]:
    """What happens to one leg, in order: it debonds, then what holds it may give way."""
    episodes = episodes_of(search, (*own, *anchors), [f for f in found if f.gauge in own])
    if leg.held == "free":
        return _free(search, leg, own, episodes)
    evened = evens_out(search, leg, own, anchors)
    out: list[Event] = []
    for episode in episodes:
        if episode.drop > COLLAPSE * search.top and episode.kept > GONE:
            continue
        loose = (evened is not None and evened.row <= episode.start) or any(e.kind == "debonding" for e in out)
        lost = _holder_gone(search, own, episode, loose)
        if lost == "":
            if not any(e.kind == "debonding" for e in out):
                out.append(_debonding(search, leg, episode, "", "what is left of its strain goes on"))
        elif leg.held == "wrap":
            out.append(_event(search, leg, episode, "strip rupture", "", 0.6, lost))
            break
        else:
            since = max([e.row for e in out] + [evened.row if evened is not None else 0])
            since = int(np.searchsorted(search.t, search.t[since] + TOGETHER)) if since < episode.start else 0
            detail, told, confidence = divided(
                search, leg, own, anchors, episode.falls, (episode.start, episode.end), since
            )
            confidence -= 0.2 if episode.kept > GONE else 0.0
            out.append(_event(search, leg, episode, "anchor failure", detail, confidence, f"{lost}; {told}"))
            if episode.kept <= GONE:
                break
    out += _by_rise(search, leg, own, out)
    out += _by_anchor_gauge(search, leg, own, anchors, out, found)
    out = _with_evening(search, leg, out, evened)
    return _at_the_latest(out) if own else out


def _at_the_latest(out: list[Event]) -> list[Event]:
    """Adds a debonding nobody saw: a leg pulls at its anchor in earnest only once it has debonded all the way to it."""
    failed = next((e for e in out if e.kind == "anchor failure"), None)
    if failed is None or any(e.kind == "debonding" and e.row <= failed.row for e in out):
        return out
    told = "the leg has debonded by the time its anchor fails, or that fall is its debonding; earlier is not excluded"
    event = replace(failed, kind="debonding", detail="", method="no later than the anchor failure", confidence=0.4,
                    evidence=told)  # fmt: skip
    return [event, *out]


def _free(search: Search, leg: Leg, own: list[int], episodes: Sequence[Episode]) -> list[Event]:
    """A leg with a free end: it lets go once; a part that lets go before is told as well."""
    out: list[Event] = []
    for episode in episodes:
        if episode.drop > COLLAPSE * search.top and episode.kept > 0.5:
            continue
        detail, told = end_or_crack(search, leg, own, episode)
        out.append(_debonding(search, leg, episode, detail, told))
        if episode.kept < 0.5:
            break
    return out


def _debonding(search: Search, leg: Leg, episode: Episode, detail: str, told: str) -> Event:
    sudden = any(f.sudden for f in episode.falls)
    others = search.rising(episode.start, episode.end, tuple(f.gauge for f in episode.falls))
    dropped = any(f.load_drop > 0.0 for f in episode.falls)
    confidence = 0.55 if not sudden else 0.6 + 0.15 * dropped + 0.15 * bool(others)
    return _event(search, leg, episode, "debonding", detail, confidence, told, others)


def _event(
    search: Search, leg: Leg, episode: Episode, kind: str, detail: str, confidence: float, told: str,
    others: Sequence[int] = (),
) -> Event:  # fmt: skip
    start, sudden = episode.start, [f for f in episode.falls if f.sudden]
    lead = max(sudden or episode.falls, key=lambda f: f.before - f.after)
    verb = "falls" if sudden else "sinks"
    seconds = search.t[lead.low] - search.t[lead.start]
    clues = [f"{search.names[lead.gauge]} {verb} by {(lead.before - lead.after) * 1e6:.0f} um/m in {seconds:.2g} s"]
    more = sorted({search.names[f.gauge] for f in episode.falls} - {search.names[lead.gauge]})
    clues += [f"with {', '.join(more)}"] if more else []
    drop = episode.drop
    clues += [f"load drops by {drop / 1e3:.2f} kN"] if drop > 0.0 else []
    clues += [f"{listed([search.names[g] for g in others])} rise"] if others else []
    clues += [told] if told else []
    peak = int(np.nanargmax(search.x))
    if start > peak:
        clues.append(f"behind the peak, at {100 * _before(search, start) / search.top:.0f} % of it")
    if leg.strength is not None and lead.before >= NEAR_RUPTURE * leg.strength:
        clues.append(
            f"{lead.before * 1e6:.0f} um/m before is {100 * lead.before / leg.strength:.0f} % of the rupture strain: "
            "rupture of the strip is not excluded"
        )
    low, high = start, max(f.start for f in episode.falls)
    u = max(search.sigma, 0.5 * drop / math.sqrt(3.0)) if sudden else _between(search, low, max(high, episode.end))
    where = _before(search, start)
    return Event(
        kind, start, float(search.t[start]), where, u,
        "sudden fall of strip gauges" if sudden else "strip gauges sink under loading",
        float(np.clip(confidence, 0.1, 0.95)), "; ".join(clues), channel=search.names[lead.gauge], strip=leg.strip,
        face=leg.face, detail=detail,
    )  # fmt: skip


def _before(search: Search, row: int) -> float:
    """Load at a row, the last reading before where that one is missing."""
    good = np.flatnonzero(np.isfinite(search.x[: row + 1]))
    return float(search.x[good[-1]]) if good.size else float(search.x[np.isfinite(search.x)][0])


def _between(search: Search, start: int, end: int) -> float:
    """Standard uncertainty of the load from not knowing the row between two: the range, rectangular."""
    part = search.load[search.at(start) : search.at(end) + 1]
    spread = float(np.nanmax(part) - np.nanmin(part)) if np.isfinite(part).any() else 0.0
    return max(search.sigma, spread / math.sqrt(12.0))


def _holder_gone(search: Search, own: Sequence[int], episode: Episode, loose: bool) -> str:
    """Why what holds a leg is gone; '' where the leg only debonds. `loose`: it had debonded before.

    A debonding lets gauges far from the crack rise, or leaves a good part of the strain, which goes on rising. When the
    holder fails every gauge of the leg falls.
    """
    falling = {f.gauge for f in episode.falls}
    alive = [g for g in own if np.isfinite(search.strain[g, search.at(episode.end)])]
    silent = [g for g in alive if g not in falling and search.strain[g, search.at(episode.start)] > FULL]
    if episode.rising or silent:
        return ""
    if loose and episode.kept <= PARTLY:
        return f"every gauge of the debonded leg falls, {100 * episode.kept:.0f} % are left"
    if episode.kept <= GONE and max(f.before for f in episode.falls) >= LONE_BEFORE:
        return f"the whole leg falls, {100 * episode.kept:.0f} % are left; its debonding was not seen before"
    return ""


def _by_rise(search: Search, leg: Leg, own: Sequence[int], out: Sequence[Event]) -> list[Event]:
    """A gauge near the held end that jumps up with a drop of the load, where no other shows the debonding."""
    if any(e.kind == "debonding" for e in out):
        return []
    until = min((search.at(e.row) for e in out), default=search.grid.size)
    t = search.t[search.grid]
    after = np.minimum(np.searchsorted(t, t + search.within, side="right"), t.size - 1)
    for g in own:
        e = search.strain[g]
        with np.errstate(invalid="ignore"):
            jump = search.loading & (e[after] - e > np.maximum(JUMP, 0.5 * np.abs(e))) & (np.arange(e.size) < until)
        for i in np.flatnonzero(jump)[:20]:
            row, end = int(search.grid[i]), int(search.grid[after[i]])
            stays = search.strain[g, after[i] : after[i] + PERSISTENT_ROWS]
            drop = search.load_drop(row, end)
            if drop > 0.0 and np.nanmin(stays) > e[i] + 0.5 * JUMP:
                told = f"{search.names[g]} jumps up by {(e[after[i]] - e[i]) * 1e6:.0f} um/m; "
                told += f"load drops by {drop / 1e3:.2f} kN"
                return [
                    Event("debonding", row, float(search.t[row]), _before(search, row),
                          max(search.sigma, 0.5 * drop / math.sqrt(3.0)), "sudden rise of a strip gauge", 0.5, told,
                          channel=search.names[g], strip=leg.strip, face=leg.face)
                ]  # fmt: skip
    return []


def _by_anchor_gauge(
    search: Search, leg: Leg, own: Sequence[int], anchors: Sequence[int], out: Sequence[Event], found: Sequence[Fall]
) -> list[Event]:
    """A collapse of the gauge on the anchor with a drop of the load, where the leg itself shows none."""
    mine = [f for f in found if f.gauge in anchors and f.load_drop > 0.0 and f.after <= GONE * f.before]
    known = [search.t[e.row] for e in out if e.kind == "anchor failure"]
    mine = [f for f in mine if all(abs(search.t[f.start] - at) > 15.0 for at in known)]
    if not mine:
        return []
    one = mine[0]
    told = "the gauge on the anchor collapses" + ("" if own else "; no gauge on the leg")
    return [_event(search, leg, Episode([one], one.start, one.low), "anchor failure", "", 0.5,
                   f"{told}; fan or dowel not told apart")]  # fmt: skip


def _with_evening(search: Search, leg: Leg, out: list[Event], evened: Evened | None) -> list[Event]:
    """Adds the debonding that the evening out shows, or joins it with one that falls told already."""
    if evened is None:
        return out
    names = search.names
    told = f"the leg evens out: {names[evened.far]} comes to {100 * EVEN:.0f} % of {names[evened.near]}, which held on"
    known = [e for e in out if e.kind == "debonding"]
    if known:
        better = known[0]
        if abs(better.time - search.t[evened.row]) <= 15.0 or better.row < evened.row:
            joined = replace(better, confidence=min(0.95, better.confidence + 0.1), detail="crack-induced",
                             evidence=f"{better.evidence}; the leg evens out")  # fmt: skip
            return [joined if e is better else e for e in out]
    start = jump(search, evened)
    failed = [e for e in out if e.kind != "debonding" and e.row <= start + 1]
    if failed:
        return out
    u = _between(search, evened.before, evened.row)
    event = Event(
        "debonding", start, float(search.t[start]), _before(search, start), u, "strip gauges even out", 0.7, told,
        channel=names[evened.far], strip=leg.strip, face=leg.face, detail="crack-induced",
    )  # fmt: skip
    return [event, *out]
