"""Users' own models: never run unasked, loaded as a whole or not at all, checked like the published ones."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from cracktie import clause, cli
from cracktie.errors import InputRefused
from cracktie.local_models import check_file, load_local_models

GOOD = '''\
import numpy as np
from cracktie.clause import Limit, Ref, Status, model, no_step

SAMPLES = {"unheard_of": (1.0, 2.0)}


@model(
    "local.mine",
    predicts="V_f",
    unit="N",
    source=Ref("MINE", "table 3"),
    title="Own regression",
    status=Status("own", "ours"),
    limits=(Limit("f_c", 20.0, 40.0, "tests"),),
)
def v_f(*, f_c, d, unheard_of, scheme, k=0.3, step=no_step):
    """V_f in N."""
    root = step("root_f_c", np.sqrt(f_c), "MPa", "(1)")
    return step("V_f", k * root * d * 100.0 * unheard_of, "N", "(2)")
'''

FAULTS = {
    "value decides": ('root = step("root_f_c", np.sqrt(f_c), "MPa", "(1)")', "root = 5.0 if f_c > 25.0 else 4.0"),
    "clause": ('"MPa", "(1)")', '"MPa")'),
    "last step": ("return step(", "return 2.0 * step("),
    "the model in N": ('"N", "(2)")', '"kN", "(2)")'),
    "float": ("k=0.3", "k=3"),
    "no docstring": ('    """V_f in N."""\n', ""),
    "below zero": ("k * root", "-k * root"),
    "show only a number": ("np.sqrt(f_c)", "float(f_c) ** 0.5"),
    "finite": ("np.sqrt(f_c)", "np.sqrt(f_c - 39.0)"),
    "changed its input": ("    root =", "    if np.ndim(d):\n        d[:] = 2 * d\n    root ="),
    "SAMPLES = {'unheard_of'": ('SAMPLES = {"unheard_of": (1.0, 2.0)}', ""),
    "no model of the file takes": ('{"unheard_of"', '{"unused": (0, 1), "unheard_of"'),
    "no status covers": ('Status("own", "ours")', 'Status("own", "ours", {"scheme": "u"})'),
}


def written(folder: Path, text: str, name: str = "mine.py") -> Path:
    (folder / "models").mkdir(exist_ok=True)
    path = folder / "models" / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def _registry():
    before = clause.registered()
    yield
    clause.restore(before)


def test_a_sound_file_passes_and_leaves_the_registry_alone(tmp_path: Path) -> None:
    before = clause.registered()
    lines, passed = check_file(written(tmp_path, GOOD), allow_code=True)
    assert passed, lines
    assert "local.mine: all checks passed, 3 branches with 40 cases each" in lines
    assert clause.registered().keys() - before.keys() <= {m.id for m in clause.all_models()}
    assert "local.mine" not in clause.registered()


@pytest.mark.parametrize("said", FAULTS)
def test_each_fault_is_named(tmp_path: Path, said: str) -> None:
    old, new = FAULTS[said]
    assert old in GOOD
    lines, passed = check_file(written(tmp_path, GOOD.replace(old, new)), allow_code=True)
    assert not passed
    findings = "\n".join(lines[1:])
    expected = {"value decides": "decide", "clause": "no clause at step root_f_c"}.get(said, said)
    assert expected in findings, findings


def test_no_code_runs_without_consent(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trap = tmp_path / "ran"
    path = written(tmp_path, f"open({str(trap)!r}, 'w').close()\n{GOOD}")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    assert cli.main(["models", "check", str(path)]) == 2
    said = capsys.readouterr().err
    assert digest in said
    assert "--allow-code" in said
    (left,) = load_local_models(tmp_path, consent=False)
    assert not left.ran
    assert digest in left.sentence()
    assert not trap.exists()
    assert cli.main(["models", "check", str(path), "--allow-code"]) == 0
    assert trap.exists()


def test_consent_is_asked_for_each_file_with_its_hash(tmp_path: Path) -> None:
    first = written(tmp_path, GOOD)
    written(tmp_path, GOOD.replace("local.mine", "local.other"), "other.py")
    digest = hashlib.sha256(first.read_bytes()).hexdigest()
    files = load_local_models(tmp_path, consent=lambda path, sha256: sha256 == digest)
    assert [(f.path.name, f.ran) for f in files] == [("mine.py", True), ("other.py", False)]
    assert clause.get("local.mine").topic == "local"
    assert clause.evaluate(
        "local.mine", {"f_c": 25.0, "d": 10.0, "unheard_of": 1.0, "scheme": "u"}
    ).value == pytest.approx(0.3 * 5 * 10 * 100, rel=1e-12)


def test_another_folder_replaces_the_models_of_the_first(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "a").mkdir()
    written(tmp_path / "a", GOOD)
    written(tmp_path / "b", GOOD.replace("k=0.3", "k=0.5"), "same_id.py")
    load_local_models(tmp_path / "a", consent=True)
    load_local_models(tmp_path / "b", consent=True)
    assert clause.get("local.mine").coefficients == {"k": 0.5}
    load_local_models(tmp_path, consent=True)
    assert "local.mine" not in clause.registered()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace("local.mine", "frp_shear.mine"), "ids of own models start with 'local.'"),
        (GOOD.replace("local.mine", "frp_shear.aci440_2017"), "two models are called"),
        ("def broken(:\n", "mine.py:1:"),
        ("\n\nraise RuntimeError('half done')\n", "mine.py:3: stopped: RuntimeError: half done"),
        ("import sys\nsys.exit(0)\n", "stopped: SystemExit"),
        ("x = 1\n", "registers no model"),
        (GOOD.replace("(1.0, 2.0)", "(2.0, 1.0)"), "low below high"),
    ],
)
def test_files_that_cannot_be_used_say_why_and_register_nothing(tmp_path: Path, text: str, said: str) -> None:
    written(tmp_path, GOOD.replace("local.mine", "local.sound"), "a_sound_one.py")
    written(tmp_path, text)
    published = clause.get("frp_shear.aci440_2017")
    with pytest.raises(InputRefused) as refused:
        load_local_models(tmp_path, consent=True)
    assert said in str(refused.value)
    assert clause.get("frp_shear.aci440_2017") is published
    assert not [i for i in clause.registered() if i.startswith("local.")]
