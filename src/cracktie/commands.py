"""What each command of the command line does: call `cracktie.actions`, print. A command gives its exit status."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cracktie import actions, console, mechanics_cli
from cracktie.mechanics_cli import study
from cracktie.streams import has_every_sign, terminal_width

if TYPE_CHECKING:
    import argparse

    from cracktie.local_models import LocalFile

__all__ = [
    "check", "compare", "demo", "explain", "models", "new", "predict", "reduce", "report", "run", "study", "verify",
]  # fmt: skip


def _print_json(result: dict[str, Any]) -> None:
    print(json.dumps(result, indent=1, ensure_ascii=not has_every_sign(sys.stdout), allow_nan=False))


def _warned(problems: Sequence[Any], options: argparse.Namespace) -> int:
    for problem in problems:
        print(f"warning: {problem}", file=sys.stderr)
    return 1 if problems and options.strict else 0


def new(options: argparse.Namespace) -> int:
    for line in actions.new(options.folder, one_beam=options.one_beam, table=options.table):
        print(line)
    return 0


def check(options: argparse.Namespace) -> int:
    campaign = actions.open_campaign(options.folder)
    beside = sys.stderr if options.json else sys.stdout
    if options.table:
        actions.write_table(campaign, options.table)
        print(f"wrote {options.table}", file=beside)
    if options.schemas:
        for path in actions.write_schemas(options.schemas):
            print(f"wrote {path}", file=beside)
    found = actions.check(campaign)
    if options.detailing:
        from cracktie.detailing import by_sentence

        found["detailing"] = by_sentence(campaign.specimens, campaign.materials)
    if options.json:
        _print_json(found)
    else:
        console.show_check(found)
    return _warned(campaign.warnings, options)


def predict(options: argparse.Namespace) -> int:
    campaign = actions.open_campaign(options.folder)
    if options.mechanics:
        return mechanics_cli.predict(campaign, options)
    _load_own_models(campaign, options)
    prediction = actions.predict(campaign, form=options.form, choice=options.inputs, sets=options.sets)
    if options.sheet and options.json:
        _print_json(actions.sheets_dict(prediction, options.sheet))
    elif options.sheet:
        console.show_sheets(prediction, options.sheet)
    elif options.json:
        _print_json(prediction.to_dict())
    else:
        console.show_prediction(prediction, campaign.head.shown_units)
    return _warned(campaign.warnings, options)


def _load_own_models(campaign: Any, options: argparse.Namespace) -> None:
    """Load the campaign's own models if its user allows it; a line for every file whose code did not run."""
    _tell_not_run(actions.load_own_models(campaign, options.allow_code))


def _tell_not_run(files: Sequence[LocalFile]) -> None:
    for file in files:
        if not file.ran:
            print(f"models/{file.sentence()}", file=sys.stderr)


def reduce(options: argparse.Namespace) -> int:
    campaign = actions.open_campaign(options.folder, awaited=options.watch or None)
    if options.watch:
        from cracktie.following import follow_test

        return follow_test(campaign, options.watch)
    if options.save_map:
        from cracktie.campaign.loggers import save_map

        test, _, name = options.save_map.partition("=")
        print("\n".join(save_map(campaign, test, name or None)), file=sys.stderr if options.json else sys.stdout)
        campaign = actions.open_campaign(options.folder)
    with _progress("reducing", options) as advance:
        reduced = actions.reduce(campaign, advance=advance)
    if options.json:
        _print_json(reduced.to_dict())
    else:
        from cracktie.console_reduced import show_reduced

        show_reduced(reduced, campaign.head.shown_units)
    return _warned((*campaign.warnings, *reduced.warnings), options)


def explain(options: argparse.Namespace) -> int:
    campaign = actions.open_campaign(options.folder)
    found = actions.explain(campaign, options.test, options.quantity, samples=options.samples)
    _print_json(found.to_dict()) if options.json else print("\n".join(found.lines()))
    return 0


def compare(options: argparse.Namespace) -> int:
    campaign = actions.open_campaign(options.folder)
    _load_own_models(campaign, options)
    with _progress("reducing", options) as advance:
        reduced = actions.reduce(campaign, advance=advance)
    comparison = actions.compare(campaign, reduced=reduced, simulated_ok=options.simulated_ok)
    if options.json:
        _print_json(comparison.to_dict())
    else:
        console.show_comparison(comparison, campaign.head.shown_units)
    return _warned((*campaign.warnings, *reduced.warnings), options)


def report(options: argparse.Namespace) -> int:
    return _run_steps(options, fresh=False)


def run(options: argparse.Namespace) -> int:
    return _run_steps(options, fresh=options.fresh)


def _run_steps(options: argparse.Namespace, *, fresh: bool) -> int:
    with _progress("running", options) as advance:
        done = actions.run(
            options.folder,
            fresh=fresh,
            simulated_ok=options.simulated_ok,
            allow_code=options.allow_code,
            advance=advance,
        )
    _tell_not_run(done.own_models)
    if options.json:
        _print_json(done.to_dict())
    else:
        console.show_run(done)
    return _warned(done.warnings, options)


def demo(options: argparse.Namespace) -> int:
    with _progress("demo", options) as advance:
        done = actions.demo(options.folder, advance=advance)
    if options.json:
        _print_json(done.to_dict())
    else:
        console.show_run(done, demo=True)
    return 0


def models(options: argparse.Namespace) -> int:
    if options.action != "list" and not options.name:
        print(
            f"cracktie models {options.action} needs {'a model id' if options.action == 'show' else 'a file'}",
            file=sys.stderr,
        )
        return 2
    if options.action == "check":
        return _models_check(options)
    if options.action == "show":
        described = actions.describe_model(options.name)
        _print_json(described) if options.json else console.show_model(described)
        return 0
    listed = actions.list_models(options.topic, options.status)
    absent = actions.list_not_included() if options.topic in (None, "frp_shear") and not options.status else []
    if options.json:
        _print_json({"models": listed, "not_included": absent})
    else:
        console.show_models(listed, absent, terminal_width())
    return 0


def _models_check(options: argparse.Namespace) -> int:
    lines, passed = actions.check_model_file(Path(options.name), allow_code=options.allow_code)
    if options.json:
        _print_json({"file": options.name, "passed": passed, "lines": lines})
    else:
        print("\n".join(lines))
    return 0 if passed else 1


def verify(options: argparse.Namespace) -> int:
    result = actions.verify(options.files)
    _print_json(result.to_dict()) if options.json else console.show_verification(result)
    return 0 if result.passed else 1


def _progress(
    title: str, options: argparse.Namespace
) -> AbstractContextManager[Callable[[str, int, int], None] | None]:
    """A progress bar on standard error, only on a terminal and not with --json."""
    if options.json or not sys.stderr.isatty():
        return nullcontext(None)
    return console.progress_bar(title)
