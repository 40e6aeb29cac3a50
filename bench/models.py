"""Published shear terms on a million cases beside the same expression written out in bare numpy.

Each row: the model function against the expression, both in the chunks of `evaluate`, so that only the way of writing
differs; the two are timed in turn chunk by chunk, which keeps other work on the machine out of the ratio. The row
'through evaluate' is the sum over all models of a whole run (input checks, chunks, range masks, conditions) against the
expressions on whole arrays, as a script would have them.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from bench.rows import Row, alternate, ratio_row, seconds, time_row
from cracktie.clause import CHUNK, evaluate, get

CASES = 1_000_000
RUNS = 15
TARGET = 1.1
CURVES_TARGET = 5.0
WORDS = {"form": "test", "edition": "si", "stirrups_minimum": False}

Values = Mapping[str, Any]


def _aci14(x: Values) -> Any:
    return 0.17 * np.minimum(np.sqrt(x["f_c"]), 8.3) * x["b_w"] * x["d"]


def _aci14_detailed(x: Values) -> Any:
    root = np.minimum(np.sqrt(x["f_c"]), 8.3)
    v = 0.16 * root + 17.0 * x["rho_l"] * np.minimum(x["d"] / x["M_V"], 1.0)
    return np.minimum(v, 0.29 * root) * x["b_w"] * x["d"]


def _aci19(x: Values) -> Any:
    root = np.minimum(np.sqrt(x["f_c"]), 8.3)
    size = np.minimum(np.sqrt(2.0 / (1.0 + 0.004 * x["d"])), 1.0)
    return np.minimum(0.66 * size * np.cbrt(x["rho_l"]) * root, 0.42 * root) * x["b_w"] * x["d"]


def _ec2_2004(x: Values) -> Any:
    k = np.minimum(1.0 + np.sqrt(200.0 / x["d"]), 2.0)
    v = 0.18 * k * np.cbrt(100.0 * np.minimum(x["rho_l"], 0.02) * x["f_c"])
    return np.maximum(v, 0.0525 * k * np.sqrt(k) * np.sqrt(x["f_c"])) * x["b_w"] * x["d"]


def _ec2_2023(x: Values) -> Any:
    d_dg = np.minimum(16.0 + x["d_g"] * np.minimum(60.0 / x["f_c"], 1.0) ** 2, 40.0)
    a_v = np.minimum(np.sqrt(np.maximum(x["M_V"], x["d"]) / 4.0 * x["d"]), x["d"])
    least = 11.0 * np.sqrt(x["f_c"] / x["f_y"] * d_dg / x["d"])
    tau = 0.66 * np.cbrt(100.0 * x["rho_l"] * x["f_c"] * d_dg / a_v)
    return np.maximum(tau, least) * x["b_w"] * 0.9 * x["d"]


def _mc2010_1(x: Values) -> Any:
    z = 0.9 * x["d"]
    return 180.0 / (1000.0 + 1.25 * z) * np.minimum(np.sqrt(x["f_c"]), 8.0) * z * x["b_w"]


def _mc2010_2(x: Values) -> Any:
    z = 0.9 * x["d"]
    k_dg = np.maximum(32.0 / (16.0 + np.where(x["f_c"] > 70.0, 0.0, x["d_g"])), 0.75)
    base = 520.0 / (1000.0 + k_dg * z) * np.minimum(np.sqrt(x["f_c"]), 8.0) * z * x["b_w"]
    rate = (np.maximum(x["M_V"], z) / z + 1.0) / (400e3 * x["A_s"])
    return np.maximum(2.0 * base / (1.0 + np.sqrt(1.0 + 6000.0 * rate * base)), base / 5.5)


def _csa(x: Values) -> Any:
    d_v = np.maximum(0.9 * x["d"], 0.72 * x["h"])
    grain = x["d_g"] * np.minimum(np.maximum((70.0 - x["f_c"]) / 10.0, 0.0), 1.0)
    s_ze = np.maximum(35.0 * d_v / (15.0 + grain), 0.85 * d_v)
    base = 520.0 / (1000.0 + s_ze) * np.minimum(np.sqrt(x["f_c"]), 8.0) * x["b_w"] * d_v
    rate = (np.maximum(x["M_V"], d_v) / d_v + 1.0) / (400e3 * x["A_s"])
    v = np.maximum(2.0 * base / (1.0 + np.sqrt(1.0 + 6000.0 * rate * base)), base / 5.5)
    return np.minimum(v, 0.25 * x["f_c"] * x["b_w"] * d_v)


def _aashto(x: Values) -> Any:
    d_v = np.maximum(0.9 * x["d"], 0.72 * x["h"])
    s_xe = np.minimum(np.maximum(35.0 * d_v / (16.0 + x["d_g"]), 305.0), 2032.0)
    base = 0.083 * 4.8 * 1295.0 / (991.0 + s_xe) * np.sqrt(x["f_c"]) * x["b_w"] * d_v
    rate = (np.maximum(x["M_V"], d_v) / d_v + 1.0) / (200e3 * x["A_s"])
    v = np.maximum(2.0 * base / (1.0 + np.sqrt(1.0 + 3000.0 * rate * base)), base / 5.5)
    return np.minimum(v, 0.25 * x["f_c"] * x["b_w"] * d_v)


def _jsce(x: Values) -> Any:
    size = np.minimum(np.sqrt(np.sqrt(1000.0 / x["d"])), 1.5)
    f_vc = np.minimum(0.2 * np.cbrt(x["f_c"]), 0.72)
    return size * np.minimum(np.cbrt(100.0 * x["rho_l"]), 1.5) * f_vc * x["b_w"] * x["d"]


def _zsutty(x: Values) -> Any:
    return 2.174 * np.cbrt(x["f_c"] * x["rho_l"] * x["d"] / x["a"]) * x["b_w"] * x["d"]


def _aci_stirrups(x: Values) -> Any:
    lean = np.radians(x["alpha_w"])
    steel = x["A_sw"] * x["f_yw"] * (np.sin(lean) + np.cos(lean)) * x["d"] / x["s_w"]
    return np.minimum(steel, 0.66 * np.minimum(np.sqrt(x["f_c"]), 8.3) * x["b_w"] * x["d"])


def _ec2_stirrups(x: Values) -> Any:
    lean = np.radians(x["alpha_w"])
    sine = np.sin(lean)
    cot_a = np.cos(lean) / sine
    p = x["A_sw"] / (x["b_w"] * x["s_w"]) * x["f_yw"] * sine
    nu = 0.6 * (1.0 - x["f_c"] / 250.0)
    cot = np.sqrt(np.minimum(np.maximum(nu * x["f_c"] / p - 1.0, 1.0), 6.25))
    steel = p * x["b_w"] * x["z"] * (cot + cot_a)
    return np.minimum(steel, x["b_w"] * x["z"] * nu * x["f_c"] * (cot + cot_a) / (1.0 + cot**2))


PEERS: Mapping[str, Callable[[Values], Any]] = {
    "concrete_shear.aci318_2014.simplified": _aci14,
    "concrete_shear.aci318_2014.detailed": _aci14_detailed,
    "concrete_shear.aci318_2019": _aci19,
    "concrete_shear.ec2_2004": _ec2_2004,
    "concrete_shear.ec2_2023": _ec2_2023,
    "concrete_shear.mc2010.level1": _mc2010_1,
    "concrete_shear.mc2010.level2": _mc2010_2,
    "concrete_shear.csa_2004": _csa,
    "concrete_shear.aashto_2020": _aashto,
    "concrete_shear.jsce_2007": _jsce,
    "concrete_shear.zsutty_1968": _zsutty,
    "stirrup_shear.aci318_2014": _aci_stirrups,
    "stirrup_shear.ec2_2004": _ec2_stirrups,
}
"""Model -> the same expression in the test form, SI edition."""


def cases(size: int = CASES) -> dict[str, Any]:
    """Seeded beams, all inside the conditions of the models above."""
    rng = np.random.default_rng(7)
    spans = {
        "f_c": (20, 60),
        "b_w": (120, 400),
        "d": (200, 500),
        "rho_l": (0.005, 0.03),
        "M_V": (300, 1500),
        "a": (1300, 2500),
        "d_g": (8, 25),
        "A_s": (400, 3000),
        "f_y": (400, 600),
        "A_sw": (30, 160),
        "s_w": (80, 300),
        "f_yw": (250, 400),
        "alpha_w": (45, 90),
    }
    values = {name: rng.uniform(*span, size) for name, span in spans.items()}
    return {**values, "h": values["d"] + 50.0, "z": 0.9 * values["d"]}


def rows(size: int = CASES, runs: int = RUNS) -> list[Row]:
    """One row a model, and one for moment-curvature of 1000 sections at 60 curvatures."""
    values = cases(size)
    made, whole, bare_sum = [], 0.0, 0.0
    for model, peer in PEERS.items():
        inputs = {**values, **WORDS}
        used = {name: inputs[name] for name in get(model).inputs}
        bare = functools.partial(peer, values)
        np.testing.assert_allclose(get(model).func(**used), bare(), rtol=1e-12)
        ours, theirs = _by_chunks(get(model).func, used, peer, values, runs)
        made.append(ratio_row(f"{model}, {size:.0e} cases", ours, theirs, at_most=TARGET))
        run, again = alternate(functools.partial(evaluate, model, inputs), bare, runs)
        whole, bare_sum = whole + run, bare_sum + again
    made.append(ratio_row("all of these through evaluate", whole, bare_sum, at_most=TARGET))
    return [*made, time_row("moment-curvature, 1000 sections x 60", seconds(_curves), at_most=CURVES_TARGET)]


def _by_chunks(
    func: Callable[..., Any], used: Values, peer: Callable[[Values], Any], values: Values, runs: int
) -> tuple[float, float]:
    """Times [s] of function and expression over all chunks: sums of the medians of each chunk."""
    ours = theirs = 0.0
    for start in range(0, len(values["f_c"]), CHUNK):
        part = slice(start, start + CHUNK)
        inputs = {n: v[part] if np.ndim(v) else v for n, v in used.items()}
        cut = {n: v[part] for n, v in values.items()}
        mine, other = alternate(functools.partial(func, **inputs), functools.partial(peer, cut), runs)
        ours, theirs = ours + mine, theirs + other
    return ours, theirs


def _curves() -> None:
    from cracktie.mechanics.section import moment_curvature, section
    from cracktie.mechanics.stress_strain import bilinear, parabola_rectangle

    values = cases(1000)
    made = section(
        rectangles=[(values["b_w"], 0.0, values["h"])],
        bars=[(values["A_s"], values["d"])],
        concrete=functools.partial(parabola_rectangle, f_c=values["f_c"][:, None]),
        steel=functools.partial(bilinear, E_s=200e3, f_y=values["f_y"][:, None]),
    )
    moment_curvature(made, np.geomspace(1e-7, 1e-4, 60), eps_cu=0.0035)
