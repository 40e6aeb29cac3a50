"""Short citations from the package's bibliography."""

from __future__ import annotations

import re
from functools import cache
from importlib import resources


@cache
def _entries() -> dict[str, dict[str, str]]:
    text = (resources.files("cracktie") / "references.bib").read_text(encoding="utf-8")
    found: dict[str, dict[str, str]] = {}
    for body in re.findall(r"@\w+\{(.*?)\n\}", text, flags=re.DOTALL):
        key, _, rest = body.partition(",")
        fields = re.findall(r"(\w+)\s*=\s*\{(.*?)\}\s*(?:,|$)\s*(?=\n|$)", rest, flags=re.DOTALL)
        found[key.strip()] = {name.lower(): re.sub(r"[{}]", "", value) for name, value in fields}
    return found


def citation(key: str) -> str:
    """Author, title, year of a bibliography entry as one line; the key where there is none."""
    entry = _entries().get(key)
    if entry is None:
        return key
    where = entry.get("journal") or entry.get("institution") or entry.get("publisher") or ""
    parts = [entry.get("author", ""), entry.get("title", ""), where, entry.get("year", "")]
    return ", ".join(p for p in parts if p)
