"""Samples, sensitivities, sweeps and goals: against closed forms, for any number of workers, and their messages."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cracktie.actions import single_beam
from cracktie.beam.coefficients import COEFFICIENTS
from cracktie.beam.specimen import Wrapped, wrapped_span
from cracktie.cli import main
from cracktie.errors import InputRefused, ModelInputError
from cracktie.study import (
    Variable,
    evaluate_span,
    goal_seek,
    monte_carlo,
    own_variables,
    run,
    samples,
    sensitivities,
    sweep,
)
from cracktie.study.result import run_study
from cracktie.study.sampling import CHUNK

F_C = Variable("f_c", "lognormal", 27.0, sd=2.0)


@pytest.fixture(scope="module")
def span(t_beam: Any, materials: Any) -> Wrapped:
    return wrapped_span(single_beam(t_beam, materials), "X1", "A")


@pytest.fixture(scope="module")
def held(t_beam: Any, materials: Any) -> Any:
    from cracktie.campaign.materials import Materials
    from cracktie.campaign.specimen import Specimen

    fibres = {"anchor_fibres": {"T": {"fibre": "carbon", "mean": {"E_f": 230e3, "f_fu": 3500.0}}}}
    more = materials.model_copy(update={"anchor_fibres": Materials.model_validate(fibres).anchor_fibres})
    anchors = {"fibre": "T", "host": "web", "z": 330, "embedment": 70, "dowel_diameter": 12, "hole_diameter": 15,
               "edge_radius": 12, "fibre_area": 40, "fan": {"length": 120, "angle": 45}}  # fmt: skip
    wrap = {"system": "CF", "scheme": "u", "layout": "strips", "width": 60, "spacing": 120, "first": 120}
    specimen = Specimen(
        id="X1", batch="B1", section={"shape": "T", "b_w": 180, "h": 450, "b_flange": 400, "h_flange": 100},
        bars=[{"bars": "3 x 20 mm", "depth": 400, "material": "D20"}],
        spans={"A": {"length": 1100, "wrap": wrap, "anchors": anchors}, "B": {"length": 1900}}, age_at_test=60,
    )  # fmt: skip
    return single_beam(specimen, more)


def test_marginals_and_correlation() -> None:
    variables = [
        Variable("a", "normal", 10.0, sd=2.0), Variable("b", "lognormal", 30.0, sd=6.0),
        Variable("c", "uniform", low=1.0, high=3.0), Variable("d", "triangular", 0.6, low=0.4, high=1.0),
    ]  # fmt: skip
    chunks = list(samples(variables, 4096, correlations={("a", "b"): 0.8}))
    x = {n: np.concatenate([c[n] for c in chunks]) for n in "abcd"}
    assert [np.mean(x[n]) for n in "abcd"] == pytest.approx([10.0, 30.0, 2.0, 2.0 / 3.0], rel=2e-3)
    assert [np.std(x[n]) for n in "ab"] == pytest.approx([2.0, 6.0], rel=0.01)
    assert np.std(x["c"]) == pytest.approx(2.0 / np.sqrt(12.0), rel=2e-3)
    assert np.corrcoef(x["a"], np.log(x["b"]))[0, 1] == pytest.approx(0.8, abs=0.01)
    assert abs(np.corrcoef(x["c"], x["a"])[0, 1]) < 0.03


def test_more_samples_begin_with_the_same_ones() -> None:
    few = next(iter(samples([F_C], 100)))["f_c"]
    many = list(samples([F_C], CHUNK + 10))
    assert many[0]["f_c"][:100] == pytest.approx(few, rel=0.0)
    assert len(many[1]["f_c"]) == 10
    assert not np.isin(many[1]["f_c"], many[0]["f_c"]).any()
    assert not np.array_equal(next(iter(samples([F_C], 100, seed=2)))["f_c"], few)


def test_same_result_for_any_number_of_workers(span: Wrapped) -> None:
    one, two = (monte_carlo(span, [F_C], count=2 * CHUNK + 5, workers=n) for n in (1, 3))
    for name in one.outputs:
        assert np.array_equal(one.outputs[name], two.outputs[name], equal_nan=True)
    assert one.with_model == two.with_model


def test_intervals_in_two_parts(span: Wrapped) -> None:
    """Inputs alone are narrower; with model error the spread is that of both, independent of one another."""
    found = monte_carlo(span, [F_C], count=CHUNK)
    inner, outer = found.inputs_only["V_max"], found.with_model["V_max"]
    assert outer.low < inner.low < inner.high < outer.high
    cov = np.hypot(inner.sd / inner.mean, run.MODEL_COV["u"][0])
    assert outer.sd / outer.mean == pytest.approx(cov, rel=0.03)
    assert inner.low < inner.fractile_5 < inner.median


def test_estimators_on_a_known_function(monkeypatch: pytest.MonkeyPatch, span: Wrapped) -> None:
    """Ishigami's function with a 7, b 0.1: first 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437 (closed form)."""

    def ishigami(_: Any, x: Any, **more: Any) -> dict[str, Any]:
        return {"V_max": np.sin(x["p"]) + 7.0 * np.sin(x["q"]) ** 2 + 0.1 * x["r"] ** 4 * np.sin(x["p"])}

    monkeypatch.setattr(run, "evaluate_span", ishigami)
    names = [Variable(n, "uniform", low=-np.pi, high=np.pi) for n in "pqr"]
    found = sensitivities(span, names, count=4096)
    assert found.first == pytest.approx([0.3139, 0.4424, 0.0], abs=0.03)
    assert found.total == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.03)


