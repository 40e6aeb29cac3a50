"""One command that sets up Cracktie and runs it: demo, tests, evidence, benches, lock files.

Standard library only, so that a plain Python 3.11 to 3.13 on Linux, macOS or Windows is enough.
Everything it installs goes into a private environment (`.venv` beside this file, or the folder named by
CRACKTIE_VENV) from lock files with hashes. A second run needs no network.
Exit status: 0 good, 1 something failed, 2 could not start (the last line says what is missing).
"""

from __future__ import annotations

import argparse
import contextlib
import os
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from devtools.environment import (
    ROOT,
    Stop,
    elapsed,
    ensure,
    lock_file,
    other_python,
    python_problem,
    quiet,
    run,
    say,
    venv_program,
)


def fresh_folder(base: Path) -> Path:
    """`base`, or the first of base-2, base-3, ... that does not exist or is empty."""
    number = 1
    while True:
        folder = base if number == 1 else base.with_name(f"{base.name}-{number}")
        if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
            return folder
        number += 1


def demo(options: argparse.Namespace) -> int:
    ensure("runtime")
    folder = Path(options.dir).resolve() if options.dir else fresh_folder(ROOT / "demo-campaign")
    say(f"demo campaign in {folder}")
    return run(venv_program("python"), "-m", "cracktie", "demo", folder)


def browser_candidates() -> Iterator[str | None]:
    yield os.environ.get("CRACKTIE_CHROMIUM")
    for name in ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge"):
        yield shutil.which(name)
    for name in ("Chromium", "Google Chrome", "Microsoft Edge"):
        yield f"/Applications/{name}.app/Contents/MacOS/{name}"
    for variable in ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA"):
        folder = os.environ.get(variable)
        if folder:
            yield str(Path(folder, "Google", "Chrome", "Application", "chrome.exe"))
            yield str(Path(folder, "Microsoft", "Edge", "Application", "msedge.exe"))


def find_browser() -> str | None:
    return next((path for path in browser_candidates() if path and Path(path).is_file()), None)


def tests_mention(pattern: str) -> bool:
    files = (path for path in (ROOT / "tests").rglob("*.py") if "dev" not in path.parent.parts)
    return any(re.search(pattern, path.read_text(encoding="utf-8")) for path in files)


def outside_programs() -> str | None:
    """Finds, or as root on Debian installs, the browser and PDF programs the tests use; gives the browser."""
    missing = []
    if tests_mention(r"mark\.browser") and not find_browser():
        missing += ["chromium", "fonts-dejavu-core"]
    if tests_mention("pdftoppm") and not shutil.which("pdftoppm"):
        missing += ["poppler-utils"]
    root = getattr(os, "geteuid", lambda: 1)() == 0
    if missing and root and Path("/etc/debian_version").exists() and shutil.which("apt-get"):
        say(f"installing {', '.join(missing)} with apt-get")
        quiet(["apt-get", "update", "-qq"])
        quiet(
            ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "install", "-y", "-qq"]
            + ["--no-install-recommends", *missing]
        )
        say(f"  done, {elapsed()}")
    return find_browser()


def test(options: argparse.Namespace) -> int:
    ensure("test")
    strict = os.environ.get("CI", "").lower() in ("1", "true")
    failed = []
    marks = ["not evidence"]
    variables = {}
    if options.quick:
        marks += ["not slow", "not browser"]
        options.pytest = [*two_at_a_time("worksteal"), *options.pytest]
    else:
        options.pytest = [*two_at_a_time("loadfile"), *options.pytest]  # files share what they set up
        failed += install_peers(strict)
        browser = outside_programs()
        if browser:
            variables["CRACKTIE_CHROMIUM"] = browser
        elif tests_mention(r"mark\.browser"):
            marks.append("not browser")
            say("!!! NO BROWSER FOUND: browser tests are SKIPPED (install Chromium or set CRACKTIE_CHROMIUM) !!!")
            if strict:
                failed.append("browser")
    for name, command in static_checks():
        say(f"--- {name}")
        if run(venv_program(command[0]), *command[1:]):
            failed.append(name)
    say("--- pytest")
    if failed:
        say(f"FAILED before pytest: {', '.join(failed)}")
    status = run(venv_program("python"), "-m", "pytest", "-m", " and ".join(marks), *options.pytest, **variables)
    return 1 if failed or status else 0


def two_at_a_time(shared: str) -> list[str]:
    """Options that share the tests between two processes, where there are two cores for them."""
    return ["-n", "2", "--dist", shared] if (os.cpu_count() or 1) > 1 else []


