"""Our own anchor models: derivations against independent numbers, trends, continuity, and that each range is told."""

from __future__ import annotations

import inspect
import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cracktie import clause
from cracktie.clause import Keep, evaluate
from cracktie.modelcheck import branches_to_check
from cracktie.models.anchor.own_ranges import OWN_RANGES, POST_PEAK, PUBLISHED
from cracktie.trace import trace_model

BASE: dict[str, Any] = {
    "host": "web",
    "h_ef": 90.0,
    "d_a": 12.0,
    "d_0": 15.0,
    "A_a": 40.0,
    "f_fa": 3400.0,
    "E_fa": 230e3,
    "theta_b": 90.0,
    "r_edge": 12.0,
    "fan_angle": 55.0,
    "fan_form": "one_way",
    "l_fan": 160.0,
    "w_a": 70.0,
    "f_c": 28.0,
    "c_edge": 1e4,
    "s_a": 1e4,
    "n_a": 1,
    "tau_a": 15.0,
    "tau_0": 9.0,
    "cracked": False,
    "splitting_steel": True,
}
PULL_OUT = ("anchor.own_cone", "anchor.own_combined", "anchor.own_bond")


def run(id: str, coefficients: dict[str, float] | None = None, **changes: Any) -> Any:
    return evaluate(id, {**BASE, **changes}, coefficients=coefficients).value


def own_models() -> list[clause.Model]:
    return [m for m in clause.all_models("anchor") if m.id.startswith("anchor.own_")]


def test_every_own_coefficient_has_a_range_or_a_source() -> None:
    for made in own_models():
        ranges, taken = OWN_RANGES.get(made.id, {}), PUBLISHED.get(made.id, {})
        assert set(made.coefficients) == set(ranges) | set(taken), made.id
        assert not set(ranges) & set(taken), made.id
        for name, found in ranges.items():
            assert found.low <= made.coefficients[name] <= found.high, (made.id, name)
            assert found.low < found.high, (made.id, name)
    assert set(OWN_RANGES) | set(PUBLISHED) <= {m.id for m in own_models()}


def test_the_text_of_the_model_names_each_range() -> None:
    for made in own_models():
        text = " ".join((inspect.getdoc(made.func) or "").split())
        for name, found in OWN_RANGES.get(made.id, {}).items():
            told = f"`{name}` {made.coefficients[name]:g}, range {found.low:g} to {found.high:g}"
            assert told in text, f"{made.id}: write {told!r}"


def test_sheets_name_each_range() -> None:
    """Somewhere among the branches' sheets each coefficient of ours stands with its range and unit."""
    for made in own_models():
        places = ""
        for words in branches_to_check(made):
            inputs = {**BASE, "edition": "si", **words}
            places += " ".join(row.where for row in trace_model(made, inputs).rows)
        for name, found in OWN_RANGES.get(made.id, {}).items():
            unit = "" if found.unit == "-" else f" {found.unit}"
            assert f"{name} {found.low:g} to {found.high:g}{unit}" in places, (made.id, name)


def test_coefficients_taken_over_equal_those_of_the_source() -> None:
    source = {
        "KimSmith2010": ("anchor.kim_smith_2010.pullout",),
        "ACI318_19": ("anchor.aci318_2019.breakout", "anchor.aci318_2019.bond"),
        "JSCE_1997": ("anchor.jsce_1997.bend",),
    }
    for id, taken in PUBLISHED.items():
        for name, key in taken.items():
            values = [clause.get(s).coefficients.get(name) for s in source[key]]
            assert clause.get(id).coefficients[name] in values, (id, name)


def test_safe_reading_is_never_above_either_mode_and_continuous() -> None:
    depth = np.linspace(20.0, 140.0, 2401)
    safe = run("anchor.own_safe_pullout", h_ef=depth)
    published = run("anchor.kim_smith_2010.pullout", h_ef=depth)
    assert np.all(safe <= published * (1 + 1e-12))
    assert np.max(np.abs(np.diff(safe)) / safe[1:]) < 0.005
    assert np.max(np.abs(np.diff(published)) / published[1:]) > 0.1  # the published pair jumps at 50 mm


def test_safe_reading_where_the_published_one_exceeds_the_bond() -> None:
    """h_ef 40, d_0 10, f_c 30: cone 13.4 kN, bond 11.4 kN."""
    small = {"h_ef": 40.0, "d_0": 10.0, "f_c": 30.0}
    assert run("anchor.kim_smith_2010.pullout", **small) == pytest.approx(13.4e3, abs=50)
    assert run("anchor.own_safe_pullout", **small) == pytest.approx(11.4e3, abs=50)


@pytest.mark.parametrize("id", PULL_OUT)
def test_far_from_everything_the_plain_formula_is_left(id: str) -> None:
    plain = {PULL_OUT[0]: "anchor.kim_smith_2010.cone", PULL_OUT[1]: "anchor.kim_smith_2010.combined"}
    assert run(id) == pytest.approx(run(plain.get(id, "anchor.cook_1998")), rel=1e-12)


