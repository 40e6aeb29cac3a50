"""Makes the lock files: one resolution for all systems and Python versions, with hashes, without addresses."""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

from devtools.environment import LEVELS, LOCKS, NEWEST, OLDEST, ROOT, WINDOWS, Stop, elapsed, lock_file, quiet, run, say

PLATFORMS = (
    "x86_64-unknown-linux-gnu",
    "aarch64-unknown-linux-gnu",
    "x86_64-pc-windows-msvc",
    "aarch64-apple-darwin",
    "x86_64-apple-darwin",
)


def make_locks(upgrade: bool) -> int:
    """Resolves the dependencies for all systems and Python versions at once and checks that they install."""
    import tomllib  # not in the Pythons that dev.py turns away with a message

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = project["project"].get("optional-dependencies", {})
    with tempfile.TemporaryDirectory() as temporary:
        uv = resolver(Path(temporary))
        build = Path(temporary, "build.in")
        # The backend and what it needs for an editable installation: nothing is fetched while building.
        build.write_text("\n".join([*project["build-system"]["requires"], "editables", ""]), encoding="utf-8")
        larger: Path | None = None
        # Largest first, and each next one held to it: then every lock file is a part of the larger one.
        for level in reversed(LEVELS):
            names = [name for name in LEVELS[1 : LEVELS.index(level) + 1] if name in extras]
            if level != "runtime" and level not in names:
                lock_file(level).unlink(missing_ok=True)
                continue
            out = lock_file(level)
            command: list[str | Path] = [uv, "pip", "compile", "--quiet", "--universal", "--generate-hashes"]
            command += ["--python-version", "3.11", "--fork-strategy", "fewest", "--only-binary", ":all:"]
            command += ["--no-header", "--no-annotate", "--no-emit-index-url", "--no-emit-find-links"]
            command += ["--output-file", out, *(["--upgrade"] if upgrade else [])]
            command += [part for name in names for part in ("--extra", name)]
            command += ["--constraint", larger] if larger else []
            if run(*command, ROOT / "pyproject.toml", build, LOCKS / "platforms.in"):
                raise Stop(f"The {level} dependencies cannot be resolved; the reason stands above.")
            body = re.sub(r"\A(#.*\n)+", "", out.read_text(encoding="utf-8"))
            out.write_text(f"# Made by `python dev.py lock`: {level}. Not edited by hand.\n{body}", encoding="utf-8")
            larger = out
            say(f"{out.name}: {len(re.findall('^[^ #]+==', body, re.M))} packages, {elapsed()}")
        return try_platforms(uv, Path(temporary))


def resolver(folder: Path) -> Path:
    """Installs the resolver into an environment of its own and gives its path."""
    say("fetching the resolver (uv)")
    python = folder / "venv" / ("Scripts/python.exe" if WINDOWS else "bin/python")
    if quiet([sys.executable, "-m", "venv", folder / "venv"]):
        raise Stop("No environment could be made for the resolver; `python dev.py test` says why.")
    if quiet([python, "-m", "pip", "install", "uv"]):
        raise Stop("The resolver (uv) could not be installed. `lock` needs a network: connect and run it again.")
    return python.with_name("uv.exe" if WINDOWS else "uv")


def try_platforms(uv: Path, folder: Path) -> int:
    """Asks, without installing, whether ready-made files exist for every system and Python version."""
    status = 0
    for level in (level for level in LEVELS if lock_file(level).exists()):
        for platform in PLATFORMS:
            for minor in range(OLDEST[1], NEWEST[1] + 1):
                command: list[str | Path] = [uv, "pip", "install", "--dry-run", "--target", folder / "none"]
                command += ["--require-hashes", "--no-deps", "--only-binary", ":all:", "--python-platform", platform]
                if quiet([*command, "--python-version", f"3.{minor}", "-r", lock_file(level)]):
                    say(f"{level}: no ready-made files for all packages on {platform}, Python 3.{minor}")
                    status = status or (0 if level == "peers" else 1)
    say(f"tried {len(PLATFORMS)} systems with Python 3.11 to 3.13, {elapsed()}")
    return status
