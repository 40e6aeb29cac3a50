"""Is u of V_f from strain gauges honest? Random strips and sheets at random cracks, read by gauges, reduced and judged.

The truth is the sum of the fibres' vertical forces across the true crack at V_max (`evidence._strips`). Every beam is
read by several gauge plans from the same truth; gauges sit and read as gauges do: off their place by some millimetres,
mean over their length, one line of a strip whose strain differs over the width, gauge factor and amplifier off, zero
drift, noise, some dead, some lost on the way. The crack is digitised with error, on one face or two, or not at all.
"""

from __future__ import annotations

import json
import math
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.campaign.choices import Reduction
from cracktie.campaign.materials import Materials
from cracktie.campaign.schema import Campaign, Head
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Observations, Rig, Test
from cracktie.mechanics.strip import Anchor
from cracktie.reduction import reduce_test
from evidence._frame import run_chunks, write_json
from evidence._strips import STEPS, WIDEST, Leg, Wrapped, draw_bond, draw_cracks, legs

BEAMS = 300
SEED = 8112
PLANS = ("three rows", "one row", "nine rows", "crack band")
SHEET_PLANS = ("sheet, 3 places", "sheet, 5 places", "sheet, 9 places")
SHEET_SLICES = 24
STATES = 20
"""States of a leg at which its gauges are evaluated on the way to V_max."""
DEAD, LOST = 0.05, 0.02
ACROSS = 0.05
"""Coefficient of variation of the strain at the gauge over the mean of its slice (own number)."""
GAUGE_LENGTHS = (2.0, 3.0, 5.0, 6.0, 10.0)


def draw_beam(rng: np.random.Generator) -> tuple[Wrapped, dict[str, Any]]:
    """A beam as it really is, and what its papers say of it (stated values with their own uncertainty)."""
    h, b_w = float(rng.uniform(220, 600)), float(rng.uniform(120, 320))
    length = h * float(rng.uniform(2.2, 3.4))
    scheme = str(rng.choice(["side", "u", "u", "full"]))
    anchored = scheme == "u" and bool(rng.random() < 0.4)
    layout = "continuous" if rng.random() < 0.25 else "strips"
    beta = float(rng.choice([90.0, 90.0, 90.0, 45.0, 60.0]))
    low, high = (0.0, h) if scheme == "full" else (0.0 if scheme == "u" else 0.05 * h, h * float(rng.uniform(0.75, 1)))
    f_c = float(rng.uniform(18, 55))
    plies, ply = int(rng.choice([1, 1, 1, 2])), float(rng.uniform(0.11, 0.35))
    modulus = float(rng.choice([72e3, 120e3, 230e3, 240e3, 390e3]))
    stated = bool(rng.random() < 0.5)
    u_modulus = float(rng.uniform(0.01, 0.03)) if stated else 0.035
    true_modulus = modulus * (1.0 + u_modulus * float(rng.normal()))
    if layout == "strips":
        width = float(rng.uniform(30, 100))
        spacing = width / math.sin(math.radians(beta)) * float(rng.uniform(1.6, 3.5))
        first = float(rng.uniform(0.3, 1.0)) * spacing
        said = tuple(np.arange(first, length - 0.5 * width / math.sin(math.radians(beta)), spacing))
        centres = tuple(float(x + rng.normal(0.0, 2.0)) for x in said)
        glued = width + float(rng.uniform(-1.0, 1.0))
    else:
        edges = np.linspace(0.0, length, SHEET_SLICES + 1)
        said, spacing = (), 1.0
        centres = tuple((edges[1:] + edges[:-1]) / 2)
        width = glued = float(edges[1]) * math.sin(math.radians(beta))
    cover = min(width / spacing, 1.0) if layout == "strips" else 1.0
    stiffness = true_modulus * plies * ply * float(rng.normal(1.0, 0.01))
    anchor = None
    if anchored:
        strong = stiffness * 0.017 * glued / (3 if layout == "strips" else 1)
        anchor = Anchor(strong * rng.uniform(0.3, 2.0), strong * rng.uniform(0.3, 0.8), 0.5, 0.1)
    beam = Wrapped(
        h, b_w, length, scheme, anchored, layout, beta, low, high, glued, centres, stiffness,
        draw_bond(rng, f_c, cover, stiffness), draw_cracks(rng, h, length, WIDEST), anchor, int(rng.integers(2**31)),
    )  # fmt: skip
    papers = {
        "f_c": f_c, "plies": plies, "thickness": ply, "E_f": modulus, "u_E": u_modulus * modulus if stated else None,
        "width": width, "positions": [float(x) for x in said],
    }  # fmt: skip
    return beam, papers


