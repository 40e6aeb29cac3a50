"""A new campaign folder: a small valid one to overwrite, one beam, or the specimens of a table."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from cracktie.campaign.schema import FORMAT
from cracktie.campaign.table import read_table, specimens_of
from cracktie.campaign.write import dump_yaml, write_text
from cracktie.errors import FileTrouble, InputRefused, Problem

ATTRIBUTES = """\
# Raw files are never changed: converting their line ends would change their SHA-256.
logs/** -text
coupons/** -text
photos/** -text
"""
IGNORED = """\
# Computed from the files of this folder; safe to delete.
out/
.*.tmp
"""
HEAD = f"""\
cracktie: {FORMAT}                 # format of this folder
title: Untitled campaign
"""
MATERIALS = """\
# Invented values: replace them by yours. Each value is a number with a unit.
concretes:
  C1: {cast: 2026-03-02, nominal: {f_c: 30 MPa}}
bars:
  B500: {nominal: {f_y: 500 MPa, E_s: 200 GPa}}
  S8: {diameter: 8 mm, nominal: {f_y: 500 MPa}}
frp_systems:
  CF: {fibre: carbon, form: sheet, thickness: 0.167 mm, convention: fibre, mean: {E_f: 230 GPa, f_fu: 3500 MPa}}
"""
SPECIMENS = """\
specimens:
  C1-REF:                     # control beam; letters, digits, '-', '_' and '.' make an id
    batch: C1
    section: {b_w: 200 mm, h: 400 mm}
    bars: [{bars: 3 x 20 mm, depth: 350 mm, material: B500}]   # depth from the top
    between_loads: 600 mm
    spans:                    # A left, B right, seen from the front
      A: {length: 900 mm, stirrups: {material: S8, spacing: 300 mm}}
      B: {length: 900 mm, stirrups: {material: S8, spacing: 100 mm}}
  C1-U:                       # the same beam with U-wraps in span A
    like: C1-REF              # copies the nominal design, not the batch
    batch: C1
    spans: {A: {wrap: {system: CF, scheme: u, layout: strips, width: 60 mm, spacing: 120 mm, first: 120 mm}}}
"""
BEAM = """\
# One beam, for `cracktie predict`. Invented values: replace them by yours.
materials:
  concretes: {C1: {nominal: {f_c: 30 MPa}}}
  bars: {B500: {nominal: {f_y: 500 MPa, E_s: 200 GPa}}, S8: {diameter: 8 mm, nominal: {f_y: 500 MPa}}}
  frp_systems:
    CF: {fibre: carbon, form: sheet, thickness: 0.167 mm, convention: fibre, mean: {E_f: 230 GPa, f_fu: 3500 MPa}}
specimen:
  id: B1
  batch: C1
  section: {b_w: 200 mm, h: 400 mm}
  bars: [{bars: 3 x 20 mm, depth: 350 mm, material: B500}]   # depth from the top
  between_loads: 600 mm
  spans:                      # A left, B right, seen from the front; x from the left support
    A:
      length: 900 mm
      stirrups: {material: S8, spacing: 300 mm}
      wrap: {system: CF, scheme: u, layout: strips, width: 60 mm, spacing: 120 mm, first: 120 mm}
    B: {length: 900 mm, stirrups: {material: S8, spacing: 100 mm}}
"""


def new_campaign(folder: str | Path, *, one_beam: bool = False, table: str | Path | None = None) -> tuple[Path, ...]:
    """Write a new campaign (or `beam.yaml` alone) into an empty folder; returns the files written.

    `table` is a CSV or XLSX file of specimens (`cracktie.campaign.table`). Raises `InputRefused` for a folder that is
    not empty or a faulty table (nothing is written then), `FileTrouble` where writing fails.
    """
    folder = Path(folder)
    _empty(folder)
    texts = {"beam.yaml": BEAM} if one_beam else _texts(table)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileTrouble(f"{folder}: cannot be made ({error.strerror}); choose another place") from None
    for name, text in texts.items():
        write_text(folder / name, text)
    return tuple(folder / name for name in texts)


def _empty(folder: Path) -> None:
    if folder.is_file():
        raise InputRefused(Problem("error", str(folder), "is a file", fix="choose another name for the folder"))
    held = sorted(p.name for p in folder.iterdir() if p.name != ".git") if folder.is_dir() else []
    if held:
        shown = ", ".join(held[:3]) + (" ..." if len(held) > 3 else "")
        raise InputRefused(
            Problem("error", str(folder), f"the folder is not empty (it holds {shown})", fix="choose an empty one")
        )


def _texts(table: str | Path | None) -> dict[str, str]:
    texts = {"campaign.yaml": HEAD, "materials.yaml": MATERIALS, "specimens.yaml": SPECIMENS}
    if table is not None:
        found = specimens_of(read_table(table), Path(table).name)
        texts["specimens.yaml"] = dump_yaml({"specimens": found}, f"# From the table {Path(table).name}.\n")
        texts["materials.yaml"] = dump_yaml(_named_materials(found), NAMED)
    return texts | {".gitattributes": ATTRIBUTES, ".gitignore": IGNORED}


NAMED = """\
# The materials that the table names. Fill in their properties; `cracktie check` lists what is missing.
"""
_KINDS = {
    "concretes": (("batch",),),
    "bars": (("bars", "*", "material"), ("spans", "*", "stirrups", "material")),
    "frp_systems": (("spans", "*", "wrap", "system"), ("soffit", "system")),
    "adhesives": (("spans", "*", "wrap", "adhesive"), ("spans", "*", "anchors", "adhesive")),
    "anchor_fibres": (("spans", "*", "anchors", "fibre"),),
}


def _named_materials(specimens: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Empty entries for every material id the specimens name, by kind."""
    found: dict[str, Any] = {}
    for kind, patterns in _KINDS.items():
        ids: dict[str, Any] = {
            id: {} for beam in specimens.values() for pattern in patterns for id in _match(beam, pattern)
        }
        if ids:
            found[kind] = ids
    return found


def _match(value: Any, pattern: tuple[str, ...]) -> list[str]:
    if not pattern:
        return [str(value)]
    if isinstance(value, list):
        return [text for below in value for text in _match(below, pattern[1:])] if pattern[0] == "*" else []
    if not isinstance(value, dict):
        return []
    keys = list(value) if pattern[0] == "*" else [pattern[0]]
    return [text for key in keys if key in value for text in _match(value[key], pattern[1:])]
