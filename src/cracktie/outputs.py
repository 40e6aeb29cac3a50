"""Writing results into out/: JSON, tidy and wide tables, drawings. Everything there can be made again."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas

    from cracktie.campaign.schema import Campaign
    from cracktie.compared import Comparison
    from cracktie.prediction import Prediction
    from cracktie.prediction.mechanics import MechanicsPrediction
    from cracktie.reduced import Reduced


def json_text(result: Mapping[str, Any]) -> str:
    """JSON of a result: keys in their own order, numbers as written, no NaN."""
    return json.dumps(result, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_results(
    campaign: Campaign,
    prediction: Prediction,
    reduced: Reduced,
    comparison: Comparison | None,
    folder: Path,
    mechanics: MechanicsPrediction | None = None,
) -> None:
    """JSON and CSV of every result, drawings of every design group, and run.json (the only file with a clock)."""
    from cracktie.campaign.write import write_text

    (folder / "tables").mkdir(parents=True, exist_ok=True)
    made: set[Path] = set()
    named: dict[str, Any] = {
        "prediction": prediction, "reduced": reduced, "comparison": comparison, "mechanics": mechanics
    }  # fmt: skip
    for name, result in named.items():
        if result is None:
            continue
        made.add(folder / f"{name}.json")
        write_text(folder / f"{name}.json", json_text(result.to_dict()))
        text = table_text(result.to_frame())
        if text:
            made.add(folder / "tables" / f"{name}.csv")
            write_text(folder / "tables" / f"{name}.csv", text)
    made |= set(_write_drawings(campaign, folder / "drawings"))
    made |= {folder / "reduced" / f"{name}.json" for name in reduced.tests}
    _remove_stale(folder, made, named)
    write_text(folder / "run.json", json_text(run_facts()))


def table_text(table: pandas.DataFrame) -> str:
    """CSV of a tidy table: `sign` holds >= before a lower bound, lists become one text; empty for an empty table."""
    if table.empty:
        return ""
    shown = table.copy()
    shown.insert(list(shown.columns).index("value"), "sign", [">=" if bound else "" for bound in shown["bound"]])
    for name in shown.columns:
        if any(isinstance(v, (list, tuple)) for v in shown[name]):
            shown[name] = ["; ".join(map(str, v)) if isinstance(v, (list, tuple)) else v for v in shown[name]]
    return str(shown.to_csv(index=False, lineterminator="\n"))


def _remove_stale(folder: Path, made: set[Path], named: Mapping[str, Any]) -> None:
    """Remove what an earlier run wrote and this one does not; files of other names are left alone."""
    ours = [folder / f"{name}.json" for name in named]
    ours += [folder / "tables" / f"{name}.csv" for name in named]
    for kind, ends in {"reduced": (".json",), "drawings": (".svg", ".dxf")}.items():
        ours += [p for p in (folder / kind).glob("*") if p.suffix in ends]
    for path in ours:
        if path not in made:
            path.unlink(missing_ok=True)


def run_facts() -> dict[str, Any]:
    """When and with what the results were made; kept apart so that all other files are the same every time."""
    import datetime
    import platform

    from cracktie import __version__

    now = datetime.datetime.now(datetime.timezone.utc).isoformat(timespec="seconds")  # noqa: UP017
    return {"cracktie": __version__, "python": platform.python_version(), "system": platform.system(), "written": now}


def kept_between_runs() -> dict[str, Path]:
    """What a first run on a machine makes for later ones and is there now: compiled kernels, the list of fonts."""
    import matplotlib

    from cracktie.mechanics.compiled import cache_base, sources_hash

    kernels, fonts = cache_base() / sources_hash(), Path(matplotlib.get_cachedir())
    found = {"compiled kernels": kernels} if kernels.is_dir() else {}
    if any(fonts.glob("fontlist-*.json")):
        found["a list of fonts"] = fonts
    return found


def _write_drawings(campaign: Campaign, folder: Path) -> Iterator[Path]:
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
        yield from (folder / f"{specimen.id}.svg", folder / f"{specimen.id}.dxf")
