"""The score of a table: ratios by hand, what is left out and counted, trends, messages. The beams are invented."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAD = "scheme,section,fibre,fc,bw,h,d,h_frp,top_gap,Ef,tf,ffu,wf,sf,beta,stirrup_d,stirrup_s,Vf,issues"
CLOSED = "W,R,CFRP,30,300,500,450,500,0,230000,{t},3400,100,200,90,0,0,{v},"
SHALLOW = "S,R,CFRP,30,150,150,100,150,0,230000,0.165,3400,50,100,90,0,0,20,"


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("score_published_beams", ROOT / "tools/score_published_beams.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def scored(tool: ModuleType, folder: Path, *lines: str) -> dict[tuple[str, str], dict[str, Any]]:
    path = folder / "beams.csv"
    path.write_text("\n".join([HEAD, *lines]), encoding="utf-8")
    return {(s["model"].removeprefix("frp_shear."), s["scheme"]): s for s in tool.score(tool.read(path))}


def test_mean_and_scatter_by_hand(tool: ModuleType, tmp_path: Path) -> None:
    """Closed wrap after ACI 440.2R: 2 x t x 0.5 x 0.004 x 230 000 x 450 N, 35.19, 70.38 and 140.76 kN here."""
    lines = [CLOSED.format(t=t, v=v) for t, v in (("0.085", "35.19"), ("0.17", "140.76"), ("0.34", "422.28"))]
    found = scored(tool, tmp_path, *lines)["aci440_2017", "W"]
    assert (found["n"], found["of"], found["zeros"]) == (3, 3, 0)
    assert found["mean"] == pytest.approx(2.0)
    assert found["cov"] == pytest.approx(0.5)
    assert found["slope"] > 0


def test_zeros_lower_bounds_and_missing_values_are_counted_not_averaged(tool: ModuleType, tmp_path: Path) -> None:
    bound = CLOSED.format(t="0.17", v="500") + "LOWER bound: flexure"
    found = scored(tool, tmp_path, SHALLOW, bound)
    assert found["aci440_2017", "S"]["zeros"] == 1
    assert found["aci440_2017", "S"]["mean"] is None
    assert found["jsce_2001", "S"]["no_value"] == 1
    assert found["aci440_2017", "W"]["lower_bounds"] == 1
    assert found["aci440_2017", "W"]["n"] == 0


def test_touching_strips_count_as_a_sheet(tool: ModuleType, tmp_path: Path) -> None:
    path = tmp_path / "beams.csv"
    path.write_text(HEAD + "\n" + SHALLOW.replace("50,100,90", "100,141.421,45"), encoding="utf-8")
    assert tool.inputs_of(tool.read(path)[0])["layout"] == "continuous"


def test_messages(tool: ModuleType, tmp_path: Path) -> None:
    path = tmp_path / "beams.csv"
    path.write_text("scheme,fc\nU,30\n", encoding="utf-8")
    with pytest.raises(SystemExit, match="needs the columns bw, h"):
        tool.read(path)
    path.write_text(HEAD + "\n" + SHALLOW.replace("S,R", "Q,R"), encoding="utf-8")
    with pytest.raises(SystemExit, match=r"beams\.csv:2: scheme 'Q'; possible: S, U, UA, W"):
        tool.read(path)
    path.write_text(HEAD + "\n" + SHALLOW.replace("0.165", "0,165"), encoding="utf-8")
    with pytest.raises(SystemExit, match=r"beams\.csv:2: not as many fields .* decimal comma"):
        tool.read(path)


def test_prints_a_table_or_json(tool: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "beams.csv"
    path.write_text(HEAD + "\n" + CLOSED.format(t="0.17", v="70.38"), encoding="utf-8")
    assert tool.main([str(path)]) == 0
    assert "frp_shear.aci440_2017" in capsys.readouterr().out
    assert tool.main([str(path), "--json", "--against", "f_c"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["of"] == 1
