"""A real logger in a process of its own: buffered, cut anywhere, rolled over, cut short, deleted; and Ctrl-C."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from cracktie.campaign import write
from cracktie.reduction.watch import watch

from .conftest import csv, record
from .test_watch import drive

HERE = Path(__file__).parent
SOURCE = Path(write.__file__).parents[2]


@pytest.fixture
def logger(build, tmp_path):
    """(campaign, path, tell): tell("write 100") makes the logger do it and gives the size of its file."""
    text = tmp_path / "all.csv"
    text.write_text(csv(record()))
    campaign = build(logs={"logs/T.csv": "not yet\n"})
    path = campaign.folder / "logs/T.csv"
    child = subprocess.Popen(
        [sys.executable, str(HERE / "log_writer.py"), str(path), str(text)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip

    def tell(*commands):
        for command in commands:
            child.stdin.write(command + "\n")
            child.stdin.flush()
            size = int(child.stdout.readline())
        return size

    yield campaign, path, tell
    child.stdin.close()
    child.wait()
    child.stdout.close()


def lines_of(out):
    return [line for block in out for line in block]


def test_blocks_cut_anywhere_never_give_half_a_number(logger):
    """Pieces of 137 bytes through a buffer of 4096: at every look the rows are the whole lines written so far, V and
    strain are those of the record up to there."""
    campaign, _, tell = logger
    text, known = csv(record()), record()
    sizes = []

    def more():
        sizes.append(tell(*["write 137"] * 17))

    def last():
        sizes.append(tell(f"write {len(text)}", "flush"))

    out = drive(campaign, [more] * 8 + [last])
    told = [
        re.match(r"(\d+) rows .*largest V so far ([\d.]+) kN.*largest strip strain (\d+)", b[0]) for b in out[1:] if b
    ]
    seen = [(int(m[1]), float(m[2]), float(m[3])) for m in told if m]
    assert len(seen) >= 4
    assert any(text[size - 1 : size] not in ("\n", "") for size in sizes)  # cut within rows
    for rows, V, strain in seen:
        P = float(known["P"][:rows].max())
        assert abs(V - 0.6 * (P + 2.0) - 1.5) < 0.06  # self-weight by hand: 2.9 kN - 2 N/mm 700 mm
        assert strain == pytest.approx(float(known["G1"][:rows].max()), abs=1.0)
    whole = [text.encode()[:size].count(b"\n") - 1 for size in sizes]
    assert [rows for rows, _, _ in seen] == [w for w in dict.fromkeys(whole) if w >= seen[0][0] > 0]
    assert seen[-1][0] == 440


def test_a_last_cell_cut_in_its_number_waits(logger):
    """The row is full of cells, its last number is not: `1500.000000` cut to `15` would be a fall of the gauge."""
    campaign, _, tell = logger
    text = csv(record())
    row = text.splitlines(keepends=True)[300]
    before = len("".join(text.splitlines(keepends=True)[:300]))
    out = drive(campaign, [lambda: tell(f"write {before}", "flush"), lambda: tell(f"write {len(row) - 6}", "flush"),
                           lambda: tell("write 6", "flush")])  # fmt: skip
    assert out[1][-1].startswith("299 rows") or out[1][0].startswith("299 rows")
    assert out[2] == []  # half a row is no news
    assert out[3][0].startswith("300 rows (1 new)")


def test_rolled_over_with_and_without_headers(logger):
    campaign, _, tell = logger
    out = drive(campaign, [
        lambda: tell("write 9000", "flush"),
        lambda: tell("roll T_1.csv", "header", "write 6000", "flush"),
        lambda: tell("roll T_2.csv", "write 3000", "flush"),
    ])  # fmt: skip
    told = lines_of(out)
    begun = [line for line in told if "begun anew (rolled over)" in line]
    assert "what came before is in T_1.csv now" in begun[-2]
    assert "what came before is in T_2.csv now" in begun[-1]
    assert any(line.startswith("not yet: ") for line in out[3])  # no header: what is missing is told


def test_cut_short_written_over_and_deleted(logger):
    campaign, _, tell = logger
    out = drive(campaign, [
        lambda: tell("write 6000", "flush"),
        lambda: tell("truncate", "header", "write 9000", "flush"),  # longer than before, but another beginning and end
        lambda: tell("delete"),
        lambda: None,
        lambda: tell("again", "header", "write 5000", "flush"),
    ])  # fmt: skip
    told = lines_of(out)
    assert sum("begun anew" in line for line in told) >= 2
    assert sum(line == "T.csv is not there: waiting for it" for line in told) == 1
    assert any(re.match(r"\d+ rows", line) for line in out[5])


def test_a_file_written_over_in_place_and_longer_is_told(build):
    """Same file, longer, but not the old one with more behind it."""
    campaign = build()
    path = campaign.folder / "logs/T.csv"
    other = csv({k: v * (1.0 if k == "Time" else 0.5) for k, v in record().items()})
    other += "".join(f"{t}.5,1,1,1,1\n" for t in range(220, 300))

    def over():
        with path.open("r+b") as stream:
            stream.write(other.encode())

    assert len(other) > path.stat().st_size
    out = drive(campaign, [over])
    assert "cut short or written over" in out[1][0]


def test_time_that_jumps_back_is_told_once_and_passes(build):
    lines = csv(record()).splitlines(keepends=True)
    campaign = build(logs={"logs/T.csv": "".join(lines[:200])})
    path = campaign.folder / "logs/T.csv"

    def add(text):
        with path.open("a") as stream:
            stream.write(text)

    out = drive(campaign, [lambda: add("".join(lines[150:200])), lambda: add("".join(lines[200:]))])
    assert any("rows" in line or "not yet" in line for line in out[1])
    assert len([line for line in lines_of(out) if line.startswith("not yet")]) <= 1


def test_a_long_look_is_followed_by_a_longer_rest(build, monkeypatch):
    """A look that took 3 s: the next comes 12 s later, so that a long log does not eat the machine. The first one,
    which loads libraries, does not count."""
    campaign, now, slept = build(), [0.0], []
    import cracktie.reduction as reduction

    real = reduction.reduce_test

    def slow(*args):
        now[0] += 3.0
        return real(*args)

    monkeypatch.setattr(reduction, "reduce_test", slow)

    class Done(Exception):
        pass

    def sleep(seconds):
        slept.append(seconds)
        if len(slept) == 2:
            raise Done
        with (campaign.folder / "logs/T.csv").open("a") as log:
            log.write("220.0,60.0,9.4,1900,1400\n")

    with pytest.raises(Done):
        list(watch(campaign, "T", sleep=sleep, clock=lambda: now[0]))
    assert slept == [2.0, 12.0]


def test_nothing_is_left_of_the_copy_and_the_log_is_only_read(build, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    campaign = build()
    path = campaign.folder / "logs/T.csv"
    before, at = path.read_bytes(), path.stat().st_mtime_ns
    drive(campaign, [lambda: None])
    assert not [p for p in tmp_path.iterdir() if p.name.startswith("cracktie-watch")]
    assert (path.read_bytes(), path.stat().st_mtime_ns) == (before, at)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals are POSIX")
def test_ctrl_c_ends_with_a_word_and_status_0(build):
    folder = build().folder
    child = subprocess.Popen(
        [sys.executable, "-m", "cracktie", "reduce", str(folder), "--watch", "T"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | {"PYTHONPATH": str(SOURCE)},
    )  # fmt: skip
    assert child.stdout is not None
    first = [child.stdout.readline(), child.stdout.readline()]
    child.send_signal(signal.SIGINT)
    out, err = child.communicate()
    assert child.returncode == 0, err
    assert "440 rows" in first[1] or "440 rows" in out
    assert "stopped; `cracktie reduce` without --watch" in out
    assert err == ""


def test_numbers_of_the_record():
    """What the checks above rest on: 440 rows, 60 % of the load at the section."""
    assert record()["P"].size == 440
    assert np.max(record()["P"]) == 100.0
