"""The frame of the evidence scripts: chunks that resume, streams that do not depend on how the work was cut off."""

import json

import numpy as np
import pytest
from evidence import _frame


def mean_work(rng: np.random.Generator, size: int) -> dict[str, float]:
    return {"n": size, "sum": float(rng.random(size).sum())}


def run(tmp_path, work=mean_work, **changes):
    arguments = {"samples": 10, "size": 4, "seed": 1, "folder": tmp_path} | changes
    return _frame.run_chunks("mean", work, **arguments)


def test_chunks_hold_all_samples(tmp_path):
    assert [part["n"] for part in run(tmp_path)] == [4, 4, 2]


def test_interrupted_run_goes_on_where_it_stopped(tmp_path):
    whole = run(tmp_path / "whole")
    sizes: list[int] = []

    def interrupted(rng, size):
        if len(sizes) == 1:
            raise KeyboardInterrupt
        sizes.append(size)
        return mean_work(rng, size)

    with pytest.raises(KeyboardInterrupt):
        run(tmp_path / "cut", interrupted)
    resumed = []

    def counted(rng, size):
        resumed.append(size)
        return mean_work(rng, size)

    assert run(tmp_path / "cut", counted) == whole
    assert resumed == [4, 2]


@pytest.mark.parametrize("change", [{"seed": 2}, {"settings": {"bias": 1}}, {"samples": 12}, {"size": 5}])
def test_chunks_of_another_study_are_not_taken_up(tmp_path, change):
    run(tmp_path)
    calls = []
    run(tmp_path, lambda rng, size: calls.append(size), **change)
    assert calls


def test_chunks_of_other_sources_are_not_taken_up(tmp_path, monkeypatch):
    run(tmp_path)
    monkeypatch.setattr(_frame, "source_state", lambda: {"sources": "other"})
    calls = []
    run(tmp_path, lambda rng, size: calls.append(size))
    assert calls == [4, 4, 2]


def test_impossible_sizes_are_refused(tmp_path):
    with pytest.raises(ValueError, match="samples=0, size=4"):
        run(tmp_path, samples=0)


def test_result_file_states_its_circumstances(tmp_path):
    path = _frame.write_json("mean", {"value": 0.5}, samples=10, seed=1, folder=tmp_path)
    content = json.loads(path.read_text(encoding="utf-8"))
    assert content["result"] == {"value": 0.5}
    assert {"name", "commit", "changed", "sources", "date", "seed", "samples", "machine", "result"} == set(content)
    assert content["samples"] == 10
    assert content["machine"]["versions"]["numpy"] == np.__version__
    assert [p.name for p in tmp_path.iterdir()] == ["mean.json"]


def test_not_a_number_is_no_evidence(tmp_path):
    with pytest.raises(ValueError, match="not JSON compliant"):
        _frame.write_json("mean", {"value": float("nan")}, samples=1, seed=1, folder=tmp_path)
    assert list(tmp_path.iterdir()) == []
