"""The table of coupon tests: numbers by hand, what was left out, one remark a file."""

from __future__ import annotations

from cracktie.campaign.coupons import CouponSet, summary
from cracktie.report.coupons import coupon_table
from cracktie.units import Quantity


def test_rows_and_notes():
    """500, 510 and 520 MPa: s = 10, u = 10/sqrt 3 = 5.774; fractile 510 (1 - 3.37 x 0.10) = 338.1; 510 - 30 = 480."""
    found = summary("f_y", "MPa", [Quantity(500.0), Quantity(510.0), Quantity(520.0)])
    table = coupon_table({"bars.S8": CouponSet("coupons/bars.csv", (found,), {"s9": "slipped"}, ("a remark",))})
    assert table.rows == (("bars.S8", "f_y", "3", "510", "10", "2.0 %", "5.774", "–", "338.1", "480", "MPa"),)
    assert table.footnotes[0] == "bars.S8: coupons/bars.csv; left out: s9 (slipped); a remark."


def test_one_specimen_has_no_scatter():
    found = summary("E_c", "MPa", [Quantity(30e3, 300.0)], "cylinder")
    (row,) = coupon_table({"concretes.C": CouponSet("coupons/c.csv", (found,))}).rows
    assert row == ("concretes.C", "E_c, cylinder", "1", "30000", "–", "–", "300", "300", "–", "–", "MPa")
