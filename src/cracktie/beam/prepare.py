"""From inputs by name to what the kernels read: checked numbers, the bond law, the crack, stirrups and concrete."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from cracktie.beam.coefficients import chosen
from cracktie.errors import ModelInputError
from cracktie.mechanics import crack, frp_geometry
from cracktie.mechanics.bond_law import BondLaw
from cracktie.models.bond import laws

SCHEMES = ("none", "side", "u", "full")
LAYOUTS = ("strips", "continuous")
POSITIVE = ("h", "d", "f_c", "V_c0")
FRP = ("E_f", "f_fu", "t_f", "n", "beta", "z_t", "d_frp")
"""Needed where the scheme is not 'none'; `w_f` and `s_f` as well in strips."""
ANCHOR = ("k_leg", "F_leg", "soft_slip", "residual", "z_anchor")
"""Of the anchors of one strip leg together; needed where `anchored`."""
UNITS = {
    "f_c": "MPa", "V_c0": "N", "E_f": "MPa", "f_fu": "MPa", "n": "", "beta": "deg", "k_leg": "N/mm", "F_leg": "N",
    "residual": "", "f_yw": "MPa", "E_s": "MPa", "A_sw": "mm2",
}  # fmt: skip
DEFAULTS: Mapping[str, Any] = {
    "A_sw": 0.0, "s_w": 1.0, "f_yw": 0.0, "E_s": crack.E_STEEL, "alpha_w": 90.0, "d_w": 8.0, "plain": False,
    "d_g": 16.0, "clear": np.inf, "theta": None, "h_flange": None, "anchored": False,
    "x_mid": 0.0, "sheet": None, "f_ctm": None,
}  # fmt: skip
"""Inputs that may be left out. `h_flange` is given only where the crack ends at the soffit of the flange; `clear` is
the distance of the plates; `x_mid` the x of the crack at mid-height and `sheet` the length of a continuous sheet along
the axis, both used where the places of strips are listed; `f_ctm` serves bond laws that ask for it."""


@dataclass(frozen=True)
class Prepared:
    """Rows for the kernels and what a result is told with; first axis the beams."""

    size: int
    scheme: str
    law: BondLaw | None
    rows: Any
    theta: Any
    beta: Any
    height: Any
    w_max: Any
    V_c0: Any
    coefficients: Mapping[str, Any]
    values: Mapping[str, Any]

    def grid(self, points: int) -> Any:
        """Openings at the mouth (beams, points) up to the largest, finer where the bond works."""
        share = np.arange(1, points + 1) / points
        return self.w_max[:, None] * share**2.5

    def stirrups(self, w: Any) -> Any:
        """V_s in N at openings (beams, points)."""
        x = {n: self.values[n][:, None] for n in ("f_yw", "E_s", "alpha_w", "d_w", "A_sw", "s_w", "plain", "f_c")}
        c = {n: _column(self.coefficients[n]) for n in ("k_bond_w", "k_plain", "m_open")}
        f_t = 0.395 * (x["f_c"] / 0.8) ** 0.55
        tau_b = c["k_bond_w"] * f_t * np.where(x["plain"] > 0.5, c["k_plain"], 1.0)
        theta = self.theta[:, None]
        stress = crack.stirrup_stress(
            w, m=c["m_open"], theta=theta, alpha=x["alpha_w"], tau_b=tau_b, d_w=x["d_w"], f_yw=x["f_yw"], E_s=x["E_s"]
        )
        share = crack.stirrup_share(
            A_sw=x["A_sw"], s_w=x["s_w"], height=self.height[:, None], theta=theta, alpha=x["alpha_w"]
        )
        return share * stress

    def concrete(self, w: Any) -> Any:
        """V_c in N at openings (beams, points)."""
        mean = crack.mean_opening(w, m=_column(self.coefficients["m_open"]))
        left = crack.interlock(mean, w_0=_column(self.coefficients["w_0"]), d_g=self.values["d_g"][:, None])
        return self.V_c0[:, None] * left


def _column(value: Any) -> Any:
    array = np.asarray(value, dtype=float)
    return array if array.ndim == 0 else array[:, None]


def prepare(
    inputs: Mapping[str, Any], *, coefficients: Mapping[str, Any] | None = None, law: str = laws.DEFAULT
) -> Prepared:
    """Check and convert; numbers or arrays (beams,) but for the words `scheme` and `layout` and the flag `anchored`.

    Raises `ModelInputError` with the name, the value and what is needed.
    """
    given = {**DEFAULTS, **{n: v for n, v in inputs.items() if v is not None}}
    scheme = str(given.get("scheme", "none"))
    _word("scheme", scheme, SCHEMES)
    wrapped = scheme != "none"
    anchored = bool(given["anchored"]) and wrapped
    if anchored and scheme == "full":
        raise ModelInputError("wrapped beam: a full wrap has no free ends to anchor; scheme 'u' or 'side'")
    layout = str(given.get("layout", "continuous"))
    if wrapped:
        _word("layout", layout, LAYOUTS)
    strips = ("w_f", "s_f") if wrapped and layout == "strips" else ()
    needed = (*POSITIVE, *(FRP if wrapped else ()), *strips, *(ANCHOR if anchored else ()))
    lacking = [n for n in needed if n not in given]
    if lacking:
        raise ModelInputError(f"wrapped beam: needs {', '.join(lacking)}; given {', '.join(sorted(inputs))}")
    c = chosen(coefficients)
    optional = ("A_sw", "s_w", "f_yw", "E_s", "alpha_w", "d_w", "plain", "d_g", "clear", "x_mid")
    values = {n: given[n] for n in (*needed, *optional)}
    values |= {f"c_{n}": v for n, v in c.items()}
    values["theta"] = c["theta"] if given["theta"] is None else given["theta"]
    values |= {n: given[n] for n in ("h_flange", "sheet", "f_ctm") if given[n] is not None}
    x = _arrays(values)
    size = len(x["h"])
    _checked(x, needed, strips, anchored)
    z_t = crack.tip_height(h=x["h"], d=x["d"], share=x["c_tip"], h_flange=x.get("h_flange"))
    z_m = x["h"] - x["d"]
    _good("d", x["d"], z_t > z_m, "the crack needs height between bars and tip")
    height = z_t - z_m
    theta = crack.crack_angle(x["theta"], clear=x["clear"], height=height)
    beta = x["beta"] if wrapped else np.full(size, 90.0)
    made_law, rows = None, None
    if wrapped:
        made_law = _law(x, scheme, layout, anchored, law)
        rows = _rows(x, scheme, layout, anchored, theta, z_m, z_t)
    w_max = x["c_rotation"] * crack.length(height=height, theta=theta)
    used = {n: x[f"c_{n}"] for n in c}
    return Prepared(size, scheme, made_law, rows, theta, beta, height, w_max, x["V_c0"], used, x)


def _word(name: str, value: str, words: tuple[str, ...]) -> None:
    if value not in words:
        raise ModelInputError(f"wrapped beam: {name} = {value!r}; possible: {', '.join(words)}")


def _arrays(values: Mapping[str, Any]) -> dict[str, Any]:
    found = {}
    for name, value in values.items():
        try:
            found[name] = np.atleast_1d(np.asarray(value, dtype=float))
        except (TypeError, ValueError):
            raise ModelInputError(f"wrapped beam: {name} = {value!r} is no number") from None
    sizes = {v.shape[0] for v in found.values()} - {1}
    if len(sizes) > 1 or any(v.ndim > 1 for v in found.values()):
        shapes = ", ".join(f"{n} {v.shape}" for n, v in found.items() if v.shape != (1,))
        raise ModelInputError(f"wrapped beam: give numbers or arrays of one length; given {shapes}")
    size = sizes.pop() if sizes else 1
    return {n: np.broadcast_to(v, (size,)) for n, v in found.items()}


def _good(name: str, values: Any, good: Any, needed: str) -> None:
    good = np.broadcast_to(good, np.shape(values))
    if np.all(good):
        return
    row = int(np.argmin(good))
    unit = UNITS.get(name, "mm")
    case = f" in beam {row}" if len(good) > 1 else ""
    raise ModelInputError(f"wrapped beam: {name} = {values[row]:g} {unit}".rstrip() + f"{case}; {needed}")


def _checked(x: Mapping[str, Any], needed: tuple[str, ...], strips: tuple[str, ...], anchored: bool) -> None:
    for name in needed:
        if name not in ("z_t", "d_frp", "residual", "F_leg"):
            _good(name, x[name], np.isfinite(x[name]) & (x[name] > 0.0), "it must be a number above 0")
    for name in ("A_sw", "f_yw"):
        _good(name, x[name], np.isfinite(x[name]) & (x[name] >= 0.0), "it must be 0 or above")
    for name in ("s_w", "E_s", "d_w", "d_g", "clear"):
        _good(name, x[name], x[name] > 0.0, "it must be above 0")
    _good("d", x["d"], x["d"] < x["h"], "the bars lie inside the section: d below h")
    _good("theta", x["theta"], (x["theta"] >= 10.0) & (x["theta"] <= 80.0), "a diagonal crack lies at 10 to 80 deg")
    if "beta" not in x:
        return
    _good("beta", x["beta"], x["beta"] < 180.0, "fibres lie between 0 and 180 deg")
    _good("z_t", x["z_t"], (x["z_t"] >= 0.0) & (x["z_t"] < x["d_frp"]), "upper FRP edge: 0 to d_frp below the top")
    _good("d_frp", x["d_frp"], x["d_frp"] <= x["h"], "the lower FRP edge lies inside the section")
    if strips:
        fits = x["w_f"] <= frp_geometry.spacing_across(s_f=x["s_f"], beta=x["beta"]) * (1.0 + 1e-6)
        _good("w_f", x["w_f"], fits, "strips overlap: width over s_f sin(beta); use layout 'continuous'")
    if anchored:
        _good("F_leg", x["F_leg"], np.isfinite(x["F_leg"]) & (x["F_leg"] >= 0.0), "a force of 0 or above")
        inside = (x["z_anchor"] > x["h"] - x["d_frp"]) & (x["z_anchor"] <= x["h"] - x["z_t"] + 1e-6)
        _good("z_anchor", x["z_anchor"], inside, "the anchor lies outside the strip; give a height between its edges")
        _good("residual", x["residual"], (x["residual"] >= 0.0) & (x["residual"] <= 1.0), "a share from 0 to 1")


def _law(x: Mapping[str, Any], scheme: str, layout: str, anchored: bool, which: str) -> BondLaw:
    cover = frp_geometry.across_fibres(layout=layout, w_f=x.get("w_f"), s_f=x.get("s_f"), beta=x["beta"])
    inputs: dict[str, Any] = {
        "f_c": x["f_c"], "cover": np.minimum(np.broadcast_to(cover, x["f_c"].shape), 1.0), "form": "test",
        "w_f": x.get("w_f", x["f_c"] * 0 + 1.0), "E_f": x["E_f"], "t_f": x["t_f"], "n": x["n"],
        **({"f_ctm": x["f_ctm"]} if "f_ctm" in x else {}),
    }  # fmt: skip
    if which == laws.DEFAULT:
        # the factors enter as columns: the model's own coefficients are single numbers
        base = laws.law_of(which, {n: inputs[n] for n in ("f_c", "cover", "form")})
        return _scaled(base, x["c_k_G"], x["c_k_tau"], x["c_friction"] if anchored or scheme == "full" else None)
    from cracktie.clause import get

    needed = [n for n in get(which).inputs if n not in inputs]
    if needed:
        raise ModelInputError(f"{which} needs {', '.join(needed)}, which a wrapped beam does not give")
    return laws.law_of(which, {n: v for n, v in inputs.items() if n in get(which).inputs})


def _scaled(base: BondLaw, k_G: Any, k_tau: Any, friction: Any) -> BondLaw:
    """The default law with other energy and stress: slip_f follows, the peak slip stays 0.02 mm or 0.3 slip_f."""
    from cracktie.mechanics import bond_law

    tau, energy = base.tau_max * k_tau, base.G_f * k_G
    slip_f = 2.0 * energy / tau
    rest = 0.0 if friction is None else friction * tau
    return bond_law.bilinear(tau, np.minimum(0.02, 0.3 * slip_f), slip_f, rest)


def _rows(x: Mapping[str, Any], scheme: str, layout: str, anchored: bool, theta: Any, z_m: Any, z_t: Any) -> Any:
    from cracktie.mechanics import crossed_kernel as kernel

    stiff = x["n"] * x["t_f"] * x["E_f"]
    strength = x["n"] * x["t_f"] * x["f_fu"]
    sine = np.sin(np.radians(x["beta"]))
    if layout == "strips":
        length, spacing, width = x["w_f"] / sine, x["s_f"], x["w_f"]
    else:
        length = x.get("sheet", np.ones(len(sine)))
        spacing = np.ones(len(sine)) if "sheet" not in x else np.zeros(len(sine))
        width = np.ones(len(sine))
    if anchored and layout == "continuous":
        raise ModelInputError("wrapped beam: anchors of a continuous sheet are not covered; give strips")
    stretch = crack.along_fibre(1.0, x["c_slide"], theta=theta, beta=x["beta"])
    columns: dict[int, Any] = {
        kernel.Z_M: z_m, kernel.Z_T: z_t, kernel.Z_LOW: x["h"] - x["d_frp"], kernel.Z_TOP: x["h"] - x["z_t"],
        kernel.COT: 1.0 / np.tan(np.radians(theta)), kernel.COT_F: 1.0 / np.tan(np.radians(x["beta"])),
        kernel.SIN_F: sine, kernel.STRETCH: stretch, kernel.POWER: x["c_m_open"], kernel.STIFF: stiff,
        kernel.STRENGTH: x["c_k_rup"] * strength,
        kernel.END_STRENGTH: x["c_k_cor"] * strength if scheme == "full" else np.inf,
        kernel.FIXED_UP: float(scheme == "full"), kernel.FIXED_LOW: float(scheme != "side"),
        kernel.MOUTH: x["x_mid"] + (z_m - 0.5 * x["h"]) / np.tan(np.radians(theta)),
        kernel.LENGTH: length, kernel.SPACING: spacing,
    }  # fmt: skip
    if anchored:
        force = x["c_k_F"] * x["F_leg"]
        held = force > 0.0
        columns |= {
            kernel.ANCHORED: held, kernel.A_Z: x["z_anchor"], kernel.A_K: x["k_leg"] / width,
            kernel.A_F: np.where(held, force, 1.0) / width, kernel.A_SOFT: x["soft_slip"],
            kernel.A_REST: x["residual"],
        }  # fmt: skip
    rows = np.zeros((len(sine), kernel.COLUMNS))
    for column, value in columns.items():
        rows[:, column] = value
    return rows
