"""Paths and small helpers of the laboratory tests."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the evidence package beside the tests


@pytest.fixture(scope="session")
def logs() -> Path:
    """Folder of real laboratory logs (their licence texts lie beside them)."""
    return Path(__file__).resolve().parents[1] / "data" / "logs"
