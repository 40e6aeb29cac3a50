"""The private environment: what the machine must bring, installing from lock files, running programs in it.

Standard library only. A stamp in the environment holds digests of what was installed; while they agree with the
lock files and pyproject.toml nothing is installed and nothing touches the network.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ROOT / "locks"
VENV = Path(os.environ.get("CRACKTIE_VENV") or ROOT / ".venv").resolve()
STAMP = VENV / "cracktie-installed.json"
LOG = VENV / "cracktie-install.log"
# Each level holds all of the one before it. `peers` are independent programs that checks and benches
# compare with; some of them have no ready-made package for every machine, so a failure there is no stop.
LEVELS = ("runtime", "test", "peers")
SPACE_NEEDED = {"runtime": 1300, "test": 1900, "peers": 2100}  # MB: environment plus downloads on their way
OLDEST, NEWEST = (3, 11), (3, 13)
WINDOWS = os.name == "nt"
STARTED = time.monotonic()


class Stop(Exception):
    """Something outside the project is missing; the text says what and how to mend it."""


def say(text: str) -> None:
    print(text, flush=True)


def elapsed() -> str:
    return f"{time.monotonic() - STARTED:.0f} s"


def python_problem(version: Sequence[int], found: str | None) -> str | None:
    """Sentence about a Python that is too old (`found`: a command that would do), else None."""
    if tuple(version[:2]) >= OLDEST:
        return None
    have = ".".join(str(n) for n in version[:3])
    fix = (
        f"Run it with {found} instead: {found} dev.py"
        if found
        else "Install Python 3.11, 3.12 or 3.13 and run dev.py with it."
    )
    return f"Cracktie needs Python 3.11 or newer, and this is Python {have}. {fix}"


def other_python() -> str | None:
    names = [f"python3.{minor}" for minor in range(NEWEST[1], OLDEST[1] - 1, -1)]
    return next((name for name in names if shutil.which(name)), None)


def check_machine(level: str) -> None:
    """Raises Stop where the installation of `level` cannot succeed."""
    if sys.version_info[:2] > NEWEST:
        say(f"note: tried with Python 3.11 to 3.13; this is {sys.version_info[0]}.{sys.version_info[1]}")
    if not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        name = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
        raise Stop(
            "This Python cannot make environments: its modules venv or ensurepip are missing. "
            f"On Debian and Ubuntu: apt-get install {name}; elsewhere install Python from python.org."
        )
    where = VENV if VENV.exists() else VENV.parent
    with contextlib.suppress(OSError):
        free = shutil.disk_usage(where).free // 10**6
        have = folder_megabytes(VENV)
        if free + have < SPACE_NEEDED[level]:
            raise Stop(
                f"Not enough disk space at {where}: {free} MB free, about {SPACE_NEEDED[level] - have} MB "
                "needed. Make room, or set CRACKTIE_VENV to a folder on a larger disk."
            )


def folder_megabytes(folder: Path) -> int:
    """Size of the files in `folder` in MB (1e6 bytes), links not followed."""
    total = 0
    for path, _, names in os.walk(folder):
        for name in names:
            with contextlib.suppress(OSError):
                total += os.lstat(os.path.join(path, name)).st_size
    return total // 10**6


def venv_program(name: str) -> Path:
    return VENV / ("Scripts" if WINDOWS else "bin") / (f"{name}.exe" if WINDOWS else name)


def lock_file(level: str) -> Path:
    return LOCKS / f"{level}.txt"


def text_digest(*texts: str) -> str:
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()


def wanted(level: str) -> dict[str, str]:
    """What the stamp must hold for `level`: digests of its lock file and of the project's description."""
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    return {
        level: text_digest(lock_file(level).read_text(encoding="utf-8")),
        "project": text_digest(project, str(ROOT)),
    }


def read_stamp(path: Path) -> dict[str, str]:
    try:
        stamp = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def missing_parts(level: str, stamp: dict[str, str]) -> list[str]:
    """Which of the lock file (`level`) and the project itself (`project`) have to be installed."""
    return [key for key, digest in wanted(level).items() if stamp.get(key) != digest]


def ensure(level: str) -> None:
    """Makes the environment hold `level`; does nothing, and needs no network, when it already does."""
    alive = venv_program("python").exists() and quiet([venv_program("python"), "-c", "pass"]) == 0
    stamp = read_stamp(STAMP) if alive else {}
    parts = missing_parts(level, stamp)
    if not parts:
        return
    check_machine(level)
    if not alive:
        make_environment()
    packages = Progress(0)
    STAMP.unlink(missing_ok=True)  # an interrupted installation must not look finished
    if level in parts:
        say(f"installing the {level} packages of {lock_file(level).name} into {VENV}")
        options = ["--only-binary", ":all:"] if level == "runtime" else []
        count = len(re.findall(r"^\S+==", lock_file(level).read_text(encoding="utf-8"), re.M))
        # No compilation to bytecode: faster, and a sixth less disk; Python compiles what is used.
        packages = pip(["--require-hashes", "--no-deps", "--no-compile", *options, "-r", str(lock_file(level))], count)
    pip(["--no-build-isolation", "--no-deps", "--no-index", "--editable", str(ROOT)], 1)
    for lower in LEVELS[: LEVELS.index(level) + 1] if level in parts else [level]:
        if lock_file(lower).exists():
            stamp.update(wanted(lower))
    STAMP.write_text(json.dumps(stamp, indent=1, sort_keys=True), encoding="utf-8")
    size = folder_megabytes(VENV)
    say(f"environment ready in {elapsed()}: {packages.amounts()}, {size} MB on disk")


