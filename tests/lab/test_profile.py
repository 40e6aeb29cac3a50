"""Strain profiles: the same invented strains written in both layouts, and faulty tables with their place."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import InputRefused, ModelInputError
from cracktie.lab.profile_table import read_profile

BY_TIME = "# invented\ntime [s];g1 @ 40 mm;g2 @ 0 cm;g3 [8 cm]\n0;0;0;0\n1;100;;-50\n2;200;10;nan\n"
BY_PLACE = "position [cm],0 s,1 s,2000 ms\n0,0,,10\n4,0,100,200\n8,0,-50,\n"


@pytest.mark.parametrize("text", [BY_TIME, BY_PLACE])
def test_both_layouts_give_the_same(tmp_path, text):
    (tmp_path / "p.csv").write_text(text)
    found = read_profile(tmp_path / "p.csv", "p.csv", "um/m")
    assert found.position == pytest.approx([0.0, 40.0, 80.0])
    assert found.time == pytest.approx([0.0, 1.0, 2.0])
    expected = np.array([[0, 0, 0], [np.nan, 100, -50], [10, 200, np.nan]]) * 1e-6
    np.testing.assert_allclose(found.strain, expected, rtol=1e-6)
    assert [found.row(t) for t in (0.0, 1.4, 2.9)] == [0, 1, 2]
    with pytest.raises(ModelInputError, match=r"3\.1 s lies outside the profile's record \(0\.0 to 2\.0 s\)"):
        found.row(3.1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no profile"),
        ("load,0 mm\n1,2\n", "neither a time nor a place"),
        ("time [s],a,b @ 3 mm\n0,1,2\n", "p.csv:1:2: "),
        ("time [s],3 kN\n0,1\n", "does not measure"),
        ("time [s],0 mm,5 mm\n0,1,2\n1,x,2\n", "p.csv:3:2: "),
        ("time [s],0 mm,5 mm\n0,1\n", "2 cells for 3 headers"),
        ("time [s],5 mm,5 mm\n0,1,2\n1,1,2\n", "the place 5 stands twice"),
        ("time [s],0 mm\n0,1\n0,2\n", "the time 0 stands twice"),
        ("time [s],0 mm\n\0\xff,1\n", "p.csv"),
    ],
)
def test_faulty_tables_are_refused_with_their_place(tmp_path, text, said):
    (tmp_path / "p.csv").write_text(text, encoding="latin-1")
    with pytest.raises(InputRefused) as caught:
        read_profile(tmp_path / "p.csv", "p.csv", "um/m")
    assert said in str(caught.value)
