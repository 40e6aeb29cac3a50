"""Test over prediction of V_f and V by the mechanics for a table of beam tests, beside every FRP model.

    python tools/score_mechanics.py TABLE.csv [--json] [--set NAME=VALUE ...] [--no-fit] [--screened]

Columns as in score_published_beams.py, and `source` (study), `a`, `fy` (MPa; above 2000: a slip of the unit, divided
by 1000), `bar` (R plain stirrups), `V_total` (kN). Strips go on without end at `sf`; 8 crack positions are averaged.
The concrete term is the control, V_total - V_f less stirrups at yield, no less than 0.08 sqrt(f_c) b_w d.

V_f: two readings, the largest V_f(w), and the subtraction max(V) - max(V without FRP). V: V_total over (V_total - V_f
+ subtraction), so that errors of the concrete term stay out. COV is that of test/prediction. 'fitted' re-fits k_tau
and theta on a grid without the study that is scored (least COV^2 + (ln mean)^2) and then applies no
bias factor; formulas beside it get the mean bias of the other studies. 'floor' is the COV that a perfect model would
show if beams scattered by 7 % (error of a difference: 0.07 sqrt(V^2 + V_control^2)/V_f, median row).

The last column draws whole studies anew and
compares the COV of the largest V_f with that of each formula on the same beams.

A fit to a table proves little on other beams: of the recommended coefficients two were found on rows like these.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from score_published_beams import NUMBERS, SCHEMES, inputs_of, read

from cracktie.beam import FINE, peaks
from cracktie.clause import all_models, evaluate
from cracktie.mechanics import frp_geometry as geometry

EXTRA = ("V_total", "a", "fy")
K_TAU = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0)
THETA = (30.0, 32.5, 35.0, 37.5, 40.0, 42.5, 45.0)
SCATTER = 0.07


def beams_of(path: Path) -> list[dict[str, Any]]:
    """Rows with numbers; ends with a message where a column is missing or no number."""
    rows = read(path)
    lacking = [n for n in (*EXTRA, "source", "bar") if n not in rows[0]]
    if lacking:
        raise SystemExit(f"{path}: needs the columns {', '.join(lacking)}")
    for line, row in enumerate(rows, start=2):
        for name in EXTRA:
            try:
                row[name] = float(row[name])
            except ValueError:
                raise SystemExit(f"{path}:{line}: {name} = {row[name]!r} is not a number") from None
    return rows


def why_screened(row: dict[str, Any]) -> str:
    """Reason to leave a row out; found without looking at any prediction."""
    closed = 2.0 * row["tf"] * row["ffu"] * row["d"] / 1e3
    covered = min(row["wf"] / (row["sf"] * np.sin(np.radians(row["beta"]))), 1.0)
    if "LOWER bound" in row["issues"]:
        return "lower bound: it did not fail in shear"
    if row["Vf"] <= 0.05 * row["V_total"]:
        return "V_f below 5 % of V: all noise"
    if row["Vf"] > closed * covered * 1.8:
        return "V_f above the coupon strength of all fibres on a crack at 30 degrees"
    if "unclear" in row["issues"].lower():
        return "the table calls a value unclear"
    return ""


def arrays(rows: list[dict[str, Any]], scheme: str) -> dict[str, Any]:
    """Inputs of the mechanics for the beams of one scheme."""
    x = {n: np.array([row[n] for row in rows]) for n in (*EXTRA, *NUMBERS)}
    word, anchored = SCHEMES[scheme]
    f_y = np.where(x["fy"] > 2000.0, x["fy"] / 1000.0, x["fy"])
    some = x["stirrup_s"] > 0.0
    s_w = np.where(some, x["stirrup_s"], 1.0)
    A_sw = np.where(some, np.pi / 2.0 * x["stirrup_d"] ** 2, 0.0)
    stirrups = A_sw * f_y * 0.9 * x["d"] / s_w / np.tan(np.radians(37.5))
    control = (x["V_total"] - x["Vf"]) * 1e3
    V_c0 = np.maximum(control - stirrups, 0.08 * np.sqrt(x["fc"]) * x["bw"] * x["d"])
    low = np.where(x["h_frp"] + x["top_gap"] <= x["h"] + 1.0, x["top_gap"] + x["h_frp"], x["h_frp"])
    d_frp = np.minimum(low, x["h"]) if word == "side" else x["h"]
    across = geometry.spacing_across(s_f=x["sf"], beta=x["beta"])
    return {
        "scheme": word, "anchored": anchored, "layout": "strips", "h": x["h"], "d": x["d"], "f_c": x["fc"],
        "E_f": x["Ef"], "f_fu": x["ffu"], "t_f": x["tf"], "n": 1.0, "w_f": np.minimum(x["wf"], across), "s_f": x["sf"],
        "beta": x["beta"], "z_t": x["top_gap"], "d_frp": d_frp, "A_sw": A_sw, "s_w": s_w, "f_yw": f_y,
        "d_w": np.where(some, x["stirrup_d"], 8.0), "plain": np.array([row["bar"] == "R" for row in rows]),
        "V_c0": V_c0,
    }  # fmt: skip


def predicted(rows: list[dict[str, Any]], scheme: str, changed: dict[str, float]) -> dict[str, Any]:
    """V_f in kN of each beam in both readings."""
    found = peaks(arrays(rows, scheme), coefficients=changed, fineness=FINE, workers=2)
    return {"largest": found.V_f_max / 1e3, "subtraction": found.gain / 1e3}


def cov(ratio: Any) -> float:
    """Standard deviation over mean."""
    return float(np.std(ratio, ddof=1) / np.mean(ratio))


def summary(ratio: Any) -> dict[str, float]:
    return {"n": len(ratio), "mean": float(np.mean(ratio)), "cov": cov(ratio)}


def off(ratio: Any) -> float:
    """What the fit makes small: scatter and bias together."""
    return float(cov(ratio) ** 2 + np.log(np.mean(ratio)) ** 2)


def fitted(grid: dict[tuple[float, float], Any], test: Any, study: Any) -> tuple[Any, list[tuple[float, float]]]:
    """Ratios of each study under the coefficients that fit the other studies best."""
    ratio, picked = np.empty(len(test)), []
    for one in dict.fromkeys(study):
        rest = study != one
        best = min(grid, key=lambda c: off(test[rest] / grid[c][rest]))
        ratio[~rest] = test[~rest] / grid[best][~rest]
        picked.append(best)
    return ratio, picked


def debiased(ratio: Any, study: Any) -> Any:
    """Ratios divided by the mean of the other studies' ratios."""
    return np.concatenate([ratio[study == s] / np.mean(ratio[study != s]) for s in dict.fromkeys(study)])


