"""Shear over the crack opening: equilibrium by hand, limits, trends, agreement with the strips themselves, messages."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from cracktie.beam import COEFFICIENTS, FINE, Fineness, peaks, respond
from cracktie.errors import ModelInputError
from cracktie.mechanics import bond_law, crack
from cracktie.mechanics.crossing import follow_strip, strip_forces
from cracktie.mechanics.strip import Side, profile
from cracktie.models.bond.laws import law_of

Given = dict[str, Any]


def law_by_hand(f_c: float, cover: float) -> bond_law.BondLaw:
    """The recommended law: k_tau 0.6 of the stress at the energy of the bond model."""
    base = law_of("bond.own_chen_teng", {"f_c": f_c, "cover": cover, "form": "test"})
    tau = 0.6 * base.tau_max
    slip_f = 2.0 * base.G_f / tau
    return bond_law.bilinear(tau, np.minimum(0.02, 0.3 * slip_f), slip_f)


@pytest.mark.parametrize("beta", [90.0, 60.0, 45.0])
@pytest.mark.parametrize("scheme", ["u", "side", "full"])
def test_a_sheet_is_the_integral_of_its_fibres(wrapped: Given, scheme: str, beta: float) -> None:
    """V_f = 2 sin(beta) times the fibre forces over the crack, each strip worked out on its own."""
    given = {**wrapped, "scheme": scheme, "layout": "continuous", "beta": beta}
    w = np.array([0.05, 0.3, 1.0, 2.5])
    found = respond(given, w=w, fineness=Fineness(300, 300, 96)).V_f[0]
    theta, z_m, z_t, top = 37.5, 60.0, 384.0, 320.0
    sine, K = np.sin(np.radians(beta)), 236e3 * 0.167
    z = z_m + (np.arange(300) + 0.5) * (top - z_m) / 300
    law = law_by_hand(30.0, 1.0)
    fixed = {"u": (False, True), "side": (False, False), "full": (True, True)}[scheme]
    upper, lower = (top - z) / sine, z / sine
    up, low = (Side(L, K, 1.0, law, fixed=f) for L, f in zip((upper, lower), fixed, strict=True))
    at = crack.opening(w[None, :], z=z[:, None], z_m=z_m, z_t=z_t, m=0.5)
    D = crack.along_fibre(at, 0.0, theta=theta, beta=beta)
    P = strip_forces(up, low, D, strength=3880.0 * 0.167, points=300)
    across = (top - z_m) / 300 * (1.0 / np.tan(np.radians(theta)) + 1.0 / np.tan(np.radians(beta))) * sine
    by_hand = 2.0 * sine * across * P.sum(axis=0)
    assert found == pytest.approx(by_hand, rel=1e-4)


def test_sum_of_carriers_and_shares(anchored: Given) -> None:
    found = respond(anchored)
    p = found.peaks
    np.testing.assert_allclose(found.V_f + found.V_s + found.V_c, found.V)
    assert p.V_max == pytest.approx(p.V_f + p.V_s + p.V_c)
    assert p.gain == pytest.approx(p.V_max - p.V_bare)
    assert p.V_worst <= p.V_max <= p.V_f_max + p.V_bare + 1e-6
    assert p.V_bare == pytest.approx((found.V_s + found.V_c).max(axis=1))
    assert found.V.max() <= p.V_max + 1e-6  # the mean of maxima is no less than the maximum of the mean


def test_work_of_the_crack_is_stored_or_used_by_the_bond(wrapped: Given) -> None:
    """Force over the opening of one fibre equals its strain energy plus the work of the bond, on the rising part."""
    K, law = 236e3 * 0.167, law_by_hand(30.0, 1.0)
    up, low = Side(150.0, K, 1.0, law), Side(110.0, K, 1.0, law, fixed=True)
    path = follow_strip(up, low, opening_max=0.12, points=400)
    at = int(np.searchsorted(path.opening, 0.12)) - 1
    D = np.linspace(0.0, path.opening[at], 3001)[1:]
    P = strip_forces(up, low, D, points=400)[0]
    spent = np.trapezoid(np.concatenate([[0.0], P]), np.concatenate([[0.0], D]))
    stored = 0.0
    for side, states, length in ((up, path.upper, 150.0), (low, path.lower, 110.0)):
        x = np.linspace(0.0, length, 4001)
        slip, strain = profile(side, x, far_slip=states[at, 0], far_strain=states[at, 1], active=states[at, 2])
        stored += np.trapezoid(0.5 * K * strain[0] ** 2 + side.law.work(slip[0])[0], x)
    assert spent == pytest.approx(stored, rel=0.003)


def test_no_anchor_force_is_no_anchor(wrapped: Given, anchored: Given) -> None:
    bare, weak = peaks(wrapped, fineness=FINE), peaks({**anchored, "F_leg": 0.0}, fineness=FINE)
    almost = peaks({**anchored, "F_leg": 1e-3}, fineness=FINE)
    for name in ("V_max", "V_f_max", "V_worst"):
        assert getattr(weak, name) == pytest.approx(getattr(bare, name), rel=1e-12)
        assert getattr(almost, name) == pytest.approx(getattr(bare, name), rel=2e-3)


def test_rigid_anchor_at_the_end_is_a_fixed_end(wrapped: Given) -> None:
    """An anchor of any strength and stiffness on the edge of the strip holds it as a closed wrap does."""
    held = {
        **wrapped,
        "anchored": True,
        "k_leg": 1e10,
        "F_leg": 1e9,
        "soft_slip": 0.5,
        "residual": 0.0,
        "z_anchor": 320.0,
    }
    w = np.array([0.05, 0.3, 1.0, 3.0])
    one, other = respond(held, w=w), respond({**wrapped, "scheme": "full"}, w=w)
    assert one.V_f == pytest.approx(other.V_f, rel=5e-3)


def test_no_frp_is_the_bare_beam(beam: Given, wrapped: Given) -> None:
    bare = respond(beam)
    assert not bare.V_f.any()
    assert bare.peaks.V_max == pytest.approx(bare.peaks.V_bare)
    assert peaks(wrapped).V_bare == pytest.approx(bare.peaks.V_max, rel=0.01)


def test_trends(anchored: Given) -> None:
    """Common practice, no source: more concrete strength, stiffness, anchor force never lower V_f; a later loss of
    interlock never lowers V; side wraps carry no more than U-wraps, these no more than closed ones."""
    many = {**anchored, "F_leg": np.array([0.1, 5.0, 10.0, 20.0, 30.0, 60.0]) * 1e3}
    assert (np.diff(peaks(many, fineness=FINE).V_f_max) >= -150.0).all()
    slow = peaks(anchored, coefficients={"w_0": np.array([0.3, 0.6, 1.2, 2.5])}, fineness=FINE)
    assert (np.diff(slow.V_max) >= -1e-6).all()
    plain = {n: v for n, v in anchored.items() if n not in ("anchored", "k_leg", "F_leg", "z_anchor")}
    strong = peaks({**plain, "f_c": np.array([20.0, 30.0, 45.0])}, fineness=FINE)
    assert (np.diff(strong.V_f_max) > 0.0).all()
    stiff = peaks({**plain, "n": np.array([1.0, 2.0, 3.0])}, fineness=FINE)
    assert (np.diff(stiff.V_f_max) > 0.0).all()
    kinds = [float(peaks({**plain, "scheme": s}, fineness=FINE).V_f_max[0]) for s in ("side", "u", "full")]
    assert kinds == sorted(kinds)
    flat = peaks(plain, coefficients={"theta": np.array([45.0, 37.5, 30.0])}, fineness=FINE)
    assert (np.diff(flat.V_f_max) > 0.0).all()


def test_anchored_gain_in_v_is_less_than_in_v_f(wrapped: Given, anchored: Given) -> None:
    """Common practice, no source: an anchor raises the FRP contribution by some tens of per cent, total shear less."""
    one, other = peaks(wrapped, fineness=FINE), peaks(anchored, fineness=FINE)
    assert 1.1 < float((other.V_f_max / one.V_f_max)[0]) < 4.0
    assert 1.0 <= float((other.V_max / one.V_max)[0]) < float((other.V_f_max / one.V_f_max)[0])


def test_arrays_equal_scalars_for_any_number_of_workers(anchored: Given) -> None:
    f_c = np.array([22.0, 30.0, 41.0])
    theta = np.array([31.0, 37.5, 44.0])
    given = {**anchored, "f_c": f_c}
    many = peaks(given, coefficients={"theta": theta})
    threads = peaks(given, coefficients={"theta": theta}, workers=2)
    for i in range(3):
        one = peaks({**anchored, "f_c": f_c[i]}, coefficients={"theta": theta[i]})
        for name in ("V_max", "V_f_max", "V_deb", "strain_most", "w"):
            assert getattr(many, name)[i] == getattr(one, name)[0]
            assert getattr(many, name)[i] == getattr(threads, name)[i]


def test_fast_grid_is_close_to_the_fine_one(wrapped: Given, anchored: Given) -> None:
    for given, within in ((wrapped, 0.01), (anchored, 0.03)):
        fast, fine, finest = peaks(given), peaks(given, fineness=FINE), peaks(given, fineness=Fineness(64, 240, 240))
        assert fast.V_max == pytest.approx(finest.V_max, rel=within)
        assert fine.V_max == pytest.approx(finest.V_max, rel=within / 2)
        assert fine.V_f_max == pytest.approx(finest.V_f_max, rel=0.015)


def test_listed_strips_equal_strips_without_end(wrapped: Given) -> None:
    centres = np.arange(-6, 12) * 150.0
    endless, listed = peaks(wrapped, fineness=FINE), peaks(wrapped, centres=centres, fineness=FINE)
    assert listed.V_max == pytest.approx(endless.V_max, rel=1e-9)
    assert peaks(wrapped, centres=[5000.0], fineness=FINE).V_f_max == pytest.approx([0.0])


def test_one_position_may_miss_what_the_mean_carries(wrapped: Given) -> None:
    """Narrow strips far apart: the worst position carries much less than the mean."""
    found = peaks({**wrapped, "w_f": 50.0, "s_f": 400.0}, fineness=FINE)
    assert found.V_f_worst < 0.7 * found.V_f_max


def test_debonding_comes_before_the_peak_of_an_anchored_wrap(wrapped: Given, anchored: Given) -> None:
    found = peaks(anchored, fineness=FINE)
    assert 0.0 < found.w_deb[0] <= found.w_f_max[0]
    assert np.isnan(peaks({**wrapped, "scheme": "full"}, fineness=FINE).V_deb[0])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"E_f": -230e3}, r"E_f = -230000 MPa; it must be a number above 0"),
        ({"z_anchor": 350.0}, r"z_anchor = 350 mm; the anchor lies outside the strip"),
        ({"w_f": 200.0}, r"w_f = 200 mm; strips overlap"),
        ({"scheme": "U"}, r"scheme = 'U'; possible: none, side, u, full"),
        ({"scheme": "full"}, r"a full wrap has no free ends to anchor"),
        ({"k_leg": None}, r"needs k_leg; given"),
        ({"d": 430.0}, r"d = 430 mm; the bars lie inside the section"),
        ({"residual": 1.5}, r"residual = 1.5; a share from 0 to 1"),
        ({"f_c": "thirty"}, r"f_c = 'thirty' is no number"),
        ({"f_c": np.array([30.0, 0.0]), "h": np.array([420.0, 420.0])}, r"f_c = 0 MPa in beam 1; it must be"),
    ],
)
def test_messages(anchored: Given, change: Given, message: str) -> None:
    with pytest.raises(ModelInputError, match=message):
        peaks({**anchored, **change})


def test_messages_of_coefficients_and_openings(wrapped: Given) -> None:
    with pytest.raises(ModelInputError, match=r"no coefficient 'k_tua'; there are k_tau"):
        peaks(wrapped, coefficients={"k_tua": 1.0})
    with pytest.raises(ModelInputError, match=r"coefficient k_G = -1; possible between 0\.001"):
        peaks(wrapped, coefficients={"k_G": -1.0})
    with pytest.raises(ModelInputError, match="must increase"):
        respond(wrapped, w=[0.3, 0.2])


def test_every_coefficient_lies_in_its_range_and_says_why() -> None:
    for name, c in COEFFICIENTS.items():
        assert c.least <= c.low <= c.value <= c.high <= c.most, name
        assert len(c.why) > 20, name
