"""Independent libraries that some tests compare with: only `dev.py test` installs them."""

from __future__ import annotations

import importlib
import os
from typing import Any

import pytest


def peer(module: str) -> Any:
    """The module; without it the test is skipped, but fails where CI=true promises that it is there."""
    if os.environ.get("CI", "").lower() in ("1", "true"):
        return importlib.import_module(module)
    return pytest.importorskip(module, reason=f"{module} is not installed; `python dev.py test` installs it")