def resampled(ours: Any, theirs: Any, study: Any, count: int = 2000) -> tuple[float, float, float, float]:
    """COV of `ours` less that of `theirs` when whole studies are drawn anew: 5 %, median, 95 %, share below 0."""
    rng = np.random.default_rng(1)
    rows = [np.flatnonzero(study == one) for one in dict.fromkeys(study)]
    found = []
    for _ in range(count):
        drawn = np.concatenate([rows[k] for k in rng.integers(len(rows), size=len(rows))])
        found.append(cov(ours[drawn]) - cov(theirs[drawn]))
    low, middle, high = (float(q) for q in np.quantile(found, [0.05, 0.5, 0.95]))
    return low, middle, high, float(np.mean(np.array(found) < 0.0))


def floor(rows: list[dict[str, Any]]) -> float:
    """COV of a perfect model at the scatter of beams."""
    V, V_f = (np.array([row[n] for row in rows]) for n in ("V_total", "Vf"))
    return float(np.median(SCATTER * np.hypot(V, V - V_f) / V_f))


def scored(rows: list[dict[str, Any]], scheme: str, changed: dict[str, float], fit: bool) -> list[dict[str, Any]]:
    """Lines of the table for one scheme, mechanics first."""
    test = np.array([row["Vf"] for row in rows])
    total = np.array([row["V_total"] for row in rows])
    study = np.array([row["source"] for row in rows])
    found = predicted(rows, scheme, changed)
    lines: list[dict[str, Any]] = []
    for reading, value in found.items():
        some = value > 0.0  # a subtraction may give nothing: such a beam has no ratio of V_f, and n shows it
        lines.append({
            "scheme": scheme, "model": f"mechanics, {reading}", "V_f": summary(test[some] / value[some]),
            "V": summary(total / (total - test + value)),
        })  # fmt: skip
    if fit and len(set(study)) > 2:
        grid = {(k, t): predicted(rows, scheme, {**changed, "k_tau": k, "theta": t}) for k in K_TAU for t in THETA}
        for reading in [r for r in found if all((v[r] > 0.0).all() for v in grid.values())]:
            ratio, picked = fitted({c: v[reading] for c, v in grid.items()}, test, study)
            value = test / ratio
            lines.append({
                "scheme": scheme, "model": f"mechanics, {reading}, fitted on other studies", "V_f": summary(ratio),
                "V": summary(total / (total - test + value)), "picked": sorted(set(picked)),
            })  # fmt: skip
    ours = test / found["largest"]
    for made in all_models("frp_shear"):
        lines += _formula(made.id, rows, scheme, test, total, study, ours)
    return lines


