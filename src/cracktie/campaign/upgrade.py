"""Formats of a campaign folder: what this version reads, and the steps that bring an older folder up to it."""

from __future__ import annotations

from collections.abc import Callable

from cracktie.campaign.positions import Document, Node
from cracktie.campaign.schema import FORMAT
from cracktie.errors import Problem

Documents = dict[str, Document]
Step = Callable[[Documents], Documents]

STEPS: dict[int, Step] = {}
"""Format number -> the function that turns the documents of that format into those of the next one.

Format 1 is the first, so there is no step yet; a folder without the key `cracktie` counts as format 1.
"""


def upgrade(
    documents: Documents, *, steps: dict[int, Step] | None = None, newest: int = FORMAT
) -> tuple[Documents, Problem | None]:
    """The documents in the newest format, or the problem that keeps them from being read."""
    steps = STEPS if steps is None else steps
    node = _format_node(documents)
    if node is None:
        return documents, None
    text = node.text or ""
    if not (text.isascii() and text.isdigit() and len(text) < 6):
        return documents, node.problem("the format must be a whole number", f"write `cracktie: {newest}`")
    found = int(text)
    if found > newest:
        message = f"the folder is written in format {found}, this version reads formats up to {newest}"
        return documents, node.problem(message, f"install a version of cracktie that reads format {found}")
    for number in range(found, newest):
        if number not in steps:
            return documents, node.problem(f"there never was a format {number}", f"write `cracktie: {newest}`")
        documents = steps[number](documents)
    return documents, None


def _format_node(documents: Documents) -> Node | None:
    head = documents.get("campaign.yaml")
    return head.root.get("cracktie") if head is not None and head.root is not None else None