def state_at_peak(found: list[Leg], beam: Wrapped, rng: np.random.Generator) -> int:
    """State at V_max: near the largest V_f, earlier or later by a factor of about 1.4; no fibre beyond 1.4 %."""
    total = np.sum([leg.force for leg in found], axis=0)
    strain = np.max([leg.force for leg in found], axis=0) / (beam.stiffness * beam.width)
    most = int(np.argmax(np.where(strain < 0.014, total, -1.0)))
    share = ((most + 1) / STEPS) ** 1.7 * float(rng.lognormal(-0.05, 0.35))
    at = int(np.clip(round(min(share, 1.0) ** (1 / 1.7) * STEPS) - 1, 3, STEPS - 1))
    while at > 3 and strain[: at + 1].max() >= 0.014:
        at -= 1
    return at


def crack_lines(beam: Wrapped, rng: np.random.Generator) -> list[dict[str, Any]]:
    """The digitised lines: both faces, the front alone, or (one beam in ten) none."""
    chance = rng.random()
    faces = () if chance < 0.1 else ("front",) if chance < 0.55 else ("front", "back")
    found = []
    for face in faces:
        crack, n = beam.cracks[face], int(rng.integers(4, 11))
        z = np.linspace(crack.z[0], crack.z[-1], n)
        x = np.interp(z, crack.z, crack.x)
        shift = rng.normal(0.0, 4.0, 2)
        x, z = x + shift[0] + rng.normal(0.0, 3.0, n), z + shift[1] + rng.normal(0.0, 3.0, n)
        points = sorted(zip(z, x, strict=True))
        found.append({"face": face, "critical": True, "x": [p[1] for p in points], "z": [p[0] for p in points]})
    return found


def expected_height(beam: Wrapped, x: float, rng: np.random.Generator) -> float:
    """Where the engineer expects the crack before the test: 45 degrees (or 35) through the middle of the span."""
    angle = math.radians(float(rng.choice([35.0, 45.0])))
    return beam.h / 2 + (x - beam.length / 2) * math.tan(angle)


def gauge_places(beam: Wrapped, papers: Mapping[str, Any], plan: str, rng: np.random.Generator) -> list[dict[str, Any]]:
    """Gauges of a plan: strip (None on a sheet), face, and the heights they are said to be at."""
    faces = ("front", "back") if rng.random() < 0.6 else ("front",)
    reach, places = beam.high - beam.low, []
    if beam.layout == "continuous":
        count = int(plan.split()[1])
        theta = math.radians(float(rng.choice([35.0, 45.0])))
        for face in faces:
            for z in beam.low + reach * (np.arange(count) + 0.7) / (count + 0.4):
                x = beam.length / 2 + (z - beam.h / 2) / math.tan(theta)
                if 5.0 < x < beam.length - 5.0:
                    places.append({"strip": None, "face": face, "x": float(x), "z": float(z)})
        return places
    rows = {"three rows": (0.25, 0.5, 0.75), "one row": (0.5,), "nine rows": tuple(np.linspace(0.1, 0.9, 9))}
    every = 2 if rng.random() < 0.25 else 1
    for face in faces:
        for number, x in enumerate(papers["positions"], start=1):
            if number % every:
                continue
            heights = [beam.low + share * reach for share in rows.get(plan, ())]
            if plan == "crack band":
                heights = [min(max(expected_height(beam, x, rng), beam.low + 10.0), beam.high - 10.0)]
            places += [{"strip": number, "face": face, "x": x, "z": float(z)} for z in heights]
    return places


