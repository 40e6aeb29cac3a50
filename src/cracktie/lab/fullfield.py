"""Strains of points over a face, as optical systems export them, taken along a line: a strip's axis or a crack; mm."""

from __future__ import annotations

import io
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.errors import InputRefused, Problem
from cracktie.lab.profile import Profile
from cracktie.lab.profile_table import ENDING, HEADER, TIMES, WORDS, cells_of, content, first_lines
from cracktie.units import UnitError, factor

ACROSS, UP = ("x",), ("z", "y")
"""Names of the two coordinates: along the beam, and up (an export calls it y)."""
REACH = 2.5
"""Default tolerance: times the median distance between neighbouring points; our own choice."""


@dataclass(frozen=True)
class _Head:
    line: int
    end: int
    mark: str
    names: tuple[str, ...]
    units: tuple[str, ...]
    x: int
    z: int
    time: int | None

    @property
    def others(self) -> list[int]:
        return [i for i in range(len(self.names)) if i not in (self.x, self.z, self.time)]


def is_points(path: Path, name: str) -> bool:
    """Whether a file is a table of points, with an x and a z (or y) among its headers."""
    return _head(content(path, name)) is not None


def read_points(
    path: Path,
    name: str,
    unit: str,
    line: tuple[Sequence[float], Sequence[float]],
    *,
    column: str | None = None,
    direction: float = 90.0,
    tolerance: float | None = None,
    place_unit: str | None = None,
    at: float | None = None,
) -> Profile:
    """Strain along a line (x, z of its corners) from points; the position is the distance from its first corner.

    The table has columns x and z (or y) and one strain column a time (`12.5 s`), or a time column and one row a point
    and time, or neither: then `at` is its time in s. `column` names the strain column, or three of them, 'exx, ezz,
    exz' (the third the tensor's shear), which are turned to `direction` degrees from the x axis:

        e = exx cos^2 + ezz sin^2 + 2 exz sin cos

    Between the points the strain is linear (triangles); where a corner of the triangle lies further than `tolerance` mm
    (default 2.5 times the distance of neighbours) from the place it is missing, so that nothing bridges a hole. Raises
    `InputRefused` with what is wrong and where.
    """
    raw = content(path, name)
    head = _head(raw)
    if head is None:
        raise InputRefused(Problem("error", name, "is no table of points", fix="give columns x, z and strains"))
    table = _numbers(raw, head, name)
    scales = [_length(head, i, name, place_unit) for i in (head.x, head.z)]
    points = np.column_stack([table[:, i] * s for i, s in zip((head.x, head.z), scales, strict=True)])
    try:
        scale = factor(unit, "-")
    except UnitError as error:
        raise InputRefused(Problem("error", name, error.message, fix=error.fix)) from None
    frames = list(_frames(head, table, points, name, column, direction, at))
    step = _spacing(frames[0][1], name)
    corners = np.column_stack([np.asarray(part, dtype=float) for part in line])
    along, places = _sampled(corners, step)
    reach = REACH * step if tolerance is None else tolerance
    strain = np.full((len(frames), len(along)), np.nan, dtype=np.float32)
    weights: _Weights | None = None
    for k, (_, where, values) in enumerate(frames):
        if weights is None or not weights.fits(where):
            weights = _Weights(where, places, reach)
        strain[k] = weights(values * scale)
    order = np.argsort([t for t, _, _ in frames], kind="stable")
    time = np.array([frames[k][0] for k in order])
    if (np.diff(time) <= 0.0).any():
        raise InputRefused(Problem("error", name, "a time stands twice", fix="export each only once"))
    return Profile(time, along, strain[order], (f"points about {step:.1f} mm apart, taken within {reach:.1f} mm",))


def _head(raw: bytes) -> _Head | None:
    """The first line that names an x and a z or y."""
    for number, end, text in first_lines(raw):
        mark = max("\t;,", key=text.count)
        cells = cells_of(text.lstrip("#% "), mark)
        parsed = [HEADER.match(c) for c in cells]
        names = tuple((m[1] if m else c).strip().lower() for m, c in zip(parsed, cells, strict=True))
        x = next((names.index(n) for n in ACROSS if n in names), None)
        z = next((names.index(n) for n in UP if n in names), None)
        if x is not None and z is not None and len(cells) > 2:
            units = tuple((m[2] or "") if m else "" for m in parsed)
            time = next((i for i, n in enumerate(names) if n in TIMES), None)
            return _Head(number, end, mark, tuple(c.strip() for c in cells), units, x, z, time)
    return None


def _numbers(raw: bytes, head: _Head, name: str) -> Any:
    import polars as pl

    columns = [f"c{i}" for i in range(len(head.names))]
    body = raw[head.end :]
    comma = head.mark != "," and b"," in body[:2000]
    try:
        frame = pl.read_csv(
            io.BytesIO(body), separator=head.mark, has_header=False, schema=dict.fromkeys(columns, pl.String),
            truncate_ragged_lines=True, comment_prefix="#",
        )  # fmt: skip
        text = pl.all().str.strip_chars()
        text = text.str.replace(",", ".", literal=True) if comma else text
        missing = text.str.to_lowercase().is_in([w.lower() for w in WORDS] + [""])
        table: Any = frame.select(pl.when(~missing).then(text).cast(pl.Float64)).to_numpy()
    except pl.exceptions.PolarsError as error:
        said = str(error).splitlines()[0][:160]
        fix = "give one row a point, numbers with a decimal point"
        raise InputRefused(Problem("error", name, f"is no table of numbers: {said}", head.line + 1, fix=fix)) from None
    keep = np.isfinite(table[:, [head.x, head.z]]).all(axis=1)
    return table[keep]


