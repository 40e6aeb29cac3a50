"""The table that sets V_f by subtraction beside V_f by strain."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cracktie.agreement import Agreement
from cracktie.report.blocks import Column, Table


def agreement_table(rows: Sequence[Agreement], unit: str, force: Callable[..., str]) -> Table:
    """One row a test; `force` writes a value in N in the shown `unit`."""
    columns = (
        Column("test", "", "left"), Column("V_f by subtraction", unit), Column("u", unit),
        Column("V_f by strain", unit), Column("u", unit), Column("|d|", unit), Column("2u_d", unit),
        Column("verdict", "", "left", prose=True),
    )  # fmt: skip
    cells = tuple(
        (a.test, force(a.V_f_sub, bound=a.bound), force(a.u_sub), force(a.V_f_strain), force(a.u_strain),
         force(abs(a.difference)), force(2.0 * a.u_d), a.verdict)
        for a in rows
    )  # fmt: skip
    powers = ", ".join(dict.fromkeys(a.p for a in rows))
    notes = (
        f"Subtraction with p = {powers}. The two measure different things and are not averaged: by subtraction V_f "
        "holds what the wrap changes in V_c + V_s, by strain it is the force of the fibres across the crack.",
        "u is that of this beam: the scatter of its own V_f is in both and in neither u.",
    )
    return Table("V_f by subtraction and by strain", columns, cells, notes)