def test_sensitivities_of_a_span(span: Wrapped) -> None:
    found = sensitivities(span, [F_C, *own_variables(anchored=False, skip=["k_G"])], count=256)
    assert 0.8 < sum(found.first) < 1.1
    assert found.names[int(np.argmax(found.total))] == "theta"


def test_sweep_and_map_are_single_runs(span: Wrapped) -> None:
    found = sweep(span, {"f_c": [20.0, 35.0], "theta": [32.0, 40.0, 45.0]})
    assert found["V_max"].shape == (2, 3)
    one = evaluate_span(span, {"f_c": np.array([35.0]), "theta": np.array([40.0])})
    assert found["V_max"][1, 1] == one["V_max"][0]
    line = sweep(span, {"n": [1.0, 2.0, 3.0]})
    assert (np.diff(line["V_f_max"]) > 0.0).all()


def test_goal_seek(held: Any) -> None:
    span = wrapped_span(held, "X1", "A")
    sizes = np.linspace(20.0, 120.0, 6)
    strain = sweep(span, {"anchor.h_ef": sizes})["strain_ever"]
    found = goal_seek(span, "anchor.h_ef", sizes, strain=float(strain[3]) * 0.999)
    assert found.smallest == sizes[3]
    assert (np.diff(found.probability) >= 0.0).all()
    assert goal_seek(span, "anchor.h_ef", sizes, gain=5.0).smallest is None
    many = goal_seek(span, "anchor.h_ef", sizes, variables=[Variable("k_F", "lognormal", 1.0, sd=0.3)],
                     strain=float(strain[3]), count=256)  # fmt: skip
    assert 0.0 < many.probability[3] < 1.0
    assert sizes[0] <= many.no_more <= sizes[-1]


def test_deeper_dowels_stop_helping(held: Any) -> None:
    """Common practice, no source: embedment helps while pull-out governs; less bend holds more."""
    span = wrapped_span(held, "X1", "A")
    force = sweep(span, {"anchor.h_ef": np.linspace(20.0, 500.0, 15)})["F_anchor"]
    assert force[1] > force[0]
    assert force[-1] == pytest.approx(force[-2], rel=1e-9)
    bent = sweep(span, {"anchor.theta_b": [45.0, 90.0], "anchor.A_a": [3.0]})["F_anchor"]
    assert bent[0, 0] > bent[1, 0]


def test_hole_and_fibre_follow_the_dowel(held: Any) -> None:
    span = wrapped_span(held, "X1", "A")
    alone = evaluate_span(span, {"anchor.d_a": np.array([10.0, 14.0])})
    by_hand = evaluate_span(span, {"anchor.d_a": np.array([10.0, 14.0]), "anchor.d_0": np.array([13.0, 17.0]),
                                   "anchor.A_a": 40.0 * (np.array([10.0, 14.0]) / 12.0) ** 2})  # fmt: skip
    assert np.array_equal(alone["F_anchor"], by_hand["F_anchor"])
    axes = {"anchor.h_ef": {"from": "30 mm", "to": "300 mm", "steps": 3},
            "anchor.d_a": {"from": "8 mm", "to": "16 mm", "steps": 2}}  # fmt: skip
    found = run_study(held, {"specimen": "X1", "span": "A", "samples": 8, "map": axes})
    assert found.map is not None
    assert found.governing is not None
    assert found.map[2]["F_anchor"] == pytest.approx(found.governing.F_u)
    assert np.array(found.to_dict()["governing"]["mechanism"]).shape == (3, 2)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda s: evaluate_span(s, {"f_q": np.ones(2)}), "f_q cannot vary here; possible: .*f_c"),
        (lambda s: monte_carlo(s, [F_C, F_C]), "f_c varies twice"),
        (lambda s: monte_carlo(s, [F_C], correlations={("f_c", "E_f"): 0.5}), "E_f does not vary"),
        (lambda s: monte_carlo(s, [F_C], count=0), "samples: 0; at least 1"),
        (lambda s: goal_seek(s, "anchor.h_ef", [1.0, 2.0], strain=0.01), "has no anchors to size"),
        (lambda s: goal_seek(s, "anchor.h_ef", [1.0, 2.0]), "give one goal"),
        (lambda s: sensitivities(s, [F_C], output="V"), "no output 'V'"),
        (lambda s: Variable("x", "normal"), "it must be above 0"),
        (lambda s: Variable("x", "beta", sd=1.0), "distribution 'beta'; possible"),
    ],
)
def test_messages(span: Wrapped, call: Any, message: str) -> None:
    with pytest.raises(ModelInputError, match=message):
        call(span)