@pytest.mark.parametrize("id", PULL_OUT)
@given(h=st.floats(60.0, 200.0), more=st.floats(0.1, 40.0), c=st.floats(30.0, 400.0), n=st.integers(1, 6))
def test_more_embedment_or_edge_never_weakens_pull_out(id: str, h: float, more: float, c: float, n: int) -> None:
    near = {"c_edge": c, "s_a": 150.0, "n_a": n, "cracked": True}
    here = run(id, h_ef=h, **near)
    if id != "anchor.own_cone":
        assert run(id, h_ef=h + more, **near) >= here * (1 - 1e-12)
    assert run(id, h_ef=h + more, c_edge=c + 600.0, s_a=700.0, n_a=n) >= run(
        id, h_ef=h, c_edge=c + 600.0, s_a=700.0, n_a=n
    )
    assert run(id, h_ef=h, **{**near, "c_edge": c + more}) >= here * (1 - 1e-12)
    assert run(id, h_ef=h, **{**near, "n_a": n + 1}) <= here * (1 + 1e-12)


def test_projected_areas_let_a_deeper_cone_near_an_edge_lose_a_little() -> None:
    """A trait of the area method itself (edge times row): bounded, and why the rule above leaves the cone out."""
    depth = np.linspace(40.0, 200.0, 401)
    worst = 0.0
    for c, s in itertools.product((30.0, 70.0, 100.0, 150.0), (60.0, 150.0, 200.0, 300.0)):
        values = run("anchor.own_cone", h_ef=depth, c_edge=c, s_a=s, n_a=20)
        worst = max(worst, float(np.max(1.0 - values / np.maximum.accumulate(values))))
    assert 0.0 < worst < 0.07


@pytest.mark.parametrize("id", PULL_OUT)
def test_cracks_splitting_and_friction(id: str) -> None:
    assert run(id, cracked=True) < run(id)
    assert run(id, c_edge=70.0, splitting_steel=False) < run(id, c_edge=70.0)
    assert run(id, {"mu": 0.3}) == pytest.approx(run(id) * math.exp(0.3 * math.pi / 2), rel=1e-12)
    assert run(id, {"mu": 0.3}, theta_b=45.0) == pytest.approx(
        run(id, theta_b=45.0) * math.exp(0.3 * math.pi / 4), rel=1e-12
    )


@pytest.mark.parametrize("host", ["through_flange", "through_web"])
@pytest.mark.parametrize("id", [*PULL_OUT, "anchor.aci318_2019.breakout", "anchor.en1992_4_2018.pullout"])
def test_hosts_without_a_blind_end_are_refused_with_a_sentence(id: str, host: str) -> None:
    more = {"edition": "si", "tau_cr": 4.0, "tau_uncr": 8.0, "tau_Rk": 5.0, "tau_Rk_20": 8.0, "alpha_sus": 0.0}
    result = evaluate(id, {**BASE, **more, "dense_steel": False, "host": host})
    assert not result.applicable
    assert any("far end" in reason.sentence for reason, _ in result.reasons)


def test_tip_depth_at_45_90_and_135() -> None:
    keep = Keep("h_n")
    angles = np.array([45.0, 90.0, 135.0])
    evaluate("anchor.own_cone", {**BASE, "theta_b": angles}, step=keep)
    assert keep.values["h_n"] == pytest.approx(90.0 * np.array([math.sqrt(0.5), 1.0, math.sqrt(0.5)]))
    angles = np.array([0.0, 10.0, 30.0, 45.0, 60.0, 80.0, 90.0, 120.0])
    evaluate("anchor.own_cone", {**BASE, "theta_b": angles, "host": "flange"}, step=keep)
    ten = math.cos(math.radians(10.0))
    assert keep.values["h_n"] == pytest.approx(90.0 * np.array([1.0, ten, 0.5, math.sqrt(0.5), 0.5, ten, 1.0, 0.5]))


@pytest.mark.parametrize("theta_b", [16.0, 30.0, 45.0, 74.0, 110.0])
def test_an_oblique_hole_in_a_flange_is_never_deeper_than_either_reading(theta_b: float) -> None:
    """Strip in the face (sin) or normal to it (cos): the cone of the shallower one."""
    turn = math.radians(theta_b)
    flange = {"host": "flange", "theta_b": theta_b, "cracked": False}
    square = {**flange, "theta_b": 90.0}
    readings = [run("anchor.own_cone", **{**square, "h_ef": 90.0 * abs(f(turn))}) for f in (math.sin, math.cos)]
    assert run("anchor.own_cone", **flange) == pytest.approx(min(readings), rel=1e-12)


