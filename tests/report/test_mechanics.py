"""The chapter on mechanics: what it shows, when it is left out, that figures follow the numbers. Invented data."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from cracktie.actions import predict_mechanics, single_beam
from cracktie.figures.mechanics import gauge_strains, stacked_shear
from cracktie.report.blocks import Figure, Heading, Note, Table
from cracktie.report.mechanics import mechanics_blocks


@pytest.fixture(scope="module")
def found(t_beam: Any, materials: Any) -> Any:
    return predict_mechanics(single_beam(t_beam, materials))


def test_chapter_shows_peaks_and_a_figure(found: Any) -> None:
    blocks = list(mechanics_blocks(found, "si"))
    assert [b.text for b in blocks if isinstance(b, Heading)] == ["Mechanics"]
    table = next(b for b in blocks if isinstance(b, Table))
    peak = found.beams[0].base.peaks["V_max"] / 1e3
    assert table.rows[0][2] == f"{peak:.1f}"
    assert any(isinstance(b, Figure) for b in blocks)
    assert not any(isinstance(b, Note) for b in blocks), "the notice belongs to anchored wraps"


def test_no_chapter_without_frp(found: Any) -> None:
    bare = replace(found, beams=tuple(b for b in found.beams if b.scheme == "none"))
    assert bare.beams
    assert list(mechanics_blocks(bare, "si")) == []


def test_figure_follows_the_curves(found: Any) -> None:
    beam = found.beams[0]
    case = beam.base
    one = stacked_shear([(beam, case)])
    assert one == stacked_shear([(beam, case)])
    assert one != stacked_shear([(beam, replace(case, V_f=0.8 * case.V_f))])
    assert one != stacked_shear([(beam, case)], system="us")


def test_gauge_figure_follows_the_strains(found: Any) -> None:
    import numpy as np

    from cracktie.beam.detail import Gauge, GaugeHistory

    beam = found.beams[0]
    rising = beam.base.w * 1e-3
    gauge = GaugeHistory(Gauge("S1", 100.0, 200.0, 10.0, strip=1), rising, 0.5 * rising, 2.0 * rising, 1.0)
    one = gauge_strains([replace(beam, gauges=(gauge,))])
    other = gauge_strains([replace(beam, gauges=(replace(gauge, mean=np.sqrt(rising)),))])
    assert one != other
    held = replace(found, beams=(replace(beam, gauges=(gauge,)),))
    assert any("gauge strain" in b.alt for b in mechanics_blocks(held, "si") if isinstance(b, Figure))
