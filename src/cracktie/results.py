"""What every result shares: tidy rows of quantities, and turning them into tables and plain mappings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas

SCHEMA_VERSION = 1


@dataclass(frozen=True)
class Quantity:
    """One number of a result.

    `value` is None where there is none (`reason` says why); `u` is its standard uncertainty where known; `bound` marks
    a lower bound, printed with >= everywhere; `status` is the level of the model or how a measured value was found.
    """

    item: str
    name: str
    source: str
    value: float | None
    unit: str
    u: float | None = None
    status: str = ""
    reason: str = ""
    bound: bool = False
    simulated: bool = False
    more: Mapping[str, Any] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping; null and a reason where there is no value."""
        from cracktie.symbols import plain

        row: dict[str, Any] = {
            "item": self.item,
            "quantity": self.name,
            "symbol": plain(self.name),
            "source": self.source,
            "value": finite(self.value),
            "u": finite(self.u),
            "unit": self.unit,
            "status": self.status,
            "bound": self.bound,
            "simulated": self.simulated,
        }
        if self.reason:
            row["reason"] = self.reason
        return {**row, **self.more}


def finite(value: float | None) -> float | None:
    """The value as a plain float, None for none, NaN and infinite."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def frame(rows: Iterable[Quantity], *, wide: bool = False) -> pandas.DataFrame:
    """Tidy table: one row an item x quantity x source; `wide` gives one row an item."""
    import pandas

    table = pandas.DataFrame([row.to_dict() for row in rows])
    if not wide or table.empty:
        return table
    table["column"] = table["quantity"] + " [" + table["unit"] + "] " + table["source"]
    order = list(dict.fromkeys(table["column"]))
    items = list(dict.fromkeys(table["item"]))
    return table.pivot_table(index="item", columns="column", values="value", sort=False, dropna=False).reindex(
        index=items, columns=order
    )


def versioned(kind: str, body: Mapping[str, Any]) -> dict[str, Any]:
    """A result's plain mapping with its kind, schema version and the tool's version."""
    from cracktie import __version__

    return {"kind": kind, "schema": SCHEMA_VERSION, "cracktie": __version__, **body}