def _length(head: _Head, column: int, name: str, place_unit: str | None) -> float:
    unit = head.units[column] or place_unit
    if not unit:
        fix = f"write `{head.names[column]} [mm]`, or state place_unit: mm in tests.yaml"
        raise InputRefused(
            Problem("error", name, "the places have no unit", head.line, column + 1, head.names[column], fix=fix)
        )
    try:
        return factor(unit, "mm")
    except UnitError as error:
        raise InputRefused(Problem("error", name, error.message, head.line, column + 1, fix=error.fix)) from None


def _frames(
    head: _Head, table: Any, points: Any, name: str, column: str | None, direction: float, at: float | None
) -> list[tuple[float, Any, Any]]:
    """(time in s, points, strains) of every frame."""
    timed = {i: m for i in head.others if (m := ENDING.search(head.names[i])) and m[2] in ("s", "ms", "min", "h")}
    if head.time is None and timed and column is None:
        return [(float(m[1]) * factor(m[2], "s"), points, table[:, i]) for i, m in timed.items()]
    values = _turned(table, _strain_columns(head, name, column), direction)
    if head.time is not None:
        time = table[:, head.time] * factor(head.units[head.time] or "s", "s")
        order = np.argsort(time, kind="stable")
        starts = np.flatnonzero(np.diff(time[order])) + 1
        groups = np.split(order, starts)
        return [(float(time[g[0]]), points[g], values[g]) for g in groups if np.isfinite(time[g[0]])]
    if at is None:
        fix = "state its time in tests.yaml (at: 412 s), or export a column `time [s]`"
        raise InputRefused(Problem("error", name, "the points have no time", head.line, fix=fix))
    return [(at, points, values)]


def _strain_columns(head: _Head, name: str, column: str | None) -> list[int]:
    by_name = {head.names[i].lower(): i for i in head.others}
    bare = {(m[1] if (m := HEADER.match(head.names[i])) else head.names[i]).strip().lower(): i for i in head.others}
    listed = ", ".join(head.names[i] for i in head.others)
    if column is None:
        if len(head.others) != 1:
            fix = "name the strain along the fibres in tests.yaml (column: ...), or 'exx, ezz, exz' of the export"
            raise InputRefused(
                Problem("error", name, f"several columns may be the strain: {listed}", head.line, fix=fix)
            )
        return head.others
    wanted = [c.strip().lower() for c in column.split(",")]
    found = [by_name.get(c, bare.get(c)) for c in wanted]
    if None in found or len(found) not in (1, 3):
        fix = f"its columns are {listed}; name one, or three (along x, along z, shear of the tensor)"
        raise InputRefused(Problem("error", name, f"column = {column!r} is not there", head.line, fix=fix))
    return [i for i in found if i is not None]


def _turned(table: Any, columns: list[int], direction: float) -> Any:
    if len(columns) == 1:
        return table[:, columns[0]]
    along, up, shear = (table[:, i] for i in columns)
    c, s = math.cos(math.radians(direction)), math.sin(math.radians(direction))
    return along * c * c + up * s * s + 2.0 * shear * s * c


def _spacing(points: Any, name: str) -> float:
    """Median distance of a point to its nearest neighbour."""
    from scipy.spatial import cKDTree

    if len(points) < 3:
        raise InputRefused(
            Problem("error", name, f"{len(points)} points; at least 3 are needed", fix="export the face")
        )
    distance, _ = cKDTree(points).query(points, k=2)
    return max(float(np.median(distance[:, 1])), 1e-3)


def _sampled(corners: Any, step: float) -> tuple[Any, Any]:
    """Distances along a line about `step` apart, its corners included, and the places there."""
    lengths = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))))
    pieces = [np.linspace(a, b, max(2, math.ceil((b - a) / step) + 1)) for a, b in itertools.pairwise(lengths) if b > a]
    along = np.unique(np.concatenate(pieces))
    return along, np.column_stack([np.interp(along, lengths, corners[:, i]) for i in (0, 1)])


class _Weights:
    """Linear interpolation from points to places, made once for frames of equal points."""

    def __init__(self, points: Any, places: Any, reach: float):
        from scipy.spatial import Delaunay, QhullError

        self.points = points
        self.corners = np.zeros((len(places), 3), dtype=int)
        self.weights = np.full((len(places), 3), np.nan)
        try:
            mesh = Delaunay(points)
        except (QhullError, ValueError):
            return  # all points on one line: no triangles, everything stays missing
        simplex = mesh.find_simplex(places, tol=1e-6)
        inside = np.flatnonzero(simplex >= 0)
        affine = mesh.transform[simplex[inside]]
        two = np.einsum("ijk,ik->ij", affine[:, :2], places[inside] - affine[:, 2])
        weights = np.column_stack([two, 1.0 - two.sum(axis=1)])
        corners = mesh.simplices[simplex[inside]]
        distance = np.linalg.norm(points[corners] - places[inside, None, :], axis=2)
        far = ((distance > reach) & (np.abs(weights) > 1e-9)).any(axis=1)
        weights[far] = np.nan
        self.corners[inside], self.weights[inside] = corners, weights

    def fits(self, points: Any) -> bool:
        """Whether these are the same points."""
        return points is self.points or np.array_equal(points, self.points)

    def __call__(self, values: Any) -> Any:
        """Values at the places; a corner without a value leaves its weight to the others where they hold most of it."""
        found = np.asarray(values, dtype=float)[self.corners]
        good = np.isfinite(found)
        share = np.where(good, self.weights, 0.0).sum(axis=1)
        total = (np.where(good, found, 0.0) * np.where(good, self.weights, 0.0)).sum(axis=1)
        return np.where(share > 0.5, total / np.where(share > 0.5, share, 1.0), np.nan)
