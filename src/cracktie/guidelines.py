"""Guideline sets by id: published ones, research terms on a host code, and a user's own FRP terms.

The sets themselves are data (`cracktie.models.guideline_sets`).
"""

from __future__ import annotations

import difflib
from dataclasses import replace

from cracktie.clause import get
from cracktie.errors import UnknownName
from cracktie.models.guideline_sets import PREPARED, SETS, GuidelineSet, Inputs, section_at_d

__all__ = ["OWN", "PREPARED", "GuidelineSet", "Inputs", "all_sets", "guideline_set", "hosts", "section_at_d"]

OWN = "local."
"""Start of the ids of users' own models."""

_BY_ID = {s.id: s for s in SETS}


def guideline_set(id: str, *, host: str | None = None) -> GuidelineSet:
    """The set of that id; a research set takes its concrete and stirrup terms from `host`.

    An id that starts with `local.` is a user's own FRP term, loaded before, in place of a research model's.
    Raises `UnknownName` for an unknown id, an own model that gives no V_f in N, and a host that does not add its
    concrete term.
    """
    if id.startswith(OWN):
        found = _own_set(id)
    elif id in _BY_ID:
        found = _BY_ID[id]
    else:
        near = difflib.get_close_matches(id, _BY_ID, 2)
        raise UnknownName(f"no guideline set {id!r}; there are {', '.join(near or _BY_ID)}")
    if not found.research:
        return found
    hosting = _BY_ID.get(host or found.host or "aci14_440")
    if hosting is None:
        raise UnknownName(f"no guideline set {host!r} to host {id}; there are {', '.join(_BY_ID)}")
    if not hosting.can_host:
        raise UnknownName(
            f"{hosting.id} cannot host {id}: its resistance is no sum V_c + V_s of two terms; possible: "
            f"{', '.join(hosts())}"
        )
    return replace(
        found,
        concrete=hosting.concrete,
        stirrups=hosting.stirrups,
        prepare=hosting.prepare,
        phi=hosting.phi,
        host=hosting.id,
        title=f"{found.title} on {hosting.title.split(' with ')[0]} (host chosen by us)",
    )


def _own_set(id: str) -> GuidelineSet:
    """A user's own FRP term as a research set: judged on V_f first, on a host code."""
    made = get(id)
    if (made.predicts, made.unit) != ("V_f", "N"):
        raise UnknownName(
            f"{id} predicts {made.predicts} in {made.unit}; an own model stands as a set where it predicts V_f in N"
        )
    model = _BY_ID["chen_teng"]
    return replace(model, id=id, title=made.title, frp=id)


def hosts() -> tuple[str, ...]:
    """Ids of the sets that a research FRP term may stand on."""
    return tuple(s.id for s in SETS if s.can_host)


def all_sets() -> tuple[GuidelineSet, ...]:
    """All sets in their own order."""
    return SETS
