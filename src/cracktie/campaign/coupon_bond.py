"""Bond and anchor coupons: pull-off tests with their failure modes, pull-out tests of spike anchors."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Protocol

from cracktie.campaign.coupon_rows import CouponRow
from cracktie.campaign.materials import ANCHOR_MODES
from cracktie.errors import CracktieError
from cracktie.units import Quantity

INTERFACE = ("C", "D", "E")
"""Pull-off modes (letters of `lab.pulloff.MODES`) in which the adhesive or its bond to the concrete gave way."""
SUBSTRATE = ("G",)
"""Pull-off modes in which the concrete gave way."""


class Collected(Protocol):
    """Rows of one file on their way to summaries, as `coupons.fill` hands them on."""

    rows: list[CouponRow]
    notes: list[str]
    problems: list[Any]

    def one(self, row: CouponRow, value: Callable[[CouponRow], Quantity | None]) -> Quantity | None:
        """What `value` gives for a row."""

    def summarise(
        self, name: str, unit: str, value: Callable[[CouponRow], Quantity | None], *,
        rows: Iterable[CouponRow] | None = None, group: str = "",
    ) -> Any:  # fmt: skip
        """Summary of what `value` gives for the rows."""


def pull_off_stress(row: CouponRow) -> Quantity | None:
    """Stress of a pull-off test in MPa; None for a row of another test. Raises `CracktieError` for what is missing."""
    from cracktie.lab.pulloff import pull_off

    v = row.values
    if "pull_off" not in v and "pull_off_force" not in v:
        return None
    if "mode" not in row.texts:
        raise CracktieError("a pull-off test says nothing without its failure mode (add a column mode, A to G)")
    if "pull_off" in v:
        pull_off(1.0, 1.0, row.texts["mode"])  # judges the letter
        return v["pull_off"]
    force, size = v["pull_off_force"], v.get("diameter")
    if size is None:
        raise CracktieError("pull_off_force needs the diameter of the disc (add a column diameter)")
    found = pull_off(
        float(force), float(size), row.texts["mode"], u_force=(force.u or 0.0) / float(force), u_diameter=size.u or 0.0
    )
    return Quantity(found.value, found.u or None)


def pull_offs(c: Collected, counted: tuple[str, ...], what: str) -> Any:
    """Summary of the pull-off tests that failed in the `counted` modes; None where there is none.

    Another mode shows only that the stress of what is asked for is at least as large: such a test is left out of the
    mean, which errs to the low side, and named in a note.
    """
    tests = [(row, stress) for row in c.rows if (stress := c.one(row, pull_off_stress)) is not None]
    if not tests:
        return None
    kept = [row for row, _ in tests if row.texts["mode"] in counted]
    others = [(row, stress) for row, stress in tests if row.texts["mode"] not in counted]
    if others:
        told = ", ".join(f"{row.specimen} ({row.texts['mode']}, >= {stress:.2f} MPa)" for row, stress in others)
        c.notes.append(f"pull-off of {what}: failed elsewhere, so lower bounds that the mean leaves out: {told}")
    if not kept:
        c.notes.append(f"pull-off of {what}: no test failed there (modes {', '.join(counted)}), so no mean is taken")
        return None
    return c.summarise("pull_off", "MPa", pull_off_stress, rows=kept, group=f"mode {', '.join(counted)}")


def anchors(entry: Any, c: Collected) -> dict[str, Any]:
    """Mean resistance of one anchor over all modes: whichever came first is the resistance; each mode beside it."""
    from cracktie.stats.fractile import FLOOR

    c.problems += [
        row.problem(
            f"the mode {mode!r} is not known", f"possible: {', '.join(ANCHOR_MODES)}; a test fault goes into `excluded`"
        )
        for row in c.rows
        if (mode := row.texts.get("mode", "")) not in ANCHOR_MODES
    ]
    made = c.summarise("resistance", "N", lambda row: row.values.get("force"))
    if made is None:
        return {}
    by_mode: dict[str, list[CouponRow]] = {}
    for row in c.rows:
        if "force" in row.values:
            by_mode.setdefault(row.texts.get("mode", ""), []).append(row)
    if len(by_mode) > 1:
        for mode, rows in by_mode.items():
            c.summarise("resistance", "N", lambda row: row.values.get("force"), rows=rows, group=mode)
        c.notes.append("the mean is taken over all modes: the weakest mechanism of each anchor is its resistance")
    c.summarise("f_c", "MPa", lambda row: row.values.get("f_c"))
    if made.fractile is not None:
        c.notes.append(f"characteristic: 5 % fractile of EN 1990 D.7, V_X not less than {FLOOR:g}, normal")
    most = max(by_mode, key=lambda mode: len(by_mode[mode]))
    low = None if made.fractile is None or entry.characteristic is not None else Quantity(made.fractile)
    return {"resistance": made.value, "n": made.n, "mode": most, "characteristic": low}
