"""One function per arrow of the workflow. The command line, notebooks and tests call these and nothing below them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cracktie.errors import InputRefused, Problem

if TYPE_CHECKING:
    from cracktie.campaign.schema import Campaign
    from cracktie.campaign.specimen import Specimen
    from cracktie.compared import Comparison
    from cracktie.local_models import Consent, LocalFile
    from cracktie.prediction import Prediction
    from cracktie.prediction.mechanics import MechanicsPrediction
    from cracktie.reduced import Reduced
    from cracktie.reduction.explain import Explanation
    from cracktie.study.result import StudyResult
    from cracktie.verify import VerifyResult

Advance = Callable[[str, int, int], None]
"""Progress: text, steps done, steps in all."""


@dataclass(frozen=True)
class RunResult:
    """What `run` did: the campaign, every result the inputs allow, and where the reports are."""

    campaign: Campaign
    prediction: Prediction
    reduced: Reduced
    comparison: Comparison | None
    html: Path
    pdf: Path
    lines: tuple[str, ...]
    own_models: tuple[LocalFile, ...] = ()

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """Findings of the reader and of the reduction."""
        return (*self.campaign.warnings, *self.reduced.warnings)

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        return {
            "prediction": self.prediction.to_dict(),
            "reduced": self.reduced.to_dict(),
            "comparison": self.comparison.to_dict() if self.comparison else None,
            "notes": list(self.lines),
            "report": {"html": self.html.name, "pdf": self.pdf.name},
        }


def open_campaign(path: str | Path, *, awaited: str | None = None) -> Campaign:
    """A campaign folder, or a file of one beam; raises `InputRefused` with every problem found.

    The logs of the `awaited` test need not be there yet.
    """
    from cracktie.campaign.read import read_campaign, read_single

    path = Path(path)
    if path.is_file():
        return read_single(path)
    return read_campaign(path, awaited=awaited)


def new(folder: str | Path, *, one_beam: bool = False, table: Path | None = None) -> tuple[str, ...]:
    """Start a campaign folder; returns lines that say what was written."""
    from cracktie.campaign.new import new_campaign

    written = new_campaign(Path(folder), one_beam=one_beam, table=table)
    then = f"predict {Path(folder) / 'beam.yaml'}" if one_beam else f"check {folder}"
    return (*(f"wrote {path}" for path in written), f"next: cracktie {then}")


def check(campaign: Campaign) -> dict[str, Any]:
    """What a campaign holds, as a plain mapping: groups, factors, counts, units that bare numbers take."""
    from cracktie.campaign.factors import all_confounded, contrasted, show

    tests = {g: [t for t, held in campaign.tests.items() if held.specimen in m] for g, m in campaign.groups.items()}
    factors = []
    for name, factor in campaign.head.factors.items():
        levels = [f"{show(level)}: {', '.join(ids)}" for level, ids in contrasted(campaign, factor).items()]
        factors.append(f"factor {name} ({factor.path}): {'; '.join(levels)}")
    return {
        "title": campaign.head.title,
        "invented": campaign.head.invented,
        "units": dict(campaign.units),
        "groups": [[name, ", ".join(members), ", ".join(tests[name])] for name, members in campaign.groups.items()],
        "factors": factors,
        "confounded": [str(p) for p in all_confounded(campaign)],
        "specimens": len(campaign.specimens),
        "tests": len(campaign.tests),
        "logs": sum(len(t.logs) for t in campaign.tests.values()),
        "warnings": [str(w) for w in campaign.warnings],
    }


def write_table(campaign: Campaign, path: Path) -> None:
    """Write the specimens as a wide CSV table, the form `new --from` reads."""
    from cracktie.campaign.table import table_csv
    from cracktie.campaign.write import write_text

    write_text(Path(path), table_csv(campaign))


def write_schemas(folder: Path) -> tuple[Path, ...]:
    """Write the JSON Schema of every campaign file and of every result in out/; returns the paths."""
    import json

    from cracktie.campaign.jsonschema import schemas
    from cracktie.campaign.write import write_text
    from cracktie.result_schemas import KINDS, result_schema

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, schema in {**schemas(), **{f"{kind}.json": result_schema(kind) for kind in KINDS}}.items():
        path = folder / f"{name}.schema.json"
        write_text(path, json.dumps(schema, indent=1) + "\n")
        written.append(path)
    return tuple(written)


def sheets_dict(prediction: Prediction, item: str) -> dict[str, Any]:
    """Calculation sheets of one test or specimen as a plain mapping for JSON; raises `UnknownName`."""
    from cracktie.results import versioned

    found = [
        {"item": row.item, "span": row.span, "set": row.set, "title": row.title, "form": row.form,
         "reasons": list(row.reasons), "sheets": [sheet.to_dict() for sheet in prediction.sheets(row)]}
        for row in prediction.of(item)
    ]  # fmt: skip
    return versioned("sheets", {"item": item, "rows": found})


def load_own_models(campaign: Campaign, allow_code: Consent) -> tuple[LocalFile, ...]:
    """Register the models of the campaign's models/*.py, where `allow_code` says that their code may run.

    They take the place of those of any campaign before. Raises `InputRefused` for files that cannot be used.
    """
    from cracktie.local_models import forget_local_models, load_local_models

    if campaign.folder is None:
        forget_local_models()
        return ()
    return load_local_models(campaign.folder, allow_code)


def predict(
    campaign: Campaign | Specimen,
    *,
    materials: Any = None,
    settings: Mapping[str, Any] | None = None,
    form: str = "test",
    choice: str | None = None,
    sets: Iterable[str] | None = None,
    allow_code: Consent | None = None,
) -> Prediction:
    """Shear resistance of every test (or of both spans of a beam without tests) by every guideline set.

    A bare `Specimen` needs its `materials` (a `Materials` or a plain mapping of the same shape); `settings` are keys of
    campaign.yaml for it, such as {"exposure": "exterior"} for the design form. `allow_code` loads the
    campaign's own models first (`load_own_models`); without it those loaded before count. An own model that the
    campaign names and nobody has loaded is listed under `skipped`; one that `sets` names raises `UnknownName`.
    """
    from cracktie.campaign.schema import Campaign as Whole
    from cracktie.local_models import not_loaded
    from cracktie.prediction import predict_campaign

    if not isinstance(campaign, Whole):
        campaign = single_beam(campaign, materials, settings)
    if allow_code is not None:
        load_own_models(campaign, allow_code)
    if sets is not None:
        return predict_campaign(campaign, form=form, choice=choice, sets=sets)
    missing = not_loaded(campaign.head.guideline_sets)
    kept = [s for s in campaign.head.guideline_sets if s not in missing]
    made = predict_campaign(campaign, form=form, choice=choice, sets=kept)
    return replace(made, skipped={**made.skipped, **missing}) if missing else made


def predict_mechanics(
    campaign: Campaign | Specimen,
    *,
    materials: Any = None,
    choice: str | None = None,
    angle: str = "stated",
    coefficients: Mapping[str, float] | None = None,
) -> MechanicsPrediction:
    """Shear over the crack opening of every tested span; `angle` 'measured' takes digitised crack lines."""
    from cracktie.campaign.schema import Campaign as Whole
    from cracktie.prediction.mechanics import predict_mechanics as run

    campaign = campaign if isinstance(campaign, Whole) else single_beam(campaign, materials)
    return run(campaign, choice=choice or "measured", angle=angle, coefficients=coefficients)


def study(path: Path, *, workers: int = 1) -> StudyResult:
    """Run a study file: samples, sensitivities, sweeps, a map and a goal for one wrapped span."""
    from cracktie.study.result import study_file

    return study_file(Path(path), workers=workers)


def single_beam(specimen: Specimen, materials: Any, settings: Mapping[str, Any] | None = None) -> Campaign:
    """A campaign that holds one specimen, for use in a notebook; `settings` are keys of campaign.yaml."""
    from cracktie.campaign.single import single_campaign

    return single_campaign(specimen, materials, settings)


def reduce(campaign: Campaign, *, advance: Advance | None = None, fresh: bool = True) -> Reduced:
    """Reduce the logs of every test; raw files are only read. `fresh=False` takes unchanged tests from out/."""
    from cracktie.reduction import reduce_campaign

    return reduce_campaign(campaign, advance=advance, fresh=fresh)


def watch(campaign: Campaign, test: str, **more: Any) -> Iterator[str]:
    """Lines about a test while its log grows, without end; `more` as `reduction.watch`. Raises `UnknownName`."""
    from cracktie.reduction.watch import watch as follow

    return follow(campaign, test, **more)


def explain(campaign: Campaign, test: str, quantity: str, *, samples: int = 100_000) -> Explanation:
    """The chain from one number of a test back to the rows of its raw files; raises `UnknownName`."""
    from cracktie.comparison import explain as chain

    return chain(campaign, test, quantity, samples=samples)


def compare(
    campaign: Campaign,
    *,
    reduced: Reduced | None = None,
    prediction: Prediction | None = None,
    simulated_ok: bool = False,
) -> Comparison:
    """Tests against predictions (mean measured values, factors 1) and against their references."""
    from cracktie.comparison import compare_campaign

    return compare_campaign(
        campaign, reduced or reduce(campaign), prediction or predict(campaign), simulated_ok=simulated_ok
    )


def report(
    campaign: Campaign,
    *,
    prediction: Prediction | None = None,
    reduced: Reduced | None = None,
    comparison: Comparison | None = None,
    mechanics: MechanicsPrediction | None = None,
    folder: Path | None = None,
) -> tuple[Path, Path]:
    """Write report.html and report.pdf into `folder` (default: out/ of the campaign); returns both paths."""
    from cracktie.report.document import build
    from cracktie.report.html import write_html
    from cracktie.report.pdf import write_pdf

    target = Path(folder or (campaign.folder or Path()) / "out")
    target.mkdir(parents=True, exist_ok=True)
    mechanics = mechanics or predict_mechanics(campaign)
    document = build(campaign, prediction or predict(campaign), reduced or reduce(campaign), comparison, mechanics)
    return write_html(document, target / "report.html"), write_pdf(document, target / "report.pdf")


def run(
    folder: str | Path,
    *,
    fresh: bool = False,
    simulated_ok: bool = False,
    allow_code: Consent | None = None,
    advance: Advance | None = None,
) -> RunResult:
    """Every step the inputs allow; results go to out/ (safe to delete), raw files are only read.

    Simulated logs are reduced and shown; they are compared only with `simulated_ok`. `allow_code`: as `predict`.
    """
    from cracktie.mechanics.compiled import compile_apart
    from cracktie.outputs import write_results

    tell = advance or (lambda text, done, total: None)
    tell("reading", 0, 5)
    campaign = open_campaign(folder)
    out = _out(campaign)
    tell("predicting", 1, 5)
    own = load_own_models(campaign, allow_code) if allow_code is not None else ()
    compiling = compile_apart(out.parent)
    prediction = predict(campaign)
    reduced = reduce(campaign, fresh=fresh, advance=lambda text, done, total: tell(text, 2, 5))
    if compiling is not None:
        tell("waiting for compiled kernels", 2, 5)
        compiling.wait()
    mechanics = predict_mechanics(campaign)
    tell("comparing", 3, 5)
    comparison = None
    lines = [f"models/{file.sentence()}" for file in own if file.ran]
    if reduced.simulated and not simulated_ok:
        lines.append("simulated logs: not compared with predictions (--simulated-ok to try things out)")
    elif reduced.tests:
        comparison = compare(campaign, reduced=reduced, prediction=prediction, simulated_ok=simulated_ok)
    tell("writing the report", 4, 5)
    results: dict[str, Any] = {"prediction": prediction, "reduced": reduced, "comparison": comparison}
    html, pdf = report(campaign, **results, mechanics=mechanics, folder=out)
    write_results(campaign, prediction, reduced, comparison, out, mechanics)
    tell("done", 5, 5)
    return RunResult(campaign, prediction, reduced, comparison, html, pdf, tuple(lines), own)


def _out(campaign: Campaign) -> Path:
    if campaign.folder is None:
        what, fix = (
            "has no folder to write results into",
            "a file of one beam serves `predict`; `new DIR` makes a folder",
        )
        raise InputRefused(Problem("error", campaign.head.title, what, fix=fix))
    out = campaign.folder / "out"
    if out.exists() and not out.is_dir():
        fix = "move it away: results go into a folder of that name"
        raise InputRefused(Problem("error", str(out), "is a file", fix=fix))
    return out


def demo(folder: str | Path, *, advance: Advance | None = None) -> RunResult:
    """Copy the invented demo campaign into an empty folder, simulate its logs and run everything."""
    from cracktie.demo.write import write_demo
    from cracktie.outputs import kept_between_runs

    if advance:
        advance("writing the invented campaign", 0, 5)
    write_demo(Path(folder))
    before = kept_between_runs()
    done = run(folder, simulated_ok=True, advance=advance)
    made = [f"{what} ({place})" for what, place in kept_between_runs().items() if what not in before]
    if not made:
        return done
    line = f"first run here: {' and '.join(made)} made and kept, so later runs start faster"
    return replace(done, lines=(*done.lines, line))


def list_models(topic: str | None = None, status: str | None = None) -> list[dict[str, Any]]:
    """One mapping per published model; of one topic, or with a branch of one status. Raises `UnknownName`."""
    from cracktie.clause import all_models
    from cracktie.describe import levels
    from cracktie.errors import UnknownName

    topics = sorted({m.topic for m in all_models()})
    if topic is not None and topic not in topics:
        raise UnknownName(f"no topic {topic!r}; there are {', '.join(topics)}")
    return [
        {
            "id": m.id,
            "title": m.title,
            "topic": m.topic,
            "source": f"{m.source.key}, {m.source.where}",
            "status": m.weakest.level,
            "levels": levels(m),
            "predicts": m.predicts,
            "unit": m.unit,
            "limits": [limit.sentence() for limit in m.limits],
        }
        for m in all_models(topic)
        if status is None or status in levels(m)
    ]


def list_not_included() -> list[dict[str, Any]]:
    """Documents that are known and give no model here, each with the reason and the way to bring one's own."""
    from dataclasses import asdict

    from cracktie.models.not_included import NOT_INCLUDED

    return [asdict(entry) for entry in NOT_INCLUDED]


def describe_model(id: str) -> dict[str, Any]:
    """Everything a user may want to know about one model; raises `UnknownName`."""
    from cracktie.describe import describe

    return describe(id)


def check_model_file(path: Path, *, allow_code: bool) -> tuple[list[str], bool]:
    """Run every check on a user's model file; raises `InputRefused` where its code may not run or does not load."""
    from cracktie.local_models import check_file

    return check_file(path, allow_code=allow_code)


def verify(files: Iterable[str | Path]) -> VerifyResult:
    """Evaluate case files (model or function, inputs, expected printed text) and report each value."""
    from cracktie.verify import verify_files

    return verify_files([Path(f) for f in files])
