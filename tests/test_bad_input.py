"""Bad files at the command line: status 2 and clear messages, or a test left out with its reason; nothing half done."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cracktie import cli

from .small import CAMPAIGN, MATERIALS, RIG, SPECIMENS, TESTS, campaign, hashes, log

pytestmark = pytest.mark.slow

WRAP = "spans: {A: {wrap: {system: CF, scheme: u, layout: strips, width: 60 mm, spacing: 120 mm, first: 120 mm}}}"


@pytest.fixture(autouse=True)
def _shown_defects(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error nobody foresaw fails the test instead of becoming one line."""
    monkeypatch.setenv("CRACKTIE_TRACE", "1")


TEXTS = {"campaign": CAMPAIGN, "materials": MATERIALS, "specimens": SPECIMENS, "rig": RIG, "tests": TESTS}


def slip(name: str, old: str, new: str) -> dict[str, str]:
    """A file of the campaign with one slip in it."""
    assert old in TEXTS[name]
    return {f"{name}.yaml": TEXTS[name].replace(old, new, 1)}


def wrapped(text: str) -> dict[str, str]:
    return slip("specimens", WRAP, text)


BAD = {
    "unknown key": (slip("specimens", "b_w: 200", "bw: 200"), "specimens.yaml:4:15: ", "'b_w'"),
    "no unit": (slip("specimens", "h: 400 mm", "h: 400"), "the unit is missing", "'400 mm'"),
    "unit of another kind": (slip("materials", "f_c: 30 MPa", "f_c: 30 mm"), "materials.yaml:1:", "stress"),
    "decimal comma": (slip("materials", "0.167 mm", "0,167 mm"), "decimal comma", "0.167 mm"),
    "quoted decimal comma": (slip("materials", "30 MPa", "'30,5 MPa'"), "decimal comma", "30.5 MPa"),
    "not a number": (slip("materials", "30 MPa", "nan MPa"), "materials.yaml:1:", "f_c"),
    "infinite": (slip("materials", "30 MPa", "inf MPa"), "materials.yaml:1:", "f_c"),
    "negative": (slip("materials", "30 MPa", "-30 MPa"), "materials.yaml:1:", "f_c"),
    "device name": ({"specimens.yaml": SPECIMENS.replace("REF", "CON"), "tests.yaml": None}, "CON", ""),
    "ids that differ in case": (slip("specimens", "  U1:", "  ref:"), "differs only in case", ""),
    "id twice": (slip("specimens", "  U1:", "  REF:"), "specimens.yaml:", "REF"),
    "bars below the beam": (slip("specimens", "depth: 350", "depth: 450"), "REF: bars at", "h = 400 mm"),
    "overlapping strips": (wrapped(WRAP.replace("spacing: 120", "spacing: 50")), "specimens.yaml:", "overlap"),
    "no such material": (slip("specimens", "material: D20", "material: D02"), "did you mean 'D20'", ""),
    "no such specimen": (slip("tests", "specimen: U1", "specimen: U2"), "tests.yaml:3:", "U1"),
    "no such setup": (slip("tests", "setup: one", "setup: two"), "tests.yaml:2:", "one"),
    "no such set": (slip("campaign", "ec2_04", "ec2_40"), "did you mean 'ec2_04'", ""),
    "word of an outcome": (slip("tests", "shear in studied span", "shear"), "tests.yaml:2:", "possible"),
    "fault without a reason": (slip("tests", "shear in studied span", "test fault"), "tests.yaml:2:", "reason"),
    "missing log": (slip("tests", "logs/U1.csv", "logs/U2.csv"), "tests.yaml:3:", "logs/U2.csv"),
    "log outside the folder": (slip("tests", "logs/U1.csv", "../U1.csv"), "tests.yaml:3:", "../U1.csv"),
    "newer format": (slip("campaign", "cracktie: 1", "cracktie: 9"), "campaign.yaml:1:", "9"),
    "no mapping": ({"specimens.yaml": "- a\n- b\n"}, "specimens.yaml:1:", "key: value"),
    "empty file": ({"specimens.yaml": ""}, "holds no specimen", ""),
    "no file": ({"specimens.yaml": None}, "specimens.yaml: is missing", ""),
    "broken YAML": (slip("rig", "[{x: 0 mm}", "[{x: 0 mm"), "rig.yaml:", ""),
    "binary file": ({"materials.yaml": b"\x00\xff\xfe\x01PK\x03"}, "materials.yaml", ""),
    "supports swapped": (slip("rig", "[{x: 0 mm}, {x: 2500 mm}]", "[{x: 2500 mm}, {x: 0 mm}]"), "rig.yaml:", ""),
    "load beyond the supports": (slip("rig", "loads: [{x: 1000 mm}]", "loads: [{x: 9000 mm}]"), "rig.yaml:", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_input_is_refused_with_its_place_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    changes, *said = BAD[name]
    folder = campaign(tmp_path, changes)
    before = hashes(folder, out=False)
    for command in ("check", "run"):
        status = cli.main([command, str(folder)])
        out, err = capsys.readouterr()
        assert status == 2, (out, err)
        assert all(part in err for part in said), err
        assert "refused: " in err
        assert "Traceback" not in err
        assert out == ""
    assert hashes(folder, out=False) == before
    assert not (folder / "out").exists()


def test_every_problem_is_told_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changes = {
        **slip("specimens", "h: 400 mm", "h: 400"),
        **slip("materials", "30 MPa", "30,5 MPa"),
        **slip("rig", "weight: 2 kN", "wieght: 2 kN"),
    }
    assert cli.main(["check", str(campaign(tmp_path, changes))]) == 2
    err = capsys.readouterr().err
    assert [line.split(":")[0] for line in err.splitlines()] == [
        "materials.yaml", "rig.yaml", "specimens.yaml", "refused",
    ]  # fmt: skip
    assert "refused: 3 errors, nothing was written" in err


LOGS: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "empty"),
    "header alone": (b"Time [s],P [kN],D [mm]\n", "none of them readings"),
    "binary": (bytes(range(256)) * 40, "U1.csv"),
    "words": (b"the beam was tested on a Tuesday\n" * 30, "U1.csv"),
    "no load": (log(210.0).replace("P [kN]", "X [kN]").encode(), "load"),
    "load never rises": (log(0.0).encode(), "the load (P) lies between 0.00 and 0.00 kN"),
    "load of the other sign": (log(-210.0).encode(), "write sign: -1 for its channel"),
    "one reading": ("\n".join(log(210.0).splitlines()[:2]).encode(), "U1"),
    "time runs backwards": ("\n".join([*log(210.0).splitlines()[:1], *log(210.0).splitlines()[:0:-1]]).encode(), "tim"),
}  # fmt: skip


