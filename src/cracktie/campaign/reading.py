"""What the reader carries while it works through the files of a campaign."""

from __future__ import annotations

import errno
import hashlib
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import Any

from cracktie.campaign.coupons import CouponSet
from cracktie.campaign.positions import Document, Node
from cracktie.campaign.specimen import Specimen
from cracktie.errors import FileTrouble, Problem

SPECIMENS = "specimens.yaml"
COLLECTIONS = {
    "campaign.yaml": ("references", "factors"),
    "materials.yaml": ("concretes", "bars", "frp_systems", "adhesives", "anchor_fibres", "anchors_tested"),
    SPECIMENS: ("specimens",),
    "tests.yaml": ("tests",),
    "rig.yaml": ("setups", "layouts"),
    "observations.yaml": ("specimens",),
    "reduction.yaml": ("loggers", "tests"),
}
"""Keys of each file below which entries stand by their ids."""


@dataclass
class Reading:
    """What has been read so far: documents by file name, built entries, problems."""

    documents: dict[str, Document]
    folder: Path | None
    entries: dict[str, Any] = field(default_factory=dict)
    specimens: dict[str, Specimen] = field(default_factory=dict)
    resolved: dict[str, Node] = field(default_factory=dict)
    units: dict[str, dict[str, str]] = field(default_factory=dict)
    sources: dict[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    awaited: str | None = None
    """Test whose logs need not be there yet: its logger is about to begin."""

    def root(self, name: str) -> Node | None:
        """Tree of a file; None where it is missing, empty or unreadable."""
        document = self.documents.get(name)
        return document.root if document is not None else None

    def ids(self, name: str, collection: str) -> list[str]:
        """Ids a file lists below a key, whether or not their entries are sound."""
        root = self.root(name)
        node = root.get(collection) if root is not None else None
        return list(node.items) if node is not None and node.items is not None else []


def hash_file(reading: Reading, name: str) -> bool:
    """Add the SHA-256 of a file of the folder to the sources; False where it is not inside the folder."""
    if reading.folder is None:
        return False
    path = reading.folder / name
    try:
        below = PurePath(name)  # a link inside the folder may lead elsewhere, a path may not
        if below.anchor or ".." in below.parts or not path.is_file():
            return False
        if name not in reading.sources:
            with path.open("rb") as stream:
                reading.sources[name] = hashlib.file_digest(stream, "sha256").hexdigest()
    except ValueError:  # a NUL byte in the name
        return False
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            return False
        message = f"{name}: cannot be read ({error.strerror}); check that it is a file you may read"
        raise FileTrouble(message) from None
    return True


def fill_coupons(reading: Reading) -> dict[str, CouponSet]:
    """Replace materials that name a coupon file by ones with the values computed from it; their sets by material."""
    from cracktie.campaign.coupons import fill

    if reading.folder is None:
        return {}
    found: dict[str, CouponSet] = {}
    materials, root = reading.entries["materials.yaml"], reading.root("materials.yaml")
    for kind in COLLECTIONS["materials.yaml"]:
        entries = getattr(materials, kind)
        for id, entry in list(entries.items()):
            name = getattr(entry, "source", None)
            if name is None or root is None or not hash_file(reading, name):
                continue  # a missing file is reported where all named files are looked for
            done = fill(kind, entry, reading.folder, lambda file: hash_file(reading, file))
            reading.problems += done.problems
            for key in done.twice:
                node, _ = root.nearest((kind, id, *key.split(".")))
                told = f"delete it, or delete `from: {name}`"
                reading.problems.append(node.key_problem(f"is computed from {name} as well", told))
            entries[id] = done.entry
            if done.coupons is not None:
                found[f"{kind}.{id}"] = done.coupons
    return found
