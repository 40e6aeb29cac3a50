"""The picture of the README: its width, its mark, and that it stands in the repository."""

from __future__ import annotations

import importlib.util
import struct
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_readme_picture", ROOT / "tools" / "make_readme_picture.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def size(png: bytes) -> tuple[int, int]:
    """Width and height from the header chunk of a PNG file."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def test_a_picture_is_as_wide_as_asked(script: ModuleType) -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 170 85"><rect width="170" height="85" fill="red"/></svg>'
    )
    made = script.png(svg)
    width, height = size(made)
    assert abs(width - 1400) <= 1
    assert height == pytest.approx(1400 * (10 + 85) / 180, abs=2)
    assert script.png(svg) == made
    assert script.png(svg.replace("red", "blue")) != made


def test_the_picture_is_there(script: ModuleType) -> None:
    assert abs(size(script.PICTURE.read_bytes())[0] - 1400) <= 1


@pytest.mark.slow
def test_the_figure_says_that_it_is_simulated(script: ModuleType, tmp_path: Path) -> None:
    assert "<!-- SIMULATED DATA -->" in script.demo_figure(tmp_path / "demo")
