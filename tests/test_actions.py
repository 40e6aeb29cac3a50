"""One function per arrow: what runs write, that raw files stay as they are, and the same bytes every time."""

from __future__ import annotations

import errno
import json
import os
import shutil
from pathlib import Path

import pytest

import cracktie
from cracktie import actions
from cracktie.comparison import SimulatedRefused
from cracktie.errors import FileTrouble, InputRefused, UnknownName
from cracktie.plan.logfile import SIMULATED

from .small import CAMPAIGN, TESTS, campaign, hashes, log

OWN = '''\
from cracktie.clause import Ref, Status, model, no_step


@model("local.mine", predicts="V_f", unit="N", source=Ref("OWN", "page 12"), title="Own rule", status=Status("own", "ours"))
def v_f(*, n, t_f, E_f, w_f, s_f, d_fv, eps_own=0.003, step=no_step):
    """V_f of strips at one strain, N."""
    A_f = step("A_f", 2.0 * n * t_f * w_f, "mm2", "two legs")
    return step("V_f", A_f * E_f * eps_own * d_fv / s_f, "N", "own rule")
'''  # noqa: E501
WITH_OWN = {
    "campaign.yaml": CAMPAIGN.replace("[aci14_440, ec2_04]", "[aci14_440, local.mine]"),
    "models/mine.py": OWN,
}


@pytest.fixture(autouse=True)
def _registry():
    from cracktie import clause

    before = clause.registered()
    yield
    clause.restore(before)


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = campaign(tmp_path_factory.mktemp("two beams ü"))
    before = hashes(folder, out=False)
    return folder, before, actions.run(folder)


def test_raw_files_and_inputs_stay_as_they_are(ran) -> None:
    folder, before, _ = ran
    assert hashes(folder, out=False) == before


def test_a_run_writes_every_result(ran) -> None:
    folder, _, done = ran
    names = set(hashes(folder, out=True))
    assert {"out/report.html", "out/report.pdf", "out/reduced.json", "out/tables/comparison.csv"} <= names
    for name in ("prediction", "reduced", "comparison"):
        held = json.loads((folder / "out" / f"{name}.json").read_text(encoding="utf-8"))
        assert held == json.loads(json.dumps(getattr(done, name).to_dict()))
    assert not [n for n in names if ".tmp" in n]


def test_the_same_bytes_from_run_fresh_run_and_a_deleted_out(ran, tmp_path) -> None:
    folder, _, _ = ran
    first = hashes(folder, out=True)
    other = Path(shutil.copytree(folder, tmp_path / "elsewhere"))
    actions.run(other)
    assert hashes(other, out=True) == first
    actions.run(other, fresh=True)
    assert hashes(other, out=True) == first
    shutil.rmtree(other / "out")
    actions.run(other)
    assert hashes(other, out=True) == first


def test_shear_by_hand(ran) -> None:
    """150 kN on the cell, 1500/2500 of it and of 2 kN of rig to A; self-weight 2 kN/m from the middle of span A."""
    _, _, done = ran
    weight = 25e-6 * 200.0 * 400.0
    reaction = weight * 2900.0 / 2.0
    by_hand = 152e3 * 1500.0 / 2500.0 + reaction - weight * (200.0 + 500.0)
    assert done.reduced.test("REF").value("V_max") == pytest.approx(by_hand, rel=1e-12)


def test_results_of_an_earlier_run_do_not_stay(tmp_path) -> None:
    folder = campaign(tmp_path, {"logs/U1.csv": log(210.0, f"# {SIMULATED}\n")})
    actions.run(folder, simulated_ok=True)
    assert (folder / "out" / "comparison.json").exists()
    (folder / "out" / "note.txt").write_text("mine", encoding="utf-8")
    (folder / "tests.yaml").write_text(TESTS.replace("  REF: {", "  REF-new: {"), encoding="utf-8")
    actions.run(folder)
    names = {p.relative_to(folder / "out").as_posix() for p in (folder / "out").rglob("*")}
    assert not names & {"comparison.json", "tables/comparison.csv", "reduced/REF.json"}
    assert {"note.txt", "reduced/REF-new.json"} <= names


def test_simulated_logs_are_refused_by_compare_unless_asked_for(tmp_path) -> None:
    opened = cracktie.open_campaign(campaign(tmp_path, {"logs/U1.csv": log(210.0, f"# {SIMULATED}\n")}))
    with pytest.raises(SimulatedRefused, match=r"U1.*--simulated-ok"):
        cracktie.compare(opened)
    assert actions.compare(opened, simulated_ok=True).simulated
    done = cracktie.run(tmp_path)
    assert done.comparison is None
    assert any("not compared" in line for line in done.lines)


@pytest.mark.parametrize("failing", ["replace", "fsync"])
def test_a_disk_that_fills_up_leaves_the_old_results_whole(ran, tmp_path, monkeypatch, failing) -> None:
    folder = Path(shutil.copytree(ran[0], tmp_path / "full"))
    before = hashes(folder, out=True), hashes(folder, out=False)

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, failing, full)
    with pytest.raises(FileTrouble, match=r"report\.html: cannot be written, the disk is full"):
        actions.run(folder, fresh=True)
    assert (hashes(folder, out=True), hashes(folder, out=False)) == before


