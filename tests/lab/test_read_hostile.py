"""Hostile files, each read by a child process under a limit of memory and of time: a table or one clear refusal.

`hostile.py` beside this file makes them; sizes are those at which a reader that trusts its input fails.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from cracktie.errors import FileTrouble, InputRefused
from cracktie.lab.read import read_log

from .hostile import CASES, rows, zipped

pytestmark = pytest.mark.slow

MEMORY = 3000
"""MiB of address space that the reading may take."""
SECONDS = 60
"""Of processor time; the slowest takes a tenth of it on a quiet machine."""


@pytest.mark.skipif(sys.platform != "linux", reason="limits of memory are those of Linux")
@pytest.mark.parametrize("name", CASES)
def test_a_table_or_one_refusal_in_bounded_memory_and_time(tmp_path, name):
    path = tmp_path / "x.dat"
    path.write_bytes(CASES[name]())
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    script = Path(__file__).with_name("hostile.py")
    done = subprocess.run([sys.executable, str(script), str(path), str(MEMORY)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-2000:]
    said = json.loads(done.stdout)
    assert "wrong" not in said, said
    assert "rows" in said or said["refused"].startswith("x.dat")
    assert said["seconds"] < SECONDS
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before


@pytest.mark.skipif(os.name == "nt", reason="needs pipes and links")
def test_pipes_folders_and_links(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    (tmp_path / "ring").symlink_to(tmp_path / "ring")
    (tmp_path / "log.csv").write_bytes(b"t [s];P [kN]\n" + rows(30, 2))
    (tmp_path / "link.csv").symlink_to(tmp_path / "log.csv")
    for name, words in (("pipe", "a device or a pipe"), ("folder", "a folder"), ("dangling", "cannot be read"),
                        ("ring", "cannot be read"), ("nul\0name", "cannot be read")):  # fmt: skip
        with pytest.raises(FileTrouble, match=words):
            read_log(tmp_path / name)
    with pytest.raises(FileTrouble, match="a device or a pipe"):
        read_log("/dev/zero")
    assert read_log(tmp_path / "link.csv").report.rows_kept == 30


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(rows(30))
    path.chmod(0)
    with pytest.raises(FileTrouble, match="check name and permissions"):
        read_log(path)


def test_a_zip_in_a_zip_is_refused_with_a_way_out(tmp_path):
    path = tmp_path / "log.zip"
    path.write_bytes(zipped(("inner.zip", zipped(("a.csv", rows(30))))))
    with pytest.raises(InputRefused, match="an archive inside an archive"):
        read_log(path)
