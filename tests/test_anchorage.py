"""Resistance of an anchor from all mechanisms: weakest one, hosts, measured values, arrays, band and map. Invented."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from cracktie.anchorage.governing import governing_map
from cracktie.anchorage.resistance import FAN, MECHANISMS, MODELS, anchor_band, anchor_resistance
from cracktie.clause import evaluate
from cracktie.errors import ModelInputError
from cracktie.models.anchor.own_ranges import POST_PEAK

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
    "l_fan": 160.0,
    "w_a": 70.0,
    "f_c": 28.0,
}


def test_each_component_is_its_own_model() -> None:
    full = {**BASE, "cracked": False, "splitting_steel": False, "c_edge": 120.0, "s_a": 150.0, "n_a": 4}
    full |= {"fan_form": "one_way", "tau_a": 14.0, "tau_0": 9.0}
    result = anchor_resistance(full)
    assert set(result.components) == set(MECHANISMS)
    for word, force in result.components.items():
        assert force == evaluate(MODELS["safe"][word], full).value, word
    assert result.F_u == min(result.components.values())
    assert result.components[result.mechanism] == result.F_u
    assert result.k == evaluate("anchor.own_stiffness", full).value
    assert (result.soft_slip, result.residual) == (
        POST_PEAK[result.mechanism].soft_slip,
        POST_PEAK[result.mechanism].residual,
    )


def test_arrays_of_any_shape_equal_single_runs() -> None:
    depth, fan = np.array([40.0, 80.0, 130.0])[:, None], np.array([30.0, 160.0])[None, :]
    host = np.array([["web"], ["flange"], ["through_web"]])
    grid = anchor_resistance({**BASE, "h_ef": depth, "l_fan": fan, "host": host})
    assert grid.F_u.shape == grid.mechanism.shape == grid.k.shape == (3, 2)
    for i in range(3):
        for j in range(2):
            one = anchor_resistance(
                {**BASE, "h_ef": float(depth[i, 0]), "l_fan": float(fan[0, j]), "host": str(host[i, 0])}
            )
            assert grid.F_u[i, j] == one.F_u
            assert grid.mechanism[i, j] == one.mechanism
            assert grid.k[i, j] == one.k
            for word, force in one.components.items():
                assert grid.components[word][i, j] == pytest.approx(force, rel=1e-12, nan_ok=True)


def test_many_cases_at_once() -> None:
    rng = np.random.default_rng(5)
    n = 100_000
    result = anchor_resistance({**BASE, "f_c": rng.normal(28.0, 2.0, n), "h_ef": rng.normal(90.0, 3.0, n)})
    assert result.F_u.shape == (n,)
    assert np.all(np.isfinite(result.F_u))


def test_a_measured_resistance_goes_before_the_models_and_says_so() -> None:
    plain = anchor_resistance(BASE)
    tested = anchor_resistance(BASE, resistance=12e3)
    assert (tested.F_u, tested.mechanism, tested.measured) == (12e3, "measured", True)
    assert tested.F_model == plain.F_u
    assert any("measured resistance replaces" in note for note in tested.notes)
    mixed = anchor_resistance({**BASE, "f_c": np.array([28.0, 28.0])}, resistance=np.array([np.nan, 12e3]))
    assert mixed.F_u.tolist() == [plain.F_u, 12e3]
    assert mixed.mechanism.tolist() == [plain.mechanism, "measured"]
    assert any("in 1 of 2 cases" in note for note in mixed.notes)
    with pytest.raises(ModelInputError, match="above 0"):
        anchor_resistance(BASE, resistance=-1.0)


def test_a_mechanism_that_cannot_be_judged_leaves_no_value() -> None:
    """A dowel nearly in the face of the web has no pull-out formula: the rest must not stand for it."""
    result = anchor_resistance({**BASE, "theta_b": 5.0})
    assert np.isnan(result.F_u)
    assert result.mechanism == "not applicable"
    assert any("bend angle between 15 and 165" in s for s, _ in result.reasons["dowel cone"])
    assert result.to_dict()["F_u"] is None
    assert np.isnan(anchor_resistance({**BASE, "fan_angle": 200.0}).F_u)


@pytest.mark.parametrize("host", ["through_flange", "through_web"])
def test_through_hosts_have_no_pull_out_and_a_note(host: str) -> None:
    result = anchor_resistance({**BASE, "host": host})
    assert np.isnan(result.components["dowel cone"])
    assert np.isnan(result.components["combined cone-pull-out"])
    assert result.mechanism in ("dowel rupture at bend", FAN)
    told = "upper bound" if host == "through_flange" else "other face"
    assert any(told in note for note in result.notes)


def test_safe_defaults() -> None:
    """Nothing said: web cracked, no friction at the bend, the sharp edge, splitting not held."""
    result = anchor_resistance(BASE)
    assert result.F_u == anchor_resistance({**BASE, "cracked": True}).F_u
    assert result.F_u < anchor_resistance({**BASE, "cracked": False}).F_u
    flange = {**BASE, "host": "flange"}
    assert anchor_resistance(flange).F_u == anchor_resistance({**flange, "cracked": False}).F_u
    friction = {id: {"mu": 0.0} for id in ("anchor.own_cone", "anchor.own_combined")}
    assert anchor_resistance(BASE, coefficients=friction).F_u == result.F_u
    sharp = anchor_resistance({n: v for n, v in BASE.items() if n != "r_edge"})
    assert sharp.components["dowel rupture at bend"] < result.components["dowel rupture at bend"]
    assert any("sharp edge" in note for note in sharp.notes)


def test_published_reading() -> None:
    for depth in (40.0, 90.0):
        inputs = {**BASE, "h_ef": depth}
        result = anchor_resistance(inputs, reading="published")
        both = (result.components["dowel cone"], result.components["combined cone-pull-out"])
        (left,) = [v for v in both if np.isfinite(v)]
        assert left == evaluate("anchor.kim_smith_2010.pullout", inputs).value
        assert "dowel cone" not in result.outside


def test_straight_anchor_is_not_weaker_than_a_bent_one() -> None:
    long_fan = {**BASE, "host": "flange", "h_ef": 400.0, "l_fan": 600.0}
    bend = np.array([0.0, 20.0, 45.0, 70.0, 90.0])
    result = anchor_resistance({**long_fan, "theta_b": bend})
    assert np.all(np.diff(result.components["dowel rupture at bend"]) < 0.0)
    rupture = np.minimum(result.components["dowel rupture"], result.components["dowel rupture at bend"])
    assert rupture[0] == rupture.max()


def test_statuses_name_the_weakest() -> None:
    result = anchor_resistance(BASE)
    assert result.status.level == "doubtful"
    assert result.statuses[FAN].level == "own"
    assert json.dumps(result.to_dict())


def test_spring_of_a_leg() -> None:
    result = anchor_resistance(BASE)
    leg = result.leg(2)
    assert (leg.k, leg.F_u) == (2 * result.k, 2 * result.F_u)
    peak = leg.F_u / leg.k
    assert leg.force(peak) == pytest.approx(leg.F_u)
    assert leg.force(peak + leg.soft_slip + 1.0) == pytest.approx(leg.residual * leg.F_u)


def test_band_encloses_the_default_and_keeps_given_coefficients() -> None:
    band = anchor_band({**BASE, "s_a": 150.0, "n_a": 5})
    assert band["low"].F_u < band["default"].F_u < band["high"].F_u
    assert band["low"].k < band["default"].k < band["high"].k
    held = anchor_band(BASE, coefficients={"anchor.own_fan_lap": {"tau_lap": 1.0}})
    assert {r.components[FAN] for r in held.values()} == {
        anchor_resistance(BASE, coefficients={"anchor.own_fan_lap": {"tau_lap": 1.0}}).components[FAN]
    }
    assert anchor_band(BASE, reading="published")["low"].components["dowel rupture"] > 0.0


def test_what_is_missing_or_unknown_is_named() -> None:
    with pytest.raises(ModelInputError, match="needs A_a, h_ef"):
        anchor_resistance({n: v for n, v in BASE.items() if n not in ("h_ef", "A_a")})
    with pytest.raises(ModelInputError, match="tau_a and tau_0 together"):
        anchor_resistance({**BASE, "tau_a": 10.0})
    with pytest.raises(ModelInputError, match="does not use anchor"):
        anchor_resistance(BASE, coefficients={"anchor.fuchs_1995": {"k_nc": 1.0}})
    with pytest.raises(ModelInputError, match="possible: safe, published"):
        anchor_resistance(BASE, reading="bold")
    with pytest.raises(ModelInputError, match="through_web"):
        anchor_resistance({**BASE, "host": "slab"})


def test_map_equals_single_runs_and_its_table_names_the_mechanism() -> None:
    depths, widths = [40.0, 90.0, 200.0], [6.0, 12.0]
    found = governing_map(BASE, h_ef=depths, d_a=widths)
    assert found.F_u.shape == found.code.shape == (3, 2)
    for i, h in enumerate(depths):
        for j, d in enumerate(widths):
            one = anchor_resistance({**BASE, "h_ef": h, "d_a": d, "d_0": d + 3.0, "A_a": 40.0 * (d / 12.0) ** 2})
            assert found.F_u[i, j] == pytest.approx(one.F_u, rel=1e-12)
            assert MECHANISMS[found.code[i, j]] == one.mechanism == found.mechanism[i, j]
    assert len(set(found.mechanism.ravel().tolist())) > 1
    lines = found.table().splitlines()
    assert len([line for line in lines if line.strip()[:2] in ("40", "90", "20")]) == 3
    assert f"{found.F_u[1, 1] / 1000:.1f} K" in lines[2]
    assert "K combined cone-pull-out" in found.table()
    with pytest.raises(ModelInputError, match="measured"):
        governing_map(BASE, h_ef=depths, d_a=widths, resistance=1e3)
    with pytest.raises(ModelInputError, match="above 0 mm"):
        governing_map(BASE, h_ef=[0.0], d_a=widths)


def test_force_grows_with_embedment_while_pull_out_governs() -> None:
    found = governing_map(BASE, h_ef=np.linspace(40.0, 250.0, 80), d_a=[8.0, 12.0])
    assert np.all(np.diff(found.F_u, axis=0) >= -1e-9)
    pulled = np.isin(found.mechanism[:-1], ("dowel cone", "combined cone-pull-out"))
    assert np.all(np.diff(found.F_u, axis=0)[pulled] > 0.0)


def test_weak_adhesive_governs_at_every_embedment() -> None:
    """Outside 4.5 to 25 dowel diameters (54 and 300 mm here) the pull-out once dropped out and the anchor got stronger.

    Uniform bond, uncracked, far from edges: 3 MPa on the dowel, at most 25 diameters long.
    """
    plain = {
        **BASE,
        "cracked": False,
        "splitting_steel": True,
        "A_a": 400.0,
        "l_fan": 400.0,
        "tau_a": 3.0,
        "tau_0": 3.0,
    }
    depth = np.array([40.0, 53.0, 60.0, 299.0, 400.0])
    result = anchor_resistance({**plain, "h_ef": depth})
    assert list(result.mechanism) == ["dowel pull-out"] * 5
    assert result.F_u == pytest.approx(3.0 * np.pi * 12.0 * np.minimum(depth, 300.0))
    assert any("beyond the tests" in n for n in result.notes)
    assert not any("beyond the tests" in n for n in anchor_resistance({**plain, "h_ef": 60.0}).notes)
    published = anchor_resistance({**plain, "h_ef": depth}, reading="published")
    assert np.isnan(published.F_u).tolist() == [True, True, False, False, True]
    assert list(published.mechanism[[0, 4]]) == ["not applicable"] * 2


@pytest.mark.parametrize(("theta_b", "told"), [(0.0, False), (90.0, False), (10.0, False), (30.0, True), (60.0, True)])
def test_oblique_hole_in_a_flange_says_which_depth_it_takes(theta_b: float, told: bool) -> None:
    notes = anchor_resistance({**BASE, "host": "flange", "theta_b": theta_b}).notes
    assert any("the shallower is taken" in n for n in notes) == told
    assert not any("the shallower is taken" in n for n in anchor_resistance({**BASE, "theta_b": theta_b or 45.0}).notes)