@pytest.mark.parametrize("name", LOGS)
def test_a_log_that_cannot_be_used_leaves_its_test_out_and_the_others_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    content, said = LOGS[name]
    folder = campaign(tmp_path, {"logs/U1.csv": content})
    before = hashes(folder, out=False)
    assert cli.main(["run", str(folder)]) == 0
    out, err = capsys.readouterr()
    line = next(line for line in out.splitlines() if line.startswith("U1: left out, "))
    assert said in line
    assert f"warning: tests.yaml: U1: not reduced: {line.removeprefix('U1: left out, ')}" in err
    assert any(row.startswith("REF ") and "shear in studied span" in row for row in out.splitlines())
    assert cli.main(["reduce", str(folder), "--strict"]) == 1
    assert hashes(folder, out=False) == before


def test_a_log_cut_in_the_middle_of_a_row_is_read_up_to_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cut = log(210.0).encode()[: -len(log(210.0)) // 20]
    folder = campaign(tmp_path, {"logs/U1.csv": cut})
    assert cli.main(["reduce", str(folder)]) == 0
    whole = campaign(tmp_path / "whole")
    short = next(row for row in capsys.readouterr().out.splitlines() if row.startswith("U1"))
    assert cli.main(["reduce", str(whole)]) == 0
    full = next(row for row in capsys.readouterr().out.splitlines() if row.startswith("U1"))
    assert short.split()[:5] == full.split()[:5]


def test_a_second_clock_that_cannot_be_placed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    second = "Time [s],W [mm]\n" + "".join(f"{t},{0.001 * t}\n" for t in range(200))
    rig = RIG + "      - {name: W, quantity: crack opening, unit: mm, x: 500 mm, z: 200 mm}\n"
    tests = TESTS.replace("[logs/U1.csv]", "[logs/U1.csv, logs/U1b.csv]")
    folder = campaign(tmp_path, {"rig.yaml": rig, "tests.yaml": tests, "logs/U1b.csv": second})
    status = cli.main(["run", str(folder), "--json"])
    out, err = capsys.readouterr()
    assert status == 0, err
    assert "U1b.csv" in out + err
    assert "clock" in out + err


def test_files_with_line_ends_of_another_system(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain = campaign(tmp_path / "plain")
    texts = {n: (plain / n).read_text(encoding="utf-8") for n in hashes(plain, out=False)}
    crlf = campaign(tmp_path / "crlf", {n: t.replace("\n", "\r\n") for n, t in texts.items()})
    marked = campaign(tmp_path / "marked", {n: "\ufeff" + t for n, t in texts.items()})
    shown = []
    for folder in (plain, crlf, marked):
        assert cli.main(["compare", str(folder)]) == 0
        shown.append(capsys.readouterr().out)
    assert shown[0] == shown[1] == shown[2]
    assert "U1" in shown[0]


@pytest.mark.parametrize("name", ["two words", "Träger 字", "it's", "-dash", "a.b"])
def test_names_of_folders(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    folder = campaign(tmp_path / name)
    assert cli.main(["run", str(folder)]) == 0
    assert f"report: {folder / 'out' / 'report.pdf'}" in capsys.readouterr().out


def test_ids_stay_texts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ids that a YAML reader would turn into numbers or dates; a YAML 1.1 reader takes `no` for false."""
    for id in ("012", "1E2", "2026-03-02", "no", "0x1F", "1_000", "12:30"[:2]):
        folder = campaign(
            tmp_path / f"id {id}",
            {
                "specimens.yaml": SPECIMENS.replace("REF", id),
                "tests.yaml": TESTS.replace("REF", id, 2).replace(f"logs/{id}", "logs/REF"),
                "campaign.yaml": CAMPAIGN.replace("REF", id),
            },
        )
        assert cli.main(["predict", str(folder)]) == 0, id
        assert any(line.split()[0] == id for line in capsys.readouterr().out.splitlines() if line.strip())


def test_members_out_of_scope_are_reduced_but_not_predicted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = SPECIMENS.replace("  U1:\n    like: REF\n", "  U1:\n    like: REF\n    kind: other\n")
    folder = campaign(tmp_path, {"specimens.yaml": other})
    assert cli.main(["run", str(folder)]) == 0
    row = next(line for line in capsys.readouterr().out.splitlines() if line.startswith("U1 "))
    assert row.split()[4:6] == ["-", "-"]
    assert cli.main(["predict", str(folder)]) == 0
    assert not [line for line in capsys.readouterr().out.splitlines() if line.startswith("U1 ")]


@pytest.mark.skipif(not hasattr(os, "symlink") or os.name == "nt", reason="needs links without rights")
def test_places_that_cannot_be_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for arguments in (["new", "file/x"], ["demo", "file/x"], ["new", "file"], ["demo", "file"]):
        assert cli.main([arguments[0], str(tmp_path / arguments[1])]) == 2
        err = capsys.readouterr().err
        assert "file" in err
        assert "Traceback" not in err
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
    folder = campaign(tmp_path / "c")
    assert cli.main(["check", str(folder), "--table", str(tmp_path / "file" / "t.csv")]) == 2
    assert cli.main(["check", str(folder), "--schemas", str(tmp_path / "file")]) == 2


def test_new_and_demo_never_write_over_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    for command in ("new", "demo"):
        assert cli.main([command, str(tmp_path)]) == 2
        assert "not empty" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_the_folder_of_one_beam_is_sent_to_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", str(tmp_path / "b"), "--one-beam"]) == 0
    capsys.readouterr()
    for command in ("check", "run"):
        assert cli.main([command, str(tmp_path / "b")]) == 2
        assert f"`cracktie predict {tmp_path / 'b' / 'beam.yaml'}`" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "said"),
    [(None, "cannot be read (No such file"), (b"\xff\xfe\x00\x01", "cannot be read"), (b"a: [", "cannot be read"),
     (b"a: 1", "must be a list of cases"), (b"", "must be a list of cases"), (b"- id: x", "needs 'source'")],
)  # fmt: skip
def test_case_files_that_cannot_be_used(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, said: str
) -> None:
    path = tmp_path / "case.yaml"
    if content is not None:
        path.write_bytes(content)
    assert cli.main(["verify", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert "Errno" not in err
