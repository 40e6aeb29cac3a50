"""Shared pieces of the tests: one small campaign in memory."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="session")
def materials():
    """A batch with two strengths, two bars, one carbon sheet; numbers of our own."""
    from cracktie.campaign.materials import Materials

    return Materials.model_validate(
        {
            "concretes": {
                "B1": {
                    "nominal": {"f_c": "25 MPa"},
                    "strength": [
                        {"age": "28 d", "f_c": "24 +- 0.8 MPa"},
                        {"age": "60 d", "f_c": "27 +- 0.7 MPa"},
                    ],
                }
            },
            "bars": {
                "D20": {"nominal": {"f_y": "500 MPa"}},
                "D6": {"diameter": "6 mm", "nominal": {"f_y": "400 MPa"}},
            },
            "frp_systems": {
                "CF": {
                    "fibre": "carbon",
                    "form": "sheet",
                    "thickness": "0.167 mm",
                    "convention": "fibre",
                    "mean": {"E_f": "230 GPa", "f_fu": "3800 MPa"},
                    "guaranteed": {"E_f": "230 GPa", "f_fu": "3400 MPa"},
                }
            },
        }
    )


@pytest.fixture(scope="session")
def t_beam():
    """A T-beam with stirrups and U strips in span A; numbers of our own, in N, mm, MPa."""
    from cracktie.campaign.specimen import Specimen

    wrap = {"system": "CF", "scheme": "u", "layout": "strips", "width": 60, "spacing": 120, "first": 120}
    return Specimen(
        id="X1",
        batch="B1",
        section={"shape": "T", "b_w": 180, "h": 450, "b_flange": 400, "h_flange": 100},
        bars=[{"bars": "3 x 20 mm", "depth": 400, "material": "D20"}],
        spans={
            "A": {"length": 1100, "stirrups": {"material": "D6", "spacing": 250}, "wrap": wrap},
            "B": {"length": 1900},
        },
        age_at_test=60,
    )