def readings(
    beam: Wrapped, found: list[Leg], at: int, places: list[dict[str, Any]], rng: np.random.Generator
) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Channels and strains (rows,) of gauges in um/m from the zero to a little after V_max, as a logger shows them."""
    gauge_length = float(rng.choice(GAUGE_LENGTHS))
    said = str(rng.choice(["", "1 %", "0.5 %"]))
    limit = {"": 0.01 * math.sqrt(3), "1 %": 0.01, "0.5 %": 0.005}[said]
    true_z = [place["z"] + float(rng.normal(0.0, 2.0)) for place in places]
    under = [_leg_under(beam, found, place, rng) for place in places]
    grid = np.linspace(0.0, 1.0, STATES + 1)  # openings over that at V_max
    strains = np.zeros((len(grid), len(places)))
    for leg in found:
        own = [i for i, one in enumerate(under) if one is leg]
        if own:
            openings = grid[1:] * leg.opening[at]
            strains[1:, own] = leg.strains(beam, [true_z[i] for i in own], gauge_length, openings)
    rise = np.linspace(0.0, 1.0, 150)
    channels, columns = [], {}
    for i, place in enumerate(places):
        name = f"G{i}"
        strain = np.interp(rise, grid, strains[:, i]) * float(rng.lognormal(0.0, ACROSS))
        strain = strain * (1 + limit * rng.uniform(-1, 1))
        whole = np.concatenate([np.zeros(20), strain, strain[-1] * np.linspace(0.95, 0.5, 12)])
        row = np.arange(len(whole))
        whole = 1e6 * whole + rng.uniform(-80, 80) + rng.uniform(-10, 10) * row / len(row)
        whole = whole + rng.normal(0.0, 2.0, len(row))
        chance = rng.random()
        if chance < DEAD:
            continue
        if chance < DEAD + LOST:
            whole[int(rng.integers(40, len(row))) :] = 39999.0
        lean = (place["z"] - beam.h / 2) * beam.cot if beam.layout == "strips" else 0.0
        entry = {"name": name, "quantity": "FRP strain", "unit": "um/m", "x": place["x"] - lean, "z": place["z"]}
        entry |= {"face": place["face"], "direction": 180.0 - beam.beta, "gauge_length": gauge_length}
        if place["strip"] is not None:
            entry["strip"] = place["strip"]
        if said:
            entry["uncertainty"] = said
        channels.append(entry)
        columns[name] = whole
    return channels, columns


def _leg_under(beam: Wrapped, found: list[Leg], place: Mapping[str, Any], rng: np.random.Generator) -> Leg | None:
    """The leg (on a sheet the slice) a gauge sits on; None where the crack does not cross it."""
    number = place["strip"]
    if number is None:
        x = place["x"] + (place["z"] - beam.h / 2) * beam.cot + rng.normal(0.0, 3.0)
        number = int(np.argmin(np.abs(np.asarray(beam.centres) - x))) + 1
    return next((leg for leg in found if leg.number == number and leg.face == place["face"]), None)


def campaign_of(
    beam: Wrapped, papers: Mapping[str, Any], lines: list[dict[str, Any]], channels: list[dict[str, Any]], folder: Path
) -> Campaign:
    """The campaign as its engineer would write it, in memory; the log lies in `folder`."""
    system = {
        "fibre": "carbon", "form": "sheet", "thickness": papers["thickness"], "convention": "fibre",
        "mean": {"E_f": _stated(papers["E_f"], papers["u_E"]), "f_fu": 0.015 * papers["E_f"]},
    }  # fmt: skip
    wrap: dict[str, Any] = {
        "system": "f", "scheme": beam.scheme, "layout": beam.layout, "plies": papers["plies"], "beta": beam.beta,
        "bottom_edge": beam.low, "top_edge": beam.high,
    }  # fmt: skip
    if beam.layout == "strips":
        wrap |= {"width": papers["width"], "positions": papers["positions"]}
    span: dict[str, Any] = {"length": beam.length, "wrap": wrap}
    if beam.anchored and beam.layout == "strips":
        span["anchors"] = {
            "fibre": "tow", "host": "web", "z": beam.high - 5.0, "embedment": 60.0, "dowel_diameter": 10.0,
            "hole_diameter": 12.0, "fibre_area": 30.0, "fan": {"form": "one_way", "length": 80.0, "angle": 40.0},
        }  # fmt: skip
    specimen = Specimen.model_validate({
        "id": "S", "batch": "c", "section": {"b_w": beam.b_w, "h": beam.h},
        "bars": [{"bars": "3 x 25 mm", "depth": beam.h - 45.0, "material": "s"}],
        "spans": {"A": span, "B": {"length": beam.length}},
    })  # fmt: skip
    test = {"specimen": "S", "setup": "r", "layout": "l", "logs": ["T.csv"], "state": "precracked"}
    rig = {
        "setups": {"r": {"supports": [{"x": 0}, {"x": 2 * beam.length}], "loads": [{"x": beam.length}]}},
        "layouts": {"l": {"channels": [{"name": "P", "quantity": "load", "unit": "kN"}, *channels]}},
    }
    materials = {
        "concretes": {"c": {"measured": {"f_c": papers["f_c"]}}},
        "bars": {"s": {"diameter": 25, "nominal": {"f_y": 500}}},
        "frp_systems": {"f": system},
        "anchor_fibres": {"tow": {"fibre": "carbon", "tow_area": 0.9, "mean": {"E_f": 230e3, "f_fu": 3500}}},
    }
    return Campaign(
        head=Head(), materials=Materials.model_validate(materials), specimens={"S": specimen},
        tests={"T": Test.model_validate({**test, "outcome": "shear in studied span"})},
        rig=Rig.model_validate(rig),
        observations=Observations.model_validate({"specimens": {"S": {"crack_lines": lines}}}),
        reduction=Reduction.model_validate({"tests": {"T": {"zeros": [{"start": 0.0, "end": 9.0}]}}}),
        folder=folder,
    )  # fmt: skip


def _stated(value: float, u: float | None) -> Any:
    return value if u is None else f"{value:.0f} +- {u:.0f} MPa"


def write_log(folder: Path, columns: Mapping[str, Any], rows: int) -> None:
    """A logger's file: time, a load that grows to V_max and falls, strains."""
    rise = np.sin(np.linspace(0.0, math.pi / 2, 150)) ** 0.8
    load = np.concatenate([np.zeros(20), 300.0 * rise, 180.0 * np.ones(12)])
    table = np.column_stack([np.arange(rows) * 0.5, load, *columns.values()])
    head = ",".join(["Time [s]", "P [kN]", *(f"{name} [um/m]" for name in columns)])
    np.savetxt(folder / "T.csv", table, fmt="%.2f", delimiter=",", header=head, comments="")


