"""Plausible ranges of every model input: where the generic checks and the shown formulas take their cases from.

A new input needs one line: in RANGES (low, high), or in RELATED where it must fit other inputs of the same case.
The ranges are ordinary values of laboratory beams (common practice, no source); no result depends on them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from cracktie.clause import Model
from cracktie.errors import UnknownName

RANGES: dict[str, tuple[float, float]] = {
    "a": (400.0, 1500.0),
    "b_w": (120.0, 400.0),
    "b_flange": (400.0, 800.0),
    "h_flange": (60.0, 150.0),
    "d": (200.0, 600.0),
    "A_s": (400.0, 3000.0),
    "rho_l": (0.005, 0.035),
    "M_V": (200.0, 1500.0),
    "span_length": (1500.0, 4000.0),
    "f_cube": (25.0, 90.0),
    "age": (5.0, 200.0),
    "l_load": (80.0, 150.0),
    "l_support": (80.0, 150.0),
    "f_c": (18.0, 60.0),
    "f_cm": (20.0, 65.0),
    "f_ctm": (1.6, 4.2),
    "f_ctk": (1.1, 2.9),
    "E_c": (22e3, 38e3),
    "d_g": (8.0, 25.0),
    "f_y": (400.0, 600.0),
    "f_yw": (250.0, 600.0),
    "E_s": (195e3, 205e3),
    "A_sw": (25.0, 160.0),
    "s_w": (80.0, 300.0),
    "alpha_w": (45.0, 90.0),
    "t_f": (0.1, 0.5),
    "n": (1, 3),
    "w_f": (30.0, 100.0),
    "beta": (45.0, 90.0),
    "E_f": (70e3, 250e3),
    "f_fu": (1500.0, 4500.0),
    "eps_fu": (0.010, 0.020),
    "V_c": (20e3, 120e3),
    "V_s": (10e3, 200e3),
    "V_f": (10e3, 120e3),
    "V_f_45": (10e3, 120e3),
    "V_cs": (40e3, 250e3),
    "phi_host": (0.75, 1.0),
    "C_E": (0.85, 0.95),
    "z_t": (0.0, 60.0),
    "r_corner": (20.0, 40.0),
    "eta_a": (0.5, 0.95),
    "FC": (1.0, 1.35),
    "theta": (30.0, 60.0),
    "cover": (0.2, 1.0),
    "L_b": (40.0, 400.0),
    "K_a": (2500.0, 6000.0),
    "t_a": (0.3, 1.0),
    "E_a": (2e3, 6e3),
    "tau_max": (2.0, 6.0),
    "slip_0": (0.02, 0.08),
    "slip_f": (0.15, 0.4),
    "h_ef": (50.0, 130.0),
    "d_a": (8.0, 14.0),
    "A_a": (20.0, 80.0),
    "f_fa": (2000.0, 4500.0),
    "E_fa": (70e3, 250e3),
    "theta_b": (0.0, 100.0),
    "r_edge": (0.0, 25.0),
    "fan_angle": (30.0, 90.0),
    "l_fan": (50.0, 200.0),
    "w_a": (50.0, 150.0),
    "c_edge": (40.0, 300.0),
    "s_a": (60.0, 300.0),
    "n_a": (1, 4),
    "tau_a": (8.0, 20.0),
    "tau_0": (4.0, 12.0),
    "tau_cr": (2.0, 8.0),
    "tau_uncr": (5.0, 14.0),
    "tau_Rk": (3.0, 12.0),
    "tau_Rk_20": (5.0, 14.0),
    "alpha_sus": (0.0, 1.0),
}

INTEGERS = frozenset({"n", "n_a"})


class UnknownRange(UnknownName):
    """A model takes an input for which no plausible range is known; `names` are the inputs."""

    def __init__(self, message: str, names: Sequence[str]):
        super().__init__(message)
        self.names = tuple(names)


Related = Callable[[Mapping[str, Any], np.random.Generator, int], Any]

RELATED: dict[str, Related] = {
    "h": lambda x, rng, size: x.get("d", 400.0) + rng.uniform(30.0, 60.0, size),
    "a_clear": lambda x, rng, size: x.get("d", 400.0) * rng.uniform(0.6, 1.8, size),
    "b_f": lambda x, rng, size: x.get("b_w", 200.0) * rng.uniform(0.3, 0.95, size),
    "z": lambda x, rng, size: 0.9 * x.get("d", 400.0),
    "d_fv": lambda x, rng, size: x.get("d", 400.0) * rng.uniform(0.6, 1.0, size),
    "d_frp": lambda x, rng, size: x["h"] - rng.uniform(0.0, 30.0, size),
    "h_frp": lambda x, rng, size: x.get("d", 400.0) * rng.uniform(0.6, 1.0, size),
    "s_f": lambda x, rng, size: x.get("w_f", 60.0) * rng.uniform(1.5, 2.5, size),
    "d_0": lambda x, rng, size: x.get("d_a", 11.0) + rng.uniform(2.0, 5.0, size),
}
"""Drawn after the independent inputs, from what is known of the case by then, in this order."""


def draw(
    made: Model,
    words: Mapping[str, Any],
    size: int,
    seed: int = 20,
    ranges: Mapping[str, tuple[float, float]] | None = None,
) -> dict[str, Any]:
    """Arrays of `size` plausible cases of the model's numeric inputs, with the categorical words as given.

    `ranges` go before the ranges of this module. Raises `UnknownRange` for an input none of them knows.
    """
    own = ranges or {}
    known = {**RANGES, **own}
    rng = np.random.default_rng(seed)
    numeric = [n for n in made.inputs if n not in words]
    lacking = [n for n in numeric if n not in known and n not in RELATED]
    if lacking:
        raise UnknownRange(
            f"{made.id}: no plausible range for {', '.join(lacking)}; a model of your own states it in its file as "
            f"SAMPLES = {{{lacking[0]!r}: (low, high)}}, a published one in cracktie/samples.py",
            lacking,
        )
    values: dict[str, Any] = {}
    for name in numeric:
        if name in known:
            low, high = known[name]
            values[name] = rng.uniform(low, high, size)
            if name in INTEGERS:
                values[name] = rng.integers(int(low), int(high), size, endpoint=True)
    for name, related in RELATED.items():
        if name in numeric and name not in own:
            values[name] = np.asarray(related(values, rng, size)) * np.ones(size)
    return {n: words[n] if n in words else values[n] for n in made.inputs}


def case(values: Mapping[str, Any], row: int) -> dict[str, Any]:
    """One case of drawn arrays as plain Python numbers and words."""
    return {n: v[row].item() if isinstance(v, np.ndarray) else v for n, v in values.items()}
