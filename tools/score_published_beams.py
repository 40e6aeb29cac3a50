"""Test over prediction of V_f for a table of beam tests, per FRP model and wrap scheme.

    python tools/score_published_beams.py TABLE.csv [--json] [--against rho_E|f_c|d_fv|rho_w]

The table (CSV, one beam a row) has the columns `scheme` (S side, U U-wrap, UA anchored U-wrap, W closed), `section`
(R, T, I), `fibre` (CFRP, GFRP, AFRP, other = hybrid), `fc`, `Ef`, `ffu` in MPa, `bw`, `h`, `d`, `h_frp` (depth of the
lower FRP edge), `top_gap` (depth of the upper edge), `tf` (all plies), `wf` across the fibres, `sf` along the axis,
`stirrup_d`, `stirrup_s` in mm, `beta` in degrees, `Vf` in kN and `issues` (text; 'LOWER bound' marks a test that did
not fail in shear). Strips that touch count as a continuous sheet.

Not in the table and assumed: f_ctm = 0.3 (f_c - 8)^(2/3) and f_ctk = 0.7 f_ctm (EN 1992-1-1:2004, Table 3.1), stirrups
with two legs of 200 GPa, wet lay-up, corner radius 20 mm, crack at 45 degrees, flange of T-beams down to the upper FRP
edge.

A beam leaves the statistics of a model where the model gives no value, predicts zero or the test is a lower bound; each
is counted. Agreement with a table on which a formula was fitted proves little; many of these formulas were.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.clause import all_models, evaluate
from cracktie.mechanics import frp_geometry as geometry

SCHEMES = {"S": ("side", False), "U": ("u", False), "UA": ("u", True), "W": ("full", False)}
FIBRES = {"CFRP": "carbon", "GFRP": "glass", "AFRP": "aramid"}
WORDS = {"form": "test", "edition": "si", "frp_form": "sheet"}
NUMBERS = (
    "fc",
    "bw",
    "h",
    "d",
    "h_frp",
    "top_gap",
    "Ef",
    "tf",
    "ffu",
    "wf",
    "sf",
    "beta",
    "stirrup_d",
    "stirrup_s",
    "Vf",
)
TRENDS = ("rho_E", "f_c", "d_fv", "rho_w")
LEAST = 3
"""Beams from which a coefficient of variation and a trend are worth printing."""


def read(path: Path) -> list[dict[str, Any]]:
    """Rows of the table with numbers as floats; ends the program with a message where a column or number is missing."""
    import csv

    with path.open(encoding="utf-8", newline="") as file:
        rows: list[dict[str, Any]] = list(csv.DictReader(file))
    lacking = [n for n in (*NUMBERS, "scheme", "section", "fibre", "issues") if not rows or n not in rows[0]]
    if lacking:
        raise SystemExit(f"{path}: needs the columns {', '.join(lacking)}")
    for line, row in enumerate(rows, start=2):
        if None in row or None in row.values():
            raise SystemExit(
                f"{path}:{line}: not as many fields as the head has columns (a decimal comma, 0,165 for 0.165?)"
            )
        if row["scheme"] not in SCHEMES:
            raise SystemExit(f"{path}:{line}: scheme {row['scheme']!r}; possible: {', '.join(SCHEMES)}")
        for name in NUMBERS:
            try:
                row[name] = float(row[name])
            except ValueError:
                raise SystemExit(f"{path}:{line}: {name} = {row[name]!r} is not a number") from None
    return rows


def inputs_of(row: dict[str, Any]) -> dict[str, Any]:
    """Inputs of every FRP model for one beam."""
    scheme, anchored = SCHEMES[row["scheme"]]
    f_ctm = 0.3 * max(row["fc"] - 8.0, 1.0) ** (2 / 3)
    touching = geometry.spacing_across(s_f=row["sf"], beta=row["beta"]) * (1 - 1e-3)
    layout = "continuous" if row["wf"] >= touching else "strips"
    stirrups = row["stirrup_s"] > 0
    made = {
        **WORDS, "scheme": scheme, "anchored": anchored, "layout": layout, "fibre": FIBRES.get(row["fibre"], "hybrid"),
        "f_c": row["fc"], "f_cm": row["fc"], "f_ctm": f_ctm, "f_ctk": 0.7 * f_ctm, "n": 1.0, "t_f": row["tf"],
        "w_f": row["wf"], "s_f": row["sf"], "beta": row["beta"], "E_f": row["Ef"], "f_fu": row["ffu"],
        "eps_fu": row["ffu"] / row["Ef"], "b_w": row["bw"], "h": row["h"], "d": row["d"],
        "h_flange": row["top_gap"] if row["section"] == "T" else 0.0, "z_t": row["top_gap"], "d_frp": row["h_frp"],
        "d_fv": row["d"] - row["top_gap"], "r_corner": 20.0, "theta": 45.0, "C_E": 1.0, "eta_a": 1.0, "FC": 1.0,
        "A_sw": math.pi / 2 * row["stirrup_d"] ** 2 if stirrups else 0.0, "s_w": row["stirrup_s"] if stirrups else 1.0,
        "E_s": 200e3,
    }  # fmt: skip
    ratio = geometry.along_axis(**{n: made[n] for n in ("layout", "w_f", "s_f", "beta")})
    made["rho_E"] = geometry.ratio_of_web(n=1.0, t_f=row["tf"], ratio=ratio, b_w=row["bw"]) * row["Ef"]
    made["rho_w"] = made["A_sw"] / (row["bw"] * made["s_w"])
    return made


def score(rows: list[dict[str, Any]], against: str = "rho_E") -> list[dict[str, Any]]:
    """One row a model and scheme: statistics of test/prediction and what was left out."""
    beams = [(row["Vf"] * 1e3, "LOWER bound" in row["issues"], row["scheme"], inputs_of(row)) for row in rows]
    scores = []
    for made in all_models("frp_shear"):
        for scheme in SCHEMES:
            of_scheme = [(test, bound, inputs) for test, bound, s, inputs in beams if s == scheme]
            if of_scheme:
                counts = {"model": made.id, "scheme": scheme, "of": len(of_scheme)}
                scores.append({**counts, **_statistics(made.id, of_scheme, against)})
    return scores


def _statistics(model: str, beams: Iterable[tuple[float, bool, dict[str, Any]]], against: str) -> dict[str, Any]:
    ratios, trend, no_value, zeros, bounds = [], [], 0, 0, 0
    for test, bound, inputs in beams:
        result = evaluate(model, inputs)
        if not result.applicable:
            no_value += 1
        elif result.value <= 0.0:
            zeros += 1
        elif bound:
            bounds += 1
        else:
            ratios.append(test / result.value)
            trend.append(inputs[against])
    found: dict[str, Any] = {"n": len(ratios), "zeros": zeros, "no_value": no_value, "lower_bounds": bounds}
    mean = float(np.mean(ratios)) if ratios else None
    cov = float(np.std(ratios, ddof=1) / mean) if mean and len(ratios) >= LEAST else None
    return {**found, "mean": mean, "cov": cov, "slope": None, "p": None, **_trend(ratios, trend)}


def _trend(ratios: list[float], variable: list[float]) -> dict[str, float]:
    """Slope of ln(test/prediction) on ln(variable) and its two-sided p value; nothing where the variable stays."""
    from scipy.stats import linregress

    kept = [(r, v) for r, v in zip(ratios, variable, strict=True) if v > 0]
    if len(kept) < LEAST or len({v for _, v in kept}) < LEAST:
        return {}
    fit = linregress(np.log([v for _, v in kept]), np.log([r for r, _ in kept]))
    return {"slope": float(fit.slope), "p": float(fit.pvalue)}


def table(scores: list[dict[str, Any]], against: str) -> str:
    """Scores as aligned text."""
    head = ["model", "scheme", "n", "of", "zero", "no value", "bound", "mean", "COV", f"slope {against}", "p"]
    body = [
        [
            s["model"], s["scheme"], *(str(s[k]) for k in ("n", "of", "zeros", "no_value", "lower_bounds")),
            *("-" if s[k] is None else f"{s[k]:.2f}" for k in ("mean", "cov", "slope")),
            "-" if s["p"] is None else ("< 0.001" if s["p"] < 0.001 else f"{s['p']:.3f}"),
        ]
        for s in scores
    ]  # fmt: skip
    widths = [max(len(line[c]) for line in [head, *body]) for c in range(len(head))]
    return "\n".join(
        "  ".join(t.ljust(w) for t, w in zip(line, widths, strict=True)).rstrip() for line in [head, *body]
    )


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="test/prediction of V_f per FRP model and wrap scheme")
    parser.add_argument("table", type=Path, help="CSV of beam tests")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--against", choices=TRENDS, default="rho_E", help="variable of the trend (default rho_f E_f)")
    options = parser.parse_args(arguments)
    scores = score(read(options.table), options.against)
    print(json.dumps(scores, indent=2) if options.json else table(scores, options.against))
    return 0


if __name__ == "__main__":
    sys.exit(main())
