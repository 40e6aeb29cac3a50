"""Writing results into out/: JSON, tidy and wide tables, drawings. Everything there can be made again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.comparison import Comparison
    from cracktie.prediction import Prediction
    from cracktie.reduced import Reduced


def json_text(result: Mapping[str, Any]) -> str:
    """JSON of a result: keys in their own order, numbers as written, no NaN."""
    return json.dumps(result, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_results(
    campaign: Campaign, prediction: Prediction, reduced: Reduced, comparison: Comparison | None, folder: Path
) -> None:
    """JSON and CSV of every result, drawings of every design group, and run.json (the only file with a clock)."""
    from cracktie.campaign.write import write_text

    (folder / "tables").mkdir(parents=True, exist_ok=True)
    named: dict[str, Any] = {"prediction": prediction, "reduced": reduced, "comparison": comparison}
    for name, result in named.items():
        if result is None:
            continue
        write_text(folder / f"{name}.json", json_text(result.to_dict()))
        table = result.to_frame()
        if not table.empty:
            write_text(folder / "tables" / f"{name}.csv", table.to_csv(index=False, lineterminator="\n"))
    _write_drawings(campaign, folder / "drawings")
    write_text(folder / "run.json", json_text(run_facts()))


def run_facts() -> dict[str, Any]:
    """When and with what the results were made; kept apart so that all other files are the same every time."""
    import datetime
    import platform

    from cracktie import __version__

    now = datetime.datetime.now(datetime.timezone.utc).isoformat(timespec="seconds")  # noqa: UP017
    return {"cracktie": __version__, "python": platform.python_version(), "system": platform.system(), "written": now}


def _write_drawings(campaign: Campaign, folder: Path) -> None:
    from cracktie.campaign.write import write_bytes, write_text
    from cracktie.draw.dxf import dxf
    from cracktie.draw.elevation import elevation
    from cracktie.draw.svg import svg

    folder.mkdir(parents=True, exist_ok=True)
    for members in campaign.groups.values():
        specimen = campaign.specimens[members[0]]
        if specimen.kind != "beam":
            continue
        tests = campaign.tests_of(specimen.id)
        first = next(iter(tests.values()), None)
        setup = campaign.rig.setups.get(first.setup) if first is not None and first.setup else None
        scene = elevation(specimen, materials=campaign.materials, setup=setup)
        write_text(folder / f"{specimen.id}.svg", svg(scene))
        write_bytes(folder / f"{specimen.id}.dxf", dxf(scene).encode("utf-8"))
