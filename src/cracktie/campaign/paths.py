"""What the schema says about a dotted path: its type, internal unit, example and the names beside it."""

from __future__ import annotations

import types
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Union, get_args, get_origin

from cracktie.campaign.fields import Entry, Internal


@dataclass(frozen=True)
class Place:
    """One place of the schema: its type without `None`, and its unit and example where it has them."""

    kind: Any
    internal: Internal | None = None

    @property
    def fields(self) -> dict[str, Any]:
        """Fields of an entry by the name a file uses; empty for anything else."""
        if isinstance(self.kind, type) and issubclass(self.kind, Entry):
            return {info.alias or name: info for name, info in self.kind.model_fields.items()}
        return {}

    def below(self, key: Any) -> Place | None:
        """The place of a key, a list index or an id below this one."""
        if self.fields:
            info = self.fields.get(key)
            return None if info is None else _place(info.annotation, info.metadata)
        origin, args = get_origin(self.kind), get_args(self.kind)
        if origin is dict:
            return _place(args[1])
        if origin is tuple:
            index = int(key) if str(key).isdigit() and Ellipsis not in args else 0
            return _place(args[min(index, len(args) - 1)]) if args and self.internal is None else None
        return None


def _place(annotation: Any, metadata: Iterable[Any] = ()) -> Place:
    found = [m for m in metadata if isinstance(m, Internal)]
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            found += [m for m in annotation.__metadata__ if isinstance(m, Internal)]
            annotation = get_args(annotation)[0]
        elif origin in (Union, types.UnionType):
            annotation = next(a for a in get_args(annotation) if a is not type(None))
        else:
            return Place(annotation, found[0] if found else None)


def place(model: type[Entry], path: Iterable[Any] = ()) -> Place | None:
    """The place of a path below an entry; None where the schema has none."""
    here: Place | None = Place(model)
    for key in path:
        here = here.below(key) if here is not None else None
    return here


def example(found: Place | None) -> str:
    """A text a file may hold at a place ('60 mm', '[...]', '...')."""
    if found is None:
        return "..."
    if found.internal is not None:
        return found.internal.example
    if found.fields or get_origin(found.kind) is dict:
        return "{...}"
    if get_origin(found.kind) is tuple:
        return "[...]"
    return {int: "2", bool: "true", float: "1.0"}.get(found.kind, "...")
