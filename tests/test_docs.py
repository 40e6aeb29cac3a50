"""Pages with a whole way to go: every file, command and block of Python runs in the order of the page, in one folder.

A yaml block whose first line is a comment with a file name is written there; a line of a console block that starts with
`$ ` is run, and the lines below it must stand in its output, each as a whole or up to `...`.
"""

from __future__ import annotations

import contextlib
import io
import re
import shlex
from pathlib import Path

import pytest

from cracktie import cli

DOCS = Path(__file__).parents[1] / "docs"
PAGES = ("start.md", "how-to/one-beam.md", "how-to/write-a-case-file.md", "how-to/add-your-own-model.md",
         "how-to/study.md", "how-to/spike-anchors.md", "how-to/reduce-a-beam-test.md",
         "theory/anchored-wraps.md")  # fmt: skip
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)


def run_commands(block: str, page: str) -> str:
    """Run the commands of a console block; returns all they print."""
    everything = ""
    for part in re.split(r"^\$ ", block, flags=re.M)[1:]:
        command, _, shown = part.partition("\n")
        program, *arguments = shlex.split(command)
        assert program == "cracktie"
        said = io.StringIO()
        with contextlib.redirect_stdout(said):
            status = cli.main(arguments)
        out = said.getvalue()
        assert status == 0, (page, command, out)
        squeezed = [" ".join(line.split()) for line in out.splitlines()]
        for line in shown.splitlines():
            start = " ".join(line.split("...")[0].split())
            assert any(found.startswith(start) for found in squeezed), f"{page}: {command}: no line {line!r} in\n{out}"
        everything += out
    return everything


def run_page(page: str) -> tuple[str, dict[str, object]]:
    """Everything the page's commands and Python print, and the names its Python leaves."""
    printed = ""
    names: dict[str, object] = {"__name__": "page"}
    for language, block in BLOCK.findall((DOCS / page).read_text(encoding="utf-8")):
        if language == "yaml":
            path = Path(block.splitlines()[0].removeprefix("# "))
            path.parent.mkdir(exist_ok=True)
            path.write_text(block, encoding="utf-8")
        elif language == "console":
            printed += run_commands(block, page)
        else:
            assert language == "python"
            said = io.StringIO()
            with contextlib.redirect_stdout(said):
                exec(compile(block, page, "exec"), names)
            printed += said.getvalue()
    return printed, names


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from cracktie import clause

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CRACKTIE_TRACE", "1")
    before = clause.registered()
    yield
    clause.restore(before)


@pytest.mark.slow
def test_start_leads_to_a_report(tmp_path: Path) -> None:
    printed, names = run_page("start.md")
    assert (tmp_path / "first" / "out" / "report.pdf").read_bytes().startswith(b"%PDF")
    row = next(line for line in printed.splitlines() if line.startswith("T2 ") and "flexure" in line)
    shown = f">= {names['result'].value('V_max') / 1000:.1f}"
    assert shown in row
    assert f"V_max {shown} kN" in printed
    text = (DOCS / "start.md").read_text(encoding="utf-8")
    block = next(b for language, b in BLOCK.findall(text) if "specimens.yaml" in b.splitlines()[0])
    assert len(block.splitlines()) - 1 == 15


def test_one_beam_gives_the_same_from_file_and_notebook() -> None:
    _, names = run_page("how-to/one-beam.md")
    from cracktie import open_campaign, predict

    rows = {(r.specimen, r.set): r.V_R for r in predict(open_campaign("quick/beam.yaml")).rows if r.span == "A"}
    alone = {(r.specimen, r.set): r.V_R for r in names["prediction"].rows if r.span == "A"}
    shared = rows.keys() & alone.keys()
    assert {"aci14_440", "chen_teng"} == {s for _, s in shared}
    assert all(rows[key] == alone[key] is not None for key in shared)