def make_environment() -> None:
    if VENV.exists() and any(VENV.iterdir()) and not (VENV / "pyvenv.cfg").exists():
        raise Stop(
            f"{VENV} exists and is no Python environment, so it is left alone. "
            "Empty it, or set CRACKTIE_VENV to another folder."
        )
    say(f"making a private environment in {VENV}")
    done = subprocess.run(
        [sys.executable, "-m", "venv", "--clear", str(VENV)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise Stop(explain(done.stdout + done.stderr, f"python -m venv {VENV}"))


BYTES = {"bytes": 1.0, "kB": 1e3, "MB": 1e6, "GB": 1e9}


class Progress:
    """Reads pip's lines: packages seen, bytes downloaded, bytes taken from this disk (its cache, local folders)."""

    sizes = re.compile(r"\s*(Downloading|Using cached) \S+ \(([\d.]+) (bytes|[kMG]B)\)")
    files = re.compile(r"Processing (\S+\.(?:whl|tar\.gz))")

    def __init__(self, count: int) -> None:
        self.count = count
        self.packages = 0
        self.downloaded = 0.0
        self.from_disk = 0.0
        self.unpacking = False

    def read(self, line: str) -> None:
        size, file = self.sizes.match(line), self.files.match(line)
        if size:
            amount = float(size[2]) * BYTES[size[3]]
            if size[1] == "Downloading":
                self.downloaded += amount
            else:
                self.from_disk += amount
        elif file:
            with contextlib.suppress(OSError):
                self.from_disk += Path(file[1]).stat().st_size
        if re.match(r"(Collecting|Processing|Requirement already|Ignoring) ", line):
            self.packages += 1
        elif line.startswith("Installing collected"):
            self.unpacking = True

    def amounts(self) -> str:
        disk = f" ({self.from_disk / 1e6:.0f} MB more were on this disk)" if self.from_disk else ""
        return f"downloaded {self.downloaded / 1e6:.0f} MB{disk}"

    def __str__(self) -> str:
        what = "unpacking" if self.unpacking else f"package {min(self.packages, self.count)} of {self.count}"
        return f"  {what}, {self.downloaded / 1e6:.0f} MB downloaded, {elapsed()}"


def pip(arguments: list[str], count: int) -> Progress:
    """Runs `pip install` in the environment to its end; Stop with a reason if it fails."""
    command = [str(venv_program("python")), "-m", "pip", "install", "--progress-bar", "off", *arguments]
    environment = {**os.environ, "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_USER": "0", "PIP_NO_INPUT": "1"}
    progress, finished = Progress(count), threading.Event()

    def heartbeat() -> None:
        while not finished.wait(5):
            say(str(progress))

    threading.Thread(target=heartbeat, daemon=True).start()
    lines: list[str] = []
    try:
        with subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            env=environment,
        ) as process:
            assert process.stdout is not None
            for line in process.stdout:
                lines.append(line)
                progress.read(line)
    finally:
        finished.set()
    with contextlib.suppress(OSError):
        LOG.write_text("".join(lines), encoding="utf-8")
    if process.returncode:
        raise Stop(explain("".join(lines), f"pip install; all it said is in {LOG}"))
    return progress


REASONS = (
    (
        r"No space left|not enough space|Errno 28|WinError 112",
        "The disk is full. Make room, or set CRACKTIE_VENV to a folder on a larger disk, and run this again.",
    ),
    (
        r"Permission denied|Errno 13|WinError 5\b",
        "A folder may not be written. Set CRACKTIE_VENV to a folder of your own and run this again.",
    ),
    (
        r"NewConnectionError|NameResolutionError|name resolution|getaddrinfo|Network is unreachable|"
        r"Connection refused|Max retries|ConnectTimeout|ReadTimeout|ProxyError",
        "The package index cannot be reached. The first run needs a network (later runs do not): connect, or "
        "set PIP_INDEX_URL or HTTPS_PROXY as your network asks, and run this again.",
    ),
    (
        r"DO NOT MATCH THE HASHES",
        "A downloaded package is not the one in the lock file (damaged, or changed by the index). Run this "
        "again; if it stays so, use another index.",
    ),
    (
        r"No matching distribution|Could not find a version",
        "A locked package has no ready-made file for this machine and Python. Use 64-bit Python 3.11, 3.12 "
        "or 3.13 on Linux, macOS or Windows.",
    ),
    (
        r"Failed building wheel|Microsoft Visual C\+\+|command '.*(gcc|cc|clang)' failed",
        "A package must be compiled on this machine and that failed. Install a C compiler (Debian: apt-get "
        "install build-essential python3-dev; macOS: xcode-select --install) and run this again.",
    ),
)


def explain(output: str, what: str) -> str:
    """One or two sentences on why an installation failed, from what the installer printed."""
    for pattern, reason in REASONS:
        if re.search(pattern, output):
            return reason
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    errors = [line for line in lines if re.match(r"(\w*Error|ERROR): ", line)]
    last = (errors or lines or ["no message"])[-1]
    return f"The installation failed: {last} ({what})"


def quiet(command: Sequence[str | Path]) -> int:
    try:
        return subprocess.run([str(part) for part in command], capture_output=True, check=False).returncode
    except OSError:
        return 127


def run(*command: str | Path, **variables: str) -> int:
    """Runs a program of the environment in the project's folder, output passed through."""
    environment = {**os.environ, **variables}
    try:
        return subprocess.run([str(part) for part in command], cwd=ROOT, env=environment, check=False).returncode
    except OSError as error:
        say(f"could not start {command[0]}: {error.strerror}")
        return 127
