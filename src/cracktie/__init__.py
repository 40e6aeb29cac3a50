"""Workbench for beam-test campaigns on concrete strengthened in shear with bonded fibre sheets and spike anchors."""

from __future__ import annotations

TYPE_CHECKING = False  # type checkers take it as true; importing typing here would slow every start
if TYPE_CHECKING:
    from typing import Any

__version__ = "0.1.0"

_LAZY = {
    "open_campaign": "cracktie.actions",
    "predict": "cracktie.actions",
    "reduce": "cracktie.actions",
    "compare": "cracktie.actions",
    "run": "cracktie.actions",
    "Specimen": "cracktie.campaign.specimen",
    "Campaign": "cracktie.campaign.schema",
    "CracktieError": "cracktie.errors",
}
__all__ = ["__version__", *sorted(_LAZY)]


def __getattr__(name: str) -> Any:
    if name in _LAZY:
        import importlib

        return getattr(importlib.import_module(_LAZY[name]), name)
    raise AttributeError(f"module 'cracktie' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
