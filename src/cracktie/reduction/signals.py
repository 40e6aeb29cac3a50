"""From log files to zeroed, corrected and cleaned channels on one clock. Raw files are only read; every step goes into
the trail.

The order of steps: unit or calibration, sign, range; zero and drift; bridge, gauge factor, leads, shunt; what the zero
window truly read; loss of gauges (each on its own log: `reading`); flags, one clock (`joining`, `cleaning`); choices;
thermal output, strain across, rosettes (`corrections`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cracktie.campaign.choices import Choice
from cracktie.campaign.instruments import INTERNAL, STRAINS
from cracktie.campaign.schema import Campaign
from cracktie.campaign.testing import Test
from cracktie.errors import CracktieError
from cracktie.reduction.corrections import correct, read_together, take_across_off
from cracktie.reduction.joining import STATED, joined
from cracktie.reduction.loss import loss_refused, rupture_strain
from cracktie.reduction.open_log import nothing_mapped
from cracktie.reduction.reading import one_log
from cracktie.reduction.readings import NotReduced, Part, Signal, Signals, choice_of, layout_of
from cracktie.reduction.zeroing import bonding_load

BEYOND = 1.25
"""A gauge that reads more than so many times the mean rupture strain of its fibres is lost; own choice."""

__all__ = ["INTERNAL", "STATED", "STRAINS", "NotReduced", "Part", "Signal", "Signals", "layout_of",
           "read_signals"]  # fmt: skip


def read_signals(campaign: Campaign, name: str, test: Test, span: str, *, on_the_way: tuple[str, ...] = ()) -> Signals:
    """Read, map, zero, correct, clean and synchronise the logs of a test.

    `on_the_way` are tests that wait for what this one left. Raises `NotReduced` where there is no log, no time or no
    load; unmapped columns and gauges that were lost are notes.
    """
    if campaign.folder is None or not test.logs:
        raise NotReduced("no log")
    choice = choice_of(campaign, name)
    known = layout_of(campaign, test, span)
    before: dict[str, Signals] = {}

    def earlier(other: str) -> Signals:
        if other not in before:
            before[other] = _earlier(campaign, other, (*on_the_way, name))
        return before[other]

    whole = joined([one_log(campaign, log, choice, known, test, earlier) for log in test.logs], test.logs, choice)
    _leave_out(whole, choice)
    _beyond_rupture(whole, choice, rupture_strain(campaign, test, span))
    if not whole.of("load"):
        loads = [c.name for c in known.values() if c.quantity == "load"]
        why = [note for note in whole.notes if note.partition(":")[0] in loads]
        raise NotReduced(f"no usable load: {'; '.join(why)}" if why else nothing_mapped(campaign, test, choice, known))
    _tell_residual(campaign, name, test, choice, whole)
    correct(whole)
    layout = campaign.rig.layouts.get(test.layout or "") or next(iter(campaign.rig.layouts.values()), None)
    rosettes = layout.rosettes if layout is not None and known else ()
    take_across_off(whole, rosettes)
    load = whole.of("load")[0].values
    read_together(whole, rosettes, int(np.nanargmax(load)) if np.isfinite(load).any() else None)
    return whole


def _beyond_rupture(signals: Signals, choice: Choice, eps_fu: float | None) -> None:
    """Gauges on fibres that read more than fibres bear are lost from the first such run of rows on, and told."""
    for name, signal in signals.found.items():
        if eps_fu is None or signal.channel.quantity != "FRP strain" or loss_refused(choice, name):
            continue
        above = np.flatnonzero(signal.values > BEYOND * eps_fu)
        if above.size < 3:
            continue
        mask = np.arange(len(signals.time)) >= above[0]
        signals.found[name] = replace(signal, values=np.where(mask, np.nan, signal.values))
        signals.add_step("exclude", {"channel": name, "reason": "beyond the rupture strain of the fibres"}, mask)
        signals.notes.append(
            f"{name}: lost at {signals.time[above[0]]:.1f} s, it reads {1e6 * signal.values[above[0]]:.0f} um/m there "
            f"and the fibres break at {1e6 * eps_fu:.0f}; not used from there on"
        )


def _earlier(campaign: Campaign, name: str, on_the_way: tuple[str, ...]) -> Signals:
    """Signals of an earlier test whose last readings are carried over. Raises `NotReduced` with what is missing."""
    from cracktie.reduction import studied_span

    if name in on_the_way:
        raise NotReduced(f"test {name} waits for itself: correct carry in reduction.yaml")
    test = campaign.tests[name]
    try:
        return read_signals(campaign, name, test, studied_span(campaign, test), on_the_way=on_the_way)
    except CracktieError as error:
        raise NotReduced(f"nothing can be carried over from test {name}: {error}") from None


def _tell_residual(campaign: Campaign, name: str, test: Test, choice: Choice, whole: Signals) -> None:
    """One note where bars were strained before the zero of this test and nothing says by how much."""
    bars = [s for s in whole.of("bar strain") if not _stated(choice, s)]
    begun = _begins_loaded(test, whole)
    if not bars or (test.state == "virgin" and not begun):
        return
    others = campaign.tests_of(test.specimen)
    before = [n for n, t in others.items() if n != name and (t.order or 0) < (test.order or 0) and t.logs]
    fix = f"carry: {{test: {before[-1]}}}" if before else "value: ..."
    why = f"state {test.state}" if test.state != "virgin" else "the record begins at the load of the strengthening"
    whole.notes.append(
        f"{why}: strains of {len(bars)} bar gauge(s) count from the zero of this test; what an earlier "
        f"loading left in the bars is not in them (zeros: {fix} in reduction.yaml adds it)"
    )


def _begins_loaded(test: Test, whole: Signals) -> bool:
    """Whether a beam strengthened under load carried some of it when the record began."""
    first = whole.of("load")[0].values[: max(3, len(whole.time) // 50)]
    bond = bonding_load(test)
    return bool(bond > 0.0 and np.isfinite(first).any() and np.nanmedian(first) > 0.25 * bond)


def _stated(choice: Choice, signal: Signal) -> bool:
    c = signal.channel
    fitting = [z for z in choice.zeros if not z.after and z.fits(c.name, c.quantity, z.log or "")]
    return bool(fitting) and (fitting[-1].value is not None or fitting[-1].carry is not None)


def _leave_out(signals: Signals, choice: Choice) -> None:
    """Leave out what was chosen, in times of the first log; one note a channel tells of choice and loss."""
    for name, signal in signals.found.items():
        lost, told = signal.lost, []
        for excluded in (e for e in choice.excluded if e.channel == name):
            after, before = excluded.after, excluded.before
            mask = np.ones(len(signals.time), dtype=bool)
            if after is not None or before is not None:
                late = signals.time >= (np.inf if after is None else float(after))
                early = signals.time < (-np.inf if before is None else float(before))
                between = after is not None and before is not None and after < before
                mask = late & early if between else late | early
            signal = replace(signal, values=np.where(mask, np.nan, signal.values))
            signals.add_step("exclude", {"channel": name, "reason": excluded.reason}, mask)
            since = "" if after is None else f" from {after:g} s on"
            since += "" if before is None else f" up to {before:g} s"
            told.append(f"left out by choice{since}, {excluded.reason}")
        if lost is not None and not loss_refused(choice, name):
            told.append(f"lost at {lost.time:.1f} s, {lost.reason}; not used from there on")
        if told:
            signals.notes.append(f"{name}: {'; '.join(told)}")
        signals.found[name] = signal
