"""Concrete terms at their limits: identities between documents, continuity, forms, editions and known traps."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.clause import Keep, evaluate, get

BEAM = {
    "f_c": 38.0,
    "b_w": 150.0,
    "d": 300.0,
    "h": 350.0,
    "rho_l": 0.0209,
    "A_s": 942.5,
    "M_V": 700.0,
    "d_g": 16.0,
    "f_y": 520.0,
    "a": 1000.0,
    "edition": "si",
    "form": "test",
}


def value(model: str, **changes: object) -> float:
    return float(evaluate(model, {**BEAM, **changes}).value)


class TestForms:
    def test_design_factors_are_the_document_s_own(self) -> None:
        """With one strength in both forms only the factors differ."""
        factors = {
            "concrete_shear.ec2_2004": 1.5,
            "concrete_shear.mc2010.level1": 1.5,
            "concrete_shear.jsce_2007": 1.3 ** (1 + 1 / 3),
            "concrete_shear.ec2_2023": 1.4,
        }
        for model, factor in factors.items():
            ratio = value(model) / value(model, form="design")
            assert ratio == pytest.approx(factor, rel=1e-12), model

    def test_ec2_minimum_follows_gamma(self) -> None:
        """0.035 of (6.3N) holds gamma_C = 1.5: in the test form the minimum is 1.5 times as large."""
        low = {"rho_l": 1e-4, "d": 300.0}
        keep, design = Keep("v_min"), Keep("v_min")
        evaluate("concrete_shear.ec2_2004", {**BEAM, **low}, step=keep)
        evaluate("concrete_shear.ec2_2004", {**BEAM, **low, "form": "design"}, step=design)
        k = 1 + np.sqrt(200 / 300)
        assert keep.values["v_min"] == pytest.approx(0.0525 * k**1.5 * np.sqrt(38.0))
        assert design.values["v_min"] == pytest.approx(0.035 * k**1.5 * np.sqrt(38.0))

    def test_fits_have_no_design_form(self) -> None:
        for model in ("zsutty_1968", "zsutty_1971", "niwa_1986", "niwa_1983"):
            assert get(f"concrete_shear.{model}").categories["form"] == ("test",)


class TestEditions:
    @pytest.mark.parametrize(
        ("model", "most"),
        [
            ("aci318_2014.simplified", 0.025),
            ("aci318_2014.detailed", 0.02),
            ("aci318_2019", 0.03),
            ("aci318_2025", 0.03),
            ("aashto_2020", 0.005),
        ],
    )
    @pytest.mark.parametrize("stirrups_minimum", [False, True])
    def test_the_two_unit_systems_differ_by_rounding(self, model: str, most: float, stirrups_minimum: bool) -> None:
        name = f"concrete_shear.{model}"
        both = [value(name, edition=e, stirrups_minimum=stirrups_minimum) for e in ("si", "inch-pound")]
        assert both[0] != both[1]
        assert both[0] == pytest.approx(both[1], rel=most)

    def test_inch_pound_sheets_speak_inch_pound(self) -> None:
        from cracktie.trace import trace_model

        sheet = trace_model("concrete_shear.aci318_2014.simplified", {**BEAM, "edition": "inch-pound"})
        assert {"psi", "in", "lbf"} <= {row.unit for row in sheet.rows}
        assert sheet.rows[-1].unit == "N"


class TestIdentities:
    def test_aci19_rows_meet(self) -> None:
        """(a) = (b) at rho = (0.17/0.66)^3 = 1.71 % with the SI coefficients."""
        rho = (0.17 / 0.66) ** 3
        assert rho == pytest.approx(0.0171, abs=5e-5)
        v = value("concrete_shear.aci318_2019", rho_l=rho, stirrups_minimum=True)
        assert v == pytest.approx(0.17 * np.sqrt(38.0) * 150 * 300)

    def test_aci19_minimum_stirrups_lift_the_cap_and_the_size_effect(self) -> None:
        strong = {"f_c": 90.0, "d": 800.0, "rho_l": 0.03}
        with_, without = (value("concrete_shear.aci318_2019", stirrups_minimum=s, **strong) for s in (True, False))
        expected = np.sqrt(90.0) / 8.3 / np.sqrt(2 / (1 + 0.004 * 800))
        assert with_ / without == pytest.approx(expected)

    def test_mc2010_level_1_is_level_2_at_a_fixed_strain(self) -> None:
        """180/(1000 + 1.25 z) is 0.4 * 1300/(1 + 1500 * 0.00125) rounded, with k_dg = 1.25 (d_g = 9.6 mm)."""
        z, eps = 270.0, 0.00125
        second = 0.4 / (1 + 1500 * eps) * 1300 / (1000 + 32 / (16 + 9.6) * z) * np.sqrt(38.0) * z * 150
        assert value("concrete_shear.mc2010.level1") == pytest.approx(second, rel=0.005)

    def test_csa_and_aashto_agree(self) -> None:
        """0.0316 root(ksi) 4.8 is 0.40 root(MPa) within 0.5 %; the strain differs by its place only."""
        csa, aashto = value("concrete_shear.csa_2004", d_g=19.0), value("concrete_shear.aashto_2020", d_g=19.0)
        assert csa == pytest.approx(aashto, rel=0.02)

    def test_niwa_equals_jsce_at_5_6(self) -> None:
        same = {"a": 5.6 * 300.0, "f_c": 30.0}
        assert value("concrete_shear.niwa_1986", **same) == pytest.approx(value("concrete_shear.jsce_2007", **same))

    def test_zsutty_joins_its_short_branch(self) -> None:
        joint = {"a": 2.5 * 300.0}
        assert value("concrete_shear.zsutty_1968", **joint) == pytest.approx(
            value("concrete_shear.zsutty_1971", **joint)
        )
        near = value("concrete_shear.zsutty_1971", a=375.0)
        assert near == pytest.approx(2.5 * 300 / 375 * 2.174 * np.cbrt(38 * 0.0209 * 300 / 375) * 45000)

    def test_short_slender_beams_are_refused(self) -> None:
        assert not evaluate("concrete_shear.zsutty_1968", {**BEAM, "a": 700.0}).applicable
        assert not evaluate("concrete_shear.niwa_1986", {**BEAM, "a": 700.0}).applicable

    def test_ec2_2023_is_continuous_at_four_depths(self) -> None:
        near, at, far = (value("concrete_shear.ec2_2023", M_V=m) for m in (1199.999, 1200.0, 5000.0))
        assert at == far
        assert near == pytest.approx(at, rel=1e-6)
        shortest = value("concrete_shear.ec2_2023", M_V=300.0)
        assert shortest / far == pytest.approx(2 ** (1 / 3))
        assert value("concrete_shear.ec2_2023", M_V=10.0) == shortest

    def test_aashto_crack_spacing_is_held(self) -> None:
        """With s_xe at its least, 305 mm, the factor 1295/(991 + s_xe) is 1295/1296."""
        keep = Keep("s_xe")
        evaluate("concrete_shear.aashto_2020", {**BEAM, "d_g": 40.0}, step=keep)
        assert keep.values["s_xe"] == 305.0


class TestRoots:
    """Closed forms put back into the definition they solve."""

    @pytest.mark.parametrize("m_v", [100.0, 700.0, 3000.0, 40000.0])
    @pytest.mark.parametrize("form", ["test", "design"])
    def test_csa(self, m_v: float, form: str) -> None:
        v = value("concrete_shear.csa_2004", M_V=m_v, form=form)
        eps = min((max(m_v, 270.0) / 270.0 + 1) * v / (2 * 200e3 * 942.5), 0.003)
        spacing = max(35 * 270 / (15 + 16), 0.85 * 270)
        beta = 0.40 / (1 + 1500 * eps) * 1300 / (1000 + spacing)
        phi = 0.65 if form == "design" else 1.0
        assert v == pytest.approx(phi * beta * np.sqrt(38.0) * 150 * 270)

    @pytest.mark.parametrize("m_v", [100.0, 700.0, 40000.0])
    def test_aashto(self, m_v: float) -> None:
        v = value("concrete_shear.aashto_2020", M_V=m_v)
        eps = min((max(m_v, 270.0) / 270.0 + 1) * v / (200e3 * 942.5), 0.006)
        spacing = max(35 * 270 / (16 + 16), 305)
        assert v == pytest.approx(0.083 * 4.8 / (1 + 750 * eps) * 1295 / (991 + spacing) * np.sqrt(38.0) * 150 * 270)

    def test_the_aggregate_fades_between_60_and_70(self) -> None:
        keep = [Keep("d_g_eff") for _ in range(3)]
        for f_c, k in zip((60.0, 65.0, 75.0), keep, strict=True):
            evaluate("concrete_shear.csa_2004", {**BEAM, "f_c": f_c}, step=k)
        assert [float(k.values["d_g_eff"]) for k in keep] == [16.0, 8.0, 0.0]


STRUT = {**BEAM, "a": 450.0, "z": 260.0, "l_load": 100.0, "l_support": 100.0, "A_s": 2000.0, "web_grid": True}


class TestStruts:
    def test_a_grid_raises_the_strut(self) -> None:
        for edition in ("2014", "2019"):
            name = f"concrete_shear.aci318_{edition}.strut"
            plain = float(evaluate(name, {**STRUT, "web_grid": False}).value)
            assert plain < float(evaluate(name, STRUT).value)

    def test_editions_agree_with_a_grid(self) -> None:
        values = [evaluate(f"concrete_shear.aci318_{e}.strut", STRUT).value for e in ("2014", "2019")]
        assert values[0] == values[1]

    def test_by_hand(self) -> None:
        """tan theta = 260/450: sin 0.500276, cos 0.865866; support: w = 50.0276 + 100*0.865866 = 136.614 mm;
        0.85*38*150*0.75*136.614*0.500276 = 248345 N."""
        keep = Keep("theta_strut", "V_support")
        evaluate("concrete_shear.aci318_2014.strut", STRUT, step=keep)
        assert keep.values["theta_strut"] == pytest.approx(30.018, abs=5e-4)
        assert keep.values["V_support"] == pytest.approx(248345, abs=30)

    def test_the_tie_may_govern(self) -> None:
        weak = {**STRUT, "A_s": 300.0, "f_y": 400.0}
        assert evaluate("concrete_shear.aci318_2014.strut", weak).value == pytest.approx(300 * 400 * 260 / 450)

    def test_flat_struts_are_refused(self) -> None:
        result = evaluate("concrete_shear.aci318_2014.strut", {**STRUT, "a": 600.0})
        assert not result.applicable
        assert "25 degrees" in result.reasons[0][0].sentence

    def test_ec2_by_hand(self) -> None:
        """0.6*(1 - 38/250)*38 = 19.3344 MPa on 150 x 136.614 mm times sin = 198209 N; load end: width 100*0.500276 +
        2*(300 - 260)*0.865866 = 119.297 mm gives 173084 N."""
        keep = Keep("V_support", "V_load")
        got = evaluate("concrete_shear.ec2_2004.strut", {**STRUT, "form": "test"}, step=keep).value
        assert keep.values["V_support"] == pytest.approx(198209, abs=30)
        assert got == pytest.approx(173084, abs=30)
