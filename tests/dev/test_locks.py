"""The lock files: everything pinned with hashes, no address, each a part of the larger one."""

import itertools
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LEVELS = [level for level in ("runtime", "test", "peers") if (ROOT / "locks" / f"{level}.txt").exists()]


def read(level: str) -> str:
    return (ROOT / "locks" / f"{level}.txt").read_text(encoding="utf-8")


def entries(level: str) -> dict[str, list[str]]:
    """Requirement line (name, version and marker) -> its hashes."""
    joined = read(level).replace("\\\n", " ")
    lines = [line for line in joined.splitlines() if line.strip() and not line.startswith("#")]
    return {line.split("--hash")[0].strip(): re.findall(r"--hash=(\S+)", line) for line in lines}


def name_of(requirement: str) -> str:
    return re.sub(r"[-_.]+", "-", re.split(r"[<>=!~\[ ;]", requirement, maxsplit=1)[0]).lower()


@pytest.mark.parametrize("level", LEVELS)
def test_every_requirement_is_pinned_and_hashed(level):
    found = entries(level)
    assert len(found) > 20
    for requirement, hashes in found.items():
        assert re.fullmatch(r"[a-z0-9-]+==[0-9][0-9a-z.+]*( ; .+)?", requirement), requirement
        assert hashes, requirement
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", text) for text in hashes), requirement


@pytest.mark.parametrize("level", [*LEVELS, "platforms"])
def test_no_address_stands_in_a_lock_file(level):
    path = ROOT / "locks" / ("platforms.in" if level == "platforms" else f"{level}.txt")
    text = re.sub(r"sha256:[0-9a-f]+", "", path.read_text(encoding="utf-8"))
    assert not re.search(r"://|@|--(extra-)?index-url|--find-links|--trusted-host|\bfile:", text)
    hosts = re.findall(r"\b[a-z0-9-]+(?:\.[a-z0-9-]+)*\.(?:org|com|net|io|dev)\b", text)
    assert hosts == []


def test_each_lock_file_is_a_part_of_the_larger_one():
    for smaller, larger in itertools.pairwise(LEVELS):
        known = {re.split(" ;", line)[0] for line in entries(larger)}
        assert {re.split(" ;", line)[0] for line in entries(smaller)} <= known


def test_lock_files_hold_what_the_project_asks_for():
    """Fails when a dependency was added to pyproject.toml and `python dev.py lock` was not run."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    asked = {
        "runtime": project["project"]["dependencies"] + project["build-system"]["requires"] + ["editables"],
        **project["project"]["optional-dependencies"],
    }
    for level in LEVELS:
        names = {name_of(line) for line in entries(level)}
        assert {name_of(requirement) for requirement in asked[level]} <= names
