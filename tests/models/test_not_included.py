"""Documents left out say why, and do not hide among the models."""

from __future__ import annotations

from cracktie.clause import all_models
from cracktie.models.not_included import NOT_INCLUDED


def test_each_says_why_and_how_to_plug_in() -> None:
    assert len({n.document for n in NOT_INCLUDED}) == len(NOT_INCLUDED)
    for entry in NOT_INCLUDED:
        assert len(entry.reason) > 20
        assert "@model" in entry.plug_in


def test_none_of_them_is_registered() -> None:
    ids = " ".join(m.id for m in all_models("frp_shear"))
    for part in ("fib90", "ec2", "ec8", "440_2023", "s806_2012", "carolin", "bousselham", "isis", "gb50"):
        assert part not in ids
