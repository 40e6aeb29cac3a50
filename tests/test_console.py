"""What the command line prints: widths, plurals, empty tables, what a status means, slips of a unit."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from cracktie import clause, cli, console

from .campaign.beams import MATERIALS, SPECIMENS, folder


@pytest.mark.parametrize("columns", [80, 100, 160])
def test_models_fit_the_terminal_and_keep_their_whole_title(
    columns: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert cli.main(["models"]) == 0
    lines = capsys.readouterr().out.split("\n\nnot included")[0].splitlines()
    start = lines[0].index("title")
    assert all(len(line) <= max(columns, start + 30) for line in lines[:-1])
    joined = re.sub(r"\s+", " ", " ".join(line[start:] for line in lines[2:]))
    assert all(made.title in joined for made in clause.all_models() if not made.id.startswith(("tests.", "local.")))


def test_status_words_are_those_of_the_models() -> None:
    assert tuple(console.STATUS) == clause.LEVELS


def test_a_status_is_explained_where_it_stands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path)
    assert cli.main(["predict", str(made), "--sets", "ec2_04"]) == 0
    out = capsys.readouterr().out
    assert "status: derived = follows from" in out
    assert "memory =" not in out


def test_one_set_gives_one_margin(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path)
    assert cli.main(["predict", str(made), "--sets", "ec2_04"]) == 0
    row = next(line for line in capsys.readouterr().out.splitlines() if re.match(r"REF +A +\d", line))
    assert re.search(r"\d\.\d\d$", row)
    assert " to " not in row
    assert cli.main(["predict", str(made), "--sets", "ec2_04", "aci14_440"]) == 0
    assert " to " in next(line for line in capsys.readouterr().out.splitlines() if re.match(r"REF +A +\d", line))


def test_sheets_write_a_step_by_the_name_its_formulas_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["predict", str(folder(tmp_path)), "--sheet", "U1", "--sets", "aci14_440"]) == 0
    out = capsys.readouterr().out
    assert "root_f_c = min(sqrt(f_c), 8.3)" in out
    assert "a_fv * f_fe" in out
    assert "   a_fv = " in out


def test_a_wrong_name_is_answered_with_those_there_are(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["predict", str(folder(tmp_path)), "--sheet", "U9"]) == 2
    assert "nothing is predicted for 'U9'; there are REF, U1, S1" in capsys.readouterr().err


@pytest.mark.parametrize(("n", "words"), [(0, "0 tests"), (1, "1 test"), (2, "2 tests")])
def test_counts(n: int, words: str) -> None:
    assert console.count(n, "test") == words


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("C1: {cast: 2026-03-02, nominal: {f_c: 30 MPa}}", "C1: {nominal: {f_c: 30}}", "write for example '30 MPa'"),
        ("E_s: 200 GPa", "E_s: 200", "write for example '200 GPa'"),
        ("E_s: 200 GPa", "E_s: 200000", "write for example '200000 MPa'"),
        ("f_c: 30 MPa", "f_c: 30 GPa", "f_c = 30000 MPa is not between 1 and 300 MPa (a slip of the unit?)"),
        ("E_s: 200 GPa", "E_s: 200 MPa", "E_s = 200 MPa is not between"),
        ("f_y: 500 MPa, E_s", "f_y: 500 kPa, E_s", "f_y = 0.5 MPa is not between"),
        ("mean: {E_f: 230 GPa, f_fu: 3500 MPa}\nadh", "mean: {E_f: 230 MPa, f_fu: 3500 MPa}\nadh", "E_f = 230 MPa"),
    ],
)
def test_slips_of_a_unit(old: str, new: str, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert MATERIALS.count(old) >= 1
    assert cli.main(["check", str(folder(tmp_path, materials=MATERIALS.replace(old, new, 1)))]) == 2
    assert says in capsys.readouterr().err


def test_a_refusal_tells_warnings_from_errors(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    thin = SPECIMENS.replace("embedment: 60 mm", "embedment: 97 mm").replace(
        "b_w: 200 mm, h: 400 mm", "b_w: 200 mm, h: 400"
    )
    assert (
        cli.main(
            [
                "check",
                str(
                    folder(
                        tmp_path, specimens=thin.replace("h: 400}", "h: 400 mm}"), tests="tests: {T: {specimen: X}}\n"
                    )
                ),
            ]
        )
        == 2
    )
    lines = capsys.readouterr().err.splitlines()
    assert next(line for line in lines if "holes of both faces" in line).startswith("warning: specimens.yaml:")
    assert next(line for line in lines if "no such specimen" in line).startswith("tests.yaml:")
    assert lines[-1] == "refused: 1 error, nothing was written"


def test_detailing_is_told_when_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three beams, one with anchors embedded 60 mm; U1 and S1 share a wrap without corner radius."""
    made = str(folder(tmp_path))
    assert cli.main(["check", made]) == 0
    assert "corner_radius" not in capsys.readouterr().out
    assert cli.main(["check", made, "--detailing"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert next(line for line in lines if "no corner_radius" in line).endswith("(U1/A, S1/A)")
    assert next(line for line in lines if "embedment 60 mm" in line).endswith("(S1/A)")
    assert cli.main(["check", made, "--detailing", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["detailing"]
    assert {"check", "level", "words", "source", "spans"} == set(found[0])
