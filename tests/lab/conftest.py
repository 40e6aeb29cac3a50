"""Paths and small helpers of the laboratory tests."""

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def logs() -> Path:
    """Folder of real laboratory logs (their licence texts lie beside them)."""
    return Path(__file__).resolve().parents[1] / "data" / "logs"
