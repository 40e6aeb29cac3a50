"""`cracktie demo` from end to end as a user starts it; one run for all tests here."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import pytest

from cracktie.result_schemas import KINDS, result_schema

from .small import hashes

pytestmark = pytest.mark.slow

PROGRAM = [sys.executable, "-m", "cracktie"]


@dataclass(frozen=True)
class Ran:
    folder: Path
    out: str
    err: str

    def result(self, kind: str) -> dict:
        def constant(name: str) -> None:
            raise AssertionError(f"{name} is no JSON")

        text = (self.folder / "out" / f"{kind}.json").read_text(encoding="utf-8")
        return json.loads(text, parse_constant=constant)


def cracktie(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*PROGRAM, *map(str, arguments)], capture_output=True, text=True, encoding="utf-8")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    folder = tmp_path_factory.mktemp("demo") / "an invented campaign"
    done = cracktie("demo", folder)
    assert done.returncode == 0, done.stderr
    return Ran(folder, done.stdout, done.stderr)


def test_one_line_a_test_with_its_numbers(demo: Ran) -> None:
    tests = demo.result("reduced")["tests"]
    assert len(tests) == 14
    for test in tests:
        line = next(line for line in demo.out.splitlines() if line.split()[:1] == [test["test"]])
        V = next(q for q in test["values"] if q["quantity"] == "V_max")
        shown = f"{V['value'] / 1000:.1f}"
        assert re.search(rf"(?<![\d.]){re.escape(shown)}(?![\d.])", line), line
        assert (f">= {shown}" in line) == test["lower_bound"], line
        assert line.endswith(test["outcome"])


def test_predictions_on_the_console_are_those_of_the_file(demo: Ran) -> None:
    head = demo.out.splitlines()[0].split("  ")
    sets = [word.strip().removeprefix("V_R ") for word in head if word.strip().startswith("V_R ")]
    rows = {(r["item"], r["source"]): r["value"] for r in demo.result("prediction")["rows"] if r["quantity"] == "V_R"}
    assert len(sets) == 3
    found = 0
    for (item, source), value in rows.items():
        if source in sets and value is not None:
            line = next(line for line in demo.out.splitlines() if line.split()[:1] == [item])
            assert f" {value / 1000:.1f}" in line
            found += 1
    assert found > 20


def test_both_reports_exist_and_say_simulated(demo: Ran) -> None:
    from pypdf import PdfReader

    for name in ("report.html", "report.pdf"):
        assert f"report: {demo.folder / 'out' / name}" in demo.out.splitlines()
    page = (demo.folder / "out" / "report.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")
    assert "SIMULATED DATA" in page
    pages = PdfReader(demo.folder / "out" / "report.pdf").pages
    assert len(pages) > 5
    assert all("SIMULATED DATA" in p.extract_text() for p in pages)
    assert "SIMULATED logs" in demo.out
    assert "licensed engineer" in demo.out


@pytest.mark.parametrize("kind", KINDS)
def test_results_keep_to_their_schemas(demo: Ran, kind: str) -> None:
    jsonschema.validate(demo.result(kind), result_schema(kind), jsonschema.Draft202012Validator)


def test_comparison_on_the_console_is_that_of_the_file(demo: Ran) -> None:
    refused = cracktie("compare", demo.folder)
    assert (refused.returncode, refused.stdout) == (2, "")
    out = cracktie("compare", demo.folder, "--simulated-ok").stdout
    made = demo.result("comparison")
    for row in made["summaries"]:
        line = next(line for line in out.splitlines() if line.startswith(row["title"]))
        assert line.split()[-6:-4] == [str(row["n"]), str(row["of"])]
        assert line.split()[-4:] == ["-" if row[n] is None else f"{row[n]:.2f}" for n in ("mean", "cv", "low", "high")]
    for gain in made["gains"]:
        line = next(line for line in out.splitlines() if line.split()[:2] == [gain["item"], gain["role"]])
        ratio = gain["ratio"]
        assert f"{'>= ' if ratio['bound'] else ''}{ratio['value']:.2f}  " in line
        assert f"{ratio['low']:.2f} to " in line
    assert json.loads(cracktie("compare", demo.folder, "--simulated-ok", "--json").stdout) == made


def test_bounds_have_their_sign_in_every_table(demo: Ran) -> None:
    for name in ("reduced", "comparison"):
        head, *rows = (demo.folder / "out" / "tables" / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        assert "sign,value" in head
        assert any(",>=," in row for row in rows)


def test_the_same_bytes_again_fresh_and_from_nothing(demo: Ran, tmp_path: Path) -> None:
    first, raw = hashes(demo.folder, out=True), hashes(demo.folder, out=False)
    assert len(raw) == 24
    other = Path(shutil.copytree(demo.folder, tmp_path / "Träger 字"))
    assert cracktie("run", other, "--fresh", "--simulated-ok").returncode == 0
    assert hashes(other, out=True) == first
    shutil.rmtree(other / "out")
    assert cracktie("run", other, "--simulated-ok").returncode == 0
    assert hashes(other, out=True) == first
    assert cracktie("run", other, "--simulated-ok").returncode == 0
    assert hashes(other, out=True) == first
    assert hashes(other, out=False) == hashes(demo.folder, out=False) == raw
    assert str(other.parent) not in (other / "out" / "report.html").read_text(encoding="utf-8")


def test_the_demo_never_writes_over_files(demo: Ran) -> None:
    before = hashes(demo.folder, out=False), hashes(demo.folder, out=True)
    again = cracktie("demo", demo.folder)
    assert (again.returncode, again.stdout) == (2, "")
    assert "is not empty; the demo never writes over files" in again.stderr
    assert (hashes(demo.folder, out=False), hashes(demo.folder, out=True)) == before


@pytest.mark.skipif(sys.platform == "win32", reason="signals differ there")
@pytest.mark.parametrize("seconds", [1.0, 4.0])
def test_ctrl_c_leaves_no_traceback_and_no_half_file(tmp_path: Path, seconds: float) -> None:
    import signal
    import time

    started = subprocess.Popen(
        [*PROGRAM, "demo", str(tmp_path / "demo")], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    time.sleep(seconds)
    started.send_signal(signal.SIGINT)
    out, err = started.communicate(timeout=120)
    assert "Traceback" not in err
    assert not list(tmp_path.rglob("*.tmp"))
    if started.returncode != 0:  # a quick machine may have finished before
        assert err.startswith("stopped")
        assert out == ""
