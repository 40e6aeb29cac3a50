"""The table of coupon tests that material values were computed from."""

from __future__ import annotations

from collections.abc import Mapping

from cracktie.campaign.coupons import CouponSet, Summary
from cracktie.report.blocks import Column, Table


def coupon_table(coupons: Mapping[str, CouponSet]) -> Table:
    """One row a property and group; what was left out and remarks stand below."""
    columns = (
        Column("material", "", "left"), Column("property", "", "left", prose=True), Column("n"), Column("mean"),
        Column("s"), Column("CV"), Column("u of the mean"), Column("of it instrument"), Column("5 % fractile"),
        Column("mean - 3 s"), Column("unit", "", "left"),
    )  # fmt: skip
    rows = [_row(material, s) for material, found in coupons.items() for s in found.summaries]
    notes = []
    for material, found in coupons.items():
        out = "; ".join(f"{specimen} ({reason})" for specimen, reason in found.left_out.items())
        told = [f"{material}: {found.file}", *([f"left out: {out}"] if out else []), *found.notes]
        notes.append("; ".join(told) + ".")
    notes.append(
        "s is the scatter between specimens; 5 % fractile: EN 1990 D.7 with V unknown, not less than 0.10, normal; "
        "only force per width compares between thickness conventions."
    )
    return Table("Coupon tests", columns, tuple(rows), tuple(notes))


def _row(material: str, s: Summary) -> tuple[str, ...]:
    name = f"{s.name}, {s.group}" if s.group else s.name
    cv = "–" if s.cv is None else f"{100 * s.cv:.1f} %"
    numbers = (s.s, s.u, s.u_instrument, s.fractile, s.guaranteed)
    shown = ["–" if v is None else f"{v:.4g}" for v in numbers]
    return (material, name, str(s.n), f"{s.mean:.6g}", shown[0], cv, *shown[1:], "" if s.unit == "-" else s.unit)
