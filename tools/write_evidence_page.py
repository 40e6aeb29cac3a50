"""Writes docs/evidence.md from docs/evidence/*.json: `python tools/write_evidence_page.py`.

`--check` writes nothing, prints the age of every sample and exits with status 1 when the page on disk differs.
"""

from __future__ import annotations

import argparse
import datetime
import json
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "docs" / "evidence"
PAGE = ROOT / "docs" / "evidence.md"

INTRODUCTION = """\
# Evidence

<!-- written by tools/write_evidence_page.py; do not edit by hand -->

Full samples, made by `python dev.py evidence`. Only these figures may be quoted as coverage, detection or agreement;
the test suite runs small samples of the same. Simulated records are no evidence of how a real beam behaves: they show
what the reduction does with records whose truth is known.
"""


def tables(result: Mapping[str, Any], name: str = "") -> Iterator[tuple[str, list[tuple[str, Mapping[str, Any]]]]]:
    """Named groups of rows of equal make: every mapping whose values are mappings of plain numbers is a table."""
    rows = [(k, v) for k, v in result.items() if isinstance(v, Mapping) and _numbers(v)]
    if rows:
        yield name, rows
    for key, value in result.items():
        if isinstance(value, Mapping) and any(isinstance(v, Mapping) for v in value.values()):
            yield from tables(value, f"{name}, {key}".lstrip(", "))


def _numbers(row: Mapping[str, Any]) -> bool:
    """Whether a mapping is a row of a table: no mapping or list in it, and not words alone."""
    return not any(map(_deep, row.values())) and any(not isinstance(v, str) for v in row.values())


def _deep(value: Any) -> bool:
    return isinstance(value, (Mapping, list))


def cell(value: Any) -> str:
    """A value as the page shows it."""
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    if isinstance(value, float):
        return f"{value:.3g}"
    return str(value)


def section(found: Mapping[str, Any]) -> str:
    """One JSON file as a section."""
    state = " with uncommitted changes" if found["changed"] else ""
    lines = [
        f"## {found['name'].replace('_', ' ')}",
        "",
        f"{found['samples']} samples, seed {found['seed']}, {found['date']}, commit {found['commit'][:10]}{state}; "
        f"[all numbers](evidence/{found['name']}.json).",
    ]
    plain = {k: v for k, v in found["result"].items() if not _deep(v)}
    if plain:
        lines += ["", "; ".join(f"{k} {cell(v)}" for k, v in plain.items()) + "."]
    for name, words in found["result"].items():
        if isinstance(words, Mapping) and words and all(isinstance(v, str) for v in words.values()):
            lines += ["", f"{name.replace('_', ' ')}:", "", *(f"- {k}: {v}" for k, v in words.items())]
    for name, rows in tables(found["result"]):
        columns = list(dict.fromkeys(c for _, row in rows for c in row))
        heads = "|".join(columns)
        lines += ["", f"**{name}**" if name else "", "", f"| |{heads}|", "|---" * (len(columns) + 1) + "|"]
        lines += [f"| {key} | " + " | ".join(cell(row.get(c, "")) for c in columns) + " |" for key, row in rows]
    return "\n".join(line for i, line in enumerate(lines) if line or lines[i - 1])


def samples() -> list[dict[str, Any]]:
    """Every evidence file in order of its name."""
    return [json.loads(p.read_text(encoding="utf-8")) for p in sorted(RESULTS.glob("*.json"))]


def page() -> str:
    """The whole page."""
    return "\n\n".join([INTRODUCTION.rstrip(), *map(section, samples())]) + "\n"


def ages(today: datetime.date) -> Iterator[str]:
    """One line a sample: how old it is."""
    for found in samples():
        days = (today - datetime.date.fromisoformat(found["date"])).days
        yield f"{found['name']}: {days} days old, commit {found['commit'][:10]}"


def main(arguments: list[str] | None = None) -> int:
    """Write or check the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare only")
    if not parser.parse_args(arguments).check:
        PAGE.write_text(page(), encoding="utf-8")
        print(f"wrote {PAGE.relative_to(ROOT).as_posix()}")
        return 0
    for line in ages(datetime.date.today()):
        print(line)
    if PAGE.exists() and PAGE.read_text(encoding="utf-8") == page():
        return 0
    print("docs/evidence.md is out of date: run python tools/write_evidence_page.py", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
