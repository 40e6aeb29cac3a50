"""Does the reduction find what was planted? Demo tests simulated with many seeds, reduced, and judged one by one.

With faults, the logs carry errors of rig and instruments drawn within their stated half-widths
(cracktie.plan.instruments), zero offsets, spikes, lost gauges and second clocks; without, nothing but noise, and
supports, load and weight off their stated places. A quantity is covered when |measured - planted| <= 2 u. This says
that reduction and uncertainty agree with the simulation's own idea of a test, nothing about any real beam.
"""

from __future__ import annotations

import json
import math
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from cracktie.campaign.read import read_campaign
from cracktie.campaign.schema import Campaign
from cracktie.demo.scenario import FAULTS
from cracktie.demo.write import write_demo
from cracktie.plan.logfile import Faults
from cracktie.plan.rehearse import simulate_test
from cracktie.reduced import TestResult
from cracktie.reduction import reduce_test
from evidence._frame import run_chunks, write_json

SEEDS = 18
"""Seeds, of 14 tests each, with faults and without: 504 variants."""
SEED = 5021
COVERAGE_FACTOR = 2.0
ON, OFF = "with faults", "without faults"
NOISE_ALONE = replace(Faults.none(), noise=True)
"""No faults; without noise the quiet end of a record would look like a frozen channel."""


def without_exclusions(campaign: Campaign) -> Campaign:
    """The campaign without the channels left out by hand: those belong to the shipped seed."""
    kept = {n: c.model_copy(update={"excluded": ()}) for n, c in campaign.reduction.tests.items()}
    return replace(campaign, reduction=campaign.reduction.model_copy(update={"tests": kept}))


def with_crack_lines(campaign: Campaign, truths: Mapping[str, Mapping[str, Any]], seed: int) -> Campaign:
    """The campaign with its crack lines digitised for other seeds, where the demo has some: 3 mm of scatter a point and
    4 mm of shift a line."""
    rng = np.random.default_rng((seed, 3))
    specimens = {}
    for id, seen in campaign.observations.specimens.items():
        lines = []
        for line in seen.crack_lines:
            name = line.test or next(n for n, t in campaign.tests.items() if t.specimen == id)
            if name not in truths:
                continue
            x, z = drawn_line(truths[name], rng)
            lines.append(line.model_copy(update={"x": tuple(x), "z": tuple(z)}))
        specimens[id] = seen.model_copy(update={"crack_lines": tuple(lines)})
    return replace(campaign, observations=campaign.observations.model_copy(update={"specimens": specimens}))


def drawn_line(truth: Mapping[str, Any], rng: np.random.Generator) -> tuple[list[float], list[float]]:
    """Points (x, z) of the planted crack as somebody digitises it."""
    z = np.linspace(45.0, truth["crack_tip"] - 10.0, 9)
    along = truth["crack_start"] + (z - 40.0) / math.tan(math.radians(truth["crack_angle"]))
    x = truth["support"] + truth["toward"] * along
    shift = rng.normal(0.0, 4.0, 2)
    found = x + shift[0] + rng.normal(0.0, 3.0, len(z)), z + shift[1] + rng.normal(0.0, 3.0, len(z))
    return found[0].tolist(), found[1].tolist()


def planted_values(truth: Mapping[str, Any]) -> dict[str, float]:
    """Planted value by the name under which the reduction gives it (N, mm, s); nothing where none was planted."""
    per_load = truth["shear_per_load"]
    found = {
        "P_max": truth["P_max"],
        "V_max": truth["V_max"],
        "V_max_applied": per_load * truth["P_max"],
        "V_deb": truth["V_first_debonding"],
        "V_dia": truth["V_first_diagonal_crack"],
        "V_cr": truth["V_first_flexural_crack"],
        **truth["results"],
        "clock_lag": truth["clock_lag_of_second_log"] or None,
    }
    return {name: float(value) for name, value in found.items() if value is not None}


def measured_values(result: TestResult) -> dict[str, tuple[float, float]]:
    """Value and standard uncertainty of a reduced test, by the same names."""
    found = {n: (float(q.value), float(q.u)) for n, q in result.values.items() if q.value is not None and q.u}
    for step in result.trail:
        if step.name == "synchronise":
            arguments: dict[str, Any] = dict(step.arguments)
            found["clock_lag"] = (-float(arguments["offset_s"]), float(arguments["u_s"]))
    return found


def lost_gauges(result: TestResult) -> dict[str, float]:
    """Gauges that the reduction took for lost and the time, s, as its notes say."""
    told = [note.partition(": ") for note in result.notes if "lost at " in note]
    return {name: float(text.split("lost at ")[1].split(" s")[0]) for name, _, text in told}


