"""A small campaign on disk, made from mappings, with a log whose readings are known by hand."""

from __future__ import annotations

import copy
import json
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:  # the evidence scripts lie beside src/, not in it
    sys.path.insert(0, str(ROOT))

MATERIALS = {
    "concretes": {"c": {"nominal": {"f_c": "30 MPa"}, "weight": "25 kN/m3"}},
    "bars": {"d20": {"diameter": "20 mm", "nominal": {"f_y": "500 MPa"}}},
    "frp_systems": {
        "cf": {
            "fibre": "carbon",
            "form": "sheet",
            "thickness": "0.2 mm",
            "convention": "fibre",
            "mean": {"E_f": "230 GPa", "f_fu": "3500 MPa"},
        }
    },
}
SPECIMENS = {
    "S": {
        "batch": "c",
        "section": {"b_w": "200 mm", "h": "400 mm"},
        "bars": [{"bars": "3 x 20 mm", "depth": "350 mm", "material": "d20"}],
        "overhang_left": "200 mm",
        "overhang_right": "200 mm",
        "spans": {
            "A": {
                "length": "1000 mm",
                "wrap": {
                    "system": "cf",
                    "scheme": "u",
                    "layout": "strips",
                    "width": "60 mm",
                    "positions": "200, 400, 600 mm",
                },
            },
            "B": {"length": "1500 mm"},
        },
    }
}
CHANNELS = [
    {"name": "P", "quantity": "load", "unit": "kN", "at": "load"},
    {"name": "D", "quantity": "displacement", "unit": "mm", "at": "load", "uncertainty": "0.02 mm"},
    {"name": "G1", "quantity": "FRP strain", "strip": 1, "x": "200 mm", "z": "200 mm"},
    {"name": "G2", "quantity": "FRP strain", "strip": 2, "x": "400 mm", "z": "200 mm"},
]
RIG = {
    "setups": {
        "one": {
            "supports": [{"x": "0 mm"}, {"x": "2500 mm"}],
            "loads": [{"x": "1000 mm"}],
            "weight": "2 kN",
            "weight_in_cell": False,
            "cell_uncertainty": "0.4 %",
            "position_uncertainty": "3 mm",
        }
    },
    "layouts": {"all": {"channels": CHANNELS}},
}
TESTS = {
    "tests": {
        "T": {
            "specimen": "S",
            "setup": "one",
            "layout": "all",
            "logs": ["logs/T.csv"],
            "outcome": "shear in studied span",
        }
    }
}
REDUCTION = {"tests": {"T": {"zeros": [{"start": "0 s", "end": "18 s"}]}}}


def record() -> dict[str, np.ndarray]:
    """20 s of rest, 180 s of loading to 100 kN, 9 mm, 2000 and 1500 um/m, a fall to 60 kN; 2 readings a second.

    kN, mm, um/m; after the peak the strains sink slowly (a frozen reading would be a lost gauge).
    """
    time = np.arange(0.0, 220.0, 0.5)
    up = np.clip((time - 20.0) / 180.0, 0.0, 1.0)
    load = np.where(time <= 200.0, 100.0 * up, 60.0)
    deflection = np.where(time <= 200.0, 9.0 * up, 9.0 + 0.02 * (time - 200.0))
    strain = up * np.where(time <= 200.0, 1.0, 0.97 - 0.002 * (time - 200.0))
    return {"Time": time, "P": load, "D": deflection, "G1": 2000.0 * strain, "G2": 1500.0 * strain}


def csv(columns: dict[str, np.ndarray], units: dict[str, str] | None = None) -> str:
    """Text of a log: names with units in brackets, readings with six decimals."""
    known = {"Time": "s", "P": "kN", "D": "mm", "G1": "um/m", "G2": "um/m"} | (units or {})
    head = ",".join(f"{name} [{known[name]}]" if known.get(name) else name for name in columns)
    rows = zip(*columns.values(), strict=True)
    return head + "\n" + "\n".join(",".join(f"{v:.6f}" for v in row) for row in rows) + "\n"


@pytest.fixture
def plain():
    """(record, csv): functions that make and write the usual readings."""
    return record, csv


@pytest.fixture
def build(tmp_path):
    """build(**changes) writes the campaign and reads it: `logs` name -> text or bytes, other keywords replace files."""
    from cracktie.actions import open_campaign

    def make(*, logs=None, rig=RIG, tests=TESTS, specimens=SPECIMENS, reduction=REDUCTION, folder="campaign"):
        root = Path(tmp_path) / folder
        (root / "logs").mkdir(parents=True, exist_ok=True)
        files = {
            "campaign.yaml": {"cracktie": 1, "title": "small campaign"},
            "materials.yaml": MATERIALS,
            "specimens.yaml": {"specimens": specimens},
            "rig.yaml": rig,
            "tests.yaml": tests,
            "reduction.yaml": reduction,
        }
        for name, content in files.items():
            (root / name).write_text(json.dumps(content, indent=1) + "\n", encoding="utf-8")
        for name, content in (logs or {"logs/T.csv": csv(record())}).items():
            data = content if isinstance(content, bytes) else content.encode("utf-8")
            (root / name).write_bytes(data)
        return open_campaign(root)

    return make


@pytest.fixture
def changed():
    """changed("rig" | "tests" | "specimens" | "reduction", function): a copy that the function has altered."""
    kept = {"rig": RIG, "tests": TESTS, "specimens": SPECIMENS, "reduction": REDUCTION}

    def make(name, alter):
        copied = copy.deepcopy(kept[name])
        alter(copied)
        return {name: copied}

    return make
