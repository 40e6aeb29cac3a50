"""Sentences that hold symbols (f_c, V_s, eps_fe): split once, set as HTML or typst."""

from __future__ import annotations

import html
import re

from cracktie import symbols
from cracktie.report.notation import typst_string

_INDEXED = re.compile(r"(?<![\w.-])[^\W\d_]+_\w+(?:,\w+)*(?!\w|\.\w)")
"""A letter or word with an index; not within a file name (OV-12-B_hall.csv)."""


def pieces(sentence: str) -> list[tuple[str, str]]:
    """A sentence as (text, '') and (base, index) pieces: f_c and eps_fe become symbols, words with '_' stay."""
    found: list[tuple[str, str]] = []
    end = 0
    for match in _INDEXED.finditer(sentence):
        base, _, index = symbols.plain(match[0]).partition("_")
        if len(base) == 1 and index:
            found += [(sentence[end : match.start()], ""), (base, index.replace("_", ","))]
            end = match.end()
    return [*found, (sentence[end:], "")]


def html_prose(sentence: str) -> str:
    """The sentence as HTML, escaped."""
    return "".join(
        f"<i>{html.escape(text)}</i><sub>{html.escape(index)}</sub>" if index else html.escape(text)
        for text, index in pieces(sentence)
    )


def typst_prose(sentence: str) -> str:
    """The sentence as typst markup."""
    return "".join(
        f"${text}_{typst_string(index)}$" if index else f"#{typst_string(text)}" for text, index in pieces(sentence)
    )