def test_a_case_file_compares_what_is_printed() -> None:
    printed, _ = run_page("how-to/write-a-case-file.md")
    assert "2 values agree, 0 differ" in printed


def test_an_own_model_is_predicted() -> None:
    printed, _ = run_page("how-to/add-your-own-model.md")
    row = next(line for line in printed.splitlines() if "local.one_strain" in line and line.startswith("C1-U"))
    d_fv = 350.0  # to the top of the wrap, mm: the strips reach the top of this rectangular beam
    assert f"  {2 * 0.167 * 60 * 230e3 * 0.003 * d_fv / 120 / 1000:.1f}  " in row


@pytest.mark.slow
def test_a_study_says_what_it_found() -> None:
    printed, names = run_page("how-to/study.md")
    assert "95 % with model error" in printed
    assert "smallest that reaches it" in printed
    assert "dowel cone" in printed or "combined cone-pull-out" in printed
    assert names["outer"].low < names["inner"].low < names["inner"].high < names["outer"].high


def test_spike_anchors_are_described_and_checked() -> None:
    printed, _ = run_page("how-to/spike-anchors.md")
    assert "an anchor" in next(line for line in printed.splitlines() if line.startswith("WA1:"))
    assert "holes of both faces" not in printed
    found = [line for line in printed.splitlines() if line.startswith(("note:", "warning:"))]
    assert found
    assert all(re.search(r"\[.+\] \(W.+/A\)$", line) for line in found)


@pytest.mark.slow
def test_a_beam_test_is_reduced_to_what_the_page_planted() -> None:
    """Planted: 250 kN at the peak, 0.35 kN of zero taken off, a clock 86.4 s ahead, a strip that lets go at 240 s.

    V in the middle of the span from statics: 1.3/2.3 (P + 1.6 kN) + self-weight of 0.16 x 0.36 m at 24 to 25 kN/m3.
    V_f from the strains at the crack: 2 faces x 0.131 x 60 mm x 240 GPa x (1500 + 3300 + 0.1 x 3900 + 1700) um/m.
    """
    printed, _ = run_page("how-to/reduce-a-beam-test.md")
    from cracktie import actions, open_campaign

    test = actions.reduce(open_campaign("hall")).test("U1")
    own = [0.36 * 0.16 * weight * (2.6 / 2 - 0.15 - 0.5) for weight in (24.0, 25.0)]
    V = [1000.0 * (1.3 / 2.3 * 251.6 + w) for w in own]
    found = test.values["V_max"]
    assert V[0] - 2.0 * found.u <= found.value <= V[1] + 2.0 * found.u
    V_f = 2.0 * 0.131 * 60.0 * 240e3 * (1500 + 3300 + 390 + 1700) * 1e-6
    assert abs(test.values["V_f_strain"].value - V_f) < 2.0 * test.values["V_f_strain"].u
    moved = next(n for n in test.notes if "clock moved by" in n)
    assert abs(float(moved.split("by ")[1].split(" s")[0]) + 86.4) < 1.0
    seen = {m.kind: m.time for m in test.marks if m.method == "operator's log"}
    assert seen == {"Schubriss vorn": 115.0, "Streifen 3 löst sich": 240.0}
    assert "first debonding moved from" in printed
    assert "first debonding at 240.000 s" in printed
    assert {m.status for m in test.marks if m.kind == "first diagonal crack"} == {"accepted"}
    assert not any("reduction.yaml" in n and "tests.U1" in n for n in test.notes)


def test_theory_of_anchored_wraps_runs() -> None:
    printed, names = run_page("theory/anchored-wraps.md")
    assert "k_tau = 0.6 (0.4 to 1 -)" in printed
    assert (names["held"].V_f_max[1:] >= names["held"].V_f_max[:-1]).all()


def test_every_page_here_is_run() -> None:
    text = Path(__file__).read_text(encoding="utf-8")
    assert all(f'run_page("{page}")' in text for page in PAGES)
