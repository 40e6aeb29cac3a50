"""Reduced tests kept in out/, each with the fingerprint of everything it was made from."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np

from cracktie import __version__
from cracktie.campaign.schema import Campaign
from cracktie.campaign.write import write_text
from cracktie.lab.budget import Budget
from cracktie.lab.trail import Step, Trail
from cracktie.reduced import Curve, LogUse, Mark, Mode, TestResult
from cracktie.results import Quantity


@functools.cache
def code_hash() -> str:
    """Hash of the whole package: other code, other results."""
    found = hashlib.sha256()
    for path in sorted(Path(__file__).parents[1].rglob("*.py")):
        found.update(path.read_bytes())
    return found.hexdigest()


class Store:
    """Reduced tests by name under out/reduced; a missing, older or damaged entry is simply made again."""

    def __init__(self, campaign: Campaign, *, read: bool):
        self.campaign, self.reading = campaign, read
        self.folder = campaign.folder / "out" / "reduced" if campaign.folder is not None else None

    def fingerprint(self, name: str) -> str:
        """SHA-256 over the tool's version and code, the campaign's own files and the test's logs."""
        test = self.campaign.tests[name]
        logs = {*test.logs, *(p.file for p in test.profiles), *self._carried(name)}
        sources, noted = self.campaign.sources.items(), test.event_log
        own = {f: h for f, h in sources if "/" not in f or f in logs or f.startswith("coupons/") or f == noted}
        text = json.dumps([__version__, code_hash(), name, sorted(own.items())])
        return hashlib.sha256(text.encode()).hexdigest()

    def _carried(self, name: str, seen: tuple[str, ...] = ()) -> set[str]:
        """Logs of earlier tests whose last readings count in this one."""
        choice = self.campaign.reduction.tests.get(name)
        names = {z.carry.test for z in choice.zeros if z.carry is not None} if choice is not None else set()
        found: set[str] = set()
        for other in names - {name, *seen}:
            found |= {*self.campaign.tests[other].logs, *self._carried(other, (*seen, name))}
        return found

    def get(self, name: str) -> TestResult | None:
        """The kept result, None where there is none that fits."""
        if self.folder is None or not self.reading:
            return None
        try:
            kept = json.loads(self._path(name).read_text(encoding="utf-8"))
            return _read(kept["result"]) if kept["fingerprint"] == self.fingerprint(name) else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def put(self, result: TestResult) -> None:
        """Keep a result; nothing is kept for a campaign in memory, or where out/ cannot be written."""
        if self.folder is None:
            return
        body = {"fingerprint": self.fingerprint(result.test), "result": _written(result)}
        text = json.dumps(body, allow_nan=False) + "\n"
        with contextlib.suppress(OSError):  # what is not kept is made again
            self.folder.mkdir(parents=True, exist_ok=True)
            write_text(self._path(result.test), text)

    def _path(self, name: str) -> Path:
        assert self.folder is not None
        return self.folder / f"{name}.json"


def _written(t: TestResult) -> dict[str, Any]:
    curves = [{**c.__dict__, "x": c.x.tolist(), "y": c.y.tolist()} for c in t.curves]
    values = {n: {**q.__dict__, "more": dict(q.more)} for n, q in t.values.items()}
    logs = [{**log.__dict__, "report": list(log.report)} for log in t.logs]
    steps = [s.to_dict() for s in t.trail]
    marks = [dict(m.__dict__) for m in t.marks]
    budgets = {n: b.to_list() for n, b in t.budgets.items()}
    modes = [m.to_dict() for m in t.modes]
    made = {"curves": curves, "values": values, "logs": logs, "trail": steps, "marks": marks, "budgets": budgets,
            "modes": modes}  # fmt: skip
    return {**t.__dict__, **made}


def _read(kept: dict[str, Any]) -> TestResult:
    curves = tuple(Curve(**{**c, "x": np.array(c["x"]), "y": np.array(c["y"])}) for c in kept["curves"])
    values = {n: Quantity(**q) for n, q in kept["values"].items()}
    logs = tuple(LogUse(**{**log, "report": tuple(log["report"])}) for log in kept["logs"])
    steps = tuple(Step(**{**s, "arguments": tuple(s["arguments"].items())}) for s in kept["trail"])
    marks = tuple(Mark(**m) for m in kept["marks"])
    modes = tuple(Mode(**{**m, "modes": tuple(m["modes"])}) for m in kept["modes"])
    budgets = {n: Budget.from_list(b) for n, b in kept["budgets"].items()}
    more = {"curves": curves, "values": values, "logs": logs, "trail": Trail(steps), "marks": marks, "budgets": budgets,
            "modes": modes}  # fmt: skip
    return TestResult(**{**kept, **more, "notes": tuple(kept["notes"])})
