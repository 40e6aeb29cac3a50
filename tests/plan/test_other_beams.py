"""Rehearsal of a campaign of another kind: four-point bending, continuous sheet, a crack band, no layout."""

import numpy as np
import pytest

from cracktie.campaign.choices import Reduction
from cracktie.campaign.materials import Materials
from cracktie.campaign.schema import Campaign, Head
from cracktie.campaign.specimen import Specimen
from cracktie.campaign.testing import Observations, Rig, Test
from cracktie.errors import OutOfScope, UnknownName
from cracktie.lab.read import read_log_bytes
from cracktie.plan.rehearse import rehearse, simulate_test

MATERIALS = {
    "concretes": {"c": {"measured": {"f_c": 35}}},
    "bars": {"s": {"diameter": 8, "nominal": {"f_y": 500}}},
    "frp_systems": {
        "f": {
            "fibre": "carbon",
            "form": "sheet",
            "thickness": 0.2,
            "convention": "fibre",
            "mean": {"E_f": 230000, "f_fu": 3500},
        }
    },
}
RIG = {
    "setups": {"four": {"supports": [{"x": 0}, {"x": 2400}], "loads": [{"x": 900}, {"x": 1500}]}},
    "layouts": {
        "band": {
            "channels": [
                {"name": "P", "quantity": "load"},
                {"name": "R", "quantity": "reaction", "at": "right support"},
                {"name": "w", "quantity": "crack opening"},
            ],
            "bands": [{"along": "crack band", "rows": "100, 200, 300 mm", "name": "C{row}"}],
        }
    },
}


def _campaign(**test):
    stirrups = {"material": "s", "spacing": 250}
    wrap = {"system": "f", "scheme": "u", "layout": "continuous"}
    beam = Specimen(
        id="R1",
        batch="c",
        section={"b_w": 200, "h": 400},
        between_loads=600,
        bars=[{"bars": "3 x 25 mm", "depth": 350, "material": "s"}],
        spans={"A": {"length": 900, "stirrups": stirrups, "wrap": wrap}, "B": {"length": 900}},
    )
    other = Specimen(id="slab", kind="other")
    return Campaign(
        head=Head(),
        materials=Materials.model_validate(MATERIALS),
        specimens={"R1": beam, "slab": other},
        tests={"T": Test(**{"specimen": "R1", **test}), "S": Test(specimen="slab")},
        rig=Rig.model_validate(RIG),
        observations=Observations(),
        reduction=Reduction(),
    )


def test_half_of_the_load_goes_to_each_support():
    found = simulate_test(_campaign(setup="four", layout="band"), "T", seed=3)
    np.testing.assert_allclose(found.clean["R"], found.clean["P"] / 2)
    # self-weight shear at 450 mm of a 2400 mm beam: 25e-6 * 200 * 400 * (1200 - 450) = 1500 N, times its drawn error
    weight = 1500.0 * (1 + found.truth["placing"]["weight"])
    assert found.truth["V_max"] == pytest.approx(500.0 * found.clean["P"].max() + weight)
    assert weight != 1500.0


def test_gauges_of_a_crack_band_see_the_crack():
    found = simulate_test(_campaign(setup="four", layout="band"), "T", seed=3)
    assert [name for name in found.clean if name.startswith("C")] == ["C1", "C2", "C3"]
    assert max(found.clean[f"C{row}"].max() for row in (1, 2, 3)) > 1000.0


def test_without_layout_the_standard_channels_are_written():
    found = simulate_test(_campaign(studied="B"), "T", seed=3)
    (name, data), *rest = found.files.items()
    assert not rest
    assert read_log_bytes(data, name).blocks[0].columns[:3] == ("Time", "P", "DF")
    assert found.truth["resistance_parts"]["stirrups"] == 0.0


def test_other_members_and_unknown_rigs_are_refused():
    with pytest.raises(OutOfScope, match="only beams"):
        simulate_test(_campaign(), "S")
    assert set(rehearse(_campaign(), 3)) == {"T"}
    with pytest.raises(UnknownName, match=r"setup 'five' is not in rig\.yaml; setups there: four"):
        simulate_test(_campaign(setup="five"), "T")
