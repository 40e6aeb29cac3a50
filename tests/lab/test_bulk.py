"""Long logs read in pieces are the same as read carefully; whatever is not regular is left to the careful reader."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cracktie.lab import bulk
from cracktie.lab.read import read_log, read_log_bytes

ROWS = 400


def text(*, mark=",", decimal=".", end="\n", change=None):
    rng = np.random.default_rng(2)
    lines = ["Logger 7", "", mark.join(["Time [s]", "P [kN]", "D [mm]", "e1 [um/m]"])]
    for i in range(ROWS):
        cells = [f"{i / 10:.1f}", f"{i * 0.5 + rng.normal():.3f}", f"{i * 0.01:.4f}", f"{rng.integers(0, 900)}"]
        lines.append(mark.join(c.replace(".", decimal) for c in cells))
    if change is not None:
        change(lines)
    return end.join(lines) + end


def set_line(number, content):
    return lambda lines: lines.__setitem__(number, content)


REGULAR = {
    "plain": text(),
    "semicolon, decimal comma": text(mark=";", decimal=","),
    "tab": text(mark="\t"),
    "missing readings": text(change=set_line(300, "29.7,,2.97,5")),
    "missing at the end": text(change=set_line(300, "29.7,1,2.97,")),
    "overload numbers": text(change=set_line(300, "29.7,1E+38,2.97,5")),
    "no line end at the end": text().rstrip("\n"),
    "last row cut off": text()[:-12],
    "time runs backwards": text(change=set_line(300, "2.0,1,2.97,5")),
}
OTHER = {
    "word": text(change=set_line(300, "29.7,OVER,2.97,5")),
    "short line": text(change=set_line(300, "29.7,1")),
    "long line": text(change=set_line(300, "29.7,1,2,3,4")),
    "remark": text(change=lambda lines: lines.insert(300, "# crack seen")),
    "header again": text(change=lambda lines: lines.insert(300, lines[2])),
    "blank line": text(change=lambda lines: lines.insert(300, "")),
    "Windows line ends": text(end="\r\n"),
    "quoted": text(change=set_line(300, '"29.7",1,2,3')),
    "not UTF-8 later on": text(change=set_line(300, "29.7,\u00fc,2,3")).encode("cp1252"),
    "second table": text() + "\n" + text(),
}


@pytest.fixture
def small_pieces(monkeypatch):
    monkeypatch.setattr(bulk, "LEAST", 1)
    monkeypatch.setattr(bulk, "HEAD", 2000)
    monkeypatch.setattr(bulk, "PIECE", 1000)
    taken = []
    whole = bulk.read_bulk

    def told(*args):
        found = whole(*args)
        taken.append(found is not None)
        return found

    monkeypatch.setattr(bulk, "read_bulk", told)
    return taken


def same(path):
    one, two = read_log(path), read_log_bytes(path.read_bytes(), path.name)
    assert len(one.blocks) == len(two.blocks)
    for a, b in zip(one.blocks, two.blocks, strict=True):
        assert a.frame.equals(b.frame)
        assert replace(a, frame=None) == replace(b, frame=None)
    assert replace(one, blocks=()) == replace(two, blocks=())


@pytest.mark.parametrize("name", REGULAR)
def test_regular_logs_are_read_in_pieces_with_the_same_result(tmp_path, small_pieces, name):
    path = tmp_path / "log.csv"
    path.write_bytes(REGULAR[name].encode())
    same(path)
    assert small_pieces == [True]


@pytest.mark.parametrize("name", OTHER)
def test_other_logs_are_left_to_the_careful_reader(tmp_path, small_pieces, name):
    path = tmp_path / "log.csv"
    content = OTHER[name]
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    same(path)
    assert True not in small_pieces


def test_short_logs_are_not_taken(tmp_path, monkeypatch):
    monkeypatch.setattr(bulk, "read_bulk", lambda *a: pytest.fail("a short log was read in pieces"))
    path = tmp_path / "log.csv"
    path.write_text(text())
    assert read_log(path).blocks[0].frame.height == ROWS
