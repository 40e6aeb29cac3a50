"""Moment-curvature of many sections at once: scaled time, and time a section beside concreteproperties.

The library computes one section with as many curvatures, once, in the same process; ours is timed over a thousand
sections. Results of the section that both have are compared before anything is timed.
"""

from __future__ import annotations

import functools
import importlib
import warnings
from typing import Any

import numpy as np

from bench.rows import Row, ratio_row, seconds, time_row
from cracktie.mechanics.section import Section, moment_curvature, section, strength
from cracktie.mechanics.stress_strain import bilinear, parabola_rectangle

SECTIONS, POINTS = 1000, 60
AT_MOST_SECONDS = 5.0
AT_MOST_RATIO = 1e-3
EPS_CU, E_S = 0.0035, 200e3

Sizes = dict[str, Any]


def sizes(count: int) -> Sizes:
    """Seeded rectangular sections with one layer of bars; mm, MPa."""
    rng = np.random.default_rng(23)
    spans = {"b_w": (150, 400), "h": (300, 700), "f_c": (20, 50), "f_y": (400, 600)}
    made: Sizes = {n: rng.uniform(*span, count) for n, span in spans.items()}
    return {**made, "d": made["h"] - 45.0, "A_s": rng.uniform(0.004, 0.015, count) * made["b_w"] * made["h"]}


def ours(x: Sizes) -> Section:
    """The sections, without the concrete the bars displace, as the library has them."""
    return section(
        rectangles=[(x["b_w"], 0.0, x["h"])],
        bars=[(x["A_s"], x["d"])],
        concrete=functools.partial(parabola_rectangle, f_c=x["f_c"][:, None]),
        steel=functools.partial(bilinear, E_s=E_S, f_y=x["f_y"][:, None]),
        displaced=True,
    )


def theirs(x: Sizes) -> Any:
    """The first section in concreteproperties."""
    library, curves = (importlib.import_module(f"concreteproperties{n}") for n in ("", ".stress_strain_profile"))
    rectangle = importlib.import_module("sectionproperties.pre.library").rectangular_section
    add_bar = importlib.import_module("concreteproperties.pre").add_bar
    b_w, h, f_c, f_y, d, area = (float(x[n][0]) for n in ("b_w", "h", "f_c", "f_y", "d", "A_s"))
    strain = np.linspace(0.0, 0.002, 41)
    stress = f_c * (1.0 - (1.0 - strain / 0.002) ** 2)
    mix = library.Concrete(
        name="concrete",
        density=2.4e-6,
        stress_strain_profile=curves.ConcreteServiceProfile(
            strains=[-0.1, *strain, EPS_CU], stresses=[0.0, *stress, f_c], ultimate_strain=EPS_CU
        ),
        ultimate_stress_strain_profile=curves.RectangularStressBlock(
            compressive_strength=f_c, alpha=0.85, gamma=0.8, ultimate_strain=EPS_CU
        ),
        flexural_tensile_strength=0.01,
        colour="lightgrey",
    )
    plastic = curves.SteelElasticPlastic(yield_strength=f_y, elastic_modulus=E_S, fracture_strain=0.5)
    bar = library.SteelBar(name="bar", density=7.85e-6, stress_strain_profile=plastic, colour="grey")
    shape = add_bar(geometry=rectangle(d=h, b=b_w, material=mix), area=area, material=bar, x=b_w / 2.0, y=h - d, n=8)
    return library.ConcreteSection(shape)


def rows() -> list[Row]:
    """A row for the time of all sections and one for the time a section."""
    x = sizes(SECTIONS)
    made = ours(x)
    last = strength(made, eps_cu=EPS_CU).curvature
    chi = 0.995 * last[:, None] * np.linspace(1.0 / POINTS, 1.0, POINTS)
    curve = moment_curvature(made, chi, eps_cu=EPS_CU)
    time = seconds(lambda: moment_curvature(ours(x), chi, eps_cu=EPS_CU))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library remarks that its concrete carries no tension
        library = theirs(x)
    found: dict[str, Any] = {}
    step = float(chi[0, 0])
    peer = seconds(
        lambda: found.update(
            it=library.moment_curvature_analysis(
                kappa_inc=step, kappa_inc_max=step, delta_m_min=0.0, delta_m_max=1e9, progress_bar=False
            )
        )
    )
    moment = np.interp(chi[0], found["it"].kappa, found["it"].m_x)
    np.testing.assert_allclose(curve.moment[0], moment, rtol=5e-3)
    name = f"moment-curvature, {SECTIONS} sections x {POINTS}, displaced concrete out"
    return [
        time_row(name, time, at_most=AT_MOST_SECONDS),
        ratio_row(f"{name}: a section beside concreteproperties", time / SECTIONS, peer, at_most=AT_MOST_RATIO),
    ]