def static_checks() -> list[tuple[str, list[str]]]:
    checks = [("ruff check", ["ruff", "check", "--output-format", "concise", "."])]
    if "[tool.ruff.format]" in (ROOT / "pyproject.toml").read_text(encoding="utf-8"):
        checks.append(("ruff format", ["ruff", "format", "--check", "."]))
    return [*checks, ("mypy", ["mypy"])]


def install_peers(strict: bool) -> list[str]:
    """Programs to compare with are welcome, not needed: one loud line without them, a failure in CI."""
    if not lock_file("peers").exists():
        return []
    try:
        ensure("peers")
    except Stop as stop:
        say(f"!!! COMPARISONS WITH INDEPENDENT PROGRAMS ARE SKIPPED: {stop} !!!")
        ensure("test")
        return ["peers"] if strict else []
    return []


def evidence(options: argparse.Namespace) -> int:
    scripts = [p.stem for p in sorted((ROOT / "evidence").glob("*.py")) if not p.name.startswith("_")]
    chosen = options.names or scripts
    unknown = sorted(set(chosen) - set(scripts))
    if unknown:
        raise Stop(f"No evidence script named {', '.join(unknown)}; there are: {', '.join(scripts) or 'none'}.")
    if not chosen:
        say("nothing to do: evidence/ holds no scripts")
        return 0
    ensure("test")
    install_peers(strict=False)
    failed = []
    for name in chosen:
        say(f"--- {name}, {elapsed()}")
        if run(venv_program("python"), "-m", f"evidence.{name}"):
            failed.append(name)
    say(f"FAILED: {', '.join(failed)}" if failed else f"all {len(chosen)} written to docs/evidence, {elapsed()}")
    return 1 if failed else 0


def bench(options: argparse.Namespace) -> int:
    with contextlib.redirect_stdout(sys.stderr):  # so that --json prints JSON and nothing else
        ensure("test")
        install_peers(strict=False)
    return run(venv_program("python"), "-m", "bench", *(["--json"] if options.json else []), *options.names)


def serve(options: argparse.Namespace) -> int:
    if not (ROOT / "src" / "cracktie" / "web" / "__init__.py").exists():
        raise Stop("The web app is not available yet; use `python dev.py demo` to see a campaign's results.")
    ensure("runtime")
    return run(venv_program("python"), "-m", "cracktie", "serve", *options.arguments)


def lock(options: argparse.Namespace) -> int:
    from devtools.locks import make_locks

    return make_locks(options.upgrade)


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(prog="dev.py", description="Sets up Cracktie in a private environment and runs it.")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    sub = commands.add_parser("demo", help="run the demo campaign from test plan to report")
    sub.add_argument("--dir", help="folder for the demo (default: demo-campaign, or a fresh numbered one)")
    sub = commands.add_parser("test", help="check style and types, then run the tests; other words go to pytest")
    sub.add_argument("--quick", action="store_true", help="leave out slow and browser tests (at most 90 s)")
    sub = commands.add_parser("evidence", help="run the long sampling studies, resumable (hours)")
    sub.add_argument("names", nargs="*", help="names of scripts in evidence/ (default: all)")
    sub = commands.add_parser("bench", help="compare speeds with their targets; status 1 if one is missed")
    sub.add_argument("--json", action="store_true", help="print JSON instead of a table")
    sub.add_argument("names", nargs="*", help="names of modules in bench/ (default: all)")
    sub = commands.add_parser("serve", help="start the web app (not yet available)")
    sub.add_argument("arguments", nargs="*", help="passed on")
    sub = commands.add_parser("lock", help="make the lock files again after a change of dependencies")
    sub.add_argument("--upgrade", action="store_true", help="take the newest versions, not only what changed")
    return top


def main(arguments: list[str] | None = None) -> int:
    problem = python_problem(sys.version_info[:3], other_python())
    if problem:
        say(problem)
        return 2
    top = parser()
    options, rest = top.parse_known_args(arguments)
    if rest and options.command != "test":
        top.error(f"not understood: {' '.join(rest)}")
    options.pytest = rest
    commands = {"demo": demo, "test": test, "evidence": evidence, "bench": bench, "serve": serve, "lock": lock}
    try:
        return commands[options.command](options)
    except Stop as stop:
        say(str(stop))
        return 2
    except KeyboardInterrupt:
        say("stopped")
        return 130


if __name__ == "__main__":
    sys.exit(main())
