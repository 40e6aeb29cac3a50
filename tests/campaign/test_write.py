from __future__ import annotations

import errno
import os

import pytest

from cracktie.campaign import write
from cracktie.campaign.positions import parse_text
from cracktie.campaign.write import REMOVE, edit_yaml, write_text
from cracktie.errors import FileTrouble, InputRefused

TEXT = """\
# choices of the team
units: {length: mm}   # for bare numbers

tests:
  012: {specimen: 1E2, date: 2026-03-02, order: 007}   # keep me
  # before T2
  T2:
    specimen: no
    logs:
    - "logs/a.csv"
    - logs/b.csv   # second
    outcome: flexure
"""


def test_text_replaces_the_file_and_leaves_nothing_else(tmp_path):
    path = tmp_path / "a.yaml"
    write_text(path, "old\n")
    write_text(path, "new µ\r\n")
    assert path.read_bytes() == "new µ\r\n".encode()
    assert os.listdir(tmp_path) == ["a.yaml"]


@pytest.mark.skipif(os.name == "nt", reason="rights are POSIX")
def test_access_rights_stay_as_they_were(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("old")
    path.chmod(0o640)
    write_text(path, "new")
    assert path.stat().st_mode & 0o777 == 0o640


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real.yaml").write_text("old")
    (tmp_path / "link.yaml").symlink_to(tmp_path / "real.yaml")
    write_text(tmp_path / "link.yaml", "new")
    assert (tmp_path / "link.yaml").is_symlink()
    assert (tmp_path / "real.yaml").read_text() == "new"


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        (errno.ENOSPC, "the disk is full; free some space and repeat"),
        (errno.EACCES, "it is locked or you may not write there; close it in other programs"),
        (errno.EROFS, "the disk is read-only; choose another folder"),
    ],
)
def test_a_failed_write_says_what_to_do_and_keeps_the_old_file(tmp_path, monkeypatch, code, expected):
    path = tmp_path / "a.yaml"
    path.write_text("old")

    def fail(*_):
        raise OSError(code, "no")

    monkeypatch.setattr(write.os, "replace", fail)
    with pytest.raises(FileTrouble) as caught:
        write_text(path, "new")
    assert f"{path}: cannot be written, {expected}" in str(caught.value)
    assert str(caught.value).endswith("(the old file is unchanged)")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["a.yaml"]


def test_no_folder_and_a_folder_in_the_way(tmp_path):
    with pytest.raises(FileTrouble, match="the folder does not exist; make it"):
        write_text(tmp_path / "none" / "a.yaml", "x")
    with pytest.raises(FileTrouble, match="a folder has this name"):
        write_text(tmp_path, "x")


def test_edits_keep_comments_and_the_text_of_every_value(tmp_path):
    path = tmp_path / "tests.yaml"
    path.write_text(TEXT)
    edit_yaml(path, {("tests", "T2", "outcome"): "shear in studied span", ("tests", "T3", "order"): 3})
    expected = TEXT.replace("outcome: flexure", "outcome: shear in studied span") + "  T3:\n    order: 3\n"
    assert path.read_text() == expected


def test_an_edit_that_changes_nothing_gives_the_same_text(tmp_path):
    path = tmp_path / "tests.yaml"
    path.write_text(TEXT)
    edit_yaml(path, {("tests", "T2", "outcome"): "flexure", ("tests", "T9", "note"): REMOVE})
    assert path.read_text() == TEXT


def test_ids_that_look_like_numbers_are_found_and_removed(tmp_path):
    path = tmp_path / "tests.yaml"
    path.write_text(TEXT)
    edit_yaml(path, {("tests", "012", "order"): REMOVE, ("tests", "012", "date"): "2026-03-03"})
    root, _ = parse_text(path.read_text(), "tests.yaml")
    assert root.get("tests").raw()["012"] == {"specimen": "1E2", "date": "2026-03-03"}
    assert "# keep me" in path.read_text()


@pytest.mark.parametrize(
    "value", ["012", "no", "null", "a: b", "# x", "", "60 mm", "'", "[1", "two\nlines", "- a", "ä"]
)
def test_any_text_comes_back_as_it_was_given(tmp_path, value):
    path = tmp_path / "tests.yaml"
    path.write_text(TEXT)
    edit_yaml(path, {("tests", "T2", "note"): value})
    root, problems = parse_text(path.read_text(encoding="utf-8"), "tests.yaml")
    assert not problems
    assert root.get("tests", "T2", "note").raw() == value


def test_missing_file_is_made_and_comments_alone_are_kept(tmp_path):
    made = tmp_path / "reduction.yaml"
    edit_yaml(made, {("tests", "T1", "excluded"): [{"channel": "g1", "reason": "debonded"}]})
    assert made.read_text() == "tests:\n  T1:\n    excluded:\n      - channel: g1\n        reason: debonded\n"
    alone = tmp_path / "tests.yaml"
    alone.write_text("# only this\n")
    edit_yaml(alone, {("tests", "T1", "specimen"): "B1"})
    assert alone.read_text() == "# only this\ntests:\n  T1:\n    specimen: B1\n"


def test_windows_line_ends_and_byte_order_mark_stay(tmp_path):
    path = tmp_path / "tests.yaml"
    path.write_bytes(("\ufeff" + TEXT.replace("\n", "\r\n")).encode())
    edit_yaml(path, {("tests", "T2", "outcome"): "stopped"})
    assert path.read_bytes() == ("\ufeff" + TEXT.replace("flexure", "stopped").replace("\n", "\r\n")).encode()


def test_faulty_files_are_not_edited(tmp_path):
    path = tmp_path / "tests.yaml"
    path.write_text("tests: [\n")
    with pytest.raises(InputRefused, match="not closed"):
        edit_yaml(path, {("tests", "T1", "order"): 1})
    path.write_text("tests: x\n")
    with pytest.raises(FileTrouble, match="tests is no mapping"):
        edit_yaml(path, {("tests", "T1", "order"): 1})
    assert path.read_text() == "tests: x\n"
