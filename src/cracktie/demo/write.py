"""Write the demo campaign: its files, its simulated logs and their planted truth."""

from __future__ import annotations

import json
import shutil
from importlib.resources import files
from pathlib import Path
from typing import Any

from cracktie.campaign.read import read_campaign
from cracktie.campaign.write import write_bytes
from cracktie.demo.scenario import FAULTS
from cracktie.errors import FileTrouble, InputRefused, Problem
from cracktie.plan.rehearse import SimulatedLogs, rehearse
from cracktie.plan.truth import Law

SHIPPED_SEED = 20417
"""Seed of the demo; observations.yaml (loads of failure modes, crack lines) belongs to this seed."""
TRUTH_FILE = "truth.json"
NOTE = (
    "Invented. What was planted in the simulated logs of this demo, from our own toy law and a seeded scatter. The law "
    "is no model of this tool, so agreement of a prediction with these numbers is never evidence. Shears V are true "
    "totals at mid shear span: true load + rig weight the cell did not see + self-weight, with supports, load and "
    "weight as they really are. placing: shifts of their axes in mm and the relative error of the weight; "
    "instrument_errors: relative gain of the cell, errors of transducers at the end and in the middle of their travel. "
    "A perfect reduction misses by these errors. results: values a perfect reduction of perfect records would give, by "
    "the names of results; shares: V and what concrete, stirrups and fibres carry of it where V first reaches parts of "
    "V_max. Two rigid blocks part at the crack and stretch strips and stirrups, whose bond says what they carry; the "
    "concrete carries what is left of V. resistance_parts are what the law made V_max of; they need not equal the "
    "shares. legs: strain at the crack, at V_max. Units: N, mm, MPa, "
    "degrees, s; offsets, spikes, lost gauges and transducer errors by channel, in logger units or seconds of the "
    "first log, whose time plus clock_lag_of_second_log is the time of the second."
)


def write_demo(folder: str | Path, seed: int = SHIPPED_SEED) -> Path:
    """Write the demo campaign into a new or empty folder and return it. The same seed gives the same bytes.

    Raises `InputRefused` when the folder holds anything, `FileTrouble` where a file cannot be written; then, and when
    it is stopped, nothing of the demo is left behind.
    """
    folder = Path(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        what = "is not empty; the demo never writes over files" if folder.is_dir() else "is a file"
        raise InputRefused(Problem("error", str(folder), what, fix="name a new folder"))
    there = folder.exists()
    try:
        _write_all(folder, seed)
    except BaseException:
        for part in folder.iterdir() if folder.is_dir() else ():  # the folder was empty: all in it is ours
            shutil.rmtree(part, ignore_errors=True) if part.is_dir() else part.unlink(missing_ok=True)
        if not there and folder.is_dir():
            folder.rmdir()
        raise
    return folder


def _write_all(folder: Path, seed: int) -> None:
    try:
        (folder / "logs").mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileTrouble(f"{folder}: cannot be made ({error.strerror}); choose another place") from None
    for name, text in demo_files().items():
        write_bytes(folder / name, text)
    for name in _log_names(folder):  # the reader wants every named log to be there
        (folder / name).touch()
    simulated = rehearse(read_campaign(folder), seed, FAULTS)
    for test in simulated.values():
        for name, data in test.files.items():
            write_bytes(folder / name, data)
    write_bytes(folder / TRUTH_FILE, truth_text(simulated, seed).encode("utf-8"))


def demo_files() -> dict[str, bytes]:
    """The demo's own files by name, line ends as in the repository (LF)."""
    source = files("cracktie.demo").joinpath("campaign")
    found = sorted((f.name, f.read_bytes()) for f in source.iterdir() if f.name.endswith(".yaml"))
    return {name: data.replace(b"\r\n", b"\n") for name, data in found}


def truth_text(simulated: dict[str, SimulatedLogs], seed: int) -> str:
    """The text of truth.json: a note, the law's own numbers and the planted quantities of every test."""
    tests: dict[str, Any] = {name: found.truth for name, found in simulated.items()}
    whole = {"simulated": True, "note": NOTE, "seed": seed, "law": vars(Law()), "tests": tests}
    return json.dumps(_rounded(whole), indent=1, ensure_ascii=True) + "\n"


def _rounded(value: Any) -> Any:
    """Nine significant digits, so that the last bit of a platform's mathematics does not change the file."""
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    return float(f"{value:.9g}") if isinstance(value, float) else value


def _log_names(folder: Path) -> list[str]:
    from ruamel.yaml import YAML

    tests = YAML(typ="safe", pure=True).load((folder / "tests.yaml").read_text(encoding="utf-8"))["tests"]
    return [name for test in tests.values() for name in test.get("logs", ())]
