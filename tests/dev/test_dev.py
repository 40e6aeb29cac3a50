"""dev.py and devtools: standard library only, plain messages, and an environment that is made once."""

import argparse
import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest
from devtools import environment
from devtools.environment import Progress, Stop, explain, missing_parts, python_problem, read_stamp

import dev

ROOT = Path(__file__).resolve().parents[2]
FILES = [ROOT / "dev.py", *sorted((ROOT / "devtools").glob("*.py"))]


def imported_modules(tree: ast.AST) -> set[str]:
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add((node.module or "").split(".")[0])
    return names


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_only_the_standard_library_is_imported(path):
    names = imported_modules(ast.parse(path.read_text(encoding="utf-8")))
    assert names <= set(sys.stdlib_module_names) | {"devtools"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_older_pythons_can_read_far_enough_to_be_turned_away(path):
    ast.parse(path.read_text(encoding="utf-8"), feature_version=(3, 7))
    top = [node for node in ast.parse(path.read_text(encoding="utf-8")).body if isinstance(node, ast.Import)]
    assert "tomllib" not in {alias.name for node in top for alias in node.names}


def test_help_works_with_a_python_that_has_no_packages():
    done = subprocess.run(
        [sys.executable, "-E", "-s", "-S", str(ROOT / "dev.py"), "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    for command in ("demo", "test", "evidence", "bench", "serve", "lock"):
        assert f"\n    {command} " in done.stdout


def test_python_version():
    assert python_problem((3, 11, 0), None) is None
    assert python_problem((3, 13, 2), None) is None
    alone = python_problem((3, 10, 4), None)
    assert alone is not None
    assert "needs Python 3.11 or newer" in alone
    assert "this is Python 3.10.4" in alone
    assert "Install Python 3.11" in alone
    assert "python3.12 dev.py" in str(python_problem((3, 9, 1), "python3.12"))


def test_wrong_python_ends_with_status_2(monkeypatch, capsys):
    monkeypatch.setattr(sys, "version_info", (3, 9, 1, "final", 0))
    assert dev.main(["test"]) == 2
    assert capsys.readouterr().out.startswith("Cracktie needs Python 3.11 or newer, and this is Python 3.9.1.")


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A project folder with lock files, and an environment that records what would be installed."""
    (tmp_path / "locks").mkdir()
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    for level in ("runtime", "test"):
        (tmp_path / "locks" / f"{level}.txt").write_text(f"{level}-package==1\n")
    venv = tmp_path / "venv"
    calls: list[list[str]] = []

    def make_environment() -> None:
        program = environment.venv_program("python")
        program.parent.mkdir(parents=True, exist_ok=True)
        program.write_text("")

    def pip(arguments: list[str], count: int) -> Progress:
        assert not environment.STAMP.exists(), "a stamp beside an unfinished installation"
        calls.append(arguments)
        return Progress(count)

    for name, value in {
        "ROOT": tmp_path,
        "LOCKS": tmp_path / "locks",
        "VENV": venv,
        "STAMP": venv / "stamp.json",
        "make_environment": make_environment,
        "pip": pip,
        "quiet": lambda command: 0,
        "check_machine": lambda level: None,
    }.items():
        monkeypatch.setattr(environment, name, value)
    return tmp_path, calls


def test_second_run_installs_nothing(project):
    _, calls = project
    environment.ensure("runtime")
    assert len(calls) == 2
    assert "--require-hashes" in calls[0]
    assert "--no-index" in calls[1]
    environment.ensure("runtime")
    assert len(calls) == 2


def test_a_larger_level_covers_the_smaller_one_and_not_the_other_way(project):
    _, calls = project
    environment.ensure("runtime")
    environment.ensure("test")
    assert len(calls) == 4
    environment.ensure("runtime")
    assert len(calls) == 4


def test_changed_lock_file_is_installed_again(project):
    folder, calls = project
    environment.ensure("test")
    (folder / "locks" / "test.txt").write_text("test-package==2\n")
    environment.ensure("test")
    assert [call for call in calls if "--require-hashes" in call] == [calls[0], calls[2]]


def test_changed_description_reinstalls_the_project_alone(project):
    folder, calls = project
    environment.ensure("test")
    (folder / "pyproject.toml").write_text("[project]\nname = 'x'\n")
    environment.ensure("test")
    assert len(calls) == 3
    assert "--editable" in calls[2]


def test_interrupted_installation_is_not_taken_for_finished(project, monkeypatch):
    _, calls = project

    def fail(arguments: list[str], count: int) -> Progress:
        raise Stop("no network")

    working = environment.pip
    monkeypatch.setattr(environment, "pip", fail)
    with pytest.raises(Stop):
        environment.ensure("runtime")
    monkeypatch.setattr(environment, "pip", working)
    environment.ensure("runtime")
    assert len(calls) == 2


def test_unreadable_stamp_counts_as_none(tmp_path, project):
    stamp = tmp_path / "broken.json"
    stamp.write_text("{")
    assert read_stamp(stamp) == {}
    assert read_stamp(tmp_path / "absent.json") == {}
    stamp.write_text(json.dumps(["list"]))
    assert read_stamp(stamp) == {}
    assert missing_parts("runtime", {}) == ["runtime", "project"]


@pytest.mark.parametrize(
    ("output", "words"),
    [
        ("OSError: [Errno 28] No space left on device", "disk is full"),
        ("Failed to establish a new connection: [Errno -3] Temporary failure in name resolution", "needs a network"),
        # Without a network pip ends with 'no matching distribution' too: the cause is what counts.
        ("NewConnectionError(...)\nERROR: No matching distribution found for numpy==2.0", "needs a network"),
        ("ERROR: No matching distribution found for numpy==2.0", "no ready-made file"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "not the one in the lock file"),
        ("error: command '/usr/bin/gcc' failed with exit code 1", "C compiler"),
        ("  OSError: Readme file does not exist\nnote: This is an issue with the package\nhint: See above", "Readme"),
    ],
)
def test_failed_installation_is_explained(output, words):
    text = explain(output, "pip install")
    assert words in text
    assert text.count(". ") <= 2


def test_progress_counts_packages_and_bytes(tmp_path):
    local = tmp_path / "c-1-py3-none-any.whl"
    local.write_bytes(b"0" * 2_000_000)
    progress = Progress(3)
    for line in (
        "Collecting a==1 (from -r test.txt (line 1))\n",
        "  Downloading a-1-py3-none-any.whl (1.5 MB)\n",
        "Collecting b==1 (from -r test.txt (line 2))\n",
        "  Using cached b-1-py3-none-any.whl (500 kB)\n",
        f"Processing {local}\n",
    ):
        progress.read(line)
    assert progress.downloaded == pytest.approx(1.5e6)
    assert progress.from_disk == pytest.approx(2.5e6)
    assert str(progress).startswith("  package 3 of 3, 2 MB downloaded")
    progress.read("Installing collected packages: c, b, a\n")
    assert str(progress).startswith("  unpacking")


def test_a_folder_that_is_no_environment_is_left_alone(tmp_path, monkeypatch):
    (tmp_path / "thesis.txt").write_text("chapter 1")
    monkeypatch.setattr(environment, "VENV", tmp_path)
    with pytest.raises(Stop, match="left alone"):
        environment.make_environment()
    assert (tmp_path / "thesis.txt").read_text() == "chapter 1"


def test_full_disk_is_said_before_anything_is_downloaded(tmp_path, monkeypatch):
    monkeypatch.setattr(environment, "VENV", tmp_path / "venv")
    monkeypatch.setattr(environment.shutil, "disk_usage", lambda path: argparse.Namespace(free=10 * 10**6))
    with pytest.raises(Stop, match="10 MB free, about 1300 MB needed"):
        environment.check_machine("runtime")


def test_missing_environment_modules_are_named(monkeypatch):
    monkeypatch.setattr(environment.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(Stop, match=r"apt-get install python3\.\d+-venv"):
        environment.check_machine("runtime")


def test_demo_folder_is_fresh(tmp_path):
    base = tmp_path / "demo-campaign"
    assert dev.fresh_folder(base) == base
    base.mkdir()
    assert dev.fresh_folder(base) == base
    (base / "campaign.yaml").write_text("")
    assert dev.fresh_folder(base) == tmp_path / "demo-campaign-2"
    (tmp_path / "demo-campaign-2").write_text("a file")
    assert dev.fresh_folder(base) == tmp_path / "demo-campaign-3"


@pytest.fixture
def test_run(monkeypatch):
    """`dev.py test` with every program replaced by one that notes its command and gives a chosen status."""
    commands: list[str] = []
    status: dict[str, int] = {}

    def run(*command, **variables):
        words = [Path(command[0]).stem, *map(str, command[1:])]
        commands.append(" ".join(words))
        return next((code for word, code in status.items() if word in words), 0)

    monkeypatch.setattr(dev, "run", run)
    monkeypatch.setattr(dev, "ensure", lambda level: None)
    monkeypatch.setattr(dev, "outside_programs", lambda: None)
    monkeypatch.setattr(dev, "tests_mention", lambda pattern: True)
    monkeypatch.delenv("CI", raising=False)
    return commands, status


def test_all_parts_run_and_any_failure_counts(test_run, capsys):
    commands, status = test_run
    status["ruff"] = 1
    assert dev.main(["test", "--quick"]) == 1
    assert commands[-1].startswith("python -m pytest")
    assert any("mypy" in command for command in commands)
    assert capsys.readouterr().out.endswith("--- pytest\nFAILED before pytest: ruff check\n")
    status.clear()
    assert dev.main(["test", "--quick"]) == 0
    status["pytest"] = 5
    assert dev.main(["test", "--quick"]) == 1


def test_quick_tier_leaves_out_slow_and_browser_tests_and_passes_words_on(test_run, monkeypatch):
    commands, _ = test_run
    monkeypatch.setattr(dev.os, "cpu_count", lambda: 1)
    dev.main(["test", "--quick", "tests/lab", "-x", "-k", "cells"])
    assert commands[-1].endswith("-m not evidence and not slow and not browser tests/lab -x -k cells")
    dev.main(["test"])
    assert "not slow" not in commands[-1]
    monkeypatch.setattr(dev.os, "cpu_count", lambda: 2)
    dev.main(["test", "--quick"])
    assert commands[-1].endswith("-n 2 --dist worksteal")
    dev.main(["test"])
    assert commands[-1].endswith("-n 2 --dist loadfile")


def test_missing_browser_is_loud_and_a_failure_in_ci(test_run, monkeypatch, capsys):
    commands, _ = test_run
    assert dev.main(["test"]) == 0
    assert "NO BROWSER FOUND" in capsys.readouterr().out
    assert "not browser" in commands[-1]
    monkeypatch.setenv("CI", "true")
    assert dev.main(["test"]) == 1


def test_named_browser_is_found_first(tmp_path, monkeypatch):
    program = tmp_path / "browser"
    program.write_text("")
    monkeypatch.setenv("CRACKTIE_CHROMIUM", str(program))
    assert dev.find_browser() == str(program)


def test_serve_says_that_there_is_no_web_app(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(dev, "ROOT", tmp_path)
    assert dev.main(["serve"]) == 2
    assert capsys.readouterr().out.count("\n") == 1


def test_evidence_without_scripts_has_nothing_to_do(tmp_path, monkeypatch, capsys):
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "_frame.py").write_text("")
    monkeypatch.setattr(dev, "ROOT", tmp_path)
    assert dev.main(["evidence"]) == 0
    assert "nothing to do" in capsys.readouterr().out
    assert dev.main(["evidence", "coverage"]) == 2
