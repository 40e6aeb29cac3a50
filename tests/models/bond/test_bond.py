"""Bond laws and joint strengths by hand, against each other, and as laws for the march.

Expected numbers are worked by hand from the formulas; no published worked example is known to us.
"""

from __future__ import annotations

import numpy as np
import pytest

from cracktie import clause
from cracktie.clause import Keep, evaluate
from cracktie.errors import ModelInputError
from cracktie.mechanics import joint
from cracktie.mechanics.strip import Side, peak
from cracktie.models.bond.laws import DEFAULT, law_of

STRIP = {
    "f_c": 28.0, "f_ctm": 2.3, "cover": 0.5, "n": 1, "t_f": 0.2, "E_f": 228e3, "w_f": 80.0, "L_b": 300.0,
    "f_cm": 36.0, "FC": 1.0, "frp_form": "sheet", "form": "test", "K_a": 2500.0, "E_c": 30e3, "t_a": 0.5, "E_a": 3e3,
    "tau_max": 3.45, "slip_0": 0.04485, "slip_f": 0.27078558,
}  # fmt: skip


def run(which: str, *names: str, coefficients: dict[str, float] | None = None, **changes: object) -> list[float]:
    """The model's value and then the named steps."""
    keep = Keep(*names)
    value = evaluate(f"bond.{which}", {**STRIP, **changes}, step=keep, coefficients=coefficients).value
    return [float(value), *(float(keep.values[n]) for n in names)]


def test_lu_bilinear_by_hand() -> None:
    """cover 0.5: (2.25 - 0.5)/(1.25 + 0.5) = 1; 1.5*2.3; 0.0195*2.3; 0.308*root(2.3) = 0.308*1.5165751."""
    G_f, beta_w, tau_max, slip_0, slip_f = run("lu_2005.bilinear", "beta_w", "tau_max", "slip_0", "slip_f")
    assert (beta_w, tau_max, slip_0) == pytest.approx((1.0, 3.45, 0.04485))
    assert G_f == pytest.approx(0.308 * 1.5165751, rel=1e-7)
    assert slip_f == pytest.approx(2 * 0.4671051 / 3.45, rel=1e-6)
    assert run("lu_2005.bilinear", "beta_w", cover=1.0)[1] == pytest.approx(np.sqrt(1.25 / 2.25))


def test_lu_simplified_by_hand() -> None:
    """alpha = 1/(0.4671051/(3.45*0.04485) - 2/3) = 1/(3.0187744 - 0.6666667) = 0.4251475."""
    assert run("lu_2005.simplified", "alpha_b")[1] == pytest.approx(0.4251475, rel=1e-6)
    law = law_of("bond.lu_2005.simplified", STRIP)
    assert law.stress([0.01, 0.1, 0.3])[0] == pytest.approx([1.629063, 2.0453925, 0.30719441], rel=1e-6)


def test_lu_precise_by_hand() -> None:
    """K_c = 12500/5 = 2500, K_0 = 1250 MPa/mm: slip_e = 3.45/1250; the law passes through its peak."""
    _, K_c, slip_e, slip_0 = run("lu_2005.precise", "K_c", "slip_e", "slip_0")
    assert (K_c, slip_e, slip_0) == pytest.approx((2500.0, 0.00276, 0.04485 + 0.00276))
    law = law_of("bond.lu_2005.precise", STRIP)
    assert law.stress(slip_0)[0, 0] == pytest.approx(3.45)
    assert law.stress(1e-7)[0, 0] / 1e-7 == pytest.approx(1250.0, rel=1e-3)
    soft = evaluate("bond.lu_2005.precise", {**STRIP, "K_a": 1000.0})
    assert soft.applicable
    assert "usual stiffness" in soft.outside[0][0].why


def test_nakaba_by_hand() -> None:
    """3.5*30^0.19 = 3.5*1.9083281; at a third of the peak slip z = 4/13: z*3/(2 + z^3)."""
    law = law_of("bond.nakaba_2001", {"f_c": 30.0})
    assert law.tau_max[0] == pytest.approx(3.5 * 30**0.19)
    assert law.tau_max[0] == pytest.approx(6.6791482, rel=1e-7)
    z = 0.02 / 0.065
    assert law.stress(0.02)[0, 0] == pytest.approx(6.6791482 * 3 * z / (2 + z**3), rel=1e-7)
    assert law.work(1e4)[0, 0] == pytest.approx(law.G_f[0], rel=1e-4)
    assert law_of("bond.savoia_2003", {"f_c": 30.0}).slip_0[0] == 0.051


def test_neubauer_rostasy_by_hand() -> None:
    """beta_w^2 = 1.125*1.5/1.2 = 1.40625: tau 1.8*1.1858541*2.3, slip 0.202*1.1858541, root(2 G_f) = 0.603 beta_w."""
    G_f, tau_max, slip_0, slip_f = run("neubauer_rostasy_1997", "tau_max", "slip_0", "slip_f")
    assert (tau_max, slip_0) == pytest.approx((4.9094360, 0.23954253), rel=1e-7)
    assert slip_f == slip_0
    assert np.sqrt(2 * G_f) / (1.1858541 * np.sqrt(2.3)) == pytest.approx(0.603, abs=5e-4)
    assert law_of("bond.neubauer_rostasy_1997", STRIP).rows[0, 2] == slip_0


