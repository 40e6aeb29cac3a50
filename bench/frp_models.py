"""FRP shear terms on a million cases: the whole run of a model beside the same branch written out in bare numpy.

Both give no number where strips lie over one another, fibres do not cross the crack or the FRP does not reach above the
bars: a term without its conditions of use is another result. The run holds input checks, range masks and reasons on
top; chunks that stay in the processor's cache pay for them. Results are compared before they are timed, also on cases
that fail a condition.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from bench.rows import Row, alternate, ratio_row
from cracktie.clause import evaluate

CASES = 1_000_000
RUNS = 5
TARGET = 1.1
Arrays = dict[str, Any]

WORDS: dict[str, Any] = {
    "layout": "strips", "anchored": False, "form": "test", "edition": "si", "fibre": "carbon", "frp_form": "sheet",
}  # fmt: skip


def cases(size: int = CASES) -> Arrays:
    """Invented beams within the ranges of every model."""
    rng = np.random.default_rng(11)
    ranges = {
        "f_c": (20, 50), "f_ctm": (1.8, 3.5), "f_ctk": (1.2, 2.4), "t_f": (0.12, 0.3), "w_f": (40, 80),
        "s_f": (120, 240), "beta": (50, 90), "E_f": (200e3, 240e3), "f_fu": (3e3, 4e3), "d": (300, 500),
        "b_w": (200, 300), "r_corner": (20, 40), "theta": (35, 50), "A_sw": (30, 60), "s_w": (150, 300),
    }  # fmt: skip
    x: Arrays = {n: rng.uniform(low, high, size) for n, (low, high) in ranges.items()}
    one = np.ones(size)
    x |= {"n": one, "C_E": one, "eta_a": one, "FC": one, "E_s": 200e3 * one, "h_flange": 0.0 * one}
    x |= {"f_cm": x["f_c"], "h": x["d"] + 50.0, "z_t": 0.1 * x["d"], "d_frp": x["d"] + 50.0}
    return x | {"d_fv": x["d"] - x["z_t"], "eps_fu": x["f_fu"] / x["E_f"]}


def conditioned(by_hand: Callable[[Arrays], Any], x: Arrays) -> Any:
    """The term where its conditions of use hold, else NaN."""
    apart = x["w_f"] <= x["s_f"] * np.sin(np.radians(x["beta"])) * (1 + 1e-9)
    crosses = (x["beta"] > 0) & (x["beta"] + x.get("theta", 45.0) < 180)
    return np.where(apart & crosses & (x["d_fv"] > 0), by_hand(x), np.nan)


def _area(x: Arrays) -> Any:
    b = np.radians(x["beta"])
    return 2 * x["n"] * x["t_f"] * x["w_f"] / x["s_f"] * (np.sin(b) + np.cos(b))


def _rho_E(x: Arrays) -> Any:
    return 2 * x["n"] * x["t_f"] / x["b_w"] * x["w_f"] / x["s_f"] * x["E_f"] / 1000


def _aci_strain(x: Arrays) -> Any:
    L_e = 23300 / (x["n"] * x["t_f"] * x["E_f"]) ** 0.58
    k_v = (x["f_c"] / 27) ** (2 / 3) * np.maximum((x["d_fv"] - L_e) / x["d_fv"], 0) * L_e / (11900 * x["eps_fu"])
    return np.minimum(np.minimum(k_v, 0.75) * x["eps_fu"], 0.004)


def aci(x: Arrays) -> Any:
    return _area(x) * _aci_strain(x) * x["E_f"] * x["d_fv"]


def csa_s6(x: Arrays) -> Any:
    b, th = np.radians(x["beta"]), np.radians(x["theta"])
    across = np.sin(b) / np.tan(th) + np.cos(b)
    return 2 * x["n"] * x["t_f"] * x["w_f"] / x["s_f"] * across * _aci_strain(x) * x["E_f"] * x["d_fv"]


def csa_s806(x: Arrays) -> Any:
    return _area(x) * 0.002 * x["E_f"] * x["d_fv"]


def chen_teng(x: Arrays) -> Any:
    t, root, sine = x["n"] * x["t_f"], np.sqrt(x["f_c"]), np.sin(np.radians(x["beta"]))
    z_b = 0.9 * x["d"] - x["h"] + x["d_frp"]
    h_fe = z_b - x["z_t"]
    rupture = 0.8 * np.minimum(x["f_fu"], 0.015 * x["E_f"])
    lam = h_fe / sine / np.sqrt(x["E_f"] * t / root)
    short = np.minimum(lam, 1.0)
    beta_L = np.sin(np.pi / 2 * short)
    cover = x["w_f"] / (x["s_f"] * sine)
    bond = 0.427 * np.sqrt((2 - cover) / (1 + cover)) * beta_L * np.sqrt(x["E_f"] * root / t)
    part = 2 / (np.pi * short) * (1 - np.cos(np.pi / 2 * short)) / beta_L
    D_f = np.where(lam <= 1, part, 1 - (np.pi - 2) / (np.pi * lam))
    f_fe = np.minimum((1 + x["z_t"] / z_b) / 2 * rupture, D_f * np.minimum(rupture, bond))
    return _area(x) * f_fe * h_fe


def fib14(x: Arrays) -> Any:
    X = x["f_cm"] ** (2 / 3) / _rho_E(x)
    eps = np.minimum(0.65e-3 * X**0.56, np.minimum(0.17 * X**0.30, 1) * x["eps_fu"])
    return 0.9 * x["d"] * _area(x) * eps * x["E_f"]


def cnr(x: Arrays) -> Any:
    t, b, th = x["n"] * x["t_f"], np.radians(x["beta"]), np.radians(x["theta"])
    sine = np.sin(b)
    wide = np.maximum(x["w_f"] / (x["s_f"] * sine), 0.25)
    Gamma = 0.077 * np.maximum(np.sqrt((2 - wide) / (1 + wide)), 1) * np.sqrt(x["f_cm"] * x["f_ctm"])
    l_ed = np.sqrt(np.pi**2 * x["E_f"] * t * Gamma / 2) / (2 * Gamma / 0.25)
    part = l_ed * sine / np.minimum(0.9 * x["d"], x["h"] - x["h_flange"])
    f_fe = np.minimum(np.sqrt(2 * x["E_f"] * Gamma / t) * np.maximum(1 - part / 3, 0), x["f_fu"])
    return 0.9 * x["d"] * f_fe * 2 * t * x["w_f"] / x["s_f"] * (sine / np.tan(th) + np.cos(b))


def tr55(c: float, f_ct: Callable[[Arrays], Any], inclined: bool) -> Callable[[Arrays], Any]:
    def by_hand(x: Arrays) -> Any:
        tE, f = x["n"] * x["t_f"] * x["E_f"], f_ct(x)
        eps = np.minimum(np.minimum(x["eps_fu"] / 2, 0.004), c * np.sqrt(f / tE))
        lost = 0.7 * np.sqrt(tE / f) * (np.sin(np.radians(x["beta"])) if inclined else 1)
        return _area(x) * x["E_f"] * eps * np.maximum(x["d_fv"] - lost / 3, 0)

    return by_hand


def jsce(x: Arrays) -> Any:
    R = _rho_E(x) ** 0.25 * (x["f_fu"] / x["E_f"] * 1000) ** (2 / 3) * (1 / x["f_c"]) ** (1 / 3)
    K = np.minimum(np.maximum(1.68 - 0.67 * np.minimum(np.maximum(R, 0.5), 2), 0.4), 0.8)
    return K * _area(x) * x["f_fu"] * x["d"] / 1.15


def _closed(x: Arrays) -> Any:
    rho = _rho_E(x)
    R = np.minimum(0.5622 * rho**2 - 1.2188 * rho + 0.778, 0.5)
    return np.minimum(R, 0.006 / x["eps_fu"])


def _bond_1998(x: Arrays) -> Any:
    tE = x["n"] * x["t_f"] * x["E_f"] / 1000
    w_fe = np.maximum(x["d_fv"] - np.exp(6.134 - 0.58 * np.log(tE)), 0)
    return 0.0042 * x["f_c"] ** (2 / 3) * w_fe / (tE**0.58 * x["eps_fu"] * x["d_fv"])


def _bond_2000(x: Arrays) -> Any:
    tE = x["n"] * x["t_f"] * x["E_f"] / 1000
    w_fe = np.maximum(x["d_fv"] - 75, 0)
    return x["f_c"] ** (2 / 3) * w_fe / (x["eps_fu"] * x["d_fv"]) * (738.93 - 4.06 * tE) * 1e-6


def _stirrups(x: Arrays) -> Any:
    rho = x["E_s"] * x["A_sw"] / x["s_w"] / (x["E_f"] * 2 * x["n"] * x["t_f"] * x["w_f"] / x["s_f"])
    return np.minimum(np.maximum(0.29 - 0.53 * np.log(rho), 0), 1)


def _ratio(ratio: Callable[[Arrays], Any]) -> Callable[[Arrays], Any]:
    return lambda x: _area(x) * np.minimum(_closed(x), ratio(x)) * x["f_fu"] * x["d_fv"]


def nchrp(x: Arrays) -> Any:
    R = np.minimum(np.maximum(10.9 * (_rho_E(x) * 1000) ** -0.67, 0.066), 1)
    return _area(x) * np.minimum(R * x["f_fu"], 0.012 * x["E_f"]) * x["d_fv"]


def mofidi(x: Arrays) -> Any:
    sine, t, root = np.sin(np.radians(x["beta"])), x["n"] * x["t_f"], np.sqrt(x["f_c"])
    cover = x["w_f"] / (x["s_f"] * sine)
    rho_E = _rho_E(x) + x["A_sw"] / (x["b_w"] * x["s_w"]) * x["E_s"] / 1000
    short = np.minimum(x["d_fv"] / sine / np.sqrt(x["E_f"] * t / (2 * root)), 1)
    eps = 0.31 * 0.6 / np.sqrt(rho_E) * (2 - short) * short * np.sqrt((2 - cover) / (1 + cover))
    return _area(x) * x["E_f"] * np.minimum(eps * np.sqrt(root / (t * x["E_f"])), x["eps_fu"]) * x["d_fv"]


PEERS: dict[str, tuple[str, Callable[[Arrays], Any]]] = {
    "aci440_2008": ("u", aci),
    "aci440_2017": ("u", aci),
    "chen_teng_2003": ("u", chen_teng),
    "cnr_dt200_2013": ("u", cnr),
    "csa_s6_2006": ("u", csa_s6),
    "csa_s806_2002": ("side", csa_s806),
    "fib14_2001": ("u", fib14),
    "jsce_2001": ("full", jsce),
    "khalifa_1998": ("u", _ratio(_bond_1998)),
    "khalifa_nanni_2000": ("u", _ratio(_bond_2000)),
    "mofidi_chaallal_2011": ("u", mofidi),
    "nchrp678_2011": ("u", nchrp),
    "pellegrino_modena_2002": ("u", _ratio(lambda x: _stirrups(x) * _bond_1998(x))),
    "pellegrino_modena_2002.kn2000": ("u", _ratio(lambda x: _stirrups(x) * _bond_2000(x))),
    "tr55_2004": ("u", tr55(0.64, lambda x: 0.18 * (x["f_c"] / 0.8) ** (2 / 3), False)),
    "tr55_2012": ("u", tr55(0.5, lambda x: x["f_ctk"], True)),
}
"""Model -> scheme of the branch timed and the same branch by hand."""


def _same(name: str, inputs: Arrays, by_hand: Callable[[Arrays], Any]) -> None:
    """Compare all cases, and a thousand of them with strips widened until some lie over one another."""
    few = {n: v[:1000] if np.ndim(v) else v for n, v in inputs.items()}
    few["w_f"] = few["w_f"] * np.linspace(1.0, 5.0, 1000)
    for case in (inputs, few):
        x = {n: v for n, v in case.items() if n not in WORDS and n != "scheme"}
        with np.errstate(all="ignore"):
            np.testing.assert_allclose(evaluate(f"frp_shear.{name}", case).value, conditioned(by_hand, x), rtol=1e-9)


def rows() -> list[Row]:
    """One row a model through `evaluate` against the expression on whole arrays; one for the sum of all."""
    x = cases()
    made, through, bare = [], 0.0, 0.0
    for name, (scheme, by_hand) in PEERS.items():
        inputs = {**x, **WORDS, "scheme": scheme}
        _same(name, inputs, by_hand)
        ours, peer = alternate(partial(evaluate, f"frp_shear.{name}", inputs), partial(conditioned, by_hand, x), RUNS)
        made.append(ratio_row(f"frp_shear.{name}, {CASES:,} cases", ours, peer, TARGET))
        through, bare = through + ours, bare + peer
    made.append(ratio_row(f"sum of the {len(PEERS)} FRP terms", through, bare, TARGET))
    return made