def judge_beam(rng: np.random.Generator, folder: Path, plans: Iterable[str] = ()) -> list[dict[str, Any]]:
    """One beam read by every plan (of its layout): truth, value, u and circumstances; V None where none was given."""
    while True:
        beam, papers = draw_beam(rng)
        found = legs(beam)
        if found and max(leg.force.max() for leg in found) > 0.0:
            break
    at = state_at_peak(found, beam, rng)
    rise = math.sin(math.radians(beam.beta))
    truth = float(sum(leg.force[at] for leg in found)) * rise
    largest = max(float(leg.force.max()) for leg in found)
    gone = sum(leg.force[at] < 0.25 * leg.force[: at + 1].max() for leg in found) / len(found)
    lines = crack_lines(beam, rng)
    rows = []
    for plan in plans or (SHEET_PLANS if beam.layout == "continuous" else PLANS):
        places = gauge_places(beam, papers, plan, rng)
        channels, columns = readings(beam, found, at, places, rng)
        write_log(folder, columns, 182)
        result = reduce_test(campaign_of(beam, papers, lines, channels, folder), "T")
        got = result.values.get("V_f_strain")
        rows.append({
            "plan": plan, "scheme": beam.scheme + ("+" if beam.anchored else ""), "law": beam.bond.kind,
            "lines": len(lines), "legs": len(found), "gone": float(gone), "truth": truth, "largest": largest,
            "V": None if got is None else got.value, "u": None if got is None else got.u,
        })  # fmt: skip
    return rows


def table(rows: Iterable[Mapping[str, Any]], key: str) -> dict[str, dict[str, Any]]:
    """By plan (or another key): number, not given, coverage within 2 u, bias, scatter and width."""
    groups: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in rows:
        groups[str(row[key])].append(row)
    return {name: _line(groups[name]) for name in sorted(groups)}


def _line(rows: list[Mapping[str, Any]]) -> dict[str, Any]:
    given = [r for r in rows if r["V"] is not None and r["u"]]
    found: dict[str, Any] = {"number": len(rows), "not_given": len(rows) - len(given)}
    if not given:
        return found
    V, u, truth = (np.array([r[k] for r in given], dtype=float) for k in ("V", "u", "truth"))
    z, ratio = (V - truth) / u, V / np.maximum(truth, 1.0)
    p10, p50, p90 = np.percentile(ratio, [10, 50, 90])
    return found | {
        "coverage": float(np.mean(np.abs(z) <= 2.0)), "mean_z": float(np.mean(np.clip(z, -10, 10))),
        "too_low": float(np.mean(z < -2.0)), "too_high": float(np.mean(z > 2.0)), "ratio_10": float(p10),
        "ratio_50": float(p50), "ratio_90": float(p90), "median_relative_u": float(np.median(u / V)),
    }  # fmt: skip


def summary(rows: list[Mapping[str, Any]]) -> dict[str, Any]:
    """All tables: by plan, scheme, number of digitised faces and law."""
    found = {f"by_{key}": table(rows, key) for key in ("plan", "scheme", "lines", "law")}
    return {"all": _line(rows), **found}


def work(rng: np.random.Generator, size: int) -> list[dict[str, Any]]:
    """Rows of `size` random beams."""
    with tempfile.TemporaryDirectory() as folder:
        return [row for _ in range(size) for row in judge_beam(rng, Path(folder))]


def main() -> int:
    """All beams; writes docs/evidence/strain_shares.json."""
    parts = run_chunks("strain_shares", work, samples=BEAMS, size=5, seed=SEED)
    found = summary([row for part in parts for row in part])
    write_json("strain_shares", found, samples=BEAMS, seed=SEED)
    print(json.dumps(found, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