def test_reducing_needs_no_writable_folder(tmp_path, monkeypatch) -> None:
    opened = actions.open_campaign(campaign(tmp_path))

    def locked(*_: object) -> None:
        raise PermissionError(errno.EACCES, "locked")

    monkeypatch.setattr(os, "replace", locked)
    assert set(actions.reduce(opened).tests) == {"REF", "U1"}


def test_out_that_is_a_file_is_refused_before_any_work(tmp_path) -> None:
    folder = campaign(tmp_path)
    (folder / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(InputRefused, match="out: is a file"):
        actions.run(folder)
    assert (folder / "out").read_text(encoding="utf-8") == "mine"


def test_out_deleted_while_running(tmp_path) -> None:
    folder = campaign(tmp_path)

    def delete(text: str, done: int, total: int) -> None:
        if text in ("comparing", "writing the report"):
            shutil.rmtree(folder / "out", ignore_errors=True)

    actions.run(folder, advance=delete)
    assert {"out/report.pdf", "out/prediction.json"} <= set(hashes(folder, out=True))


def test_own_model_stands_as_a_set_after_consent(tmp_path) -> None:
    folder = campaign(tmp_path, WITH_OWN)
    opened = actions.open_campaign(folder)
    assert "--allow-code" in actions.predict(opened, allow_code=False).skipped["local.mine"]
    with pytest.raises(UnknownName, match=r"local\.mine"):
        actions.predict(opened, allow_code=False, sets=["local.mine"])
    made = actions.predict(opened, allow_code=True)
    own = next(r for r in made.of("U1") if r.set == "local.mine")
    aci = next(r for r in made.of("U1") if r.set == "aci14_440")
    values = made.members[("U1", "A", "U1")].values
    by_hand = 2 * 0.167 * 60.0 * 230e3 * 0.003 * values["d_fv"] / 120.0
    assert own.V_f == pytest.approx(by_hand, rel=1e-12)
    assert (own.V_c, own.V_s) == (aci.V_c, aci.V_s)
    assert own.V_c + own.V_s + own.V_f == own.V_R
    done = actions.run(folder, allow_code=True)
    assert any("local.mine" in line and "SHA-256" in line for line in done.lines)
    assert "Own rule" in done.html.read_text(encoding="utf-8")


def test_own_model_that_is_no_frp_term_is_refused(tmp_path) -> None:
    folder = campaign(tmp_path, {**WITH_OWN, "models/mine.py": OWN.replace('predicts="V_f"', 'predicts="V_c"')})
    with pytest.raises(UnknownName, match="predicts V_c in N"):
        actions.predict(actions.open_campaign(folder), allow_code=True)


def test_a_bare_specimen_predicts_like_the_campaign(tmp_path) -> None:
    opened = cracktie.open_campaign(campaign(tmp_path, {"tests.yaml": None, "logs/U1.csv": None}))
    whole = cracktie.predict(opened)
    alone = cracktie.predict(opened.specimen("REF"), materials=opened.materials)
    table = whole.to_frame()
    assert {"item", "quantity", "value", "unit", "status"} <= set(table.columns)
    for row in alone.rows:
        if row.span == "A" and row.set in ("aci14_440", "ec2_04"):
            twin = next(r for r in whole.rows if (r.specimen, r.span, r.set) == ("REF", "A", row.set))
            assert row.V_R == twin.V_R
    with pytest.raises(UnknownName):
        whole.of("nobody")


def test_a_file_of_one_beam_cannot_be_run(tmp_path) -> None:
    actions.new(tmp_path / "beam", one_beam=True)
    with pytest.raises(InputRefused, match=r"no folder to write results into.*predict"):
        actions.run(tmp_path / "beam" / "beam.yaml")


@pytest.mark.parametrize("makes", [(), ("a",), ("a", "b")])
def test_the_demo_says_in_one_line_what_a_first_run_made(tmp_path, monkeypatch, makes) -> None:
    """The run itself is replaced: only what it leaves in the cache matters here."""
    from cracktie.actions import RunResult

    seen = iter([{"old": tmp_path}, {"old": tmp_path, **{name: tmp_path / name for name in makes}}])
    ran = RunResult(None, None, None, None, tmp_path, tmp_path, ("a line of the run",))
    monkeypatch.setattr("cracktie.outputs.kept_between_runs", lambda: next(seen))
    monkeypatch.setattr("cracktie.demo.write.write_demo", lambda folder: folder)
    monkeypatch.setattr(actions, "run", lambda *_, **__: ran)
    lines = actions.demo(tmp_path / "demo").lines[1:]
    assert len(lines) == bool(makes)
    assert all(line.startswith("first run here: a (") for line in lines)
    assert all(f"{name} ({tmp_path / name})" in line for line in lines for name in makes)


def test_what_is_kept_between_runs_is_found_where_it_lies(tmp_path, monkeypatch) -> None:
    from cracktie.mechanics.compiled import sources_hash
    from cracktie.outputs import kept_between_runs

    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert "compiled kernels" not in kept_between_runs()
    (tmp_path / sources_hash()).mkdir()
    assert kept_between_runs()["compiled kernels"] == tmp_path / sources_hash()