def judge(result: TestResult, truth: Mapping[str, Any]) -> dict[str, Any]:
    """One test: z = (measured - planted)/u by quantity, what was missed or made up, and the lost gauges."""
    planted, measured = planted_values(truth), measured_values(result)
    found = lost_gauges(result)
    late = [found[name] - at for name, at in truth["lost_gauges"].items() if name in found]
    return {
        "z": {n: (measured[n][0] - v) / measured[n][1] for n, v in planted.items() if n in measured},
        "relative_u": {n: measured[n][1] / abs(v) for n, v in planted.items() if n in measured},
        "missed": sorted(n for n in planted if n not in measured and n not in result.values),
        "no_u": sorted(n for n in planted if n not in measured and n in result.values),
        "made_up": sorted(n for n in ("V_deb", "V_dia", "V_cr") if n in measured and n not in planted),
        "lost_planted": len(truth["lost_gauges"]),
        "lost_found": sum(abs(t) <= 1.0 for t in late),
        "lost_made_up": sorted(set(found) - set(truth["lost_gauges"])),
    }


def judge_seed(
    campaign: Campaign, seed: int, tests: Iterable[str] = (), faults: Mapping[str, Faults] | None = None
) -> dict[str, dict[str, Any]]:
    """Judgement of every (named) test of the demo for one seed; its logs are written into the campaign's folder."""
    assert campaign.folder is not None
    names = tuple(tests or campaign.tests)
    simulated = {n: simulate_test(campaign, n, seed=seed, faults=(faults or FAULTS)[n]) for n in names}
    for one in simulated.values():
        for file, data in one.files.items():
            (campaign.folder / file).write_bytes(data)
    truths = {n: one.truth for n, one in simulated.items()}
    seen = with_crack_lines(campaign, truths, seed)
    # without a second clock all channels stand in one log
    logs = {n: t.model_copy(update={"logs": tuple(simulated[n].files)}) for n, t in seen.tests.items() if n in names}
    seen = replace(seen, tests={**seen.tests, **logs})
    return {n: judge(reduce_test(seen, n), truths[n]) for n in names}


def summary(judged: Iterable[Mapping[str, Mapping[str, Any]]]) -> dict[str, Any]:
    """Over all seeds and tests, by quantity: number, share covered by +-2 u, mean and standard deviation of z, ..."""
    z: dict[str, list[float]] = defaultdict(list)
    u: dict[str, list[float]] = defaultdict(list)
    missed: dict[str, int] = defaultdict(int)
    made_up: dict[str, int] = defaultdict(int)
    no_u: set[str] = set()
    lost = {"planted": 0, "found": 0, "made_up": 0}
    for tests in judged:
        for one in tests.values():
            for name, value in one["z"].items():
                z[name].append(value)
                u[name].append(one["relative_u"][name])
            for name in one["missed"]:
                missed[name] += 1
            no_u.update(one["no_u"])
            for name in one["made_up"]:
                made_up[name] += 1
            lost["planted"] += one["lost_planted"]
            lost["found"] += one["lost_found"]
            lost["made_up"] += len(one["lost_made_up"])
    rows = {}
    for name, values in z.items():
        covered = sum(abs(v) <= COVERAGE_FACTOR for v in values)
        rows[name] = {
            "number": len(values),
            "covered": covered,
            "coverage": covered / len(values),
            "mean_z": float(np.mean(values)),
            "sd_z": float(np.std(values, ddof=1)) if len(values) > 1 else 0.0,
            "largest_z": max(map(abs, values)),
            "median_relative_u": float(np.median(u[name])),
            "missed": missed[name],
            "made_up": made_up[name],
        }
    number = sum(len(values) for values in z.values())
    overall = sum(abs(v) <= COVERAGE_FACTOR for values in z.values() for v in values) / number
    told = {"quantities": dict(sorted(rows.items())), "lost_gauges": lost, "given_without_u": sorted(no_u)}
    return {"overall": overall, "number": number, **told}


def work(campaign: Campaign, rng: np.random.Generator, size: int) -> list[dict[str, Any]]:
    """Judgements of `size` seeds drawn from the generator, with the demo's faults and without any."""
    clean = dict.fromkeys(campaign.tests, NOISE_ALONE)
    seeds = [int(rng.integers(1, 2**31)) for _ in range(size)]
    return [{ON: judge_seed(campaign, s), OFF: judge_seed(campaign, s, faults=clean)} for s in seeds]


def main() -> int:
    """All seeds; writes docs/evidence/planted_truth.json; status 1 where a quantity is covered less than 90 %."""
    with tempfile.TemporaryDirectory() as folder:
        campaign = without_exclusions(read_campaign(write_demo(Path(folder) / "demo")))
        parts = run_chunks("planted_truth", lambda rng, n: work(campaign, rng, n), samples=SEEDS, size=1, seed=SEED)
    found = {key: summary(one[key] for part in parts for one in part) for key in (ON, OFF)}
    write_json("planted_truth", found, samples=SEEDS, seed=SEED)
    print(json.dumps(found, indent=1))
    worst = min(row["coverage"] for one in found.values() for row in one["quantities"].values())
    return 0 if worst >= 0.9 and math.isfinite(worst) else 1


if __name__ == "__main__":
    sys.exit(main())
