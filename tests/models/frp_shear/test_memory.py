"""A million cases need little more memory than their result: chunks bound the intermediates."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from cracktie.clause import Model, all_models, evaluate

from ..samples import draw
from .test_properties import branches


@pytest.mark.slow
@pytest.mark.parametrize("made", all_models("frp_shear"), ids=lambda m: m.id[10:])
def test_a_million_cases_stay_below_100_mb(made: Model) -> None:
    inputs = draw(made, branches(made, layout="strips")[0], 1_000_000)
    tracemalloc.start()
    try:
        result = evaluate(made, inputs)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert np.size(result.value) == 1_000_000
    assert peak < 100e6, f"{peak / 1e6:.0f} MB"
