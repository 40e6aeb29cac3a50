"""Points of an optical system along a line: linear fields are exact, holes stay open, strains turn as tensors do."""

from __future__ import annotations

import numpy as np
import pytest

from cracktie.errors import InputRefused
from cracktie.lab.fullfield import is_points, read_points

RNG = np.random.default_rng(4)
X, Z = (part.ravel() for part in np.meshgrid(np.arange(0, 201, 10.0), np.arange(0, 101, 10.0)))
X, Z = X + RNG.uniform(-2, 2, X.size), Z + RNG.uniform(-2, 2, Z.size)
LINE = ((10.0, 80.0, 190.0), (10.0, 40.0, 90.0))


def write(tmp_path, columns, name="points.csv"):
    rows = [",".join(columns), *(",".join(f"{v:.4f}" for v in row) for row in zip(*columns.values(), strict=True))]
    (tmp_path / name).write_text("\n".join(rows) + "\n")
    return tmp_path / name


def plane(x, z):
    return 300.0 + 4.0 * x - 7.0 * z


def along(found, line=LINE):
    corners = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(line[0]), np.diff(line[1])))))
    return np.interp(found.position, corners, line[0]), np.interp(found.position, corners, line[1])


def test_a_plane_comes_back_exactly_in_all_three_forms(tmp_path):
    wide = write(tmp_path, {"x [mm]": X, "y [mm]": Z, "0 s": plane(X, Z), "2000 ms": 2 * plane(X, Z)}, "wide.csv")
    both = {k: np.concatenate((v, v)) for k, v in {"x [mm]": X, "z [mm]": Z}.items()}
    time = np.repeat([0.0, 2.0], X.size)
    strain = np.concatenate((plane(X, Z), 2 * plane(X, Z)))
    long = write(tmp_path, {"time [s]": time, **both, "eyy": strain}, "long.csv")
    one = write(tmp_path, {"x": X / 10, "z": Z / 10, "eyy": plane(X, Z)}, "one.csv")
    assert is_points(wide, "wide.csv")
    for path in (wide, long):
        found = read_points(path, path.name, "um/m", LINE)
        assert found.time == pytest.approx([0.0, 2.0])
        assert found.position[[0, -1]] == pytest.approx([0.0, np.hypot(70, 30) + np.hypot(110, 50)])
        np.testing.assert_allclose(found.strain, np.outer([1, 2], plane(*along(found))) * 1e-6, rtol=1e-5, atol=1e-8)
    found = read_points(one, "one.csv", "um/m", LINE, place_unit="cm", at=7.0)
    assert found.time.tolist() == [7.0]
    np.testing.assert_allclose(found.strain[0], plane(*along(found)) * 1e-6, rtol=1e-5, atol=1e-7)


@pytest.mark.parametrize("angle", [90.0, 60.0, 135.0])
def test_strains_turn_to_the_fibres(tmp_path, angle):
    """Uniaxial strain e at 60 deg: exx = e cos^2, ezz = e sin^2, exz = e sin cos; at angle a it is e cos^2(a - 60)."""
    c, s = np.cos(np.radians(60.0)), np.sin(np.radians(60.0))
    ones = np.full(X.size, 1000.0)
    path = write(tmp_path, {"x [mm]": X, "y [mm]": Z, "exx": ones * c * c, "eyy": ones * s * s, "exy": ones * s * c})
    found = read_points(path, "p", "um/m", LINE, column="exx, eyy, exy", direction=angle, at=0.0)
    expected = 1e-3 * np.cos(np.radians(angle - 60.0)) ** 2
    np.testing.assert_allclose(found.strain, expected, rtol=1e-3, atol=1e-6)


def test_a_hole_is_not_bridged_and_a_missing_point_is(tmp_path):
    hole = (np.abs(X - 100.0) < 35.0) & (np.abs(Z - 50.0) < 30.0)
    path = write(tmp_path, {"x [mm]": X[~hole], "z [mm]": Z[~hole], "e": plane(X, Z)[~hole]})
    line = ((20.0, 180.0), (50.0, 50.0))
    found = read_points(path, "p", "um/m", line, at=0.0)
    x = 20.0 + found.position
    assert np.isnan(found.strain[0, np.abs(x - 100.0) < 10.0]).all()
    assert np.isfinite(found.strain[0, (x < 60.0) | (x > 140.0)]).all()
    values = plane(X, Z)
    values[np.argmin(np.hypot(X - 100.0, Z - 50.0))] = np.nan
    path = write(tmp_path, {"x [mm]": X, "z [mm]": Z, "e": values})
    found = read_points(path, "p", "um/m", line, at=0.0)
    error = found.strain[0] - plane(20.0 + found.position, 50.0) * 1e-6
    assert np.isnan(error).sum() <= 1  # where the missing point holds most of the weight
    assert np.nanmax(np.abs(error)) < 60e-6


@pytest.mark.parametrize(
    ("columns", "more", "said"),
    [
        ({"x [mm]": X, "z [mm]": Z, "exx": X, "ezz": X}, {"at": 0.0}, "several columns may be the strain: exx, ezz"),
        ({"x [mm]": X, "z [mm]": Z, "e": X}, {}, "state its time in tests.yaml"),
        ({"x": X, "z": Z, "e": X}, {"at": 0.0}, "state place_unit"),
        ({"x [mm]": X, "z [mm]": Z, "e": X}, {"at": 0.0, "column": "exx"}, "its columns are e"),
        ({"x [mm]": X[:2], "z [mm]": Z[:2], "e": X[:2]}, {"at": 0.0}, "at least 3"),
    ],
)
def test_what_is_open_is_asked(tmp_path, columns, more, said):
    with pytest.raises(InputRefused) as caught:
        read_points(write(tmp_path, columns), "points.csv", "um/m", LINE, **more)
    assert said in str(caught.value)