def test_monti_by_hand() -> None:
    """beta_w^2 = 1.5*1.5/1.8 = 1.25; slip_0 = 2.5 tau (0.5/3000 + 50/30000); slip_f = 0.33 beta_w."""
    G_f, tau_max, slip_0 = run("monti_2003", "tau_max", "slip_0")
    assert tau_max == pytest.approx(1.8 * np.sqrt(1.25) * 2.3)
    assert slip_0 == pytest.approx(2.5 * tau_max * (1 / 6000 + 1 / 600))
    assert G_f == pytest.approx(tau_max * 0.33 * np.sqrt(1.25) / 2)
    thick = evaluate("bond.monti_2003", {**STRIP, "t_a": 200.0})
    assert not thick.applicable


def test_dai_by_hand() -> None:
    """K_a = 1 GPa/mm, E t = 25.3 GPa mm, f_c = 35: 0.446*35^0.236*25.3^0.023 and 6.846*25.3^0.108."""
    inputs = {"f_c": 35.0, "n": 1, "t_f": 0.11, "E_f": 230e3, "K_a": 1000.0}
    law = law_of("bond.dai_2005", inputs)
    assert law.G_f[0] == pytest.approx(0.446 * 35**0.236 * 25.3**0.023)
    assert law.rows[0, 2] == pytest.approx(6.846 * 25.3**0.108)
    assert law.tau_max[0] == pytest.approx(5.3944926, rel=1e-7)
    assert 1.5 < law.G_f[0] / law_of("bond.lu_2005.bilinear", STRIP).G_f[0] < 3.0


def test_chen_teng_strength_by_hand() -> None:
    """L_e = root(45600/root(28)) = 92.830975; 0.427*root(28)*80*L_e = 16779.92; 60 mm: times sin(pi/2*60/L_e)."""
    P_u, L_e, beta_w = run("chen_teng_2001", "L_e", "beta_w")
    assert (L_e, beta_w) == pytest.approx((92.830975, 1.0), rel=1e-7)
    assert P_u == pytest.approx(16779.916, rel=1e-7)
    assert run("chen_teng_2001", L_b=60.0)[0] == pytest.approx(16779.916 * np.sin(np.pi / 2 * 60 / 92.830975), rel=1e-7)
    assert run("chen_teng_2001", form="design")[0] / P_u == pytest.approx(0.315 / 0.427)


def test_own_law_carries_the_load_of_chen_and_teng() -> None:
    """A long joint with the converted law carries the strength formula's load, by the march too."""
    assert DEFAULT == "bond.own_chen_teng"
    law = law_of(DEFAULT, STRIP)
    by_march = peak(Side(600.0, 45600.0, 80.0, law), slip_max=2.0).force[0]
    assert by_march == pytest.approx(run("chen_teng_2001")[0], rel=1e-6)
    rising = np.pi / 2 * np.sqrt(law.slip_f[0] * 45600.0 / law.tau_max[0])
    assert rising == pytest.approx(run("chen_teng_2001", "L_e")[1])
    softer = law_of(DEFAULT, STRIP, coefficients={"k_tau": 0.6})
    assert softer.G_f == pytest.approx(law.G_f)
    assert softer.slip_f == pytest.approx(law.slip_f / 0.6)
    wide = [float(law_of(DEFAULT, {**STRIP, "cover": c}).G_f[0]) for c in (0.1, 0.5, 1.0)]
    assert wide[0] / wide[1] == pytest.approx(1.9 / 1.1)
    assert wide[2] / wide[1] == pytest.approx(0.5)


def test_cnr_by_hand() -> None:
    """Design, gamma_fd 1: k_b = 1, 0.037*root(36*2.8) = 0.3714771; f_bd 2.9718164; l_ed 77.83 raised to 200 mm."""
    design = {"f_ctm": 2.8, "form": "design"}
    P_u, Gamma, f_bd, l_ed, f_fdd = run(
        "cnr_dt200_2013.strength", "Gamma_F", "f_bd", "l_ed", "f_fdd", coefficients={"gamma_fd": 1.0}, **design
    )
    assert (Gamma, f_bd, l_ed, f_fdd) == pytest.approx((0.37147705, 2.9718164, 200.0, 920.30847), rel=1e-7)
    assert P_u == pytest.approx(920.30847 * 16.0, rel=1e-7)
    short = run("cnr_dt200_2013.strength", coefficients={"gamma_fd": 1.0}, L_b=120.0, **design)[0]
    assert short / 16.0 == pytest.approx(773.05911, rel=1e-7)
    no_floor = {"l_ed_min": 0.0, "gamma_Rd_length": 1.0}
    assert run("cnr_dt200_2013.strength", "l_ed", coefficients=no_floor, **design)[1] == pytest.approx(97.288, abs=1e-3)


