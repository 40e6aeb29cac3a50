"""Strip march: path points a second on one core, and cost of a point against scipy's boundary value solver.

Both take the same law. The solver gets one slip of the loaded end at a time, before the peak, as it cannot follow a
path; its tolerance is the loosest that brings its force within `ERROR` of ours. Our bilinear states are exact to
rounding, those of smooth laws to about 1e-9. Both times are for one point.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from bench.rows import Row, alternate, ratio_row, seconds, time_row
from cracktie.mechanics import bond_law, strip

CASES, POINTS = 2000, 400
POINTS_A_SECOND = 15e6
ERROR = 1e-6
SLIPS = (0.02, 0.05, 0.1, 0.15, 0.2)
LENGTH, E_T, WIDTH = 120.0, 45600.0, 80.0


def sides(anchored: bool) -> strip.Side:
    """Invented bonded lengths within usual ranges, each with a law of its own."""
    rng = np.random.default_rng(5)
    law = bond_law.bilinear(rng.uniform(2, 5, CASES), 0.04, rng.uniform(0.2, 0.35, CASES))
    anchors = (strip.Anchor(50e3, rng.uniform(10e3, 40e3, CASES), 0.5, 0.2),) if anchored else ()
    return strip.Side(rng.uniform(60, 300, CASES), rng.uniform(3e4, 9e4, CASES), WIDTH, law, anchors=anchors)


def path_row(name: str, anchored: bool) -> Row:
    """Time of all paths, judged after scaling by the reference kernel."""
    from cracktie.mechanics import strip_kernel

    side = sides(anchored)
    paths, top = np.empty((CASES, 6, POINTS)), np.full(CASES, 4.0)

    def run() -> None:
        strip_kernel.follow_all(side.law.code, *side.arrays, top, paths, strip.TOLERANCE)

    run()
    measured = sorted(seconds(run) for _ in range(9))[4]
    rate = CASES * POINTS / measured / 1e6
    return time_row(
        f"{name}: {CASES * POINTS} path points ({rate:.0f} million/s)", measured, CASES * POINTS / POINTS_A_SECOND
    )


def solve(law: Any, slip: float, tolerance: float) -> float:
    """Force [N] of a free-ended joint at a slip of its loaded end, by collocation."""
    from scipy.integrate import solve_bvp

    x = np.linspace(0.0, LENGTH, 20)
    guess = slip * np.exp((x - LENGTH) / 30.0)
    found = solve_bvp(
        lambda _, y: np.vstack([y[1], law.stress(np.maximum(y[0], 0.0))[0] / E_T]),
        lambda a, b: np.array([a[1], b[0] - slip]),
        x, np.vstack([guess, guess / 30.0]), tol=tolerance, max_nodes=50_000,
    )  # fmt: skip
    if not found.success:
        raise RuntimeError(f"the solver found no state at {slip} mm: {found.message}")
    return float(found.y[1, -1]) * E_T * WIDTH


def loosest(law: Any) -> float:
    """Largest tolerance of the solver whose forces agree with ours within `ERROR`; at 1e-11 they must."""
    path = strip.follow(strip.Side(LENGTH, E_T, WIDTH, law), slip_max=1.0, points=20_000)
    forces = strip.under_growing_slip(path, SLIPS)[0]
    for tolerance in (1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-11):
        if np.abs(np.array([solve(law, s, tolerance) for s in SLIPS]) / forces - 1.0).max() <= ERROR:
            return tolerance
    raise RuntimeError("the solver and the march disagree")


def solver_row(name: str, law: Any, cases: int, at_most: float) -> Row:
    """Time of one path point over that of one solution, same law."""
    tolerance = loosest(law)
    side = strip.Side(np.full(cases, LENGTH), E_T, WIDTH, law)
    ours, peer = alternate(
        lambda: strip.follow(side, slip_max=4.0), lambda: [solve(law, s, tolerance) for s in SLIPS], 5
    )
    return ratio_row(f"{name}: path point, solve_bvp", ours / (cases * POINTS), peer / len(SLIPS), at_most)


def crossing_row() -> Row:
    """Forces of anchored strips across a crack at 61 openings, 96 points a path."""
    from cracktie.mechanics.crossing import strip_forces

    upper = sides(anchored=True)
    lower = strip.Side(np.full(CASES, 120.0), upper.stiffness, WIDTH, upper.law, fixed=True)
    openings = np.linspace(0.0, 5.0, 61)

    def run() -> None:
        strip_forces(upper, lower, openings, points=96)

    run()
    measured = sorted(seconds(run) for _ in range(9))[4]
    return time_row(f"{CASES} strips across a crack, 61 openings", measured, CASES * 25e-6)


def rows() -> list[Row]:
    """Free and anchored paths, two laws against the solver, strips across a crack."""
    smooth = bond_law.double_exponential(1.1, 9.7)
    return [
        path_row("free end", anchored=False),
        path_row("anchored end", anchored=True),
        solver_row("bilinear law", bond_law.fit_bilinear(smooth), CASES, 1e-3),
        solver_row("smooth law", smooth, 20, 0.1),
        crossing_row(),
    ]
