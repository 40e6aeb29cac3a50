"""The command line: JSON alone on standard output, exit status, plain signs, readers that go away, bounds with >=."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

from cracktie import cli
from cracktie.console import plain_text
from cracktie.plan.logfile import SIMULATED

from .small import TESTS, campaign, log
from .test_actions import OWN, WITH_OWN

CASES = Path(__file__).parent / "reference" / "frp_aci440.yaml"
BOUND = TESTS.replace("logs: [logs/U1.csv], outcome: shear in studied span", "logs: [logs/U1.csv], outcome: flexure")
FAULT = TESTS.replace(
    "logs: [logs/U1.csv], outcome: shear in studied span",
    "logs: [logs/U1.csv], outcome: test fault, reason: the jack slipped",
)


@pytest.fixture(autouse=True)
def _shown_defects(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error nobody foresaw fails the test instead of becoming one line."""
    from cracktie import clause

    monkeypatch.setenv("CRACKTIE_TRACE", "1")
    before = clause.registered()
    yield
    clause.restore(before)


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return campaign(tmp_path_factory.mktemp("two"))


def call(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    status = cli.main([str(a) for a in arguments])
    said = capsys.readouterr()
    return status, said.out, said.err


def constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


@pytest.mark.parametrize(
    "arguments",
    [
        "check FOLDER", "check FOLDER --table FOLDER/out/t.csv --schemas FOLDER/out/schemas", "predict FOLDER",
        "predict FOLDER --form design --sets aci14_440", "predict FOLDER --sheet U1", "reduce FOLDER", "compare FOLDER",
        "report FOLDER", "run FOLDER --fresh", "models", "models list --topic frp_shear",
        "models show frp_shear.aci440_2017",
        "models check OWN --allow-code", "verify CASES",
    ],
)  # fmt: skip
def test_json_is_all_there_is_on_standard_output(capsys, two: Path, tmp_path: Path, arguments: str) -> None:
    (tmp_path / "mine.py").write_text(OWN, encoding="utf-8")
    (two / "out").mkdir(exist_ok=True)
    places = {"FOLDER": str(two), "OWN": str(tmp_path / "mine.py"), "CASES": str(CASES)}
    words = arguments.split()
    for name, place in places.items():
        words = [w.replace(name, place) for w in words]
    status, out, _ = call(capsys, *words, "--json")
    assert status == 0
    assert isinstance(json.loads(out, parse_constant=constant), dict)


def test_no_json_where_the_input_is_refused(capsys, tmp_path: Path) -> None:
    status, out, err = call(capsys, "predict", tmp_path / "nowhere", "--json")
    assert (status, out) == (2, "")
    assert "there is no such folder" in err


def test_every_command_says_what_it_does(capsys) -> None:
    assert call(capsys)[0] == 2
    for name in ("new", "check", "predict", "reduce", "compare", "report", "run", "demo", "models", "verify"):
        with pytest.raises(SystemExit) as stopped:
            cli.main([name, "--help"])
        assert stopped.value.code == 0
        assert "usage: cracktie" in capsys.readouterr().out
    with pytest.raises(SystemExit) as stopped:
        cli.main(["prdict"])
    assert stopped.value.code == 2


def test_warnings_count_only_under_strict(capsys, tmp_path: Path) -> None:
    folder = campaign(tmp_path, {"logs/U1.csv": "Time [s],P [kN],D [mm]\n"})
    for command in ("reduce", "run", "compare"):
        status, _, err = call(capsys, command, folder)
        assert status == 0
        assert "warning: tests.yaml: U1: not reduced: U1.csv: " in err
        assert call(capsys, command, folder, "--strict")[0] == 1


def test_a_clean_campaign_is_silent_under_strict(capsys, two: Path) -> None:
    for command in ("check", "predict"):
        status, out, err = call(capsys, command, two, "--strict")
        assert (status, err) == (0, "")
        assert out


CASE = """\
- id: strain limit
  model: frp_shear.aci440_2017
  source: {citation: "Nobody (2026), An invented beam", where: page 1}
  known: worked by hand in this test
  inputs: {f_c: 30 MPa, n: 1, t_f: 0.167 mm, w_f: 60 mm, s_f: 120 mm, beta: 90 deg, E_f: 230 GPa, eps_fu: 0.015,
    d_fv: 300 mm, C_E: 1, scheme: full, layout: strips, anchored: false, form: test, edition: si}
  expected: {V_f: "VALUE kN"}
"""
"""V_f = 2 * 1 * 0.167 * 60 * 230e3 * 0.004 * 300 / 120 N = 46.092 kN: the strain of a full wrap is 0.004."""


@pytest.mark.parametrize(("value", "status", "word"), [("46.1", 0, "agrees"), ("46.2", 1, "DIFFERS")])
def test_a_failed_verification_is_status_one(capsys, tmp_path: Path, value: str, status: int, word: str) -> None:
    case = tmp_path / "case.yaml"
    case.write_text(CASE.replace("VALUE", value), encoding="utf-8")
    got, out, err = call(capsys, "verify", case)
    assert (got, err) == (status, "")
    assert word in out


def test_own_models_run_only_when_allowed(capsys, tmp_path: Path) -> None:
    trap = tmp_path / "ran"
    text = f"open({str(trap)!r}, 'w').close()\n{OWN}"
    folder = campaign(tmp_path / "c", {**WITH_OWN, "models/mine.py": text})
    digest = hashlib.sha256((folder / "models" / "mine.py").read_bytes()).hexdigest()
    for command in ("predict", "compare", "run", "report"):
        status, out, err = call(capsys, command, folder)
        assert status == 0
        assert err.count("models/mine.py: not run") == 1
        assert digest in err
        assert command == "report" or "local.mine" in out or command == "compare"
        assert not trap.exists()
    for command in ("predict", "compare", "run"):
        status, out, err = call(capsys, command, folder, "--allow-code")
        assert (status, "not run" in err) == (0, False)
        assert "local.mine" in out or "Own rule" in out
        assert trap.exists()
        trap.unlink()


def test_a_lower_bound_has_its_sign_everywhere(capsys, tmp_path: Path) -> None:
    from pypdf import PdfReader

    folder = campaign(tmp_path, {"tests.yaml": BOUND})
    printed = [line for c in ("reduce", "run") for line in call(capsys, c, folder)[1].splitlines() if "flexure" in line]
    assert len(printed) == 2
    V = next(word for word in printed[1].split(">= ")[1].split())
    assert all(f">= {V}" in line for line in printed)
    out = call(capsys, "compare", folder)[1]
    gain = next(line for line in out.splitlines() if line.startswith("U1") and "control" in line)
    share = [line for line in out.splitlines() if line.startswith("U1") and "1/2" in line]
    assert ">= " in gain
    assert share
    assert all(">= " in line for line in share)
    page = (folder / "out" / "report.html").read_text(encoding="utf-8")
    assert f">{V}<" not in page
    assert f"≥ {V}".replace(" ", "\N{NARROW NO-BREAK SPACE}") in page or f"≥ {V}" in page or f"&gt;= {V}" in page
    pdf = " ".join(p.extract_text() for p in PdfReader(folder / "out" / "report.pdf").pages)
    assert V in pdf
    before = [pdf[:at].rstrip()[-2:] for at in range(len(pdf)) if pdf.startswith(V, at)]
    assert all(b.endswith("≥") or b == ">=" for b in before), before
    table = (folder / "out" / "tables" / "reduced.csv").read_text(encoding="utf-8").splitlines()
    peak = next(line for line in table if line.startswith("U1,V_max,"))
    assert ",>=," in peak
    ratios = (folder / "out" / "tables" / "comparison.csv").read_text(encoding="utf-8").splitlines()
    mine = [line for line in ratios if line.startswith("U1,")]
    assert mine
    assert all(",>=," in line for line in mine)


def test_a_faulty_test_is_in_no_statistic_and_says_why(capsys, tmp_path: Path) -> None:
    folder = campaign(tmp_path, {"tests.yaml": FAULT})
    out = call(capsys, "compare", folder)[1]
    assert "U1: left out, test fault" in out
    assert not [line for line in out.splitlines() if line.startswith("U1 ")]
    made = json.loads(call(capsys, "compare", folder, "--json")[1])
    assert made["left_out"]["U1"].startswith("test fault")
    assert "U1" not in {t["test"] for t in made["test_prediction"]}


def test_simulated_logs_are_not_compared_unasked(capsys, tmp_path: Path) -> None:
    folder = campaign(tmp_path, {"logs/U1.csv": log(210.0, f"# {SIMULATED}\n")})
    status, out, err = call(capsys, "compare", folder)
    assert (status, out) == (2, "")
    assert "simulated logs are not compared (U1); add --simulated-ok" in err
    assert "SIMULATED" in call(capsys, "compare", folder, "--simulated-ok")[1]
    assert "not compared" in call(capsys, "run", folder)[1]
    assert "SIMULATED DATA" in (folder / "out" / "report.html").read_text(encoding="utf-8")


def test_ctrl_c_is_no_traceback(capsys, two: Path, monkeypatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("cracktie.actions.open_campaign", stop)
    status, out, err = call(capsys, "run", two)
    assert (status, out) == (2, "")
    assert err.startswith("stopped")


def test_an_unforeseen_error_is_one_line_and_its_own_status(capsys, two: Path, monkeypatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError("an inner name")

    monkeypatch.setattr("cracktie.actions.open_campaign", broken)
    with pytest.raises(KeyError):
        cli.main(["check", str(two)])
    monkeypatch.delenv("CRACKTIE_TRACE")
    status, out, err = call(capsys, "check", two)
    assert (status, out) == (3, "")
    assert err.startswith("a defect in cracktie, please report it: KeyError: 'an inner name' (test_cli.py:")
    assert err.count("\n") == 1


PROGRAM = [sys.executable, "-m", "cracktie"]


def test_a_reader_that_goes_away(two: Path) -> None:
    for arguments in (["models"], ["predict", str(two)], ["--help"]):
        started = subprocess.Popen([*PROGRAM, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        assert started.stdout is not None
        assert started.stderr is not None
        started.stdout.close()
        said = started.stderr.read().decode()
        started.stderr.close()
        assert (started.wait(60), said) == (0, "")


def test_a_console_with_ascii_only(two: Path) -> None:
    import os

    poor = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    for arguments in (["predict", str(two), "--sheet", "U1"], ["models", "show", "frp_shear.fib14_2001"]):
        done = subprocess.run([*PROGRAM, *arguments], env=poor, capture_output=True)
        assert (done.returncode, done.stderr) == (0, b"")
        assert b"?" not in done.stdout.decode("ascii").encode()
    done = subprocess.run([*PROGRAM, "models", "--json"], env=poor, capture_output=True)
    assert any("§" in json.dumps(m, ensure_ascii=False) or m["title"] for m in json.loads(done.stdout)["models"])


@pytest.mark.parametrize(
    ("given", "written"),
    [("≥ 5 kN", ">= 5 kN"), ("η ε Δ λ", "eta eps Delta lambda"), ("mm²", "mm^2"), ("10⁻³", "10^-3"), ("µm/m", "um/m"),
     ("Täljsten, é", "Taljsten, e"), ("½", "1/2"), ("字", "?"), ("plain", "plain")],
)  # fmt: skip
def test_plain_signs(given: str, written: str) -> None:
    assert plain_text(given) == written


def test_every_command_has_its_function() -> None:
    from cracktie import cli, commands

    parser = cli._parser()
    known = next(a for a in parser._actions if isinstance(a.choices, dict)).choices
    assert set(known) == set(commands.__all__)
    assert all(callable(getattr(commands, name)) for name in known)