def test_cnr_mean_form_and_law() -> None:
    """l_ed of a law that falls at once: (1/f_bd) root(pi^2 E t Gamma/2) = pi/2 root(s_u E t/f_bd)."""
    _, l_ed, Gamma, f_bd = run("cnr_dt200_2013.strength", "l_ed", "Gamma_F", "f_bd")
    assert Gamma == pytest.approx(0.077 * np.sqrt(36.0 * 2.3))
    assert l_ed == pytest.approx(np.pi / 2 * np.sqrt(0.25 * 45600.0 / f_bd))
    law = law_of("bond.cnr_dt200_2013", STRIP)
    assert (law.G_f[0], law.tau_max[0], law.slip_f[0]) == pytest.approx((Gamma, f_bd, 0.25))
    assert law_of("bond.cnr_dt200_2013", {**STRIP, "form": "design", "FC": 1.35}).G_f[0] == pytest.approx(
        0.037 * np.sqrt(36.0 * 2.3) / 1.35
    )


def test_fib14_by_hand() -> None:
    """k_b = 1.06 root(1.5/1.2) = 1.1851160; 0.9*0.64*k_b*80*root(45600*2.3); l_max = root(9913.0435) = 99.564268."""
    P_u, k_b, l_max = run("fib14_2001", "k_b", "L_e")
    assert (k_b, l_max) == pytest.approx((1.1851160, 99.564268), rel=1e-6)
    assert P_u == pytest.approx(0.9 * 0.64 * 1.1851160 * 80 * np.sqrt(45600 * 2.3), rel=1e-6)
    assert run("fib14_2001", cover=0.1)[0] == pytest.approx(run("fib14_2001", cover=0.33)[0])


def test_joint_strengths_from_one_law() -> None:
    """Yuan and others: the closed form. Lu and others: the long joint from their own length on, near it below."""
    law = law_of("bond.lu_2005.bilinear", STRIP)
    yuan, L_e = run("yuan_2004", "L_e", L_b=60.0, slip_f=float(law.slip_f[0]))
    assert yuan == pytest.approx(joint.peak_load(60.0, 45600.0, 80.0, law)[0][0], rel=1e-12)
    assert L_e == pytest.approx(joint.effective_length(45600.0, law, 0.97)[0])
    lu, length = run("lu_2005.strength", "L_e")
    assert lu == pytest.approx(joint.infinite_load(45600.0, 80.0, law)[0])
    assert length == pytest.approx(joint.effective_length(45600.0, law, 0.99)[0])
    for L_b in (40.0, 70.0, 95.0):
        exact = joint.peak_load(L_b, 45600.0, 80.0, law)[0][0]
        assert run("lu_2005.strength", L_b=L_b)[0] == pytest.approx(exact, rel=0.1)


def test_laws_of_many_cases() -> None:
    cover = np.array([0.3, 0.6, 1.0])
    for which in ("bond.own_chen_teng", "bond.lu_2005.precise", "bond.monti_2003", "bond.own_bilinear"):
        many = law_of(which, {**STRIP, "cover": cover, "tau_max": 3.0 + cover}, tau_res=0.1)
        assert many.size == 3
        for i in range(3):
            one = law_of(which, {**STRIP, "cover": cover[i], "tau_max": 3.0 + cover[i]}, tau_res=0.1)
            assert many.rows[i] == pytest.approx(one.rows[0], nan_ok=True)
            assert many.G_f[i] == pytest.approx(one.G_f[0])


def test_what_makes_no_law() -> None:
    with pytest.raises(ModelInputError, match=r"bond\.fib14_2001 is no bond-slip law: it gives P_u"):
        law_of("bond.fib14_2001", STRIP)
    with pytest.raises(ModelInputError, match=r"does not apply in 1 case\(s\): the end slip must lie beyond slip_0"):
        law_of("bond.own_bilinear", {**STRIP, "slip_f": 0.01})
    with pytest.raises(ModelInputError, match=r"does not apply in 2 case\(s\): the bonded width"):
        law_of(DEFAULT, {**STRIP, "cover": np.array([0.5, 1.2, -1.0])})
    with pytest.raises(ModelInputError, match=r"bond\.own_chen_teng needs cover"):
        law_of(DEFAULT, {"f_c": 30.0, "form": "test"})


def test_every_law_gives_its_parameters() -> None:
    """Each law shows tau_max, slip_0, slip_f and G_f on its sheet, or takes them as inputs."""
    for made in clause.all_models("bond"):
        if made.predicts != "G_f":
            continue
        words = next(iter(made.branches()))
        keep = Keep("tau_max", "slip_0", "slip_f", "G_f")
        evaluate(made, {**STRIP, **words}, step=keep)
        assert {*keep.values, *made.inputs} >= keep.names, made.id
        law = law_of(made.id, {**STRIP, **words})
        assert law.G_f[0] == pytest.approx(keep.values["G_f"])
        if law.rows[0, 2] != law.rows[0, 1]:
            assert law.slip_f[0] == pytest.approx(keep.values.get("slip_f", STRIP["slip_f"]))
