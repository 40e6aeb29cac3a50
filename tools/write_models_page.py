"""Writes docs/models.md from the registered models and the reference cases: `python tools/write_models_page.py`.

`--check` writes nothing and exits with status 1 when the page on disk differs.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from cracktie.citations import citation
from cracktie.clause import Model, all_models, get
from cracktie.describe import status_by_branch
from cracktie.models.not_included import NOT_INCLUDED

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "models.md"
CASES = ROOT / "tests" / "reference"

INTRODUCTION = """\
# Published models

<!-- written by tools/write_models_page.py; do not edit by hand -->

Every model is one function with its source, its published coefficients and a status. `cracktie models show ID`
explains one: inputs, limits, conditions and the formulas of every branch.

A branch is one combination of the words a model takes (scheme, form, edition, ...). Its status says how far the
coefficients are known to agree with the source:

| status | meaning |
| --- | --- |
| checked | reproduces a printed number that somebody here has read |
| derived | follows from an identity, our own derivation or an independent library |
| own | a rule of this tool |
| memory | coefficients recalled with high confidence, not compared with print |
| doubtful | recalled with medium confidence, not compared with print |

'Outside checks' counts the compared values in `tests/reference`, by how the expected number is known, in the row
of the branch they take. Hand calculations and identities prove the coding, not the formula. Comparisons that are tests
in code rather than cases there are not counted; the status names them.
"""

KINDS = (
    ("printed and read", r"^printed\b.*\bread\b"),
    ("recalled", r"\bmemory\b|\brecalled\b"),
    ("independent library", r"^library\b"),
    ("unreleased program", r"\bunreleased\b"),
    ("hand calculation", r"^hand calculation\b"),
    ("identity", r"^identity\b"),
)
"""Name of a kind and what a case's `known` text then holds; the first that fits counts."""

Checks = dict[tuple[str, str, str], Counter[str]]
"""Compared values by kind, for each (model, level, how)."""


def kind(known: str) -> str:
    """How an expected number is known, in one or two words; the text itself where no kind fits."""
    return next((name for name, pattern in KINDS if re.search(pattern, known)), known)


def outside_checks() -> Checks:
    """Compared values of the reference cases, under the status of the branch that each case takes."""
    from ruamel.yaml import YAML

    counted: Checks = {}
    for path in sorted(CASES.glob("*.yaml")):
        for case in YAML(typ="safe").load(path.read_text(encoding="utf-8")):
            if "model" in case:
                status = get(case["model"]).status_of(case["inputs"])
                of_branch = counted.setdefault((case["model"], status.level, status.how), Counter())
                of_branch[kind(case["known"])] += len(case["expected"])
    return counted


def cell(text: Any) -> str:
    """Text inside a table cell."""
    return " ".join(str(text).replace("|", "\\|").split())


def table(columns: list[str], rows: list[list[Any]]) -> str:
    lines = [columns, ["---"] * len(columns), *rows]
    return "\n".join("| " + " | ".join(map(cell, line)) + " |" for line in lines) + "\n"


def model_rows(made: Model, checks: Checks) -> list[list[str]]:
    """One row for each status of the model; the first names the model."""
    place = f"{made.source.key}, {made.source.where}".removesuffix(", ")
    head = [f"`{made.id}`", made.title, place, f"{made.predicts} [{made.unit}]"]
    rows = []
    for status in status_by_branch(made):
        counted = checks.get((made.id, status["level"], status["how"]), Counter())
        told = ", ".join(f"{n} {name}" for name, n in sorted(counted.items())) or "none"
        rows.append([*head, status["when"] or "all", status["level"], status["how"], told])
        head = ["", "", "", ""]
    return rows


def page() -> str:
    """The whole page as text."""
    models = all_models()
    checks = outside_checks()
    parts = [INTRODUCTION]
    for topic in sorted({m.topic for m in models}):
        rows = [row for m in models if m.topic == topic for row in model_rows(m, checks)]
        columns = ["model", "title", "source", "predicts", "branch", "status", "how it is known", "outside checks"]
        parts.append(f"## {topic.replace('_', ' ')}\n\n{table(columns, rows)}")
    parts.append("## What the documents say of anchored U-wraps\n\n" + anchored(models))
    reasons = [[entry.document, entry.reason] for entry in NOT_INCLUDED]
    recipes = "\n".join(f"To use one of them, {r}.\n" for r in dict.fromkeys(entry.plug_in for entry in NOT_INCLUDED))
    parts.append(f"## Not included\n\n{table(['document', 'reason'], reasons)}\n{recipes}")
    keys = sorted({m.source.key for m in models})
    parts.append("## Sources\n\n" + table(["key", "document"], [[key, citation(key)] for key in keys]))
    return "\n".join(parts)


def anchored(models: tuple[Model, ...]) -> str:
    """Table of the words of each document on anchored ends; silent documents are named below it."""
    said: dict[str, list[str]] = {}
    silent = []
    for made in models:
        if made.anchored:
            said.setdefault(made.anchored, []).append(f"`{made.id}`")
        elif made.topic == "frp_shear":
            silent.append(f"`{made.id}`")
    text = table(["models", "what the document says"], [[", ".join(ids), words] for words, ids in said.items()])
    return f"{text}\nNothing known to us: {', '.join(silent)}.\n" if silent else text


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--check", action="store_true", help="compare with the page on disk, write nothing")
    options = parser.parse_args(arguments)
    made = page()
    if not options.check:
        PAGE.write_text(made, encoding="utf-8", newline="\n")
        print(f"wrote {PAGE.relative_to(ROOT)}: {len(all_models())} models")
        return 0
    if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == made:
        return 0
    print(f"{PAGE.relative_to(ROOT)} is out of date: run python tools/write_models_page.py", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
