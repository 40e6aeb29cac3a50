"""Reduced tests kept in out/: the same result from the store, and made again when anything changed."""

from __future__ import annotations

import json

import numpy as np
import pytest

from cracktie.actions import open_campaign, reduce
from cracktie.reduction.store import Store


@pytest.fixture
def campaign(build):
    return build()


def _entry(campaign):
    return campaign.folder / "out" / "reduced" / "T.json"


def _same(one, two):
    assert one.to_dict() == two.to_dict()
    for name in one.tests:
        for a, b in zip(one.tests[name].curves, two.tests[name].curves, strict=True):
            assert (a.label, a.x_name, a.y_name) == (b.label, b.x_name, b.y_name)
            np.testing.assert_array_equal(a.x, b.x)
            np.testing.assert_array_equal(a.y, b.y)


def _from_store(campaign, monkeypatch):
    """Reduce with the store; fails where a test is reduced again."""
    import cracktie.reduction as reduction

    def refuse(*_):
        raise AssertionError("reduced again")

    with monkeypatch.context() as patched:
        patched.setattr(reduction, "reduce_test", refuse)
        return reduce(campaign, fresh=False)


def test_the_stored_result_is_the_made_one(campaign, monkeypatch):
    made = reduce(campaign, fresh=True)
    _same(_from_store(campaign, monkeypatch), made)


def test_both_ways_give_the_same_bytes(campaign):
    reduce(campaign, fresh=True)
    first = _entry(campaign).read_bytes()
    reduce(campaign, fresh=False)
    assert _entry(campaign).read_bytes() == first
    reduce(campaign, fresh=True)
    assert _entry(campaign).read_bytes() == first
    _entry(campaign).unlink()
    reduce(campaign, fresh=False)
    assert _entry(campaign).read_bytes() == first


@pytest.mark.parametrize("damage", [b"", b"{", b"\xff\xfe\x00", b"[]", b"null", b'{"fingerprint": 1}', None])
def test_a_damaged_entry_is_made_again(campaign, damage):
    made = reduce(campaign)
    whole = _entry(campaign).read_bytes()
    if damage is None:  # right fingerprint, result cut short
        kept = json.loads(whole)
        del kept["result"]["marks"]
        damage = json.dumps(kept).encode()
    _entry(campaign).write_bytes(damage)
    _same(reduce(campaign, fresh=False), made)
    assert _entry(campaign).read_bytes() == whole


@pytest.mark.parametrize("file", ["rig.yaml", "reduction.yaml", "specimens.yaml", "materials.yaml", "logs/T.csv"])
def test_a_changed_input_makes_it_again(campaign, file, monkeypatch):
    reduce(campaign)
    path = campaign.folder / file
    path.write_bytes(path.read_bytes() + b"\n")
    again = open_campaign(campaign.folder)
    assert Store(again, read=True).get("T") is None
    with pytest.raises(AssertionError, match="reduced again"):
        _from_store(again, monkeypatch)


def test_a_changed_choice_changes_the_result(campaign):
    before = reduce(campaign)
    path = campaign.folder / "rig.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace('"2 kN"', '"4 kN"'), encoding="utf-8")
    after = reduce(open_campaign(campaign.folder), fresh=False)
    assert after.tests["T"].value("V_max") - before.tests["T"].value("V_max") == pytest.approx(0.6 * 2e3)


def test_out_may_be_deleted(campaign):
    import shutil

    made = reduce(campaign)
    shutil.rmtree(campaign.folder / "out")
    _same(reduce(campaign, fresh=False), made)


@pytest.mark.slow
def test_a_whole_run_writes_the_same_bytes_fresh_or_from_the_store(campaign):
    """Everything in out/ but run.json, which holds the time of the run, and the logs as they were."""
    from cracktie.actions import run

    def contents(folder):
        files = (p for p in sorted(folder.rglob("*")) if p.is_file() and p.name != "run.json")
        return {p.relative_to(folder).as_posix(): p.read_bytes() for p in files}

    logs = contents(campaign.folder / "logs")
    run(campaign.folder, fresh=True)
    first = contents(campaign.folder / "out")
    run(campaign.folder)
    second = contents(campaign.folder / "out")
    run(campaign.folder, fresh=True)
    third = contents(campaign.folder / "out")
    assert sorted(first) == sorted(second) == sorted(third)
    assert [name for name in first if not first[name] == second[name] == third[name]] == []
    assert "reduced/T.json" in first
    assert contents(campaign.folder / "logs") == logs
