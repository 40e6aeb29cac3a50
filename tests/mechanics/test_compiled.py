"""Where compiled kernels are kept."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cracktie.mechanics import compiled

CALL = "from cracktie.mechanics import bond_law; print(bond_law.bilinear(3.0, 0.04, 0.2).stress(0.04)[0, 0])"


def test_named_folder_comes_first(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert compiled.cache_base() == tmp_path


def test_cache_folder_of_the_platform(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "x"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "w"))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    expected = {"linux": "x/cracktie", "win32": "w/cracktie", "darwin": "Library/Caches/cracktie"}
    for platform, folder in expected.items():
        monkeypatch.setattr(sys, "platform", platform)
        assert compiled.cache_base() == tmp_path / folder / "kernels"


@pytest.mark.slow
def test_kernels_are_kept_and_a_locked_folder_does_no_harm(tmp_path: Path) -> None:
    kept, blocked = tmp_path / "kept", tmp_path / "blocked"
    blocked.write_text("a file where a folder should be", encoding="utf-8")
    for folder in (kept, blocked):
        env = {**os.environ, "NUMBA_CACHE_DIR": str(folder)}
        done = subprocess.run([sys.executable, "-c", CALL], env=env, capture_output=True, text=True, check=False)
        assert done.stdout.strip() == "3.0", done.stderr
    assert list((kept / compiled.sources_hash()).rglob("*.nbi"))


def test_changed_kernels_get_another_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    before = compiled.sources_hash()
    (tmp_path / "one_kernel.py").write_text("x = 1", encoding="utf-8")
    monkeypatch.setattr(compiled, "__file__", str(tmp_path / "compiled.py"))
    compiled.sources_hash.cache_clear()
    try:
        assert compiled.sources_hash() != before
    finally:
        monkeypatch.undo()
        compiled.sources_hash.cache_clear()
    assert compiled.sources_hash() == before


def test_models_and_help_need_no_compiler() -> None:
    code = "import sys; from cracktie import clause; clause.discover(); import cracktie.mechanics.strip; "
    done = subprocess.run(
        [sys.executable, "-c", code + "print('numba' in sys.modules)"], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
