"""A process killed at any moment of a write leaves the old or the new file, never half: by killing it."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cracktie.campaign import write
from cracktie.campaign.write import write_text

SOURCE = Path(write.__file__).parents[2]
HERE = Path(__file__).parent

pytestmark = pytest.mark.skipif(os.name == "nt", reason="kills are POSIX")


def kills(tmp_path, writer, count=25, seed=1):
    """(kills, of them inside a write, whole files, halves)."""
    command = [sys.executable, str(HERE / "kill_writer.py"), str(tmp_path), writer, str(count), str(seed)]
    made = subprocess.run(command, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(SOURCE)})
    assert made.returncode == 0, made.stderr
    return tuple(map(int, made.stdout.split()))


@pytest.mark.slow
@pytest.mark.parametrize("writer", ["text", "yaml"])
def test_a_kill_leaves_the_old_or_the_new_file(tmp_path, writer):
    count, inside, good, halves = kills(tmp_path, writer)
    assert (good, halves) == (count, 0)
    assert inside > count / 4  # the kills did fall into writes


@pytest.mark.slow
def test_the_kills_would_catch_a_writer_that_is_unsafe(tmp_path):
    """The same kills on a file written in place: halves are found, so that the test above can fail."""
    _, inside, _, halves = kills(tmp_path, "unsafe")
    assert inside > 10
    assert halves > 3


def test_what_a_kill_leaves_behind_is_swept_up_later(tmp_path):
    path = tmp_path / "tests.yaml"
    write_text(path, "one")
    left, fresh = tmp_path / ".tests.yaml.abcd_123.tmp", tmp_path / ".tests.yaml.zzzzzzzz.tmp"
    others = [tmp_path / ".rig.yaml.abcd_123.tmp", tmp_path / ".tests.yaml.notes.tmp", tmp_path / "tests.yaml.tmp"]
    for p in (left, fresh, *others):
        p.write_text("half")
    for p in (left, *others):
        os.utime(p, (time.time() - 7200, time.time() - 7200))
    write_text(path, "two")
    assert not left.exists()
    assert fresh.exists()  # may belong to a process that still writes
    assert all(p.exists() for p in others)
    assert path.read_text() == "two"


IN_FOLDERS_OF_THEIR_OWN = {"draw/pdf.py", "report/pdf.py", "reduction/watch.py"}
"""They write into a temporary folder (for the typesetter, the whole lines of a growing log) that goes with them."""
CALLS = {
    "write_text",
    "write_bytes",
    "savefig",
    "to_excel",
    "copyfile",
    "copy",
    "copy2",
    "copytree",
    "rename",
    "replace",
}


def test_nothing_else_writes_files():
    """Files are written by `campaign.write` alone: no other module opens one for writing."""
    found = []
    for path in sorted((SOURCE / "cracktie").rglob("*.py")):
        name = path.relative_to(SOURCE / "cracktie").as_posix()
        if name == "campaign/write.py" or name in IN_FOLDERS_OF_THEIR_OWN:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and _writes(node):
                found.append(f"{name}:{node.lineno}: {ast.unparse(node)[:80]}")
    assert found == []


def _writes(node: ast.Call) -> bool:
    called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
    owner = ast.unparse(node.func.value) if isinstance(node.func, ast.Attribute) else ""
    if called == "open":
        modes = [
            *node.args[1 if isinstance(node.func, ast.Name) else 0 :],
            *(k.value for k in node.keywords if k.arg == "mode"),
        ]
        return any(
            isinstance(m, ast.Constant) and isinstance(m.value, str) and set(m.value) & set("wax+") for m in modes[:1]
        )
    if called in ("write_text", "write_bytes") and isinstance(node.func, ast.Attribute):
        return True
    return owner in ("os", "shutil") and called in CALLS
