"""The score of the mechanics: statistics by hand, studies left out, screening, messages. The beams are invented."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAD = (
    "source,specimen,scheme,section,fibre,fc,bw,h,d,h_frp,top_gap,a,bar,stirrup_d,stirrup_s,fy,Ef,tf,ffu,wf,sf,beta,"
    "V_total,Vf,issues"
)
BEAM = "{s},{n},U,T,CFRP,30,150,400,350,400,100,1000,D,6,200,400,230000,0.165,3400,50,125,90,{V},{v},{i}"


def line(study: str, name: str, V: float, v: float, issues: str = "") -> str:
    return BEAM.format(s=study, n=name, V=V, v=v, i=issues)


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        spec = importlib.util.spec_from_file_location("score_mechanics", ROOT / "tools/score_mechanics.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module
    finally:
        sys.path.remove(str(ROOT / "tools"))


@pytest.fixture
def table(tmp_path: Path) -> Path:
    rows = [line(s, f"{s}{i}", 120.0 + 5 * i, 30.0 + 5 * i) for s in ("one", "two", "three") for i in range(3)]
    rows.append(line("four", "low", 150.0, 50.0, "LOWER bound: bending"))
    rows.append(line("four", "noise", 120.0, 2.0))
    path = tmp_path / "beams.csv"
    path.write_text("\n".join([HEAD, *rows]), encoding="utf-8")
    return path


def test_equal_beams_have_equal_predictions(tool: ModuleType, table: Path) -> None:
    """All beams are one design: the mean of test/prediction is that of the tests, and so is the COV."""
    found = tool.score(table, {}, fit=False)
    line = next(x for x in found["lines"] if x["model"] == "mechanics, largest")
    tests = np.array([30.0, 35.0, 40.0] * 3 + [2.0])
    assert line["V_f"]["n"] == 10
    assert line["V_f"]["cov"] == pytest.approx(np.std(tests, ddof=1) / np.mean(tests), rel=1e-9)


def test_screened_rows_have_reasons(tool: ModuleType, table: Path) -> None:
    found = tool.score(table, {}, fit=False, screened=True)
    assert {r["specimen"]: r["why"].split(":")[0] for r in found["screened"]} == {
        "low": "lower bound", "noise": "V_f below 5 % of V"
    }  # fmt: skip
    assert all(x["V_f"]["n"] == 9 for x in found["lines"] if x["model"].startswith("mechanics"))


def test_a_study_is_scored_with_what_the_others_give(tool: ModuleType) -> None:
    """Two coefficient pairs: one fits studies a and b, the other c; the scored study never chooses."""
    test = np.array([1.0, 1.1, 1.0, 1.1, 2.0, 2.2])
    study = np.array(["a", "a", "b", "b", "c", "c"])
    grid = {("low", 0): np.ones(6), ("high", 0): np.full(6, 2.0)}
    ratio, picked = tool.fitted(grid, test, study)
    assert picked[2] == ("low", 0)
    assert ratio[4:] == pytest.approx([2.0, 2.2])
    free = tool.debiased(test, study)
    assert free[:2] == pytest.approx(np.array([1.0, 1.1]) / np.mean([1.0, 1.1, 2.0, 2.2]))


def test_resampling_of_studies(tool: ModuleType) -> None:
    """Ratios that are equal have no difference; a clearly wider spread is wider in nearly every draw."""
    rng = np.random.default_rng(2)
    study = np.repeat(list("abcdefgh"), 5)
    tight, wide = 1.0 + 0.05 * rng.standard_normal(40), 1.0 + 0.3 * rng.standard_normal(40)
    assert tool.resampled(tight, tight, study)[:3] == (0.0, 0.0, 0.0)
    low, middle, high, below = tool.resampled(tight, wide, study)
    assert low < middle < high < 0.0
    assert below == 1.0


def test_floor_by_hand(tool: ModuleType) -> None:
    rows = [{"V_total": 100.0, "Vf": 50.0}]
    assert tool.floor(rows) == pytest.approx(0.07 * np.hypot(100.0, 50.0) / 50.0)


def test_prints_table_and_json(tool: ModuleType, table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert tool.main([str(table), "--no-fit", "--set", "k_tau=0.8"]) == 0
    text = capsys.readouterr().out
    assert "mechanics, subtraction" in text
    assert "floor of U" in text
    assert tool.main([str(table), "--no-fit", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["floor"]["U"] > 0.0


def test_message_for_a_missing_column(tool: ModuleType, tmp_path: Path) -> None:
    path = tmp_path / "b.csv"
    path.write_text(
        HEAD.replace("V_total,", "") + "\n" + line("a", "b", 1, 1).replace(",1,1,", ",1,"), encoding="utf-8"
    )
    with pytest.raises(SystemExit, match="needs the columns V_total"):
        tool.beams_of(path)
