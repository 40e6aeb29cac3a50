"""What every FRP model owes to mechanics, on small random samples: limits, monotony, continuity."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cracktie.clause import Model, all_models, evaluate
from cracktie.mechanics import frp_geometry as geometry

from ..samples import draw
from ..test_every_model import pairs, ruled_out

pytestmark = pytest.mark.slow

MODELS = all_models("frp_shear")
SIZE = 12
few = settings(max_examples=4, deadline=None)
seeds = st.integers(0, 10_000)


def branches(made: Model, **fixed: Any) -> list[dict[str, Any]]:
    """Branches that can give a value and hold the fixed words, as far as the model knows them."""
    wanted = {n: w for n, w in {"fibre": "carbon", **fixed}.items() if n in made.categories}
    every = [w for w in made.branches() if ruled_out(made, w) is None]
    every = [w for w in every if all(w[n] == v for n, v in wanted.items())]
    met: set[Any] = set()
    return [w for w in every if not pairs(w) <= met and not met.update(pairs(w))]


def cases(**fixed: Any) -> list[Any]:
    """Model and branch as parameters of a test; branches thinned until every pair of words is met."""
    return [
        pytest.param(made, words, id="-".join([made.id[10:], *map(str, words.values())]))
        for made in MODELS
        for words in branches(made, **fixed)
    ]


def run(made: Model, inputs: dict[str, Any], **changes: Any) -> tuple[Any, Any]:
    """Values and where they apply."""
    result = evaluate(made, {**inputs, **{n: v for n, v in changes.items() if n in made.inputs}})
    return result.value, np.broadcast_to(result.applicable, np.shape(result.value))


def never_less(more: tuple[Any, Any], less: tuple[Any, Any], slack: float = 1e-9) -> None:
    """Element by element, where both apply."""
    both = more[1] & less[1]
    assume(both.any())
    assert (more[0][both] >= less[0][both] * (1 - slack)).all()


STEPPED = {"frp_shear.fib14_2001": "its partial factor follows the mode: 1.30 peeling, 1.35 to 1.50 rupture"}
"""Models that step by design in the design form of open wraps."""


def slack(made: Model, words: dict[str, Any]) -> float:
    """1e-9, or the step of the partial factors of carbon where the document has one."""
    return 1 - 1.30 / 1.35 + 1e-9 if made.id in STEPPED and words["form"] == "design" else 1e-9


@pytest.mark.parametrize(("made", "words"), cases(layout="strips"))
@few
@given(seed=seeds)
def test_touching_strips_are_a_continuous_sheet(made: Model, words: dict[str, Any], seed: int) -> None:
    """Catches w_f/s_f = 1 for inclined sheets and spacings mixed up between axis and fibres."""
    inputs = draw(made, words, SIZE, seed)
    touching = geometry.spacing_along(p_f=inputs["w_f"], beta=inputs["beta"])
    strips, apply = run(made, inputs, s_f=touching)
    sheet, apply_too = run(made, inputs, layout="continuous", w_f=np.full(SIZE, np.nan), s_f=np.full(SIZE, np.nan))
    assert (apply == apply_too).all()
    np.testing.assert_allclose(strips[apply], sheet[apply], rtol=1e-6)


@pytest.mark.parametrize(("made", "words"), cases(layout="strips"))
@few
@given(seed=seeds)
def test_two_plies_are_one_of_twice_the_thickness(made: Model, words: dict[str, Any], seed: int) -> None:
    """Catches the number of plies forgotten in a bond length or an FRP ratio."""
    inputs = draw(made, words, SIZE, seed)
    half, apply = run(made, inputs, n=2 * np.ones(SIZE), t_f=inputs["t_f"] / 2)
    whole, _ = run(made, inputs, n=np.ones(SIZE))
    np.testing.assert_allclose(half[apply], whole[apply], rtol=1e-9)


@pytest.mark.parametrize(("made", "words"), cases(form="test"))
@few
@given(seed=seeds)
def test_never_more_than_the_strength_of_the_strips_crossed(made: Model, words: dict[str, Any], seed: int) -> None:
    inputs = draw(made, words, SIZE, seed)
    inputs["eps_fu"] = eps_fu = inputs.get("f_fu", 4000.0) / inputs["E_f"]
    got, apply = run(made, inputs)
    names = ("layout", "w_f", "s_f", "beta")
    ratio = geometry.along_axis(**{n: inputs[n] for n in names})
    area = geometry.area_per_length(n=inputs["n"], t_f=inputs["t_f"], ratio=ratio)
    height = inputs.get("d", inputs.get("d_fv"))
    most = area * inputs["E_f"] * eps_fu * height
    most = most * geometry.truss_factor(theta=inputs.get("theta", 45.0), beta=inputs["beta"])
    assert (got[apply] <= most[apply] * (1 + 1e-9)).all()


@pytest.mark.parametrize(("made", "words"), cases(form="design"))
@few
@given(seed=seeds)
def test_design_form_never_exceeds_the_test_form(made: Model, words: dict[str, Any], seed: int) -> None:
    """Technical Report 55: only while the bond lengths take less than half of the depth. Beyond, a modulus lowered by
    its partial factor shortens the bond length by more than it lowers the force."""
    inputs = draw(made, words, SIZE, seed)
    if ".tr55_" in made.id:
        inputs["d_fv"] = 3.0 * inputs["d_fv"]
    never_less(run(made, inputs, form="test"), run(made, inputs))


@pytest.mark.parametrize(("made", "words"), cases(layout="strips", anchored=False))
@few
@given(seed=seeds)
def test_better_wraps_give_at_least_as_much(made: Model, words: dict[str, Any], seed: int) -> None:
    """side <= u <= full, and an anchored U-wrap lies between u and full, wherever the document has both."""
    inputs = draw(made, words, SIZE, seed)
    better = [("side", "u", False), ("u", "full", False), ("u", "u", True)]
    for worse, other, anchored in better:
        low = {**words, "scheme": worse}
        high = {**words, "scheme": other, "anchored": anchored}
        if words["scheme"] == worse and not ruled_out(made, low) and not ruled_out(made, high):
            never_less(run(made, inputs, **high), run(made, inputs, **low), slack(made, words))


RISING = {"f_c": 1.2, "f_cm": 1.2, "f_ctm": 1.2, "f_ctk": 1.2, "f_fu": 1.2}


@pytest.mark.parametrize(("made", "words"), cases(layout="strips"))
@few
@given(seed=seeds)
def test_stronger_materials_never_give_less(made: Model, words: dict[str, Any], seed: int) -> None:
    inputs = draw(made, words, SIZE, seed)
    for name, factor in RISING.items():
        if name in made.inputs and not (made.id.endswith("jsce_2001") and name == "f_fu"):
            never_less(run(made, inputs, **{name: factor * inputs[name]}), run(made, inputs), slack(made, words))


@pytest.mark.parametrize(("made", "words"), cases(layout="strips"))
@few
@given(seed=seeds)
def test_deeper_wraps_never_give_less(made: Model, words: dict[str, Any], seed: int) -> None:
    inputs = draw(made, words, SIZE, seed)
    if "d_fv" in made.inputs:
        never_less(run(made, inputs, d_fv=1.1 * inputs["d_fv"]), run(made, inputs))
    if "z_t" in made.inputs and words["scheme"] != "full" and not words["anchored"]:
        never_less(run(made, inputs), run(made, inputs, z_t=inputs["z_t"] + 20.0))


PATHS = {"t_f": (0.02, 2.0), "f_c": (12.0, 90.0), "f_cm": (12.0, 90.0), "beta": (45.0, 90.0), "E_f": (40e3, 400e3),
         "d_fv": (60.0, 700.0), "z_t": (0.0, 150.0), "eps_fu": (0.002, 0.03), "w_f": (20.0, 60.0)}  # fmt: skip


def jump(made: Model, inputs: dict[str, Any], name: str, low: float, high: float) -> float:
    """Largest step between neighbours along one input, bisected down to a step of 1e-9 of the path; over the mean."""
    at = np.linspace(low, high, 301)
    value, apply = run(made, {n: np.full(at.size, v) if np.ndim(v) else v for n, v in inputs.items()}, **{name: at})
    scale = np.mean(value[apply]) if apply.any() else 0.0
    if scale == 0.0 or not apply[:-1][apply[1:]].any():
        return 0.0
    step = np.where(apply[1:] & apply[:-1], np.abs(np.diff(np.where(apply, value, 0.0))), 0.0)
    worst = int(np.argmax(step))
    a, b = at[worst], at[worst + 1]
    for _ in range(22):
        three = np.array([a, (a + b) / 2, b])
        value, _ = run(made, {n: np.full(3, v) if np.ndim(v) else v for n, v in inputs.items()}, **{name: three})
        a, b = (three[0], three[1]) if abs(value[1] - value[0]) > abs(value[2] - value[1]) else (three[1], three[2])
    value, _ = run(made, {n: np.full(2, v) if np.ndim(v) else v for n, v in inputs.items()}, **{name: np.array([a, b])})
    return float(abs(value[1] - value[0]) / scale)


@pytest.mark.parametrize(("made", "words"), cases(layout="strips"))
@settings(max_examples=1, deadline=None)
@given(seed=seeds)
def test_no_jump_where_branches_meet(made: Model, words: dict[str, Any], seed: int) -> None:
    if made.id in STEPPED and words["form"] == "design":
        return
    row = {n: v[0:1] if isinstance(v, np.ndarray) else v for n, v in draw(made, words, 1, seed).items()}
    for name, (low, high) in PATHS.items():
        if name in made.inputs:
            assert jump(made, row, name, low, high) < 1e-6, f"{made.id} jumps along {name}"


def test_the_jump_finder_finds_a_jump() -> None:
    """fib 14 in the design form steps by 1.35/1.30 where peeling hands over to rupture."""
    made = next(m for m in MODELS if m.id in STEPPED)
    words = {"fibre": "carbon", "scheme": "u", "layout": "strips", "anchored": False, "form": "design"}
    row = {n: v[0:1] if isinstance(v, np.ndarray) else v for n, v in draw(made, words, 1, 3).items()}
    assert jump(made, row, "eps_fu", 0.002, 0.03) == pytest.approx(0.038, abs=0.02)


@pytest.mark.parametrize("made", MODELS, ids=lambda m: m.id[10:])
def test_strips_over_one_another_and_unfavourable_fibres_are_refused(made: Model) -> None:
    words = branches(made, layout="strips")[0]
    inputs = draw(made, words, SIZE)
    assert not run(made, inputs, s_f=0.99 * geometry.spacing_along(p_f=inputs["w_f"], beta=inputs["beta"]))[1].any()
    assert not run(made, inputs, beta=np.full(SIZE, 179.0))[1].any()


@pytest.mark.parametrize("made", [m for m in MODELS if "d_fv" in m.inputs], ids=lambda m: m.id[10:])
def test_frp_that_ends_below_the_bars_is_refused(made: Model) -> None:
    inputs = draw(made, branches(made, layout="strips")[0], SIZE)
    for depth in (0.0, -50.0):
        assert not run(made, inputs, d_fv=np.full(SIZE, depth))[1].any()


@pytest.mark.parametrize("made", MODELS, ids=lambda m: m.id[10:])
def test_every_model_says_what_its_document_says_of_anchored_ends(made: Model) -> None:
    assert made.anchored.strip()