def test_bend_factor_tells_45_from_135() -> None:
    """45 deg halves the loss of 90 deg; 135 deg keeps that of 90 deg and is told as outside the range."""
    keep = Keep("kappa_b", "kappa_90")
    angles = np.array([0.0, 45.0, 90.0, 135.0])
    result = evaluate("anchor.own_bend", {**BASE, "theta_b": angles}, step=keep)
    k = 0.05 * 1.0 + 0.30
    assert keep.values["kappa_90"] == pytest.approx(k)
    assert keep.values["kappa_b"] == pytest.approx([1.0, (1 + k) / 2, k, k])
    (limit, mask), *rest = result.outside
    assert limit.name == "theta_b"
    assert mask.tolist() == [False, False, False, True]
    assert not rest


def test_through_hosts_bend_at_the_far_face() -> None:
    straight = run("anchor.own_bend", theta_b=0.0)
    assert run("anchor.own_bend", theta_b=0.0, host="through_flange") == pytest.approx(run("anchor.own_bend"))
    assert run("anchor.own_bend", theta_b=0.0, host="through_flange") < straight


@given(theta=st.floats(0.0, 135.0), r=st.floats(0.0, 60.0), fan=st.floats(1.0, 180.0))
def test_straight_is_never_weaker_than_bent(theta: float, r: float, fan: float) -> None:
    given_fan = {"r_edge": r, "fan_angle": fan}
    assert run("anchor.own_bend", theta_b=0.0, **given_fan) >= run("anchor.own_bend", theta_b=theta, **given_fan)


@pytest.mark.parametrize("full", [20.0, 45.0, 60.0, 90.0, 180.0])
def test_fan_factor_is_the_mean_of_cos_cubed(full: float) -> None:
    """Mean over the fan by quadrature; full angle, not half."""
    half = math.radians(full) / 2.0
    points, weights = np.polynomial.legendre.leggauss(40)
    mean = float(np.sum(weights * np.cos(half * points) ** 3)) / 2.0
    keep = Keep("kappa_fan")
    evaluate("anchor.own_bend", {**BASE, "fan_angle": full}, step=keep)
    assert keep.values["kappa_fan"] == pytest.approx(mean, rel=1e-12)


@pytest.mark.parametrize(
    ("form", "fan", "length"),
    [
        ("one_way", 55.0, 160.0),
        ("one_way", 30.0, 60.0),
        ("two_way", 90.0, 100.0),
        ("round", 60.0, 30.0),
        ("round", 60.0, 90.0),
    ],
)
def test_lap_area_against_counting(form: str, fan: float, length: float) -> None:
    """Share of points of a fine grid over the strip that lie in the fan."""
    n = 1500
    x = (np.arange(n) + 0.5) / n * length
    y = ((np.arange(n) + 0.5) / n - 0.5) * 70.0
    X, Y = np.meshgrid(x, y)
    inside = np.hypot(X, Y) <= length if form == "round" else np.abs(Y) <= X * math.tan(math.radians(fan / 2))
    counted = float(np.mean(inside)) * length * 70.0
    keep = Keep("A_ov")
    evaluate("anchor.own_fan_lap", {**BASE, "fan_form": form, "fan_angle": fan, "l_fan": length}, step=keep)
    assert keep.values["A_ov"] == pytest.approx(counted, rel=2e-3)


@pytest.mark.parametrize("form", ["one_way", "round"])
def test_lap_is_continuous_where_the_fan_reaches_the_edges(form: str) -> None:
    length = np.linspace(5.0, 250.0, 5000)
    values = run("anchor.own_fan_lap", l_fan=length, fan_form=form)
    assert np.all(np.diff(values) > 0.0)
    rim = 70.0 * math.pi / 2.0  # longest front of the fan on the strip: the half circle just inside its width
    assert np.max(np.diff(values)) < 5.0 * rim * (length[1] - length[0]) * 1.0001


def test_stiffness_against_finite_differences() -> None:
    """A bar in an elastic bed, far end free, with a free length in series, solved on 4000 nodes."""
    EA, bed, length, free = 230e3 * 40.0, math.pi * 15.0 * 100.0, 90.0, 12.0 * math.pi / 2 + 0.5 * 12.0 + 20.0
    n = 4000
    dx = length / n
    main = np.full(n + 1, 2.0 * EA / dx + bed * dx)
    main[[0, -1]] = EA / dx + bed * dx / 2
    matrix = np.zeros((3, n + 1))
    matrix[1], matrix[0, 1:], matrix[2, :-1] = main, -EA / dx, -EA / dx
    from scipy.linalg import solve_banded

    load = np.zeros(n + 1)
    load[-1] = 1.0
    slip = solve_banded((1, 1), matrix, load)[-1] + free / EA
    assert run("anchor.own_stiffness") == pytest.approx(1.0 / slip, rel=1e-5)


def test_softening_data_lie_in_their_ranges() -> None:
    for word, fall in POST_PEAK.items():
        assert fall.soft_range[0] <= fall.soft_slip <= fall.soft_range[1], word
        assert fall.residual_range[0] <= fall.residual <= fall.residual_range[1], word