def test_contradicting_correlations() -> None:
    names = [Variable(n, "normal", 0.0, sd=1.0) for n in "abc"]
    with pytest.raises(ModelInputError, match="contradict"):
        list(samples(names, 4, correlations={("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9}))


def test_study_of_a_file(held: Any) -> None:
    data = {
        "specimen": "X1", "span": "A", "samples": 200, "vary": {"f_c": {"cov": "5 %"}, "anchor.h_ef": {"sd": "4 mm"}},
        "sweep": {"anchor.h_ef": {"from": "30 mm", "to": "90 mm", "steps": 4}}, "sensitivity": "V_max",
        "goal": {"size": "anchor.h_ef", "from": "30 mm", "to": "90 mm", "steps": 3, "gain": "5 %"},
    }  # fmt: skip
    found = run_study(held, data).to_dict()
    json.dumps(found, allow_nan=False)
    assert found["sweeps"]["anchor.h_ef"]["values"] == [30.0, 50.0, 70.0, 90.0]
    assert "not validated" in found["notice"]
    assert {"k_tau", "theta", "k_F", "f_c"} <= set(found["sensitivity"]["names"])
    slow = run_study(held, {**data, "set": "slow", "sensitivity": None}).to_dict()
    assert slow["now"]["V_max"] >= found["now"]["V_max"]


def test_all_problems_of_a_file_at_once(held: Any) -> None:
    data = {
        "specimen": "X1", "smaples": 3, "vary": {"f_c": {"cov": "5 kN"}, "w_ff": {"cov": "1 %"}, "E_f": "range"},
        "map": {"f_c": {"from": "20 MPa", "to": "10 MPa"}}, 
        "goal": {"size": "anchor.h_ef", "from": "30 mm", "to": "40 mm"},
    }  # fmt: skip
    with pytest.raises(InputRefused) as refused:
        run_study(held, data, file="s.yaml")
    text = str(refused.value)
    for part in ("smaples", "vary.f_c.cov", "w_f", "only coefficients have a range", "a map has two", "needs one goal"):
        assert part in text, part


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    beam = """\
specimen:
  id: N1
  batch: c
  section: {shape: rectangular, b_w: 150 mm, h: 300 mm}
  bars: [{bars: 3 x 20 mm, depth: 260 mm, material: d}]
  spans:
    A: {length: 800 mm, wrap: {system: s, scheme: u, layout: continuous}}
    B: {length: 1000 mm}
materials:
  concretes: {c: {nominal: {f_c: 30 MPa}}}
  bars: {d: {nominal: {f_y: 500 MPa}}}
  frp_systems:
    s: {fibre: carbon, form: sheet, thickness: 0.167 mm, convention: fibre, mean: {E_f: 230 GPa, f_fu: 3800 MPa}}
"""
    (tmp_path / "beam.yaml").write_text(beam, encoding="utf-8")
    (tmp_path / "s.yaml").write_text("campaign: beam.yaml\nspecimen: N1\nsamples: 64\n", encoding="utf-8")
    assert main(["study", str(tmp_path / "s.yaml")]) == 0
    assert "95 % with model error" in capsys.readouterr().out
    assert main(["study", str(tmp_path / "s.yaml"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["kind"] == "study"
    (tmp_path / "s.yaml").write_text("campaign: beam.yaml\nspecimen: N2\n", encoding="utf-8")
    assert main(["study", str(tmp_path / "s.yaml")]) == 2
    assert "'N2' is no specimen" in capsys.readouterr().err


def test_every_coefficient_can_vary(span: Wrapped) -> None:
    for name, c in COEFFICIENTS.items():
        assert np.isfinite(evaluate_span(span, {name: np.array([c.low, c.high])})["V_max"]).all(), name
