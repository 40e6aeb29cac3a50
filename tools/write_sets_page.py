"""Writes docs/guideline-sets.md from the guideline sets: `python tools/write_sets_page.py`.

`--check` writes nothing and exits with status 1 when the page on disk differs.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from cracktie.clause import LEVELS, get
from cracktie.guidelines import GuidelineSet, all_sets, hosts
from cracktie.prediction.flexure import HOW

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "guideline-sets.md"

INTRODUCTION = """\
# Guideline sets

<!-- written by tools/write_sets_page.py; do not edit by hand -->

A set holds the terms that go together: the concrete and stirrup terms, the angle and the lever arm belong to its FRP
term, and the sum is the document's own. The FRP term of one truss is never added to another one's. Name the sets in
campaign.yaml (`guideline_sets: [aci14_440, ec2_04]`) or on the command line (`cracktie predict DIR --sets csa jsce`).

The weakest status of its models is that of a set; [models.md](models.md) says how each model is known.
"""

FORMS = """\
## Forms and what they ask for

`--form test` takes mean measured strengths with all partial and reduction factors 1; bounds that stand for a failure
(crushing of the web, strain caps) stay. `--form design` takes characteristic strengths and the document's own factors.
Strengths that follow from f_c (f_cm, f_ctm, f_ctk) come from EN 1992-1-1:2004 Table 3.1, with f_ck = f_c - 8 MPa in the
test form.

In the design form some documents need what only the engineer knows. campaign.yaml takes `exposure: interior`,
`exterior` or `aggressive` (environmental factors C_E and eta_a by fibre) and `confidence_factor: 1.35` (FC of CNR-DT
200). Without them the sets that ask for them are 'not applicable' and say so. Where a factor of a document is not known
to the authors (phi_FRP of CSA S6, phi_frp of the AASHTO guide specification) there is no design form.

A batch without aggregate size counts as 16 mm and a wrap without corner radius as 0 mm; both stand among the remarks.
"""

BESIDE = """\
## What fails first

Beside each resistance of the studied span stand two others under the same loading, both as the shear in the middle of
the studied span at the load that brings them about, self-weight in it:

- **bending**: the section under a load reaches its moment ({how});
- **other span**: the other shear span reaches its own resistance by the same set (a research term leaves a span
  without FRP to its host).

The margin is the least of both over V_R of the studied span; above 1 the studied span is predicted to fail first.
A span that had failed in an earlier test of the same beam is not compared again.
"""


def cell(text: Any) -> str:
    """Text inside a table cell."""
    return " ".join(str(text).replace("|", "\\|").split())


def table(columns: list[str], rows: list[list[Any]]) -> str:
    lines = [columns, ["---"] * len(columns), *rows]
    return "\n".join("| " + " | ".join(map(cell, line)) + " |" for line in lines) + "\n"


def status(made: GuidelineSet) -> str:
    """The weakest status of any model of the set."""
    return min((get(id).weakest.level for id in made.models), key=LEVELS.index)


def named(*ids: str | None) -> str:
    """Model ids as code, one after the other."""
    return ", ".join(f"`{id}`" for id in dict.fromkeys(ids) if id) or "none"


def published(made: GuidelineSet) -> list[str]:
    """Row of a set of documents."""
    concrete = named(made.concrete, made.together)
    stirrups = named(made.stirrups, made.together) if "V_s" not in made.inside else "inside the sum"
    if "V_c" in made.inside:
        concrete = "inside the sum"
    remarks = "; ".join(text for text in (made.note, made.scope) if text)
    sums = named(made.resistance, *(id for id in made.more if id.startswith("resistance.")))
    return [f"`{made.id}`", made.title, concrete, stirrups, named(made.frp), sums, made.rule, status(made), remarks]


def page() -> str:
    """The whole page as text."""
    documents = [published(s) for s in all_sets() if not s.research]
    columns = ["set", "documents", "concrete", "stirrups", "FRP", "sum", "rule", "weakest status", "remarks"]
    research = [[f"`{s.id}`", s.title, named(s.frp), status(s)] for s in all_sets() if s.research]
    on_host = (
        "A source that gives an FRP term only stands on the concrete and stirrup terms of a host code chosen by us: "
        f"`host: aci14_440` unless campaign.yaml names another ({named(*hosts())}). It is judged on V_f first; the sum "
        "has no bound beyond the host's own on V_s. A user's own model `local.NAME` that predicts V_f stands on the "
        "host in the same way.\n"
    )
    return "\n".join([
        INTRODUCTION, "## Documents\n", table(columns, documents), "## Research terms on a host\n", on_host,
        table(["set", "source", "FRP", "weakest status of its own"], research), FORMS, BESIDE.format(how=HOW),
    ])  # fmt: skip


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--check", action="store_true", help="compare with the page on disk, write nothing")
    options = parser.parse_args(arguments)
    made = page()
    if not options.check:
        PAGE.write_text(made, encoding="utf-8", newline="\n")
        print(f"wrote {PAGE.relative_to(ROOT)}: {len(all_sets())} sets")
        return 0
    if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == made:
        return 0
    print(f"{PAGE.relative_to(ROOT)} is out of date: run python tools/write_sets_page.py", file=sys.stderr)
    return 1


if __name__ == "__main__":
    raise SystemExit(main())
