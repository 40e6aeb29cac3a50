"""Reports to look at: the invented demo campaign, run once, and one small beam without tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The demo campaign with simulated logs, everything run."""
    from cracktie import actions

    return actions.demo(tmp_path_factory.mktemp("report") / "demo")


@pytest.fixture(scope="session")
def demo_document(demo_run: Any) -> Any:
    """The blocks of the demo's report."""
    from cracktie.report.document import build

    return build(demo_run.campaign, demo_run.prediction, demo_run.reduced, demo_run.comparison)


@pytest.fixture(scope="session")
def out(demo_run: Any) -> Path:
    """Folder with the results of the demo."""
    return Path(demo_run.html.parent)


@pytest.fixture
def one_beam(t_beam: Any, materials: Any) -> Any:
    """A campaign of one wrapped beam without tests, and its predictions."""
    from cracktie import actions

    campaign = actions.single_beam(t_beam, materials)
    return campaign, actions.predict(campaign)
