from __future__ import annotations

import pytest

from cracktie.campaign.new import new_campaign
from cracktie.campaign.read import read_campaign, read_single
from cracktie.errors import InputRefused

from .test_table import SHORT


def test_a_new_campaign_is_small_and_valid(tmp_path):
    written = new_campaign(tmp_path / "c")
    made = read_campaign(tmp_path / "c")
    assert made.warnings == ()
    assert list(made.specimens) == ["C1-REF", "C1-U"]
    assert made.specimens["C1-U"].spans["A"].wrap is not None
    lines = sum(len(p.read_text().splitlines()) for p in written if p.suffix == ".yaml")
    assert 15 <= lines <= 30
    assert "Invented values" in (tmp_path / "c" / "materials.yaml").read_text()


def test_raw_files_are_kept_from_line_end_conversion(tmp_path):
    new_campaign(tmp_path)
    kept = (tmp_path / ".gitattributes").read_text().splitlines()
    assert {"logs/** -text", "coupons/** -text", "photos/** -text"} <= set(kept)
    assert "out/" in (tmp_path / ".gitignore").read_text().splitlines()


def test_one_beam(tmp_path):
    assert [p.name for p in new_campaign(tmp_path, one_beam=True)] == ["beam.yaml"]
    made = read_single(tmp_path / "beam.yaml")
    assert list(made.specimens) == ["B1"]
    assert made.warnings == ()


def test_a_folder_that_holds_something_is_refused_and_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("x")
    with pytest.raises(InputRefused, match=r"the folder is not empty \(it holds mine\.txt\); choose an empty one"):
        new_campaign(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
    with pytest.raises(InputRefused, match="is a file; choose another name"):
        new_campaign(tmp_path / "mine.txt")


def test_a_fresh_repository_counts_as_empty(tmp_path):
    (tmp_path / ".git").mkdir()
    new_campaign(tmp_path)
    assert (tmp_path / "specimens.yaml").exists()


def test_from_a_table(tmp_path):
    (tmp_path / "t.csv").write_text(SHORT)
    new_campaign(tmp_path / "c", table=tmp_path / "t.csv")
    text = (tmp_path / "c" / "specimens.yaml").read_text()
    assert text.startswith("# From the table t.csv.\nspecimens:\n  012:\n    batch: C1\n")
    with pytest.raises(InputRefused) as caught:  # a table holds no material properties: they are asked for
        read_campaign(tmp_path / "c")
    assert {p.file for p in caught.value.problems} == {"materials.yaml"}
    assert "frp_systems.CF.convention: is missing; add for example `convention: fibre`" in str(caught.value)


def test_a_faulty_table_writes_nothing(tmp_path):
    (tmp_path / "t.csv").write_text(SHORT.replace("3 x 20 mm", "20"))
    with pytest.raises(InputRefused, match=r"t\.csv:2:5: bars\.1\.bars = '20': not a number of bars"):
        new_campaign(tmp_path / "c", table=tmp_path / "t.csv")
    assert not (tmp_path / "c").exists()
