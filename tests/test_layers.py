"""The arrows of the code point one way: a part imports only from parts that stand before it in `ORDER`.

All imports count, those inside functions and those for type checkers too; only the package's own text (version, lazy
names) is free for all. A new part needs a place in `ORDER`: after everything it builds on, before whatever uses it.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "src" / "cracktie"

ORDER = (
    # names, units and how a formula is written and shown
    "errors", "measured_names", "symbols", "units", "expression", "clause", "trace",
    # numerical kernels, then the published models
    "mechanics", "models",
    # what can be said of models without any campaign
    "citations", "samples", "branches", "modelcheck", "describe", "local_models", "verify",
    # logs and statistics, then a campaign, whose materials may come from the logs of coupons
    "lab", "stats", "campaign",
    # the engineering steps
    "guidelines", "member", "results", "result_schemas", "anchorage", "detailing", "beam", "study",
    "prediction", "plan", "demo", "reduced", "reduction", "agreement", "compared", "subtraction",
    "comparison",
    "calibrate", "design",
    # pictures and pages of results
    "draw", "figures", "report", "outputs",
    # one function per arrow, and the faces that call them
    "actions", "console", "console_reduced", "streams", "keys", "following", "mechanics_cli",
    "commands", "cli", "web", "__main__",
)  # fmt: skip

ALLOWED = {
    ("clause", "models"): "discovery walks the folder of models; it names none of them",
}
"""Upward arrows that are meant, each with its reason."""

MOST_LINES = 400
LONGER = {
    "symbols.py": "the glossary is one table of data",
    "clause.py": "registration and evaluation are one contract: what a model declares and how each declaration acts",
}
"""Modules over `MOST_LINES`, each with its reason."""

HEAVY = {"numpy", "pandas", "pydantic", "polars", "scipy", "numba", "matplotlib", "ruamel", "rich", "pint", "typst"}


def part_of(path: Path, package: Path) -> str:
    """First name below the package; '' for the package's own `__init__`."""
    first = path.relative_to(package).with_suffix("").parts[0]
    return "" if first == "__init__" else first


def imported(path: Path, package: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of every import of the package's own modules; names behind `from` included."""
    here = (package.name, *path.relative_to(package).parts[:-1])
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = list(here[: len(here) - node.level + 1]) if node.level else []
            base += node.module.split(".") if node.module else []
            yield from ((node.lineno, ".".join([*base, alias.name])) for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith("import_module") and node.args:
            first = node.args[0]
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield node.lineno, first.value


def upward_arrows(package: Path, order: tuple[str, ...]) -> list[str]:
    """Imports that point to the same or a later part, and parts without a place in the order."""
    parts = {part_of(p, package) for p in package.rglob("*.py")} - {""}
    found = [f"{part}: give it a place in ORDER" for part in sorted(parts - set(order))]
    if found:
        return found
    for path in sorted(package.rglob("*.py")):
        part = part_of(path, package)
        if not part:
            continue
        for line, name in imported(path, package):
            root, _, rest = name.partition(".")
            target = rest.split(".")[0]
            if root != package.name or target not in parts or target == part or (part, target) in ALLOWED:
                continue
            if order.index(target) > order.index(part):
                found.append(f"{path.relative_to(package).as_posix()}:{line}: {part} imports {target}, a later part")
    return found


def test_imports_point_one_way() -> None:
    assert upward_arrows(PACKAGE, ORDER) == []


def test_allowed_arrows_exist() -> None:
    """An exception that nothing uses any more has to go."""
    for part, target in ALLOWED:
        files = [p for p in PACKAGE.rglob("*.py") if part_of(p, PACKAGE) == part]
        names = [name for p in files for _, name in imported(p, PACKAGE)]
        assert any(name.startswith(f"cracktie.{target}") for name in names), (part, target)


@pytest.mark.parametrize(
    "line",
    [
        "from small.high import thing",
        "from small import high",
        "import small.high",
        "from ..high import thing",
        "from .. import high",
        "def f():\n    from small.high import thing",
        "import importlib\nimportlib.import_module('small.high')",
    ],
)
def test_an_upward_arrow_is_found(tmp_path: Path, line: str) -> None:
    package = tmp_path / "small"
    (package / "low").mkdir(parents=True)
    for name in ("__init__.py", "high.py", "low/__init__.py"):
        (package / name).write_text("", encoding="utf-8")
    (package / "low" / "inner.py").write_text(f"import os\n{line}\n", encoding="utf-8")
    (found,) = upward_arrows(package, ("low", "high"))
    assert found.startswith("low/inner.py:")
    assert found.endswith("low imports high, a later part")
    assert upward_arrows(package, ("high", "low")) == []
    assert upward_arrows(package, ("low",)) == ["high: give it a place in ORDER"]


def test_modules_are_short() -> None:
    lines = {p.relative_to(PACKAGE).as_posix(): p.read_text(encoding="utf-8") for p in PACKAGE.rglob("*.py")}
    longer = {name: text.count("\n") for name, text in lines.items() if text.count("\n") > MOST_LINES}
    assert longer.keys() - LONGER.keys() == set(), longer
    assert LONGER.keys() - longer.keys() == set(), "no longer long: take it out of LONGER"


def loaded(statement: str) -> set[str]:
    """Top-level modules that a fresh interpreter has loaded after `statement`."""
    code = f"{statement}\nimport sys\nprint(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return {name.split(".")[0] for name in done.stderr.split()}


HELP = "from cracktie.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass"


@pytest.mark.parametrize("statement", ["import cracktie", HELP], ids=["import", "help"])
def test_starting_loads_nothing_heavy(statement: str) -> None:
    found = loaded(statement)
    assert "cracktie" in found
    assert not found & HEAVY
    assert not (found - loaded("pass")) & {"typing", "pathlib", "shutil", "dataclasses"}


def test_a_heavy_import_would_be_seen() -> None:
    assert {"numpy", "dataclasses"} <= loaded("import cracktie.clause")
