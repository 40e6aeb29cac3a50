"""Strain profiles: the same invented strains written in both layouts, and faulty tables with their place."""

from __future__ import annotations

import gzip
import io
import zipfile

import numpy as np
import pytest

from cracktie.errors import InputRefused, ModelInputError
from cracktie.lab import profile_table
from cracktie.lab.profile import FILLED, Profile, filled, mapped, without_sentinels, zero_line
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


def read(tmp_path, text, name="p.csv", **more):
    (tmp_path / name).write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_profile(tmp_path / name, name, "um/m", **more)


PLAIN = "time [s],0 mm,5 mm\n0,1,2\n1,3,4\n"
EXPECTED = np.array([[1.0, 2.0], [3.0, 4.0]]) * 1e-6


def zipped(text):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("inside.csv", text)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "more"),
    [
        (gzip.compress(PLAIN.encode(), mtime=0), {}),
        (zipped(PLAIN), {}),
        (PLAIN.encode("utf-16"), {}),
        (PLAIN.replace("\n", "\r\n"), {}),
        ("made by: a system\nunit;um/m\n\n" + PLAIN, {}),  # lines before the headers
        ("time [s];0,0 mm;5,0 mm\n0;1,0;2,0\n1;3,0;4,0\n", {}),  # decimal comma
        ("time [s]\t0.000\t0.005\n0\t1\t2\n1\t3\t4\n", {"place_unit": "m"}),  # bare places
        ("time [s], 0 mm, 5 mm,\n0, 1, 2,\n1, 3 , 4,\n", {}),  # blanks, and an empty last cell
        ("timestamp,0 mm,5 mm\n2026-03-02 14:03:12.5,1,2\n2026-03-02 14:03:13.5,3,4\n", {}),
        ("position [mm],2026-03-02 23:59:59,2026-03-03 00:00:00\n0,1,3\n5,2,4\n", {}),
        ("position [mm],0,1\n0,1,3\n5,2,4\n", {}),
        ("distance,0 s,1 s\n0,1,3\n0.005,2,4\n", {"place_unit": "m"}),
        (PLAIN + "2,5", {}),  # a system that still writes
        ("# µ\ntime [s],0 mm,5 mm\n0,1,2\n# a remark\n\n1,3,4\n".encode("cp1252"), {}),
        ("time [s],5 mm,0 mm\n1,4,3\n0,2,1\n", {}),
    ],
    ids=range(15),
)
def test_forms_of_the_same_profile(tmp_path, content, more):
    found = read(tmp_path, content, **more)
    assert found.position == pytest.approx([0.0, 5.0])
    assert found.time == pytest.approx([0.0, 1.0])
    np.testing.assert_allclose(found.strain, EXPECTED, rtol=1e-6)


def test_pieces_make_the_same_profile_as_one(tmp_path, monkeypatch):
    rng = np.random.default_rng(3)
    strain = rng.normal(0, 1000, (300, 40)).round(1)
    head = "time [s]," + ",".join(f"{p} mm" for p in range(40))
    text = "\n".join([head, *(f"{t}," + ",".join(map(str, row)) for t, row in enumerate(strain))]) + "\n"
    whole = read(tmp_path, text)
    monkeypatch.setattr(profile_table, "PIECE", 3000)
    pieces = read(tmp_path, text)
    np.testing.assert_array_equal(whole.strain, pieces.strain)
    np.testing.assert_allclose(whole.strain, strain * 1e-6, rtol=1e-6)
    lines = text.splitlines()
    lines[251] = lines[251].replace(",", ",x", 1)
    with pytest.raises(InputRefused, match=r"p\.csv:252:2: "):
        read(tmp_path, "\n".join(lines) + "\n")


def test_several_readings_in_one_second_are_spread(tmp_path):
    text = "time [s],0 mm\n" + "".join(f"{s},{k}\n" for k, s in enumerate([5, 5, 6, 6, 7, 7]))
    found = read(tmp_path, text)
    assert found.time == pytest.approx([5, 5.5, 6, 6.5, 7, 7.5])
    assert "spread evenly" in found.notes[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time [s],0.0,0.5\n0,1,2\n", "state place_unit: m"),
        ("position,0 s,1 s\n0,1,2\n", "the places have no unit"),
        ("time [s],0 mm\nnow,1\n", "p.csv:2:1: "),
        ("time [s],0 mm\n03.04.2026 12:00:00,1\n04.04.2026 12:00:00,1\n", "export the dates as year-month-day"),
        ("time [s],0 mm\n", "headers and no rows"),
    ],
)
def test_what_is_missing_is_asked(tmp_path, text, said):
    with pytest.raises(InputRefused) as caught:
        read(tmp_path, text)
    assert said in str(caught.value)


def test_words_for_no_reading():
    strain = np.zeros((4, 5))
    strain[1, 2] = 40.0  # beyond what any strain is
    strain[:3, 4] = -9999e-6
    found, words = without_sentinels(Profile(np.arange(4.0), np.arange(5.0), strain))
    assert np.isnan(found.strain).sum() == 4
    assert words == [(40.0, 1), (pytest.approx(-9999e-6), 3)]
    pressed = np.linspace(-0.006, 0.0, 20).reshape(4, 5)  # real compression has no value thrice
    assert without_sentinels(Profile(np.arange(4.0), np.arange(5.0), pressed))[1] == []


def test_zero_of_every_place_with_its_standard_error():
    """1.2533 s/sqrt(n) for the median of n normal readings; a place without readings at rest has no zero."""
    rng = np.random.default_rng(1)
    strain = rng.normal(0.0, 5e-6, (400, 200)) + np.linspace(-1e-3, 1e-3, 200)
    strain[:, 7] = np.nan
    found = zero_line(Profile(np.arange(400.0), np.arange(200.0), strain), 0.0, 399.0)
    good = np.arange(200) != 7
    assert np.isnan(found.level[7])
    error = (found.level - np.linspace(-1e-3, 1e-3, 200))[good]
    assert error.std() == pytest.approx(1.2533 * 5e-6 / 20.0, rel=0.15)
    assert np.median(found.u[good]) == pytest.approx(1.2533 * 5e-6 / 20.0, rel=0.05)
    with pytest.raises(ModelInputError, match="at least 3"):
        zero_line(Profile(np.arange(400.0), np.arange(200.0), strain), 0.2, 1.5)


def test_only_short_gaps_are_filled():
    """10 mm between places: one missing place (20 mm from reading to reading) is bridged, two are not; ends stay."""
    e = np.array([np.nan, 1.0, np.nan, 3.0, np.nan, np.nan, 6.0, np.nan]) * 1e-3
    flags = np.where(np.isnan(e), 3, 0)
    found, u, kinds = filled(np.arange(8) * 10.0, e, np.full(8, 1e-5), flags)
    assert found[2] == pytest.approx(2e-3)
    assert u[2] == pytest.approx(np.hypot(1e-5, 0.5 * 2e-3 / np.sqrt(3)))
    assert np.isnan(found[[0, 4, 5, 7]]).all()
    assert kinds.tolist() == [3, 0, FILLED, 0, 3, 3, 0, 3]


def test_stretches_run_up_or_down():
    index, place = mapped([0.0, 100.0, 200.0, 300.0], (300.0, 100.0), (20.0, 220.0))
    assert index.tolist() == [3, 2, 1]
    assert place == pytest.approx([20.0, 120.0, 220.0])
    index, place = mapped([0.0, 100.0, 200.0, 300.0], (100.0, 300.0), (220.0, 20.0))
    assert index.tolist() == [3, 2, 1]
    assert place == pytest.approx([20.0, 120.0, 220.0])