def _formula(
    model: str, rows: list[dict[str, Any]], scheme: str, test: Any, total: Any, study: Any, ours: Any
) -> list[dict[str, Any]]:
    values = [evaluate(model, inputs_of(row)) for row in rows]
    value = np.array([float(v.value) / 1e3 if v.applicable else 0.0 for v in values])
    kept = value > 0.0
    if kept.sum() < 3 or len(set(study[kept])) < 3:
        return []
    ratio = test[kept] / value[kept]
    free = debiased(ratio, study[kept])
    return [{
        "scheme": scheme, "model": model, "V_f": summary(ratio), "V_f_debiased": summary(free),
        "mechanics_less": resampled(ours[kept], ratio, study[kept]),
        "V": summary(total[kept] / (total - test + value)[kept]),
    }]  # fmt: skip


def score(path: Path, changed: dict[str, float], *, fit: bool = True, screened: bool = False) -> dict[str, Any]:
    """Everything that is printed."""
    rows = beams_of(path)
    out = [{"study": r["source"], "specimen": r.get("specimen", ""), "scheme": r["scheme"], "why": why_screened(r)}
           for r in rows if why_screened(r)]  # fmt: skip
    bounds = [r for r in rows if "LOWER bound" in r["issues"] or r["Vf"] <= 0.0]
    kept = [r for r in rows if not (why_screened(r) if screened else r in bounds)]
    lines, floors = [], {}
    for scheme in ("U", "S", "W"):
        of = [r for r in kept if r["scheme"] == scheme]
        if len(of) >= 3:
            lines += scored(of, scheme, changed, fit)
            floors[scheme] = floor(of)
    return {"coefficients": changed, "lines": lines, "floor": floors, "screened": out, "screened_left_out": screened}


def _less(found: tuple[float, ...] | None) -> str:
    return "-" if found is None else f"{found[0]:+.3f} to {found[2]:+.3f}, below 0: {found[3]:.2f}"


def table(found: dict[str, Any]) -> str:
    """The result as aligned text."""
    head = [
        "scheme",
        "model",
        "n",
        "V_f mean",
        "COV",
        "COV, bias of others",
        "V mean",
        "COV",
        "COV of mechanics less this, 5 to 95 %",
    ]
    body = []
    for line in found["lines"]:
        f, V, free = line["V_f"], line["V"], line.get("V_f_debiased")
        numbers = [f"{f['mean']:.2f}", f"{f['cov']:.3f}", f"{free['cov']:.3f}" if free else "-",
                   f"{V['mean']:.2f}", f"{V['cov']:.3f}"]  # fmt: skip
        body.append([line["scheme"], line["model"], str(f["n"]), *numbers, _less(line.get("mechanics_less"))])
    widths = [max(len(row[c]) for row in [head, *body]) for c in range(len(head))]
    text = ["  ".join(t.ljust(w) for t, w in zip(row, widths, strict=True)).rstrip() for row in [head, *body]]
    text += [f"floor of {s}: {v:.2f}" for s, v in found["floor"].items()]
    word = "left out" if found["screened_left_out"] else "doubtful, kept unless --screened"
    text += [f"{word}: {r['study']} {r['specimen']} ({r['scheme']}): {r['why']}" for r in found["screened"]]
    return "\n".join(text)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="test/prediction of the mechanics beside every FRP model")
    parser.add_argument("table", type=Path, help="CSV of beam tests")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--set", action="append", default=[], metavar="NAME=VALUE", help="change a coefficient")
    parser.add_argument("--no-fit", action="store_true", help="leave the fit on other studies out")
    parser.add_argument("--screened", action="store_true", help="leave doubtful rows out")
    options = parser.parse_args(arguments)
    changed = {name: float(value) for name, _, value in (text.partition("=") for text in options.set)}
    found = score(options.table, changed, fit=not options.no_fit, screened=options.screened)
    print(json.dumps(found, indent=2) if options.json else table(found))
    return 0


if __name__ == "__main__":
    sys.exit(main())
