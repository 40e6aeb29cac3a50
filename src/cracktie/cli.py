"""The command line: a thin face over `cracktie.actions`. Heavy imports happen inside each command.

Exit status: 0 done, 1 done with warnings under --strict (or a failed comparison), 2 input refused, 3 a defect of ours.
"""

from __future__ import annotations

import argparse
import os
import sys

from cracktie import __version__, mechanics_cli
from cracktie.streams import defect_line, drop_output, has_every_sign, output_works, safe_streams, terminal_width

TYPE_CHECKING = False  # type checkers take it as true; importing typing, pathlib and contextlib here would slow --help
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from contextlib import AbstractContextManager
    from pathlib import Path
    from typing import Any

    from cracktie.local_models import LocalFile

    Command = Callable[[argparse.Namespace], int]


LEVELS = ("doubtful", "memory", "own", "derived", "checked")
"""The status levels of `cracktie.clause`, written again so that --help need not load it; a test compares them."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; problems become messages on standard error, never tracebacks."""
    safe_streams()
    parser = _parser()
    options = parser.parse_args(arguments)
    if not hasattr(options, "run"):
        parser.print_help()
        return 2
    from cracktie.errors import CracktieError, InputRefused

    try:
        status = int(options.run(options))
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except InputRefused as refusal:
        for problem in refusal.problems:
            print(problem, file=sys.stderr)
        errors = sum(p.level == "error" for p in refusal.problems)
        print(f"refused: {errors} error{'s' if errors != 1 else ''}, nothing was written", file=sys.stderr)
    except CracktieError as error:
        print(error, file=sys.stderr)
    except BrokenPipeError:  # the reader of our output has what it wanted, as after `| head -1`
        drop_output()
        return 0
    except KeyboardInterrupt:
        print("stopped; files are written whole or not at all", file=sys.stderr)
    except OSError as error:
        place = error.filename or ("a file" if output_works() else "the output")
        print(f"{place}: {error.strerror or error}", file=sys.stderr)
    except Exception as error:
        if os.environ.get("CRACKTIE_TRACE"):
            raise
        print(defect_line(error), file=sys.stderr)
        return 3
    return 2


def _path(text: str) -> Path:
    from pathlib import Path

    return Path(text)


class _Formatter(argparse.HelpFormatter):
    """Help as wide as the terminal; argparse would ask shutil for the width, which loads every compression library."""

    def __init__(self, prog: str):
        super().__init__(prog, width=terminal_width() - 2)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="cracktie",
        formatter_class=_Formatter,
        description="Beam-test campaigns on concrete strengthened in shear with bonded fibre sheets and spike anchors.",
        epilog="A campaign is a folder of plain-text files; start with `cracktie new DIR` or `cracktie demo`.",
    )
    parser.add_argument("--version", action="version", version=f"cracktie {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for add in (
        _add_new, _add_check, _add_predict, _add_reduce, _add_explain, _add_compare, _add_report, _add_run, _add_demo,
        _add_models, _add_verify, mechanics_cli.study_adder(_command, _path),
    ):  # fmt: skip
        add(commands)
    return parser


def _command(commands: Any, name: str, text: str, run: Command, *, folder: str = "DIR") -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = commands.add_parser(
        name, help=text, description=text, formatter_class=_Formatter
    )
    if folder:
        command.add_argument("folder", metavar=folder, type=_path, help="campaign folder")
    command.set_defaults(run=run)
    return command


def _own_code(command: argparse.ArgumentParser) -> None:
    command.add_argument("--allow-code", action="store_true", help="run the code of the campaign's own models/*.py")


def _json_and_strict(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print the result as JSON")
    command.add_argument("--strict", action="store_true", help="exit with status 1 when there are warnings")


def _judging(command: argparse.ArgumentParser) -> None:
    command.add_argument("--simulated-ok", action="store_true", help="accept simulated logs (for trying things out)")
    _own_code(command)
    _json_and_strict(command)


def _add_new(commands: Any) -> None:
    command = _command(commands, "new", "start a campaign folder", _new)
    command.add_argument("--one-beam", action="store_true", help="a single beam instead of a campaign")
    command.add_argument("--from", dest="table", type=_path, metavar="TABLE", help="specimens from a CSV or XLSX table")


def _add_check(commands: Any) -> None:
    command = _command(commands, "check", "read a campaign and show every problem at once", _check)
    command.add_argument("--table", type=_path, metavar="FILE", help="write the specimens as a wide CSV table")
    command.add_argument("--schemas", type=_path, metavar="DIR", help="write JSON Schemas of the files for editors")
    _json_and_strict(command)


def _add_predict(commands: Any) -> None:
    command = _command(commands, "predict", "shear resistance by every guideline set", _predict, folder="DIR_OR_FILE")
    command.add_argument("--form", choices=("test", "design"), default="test", help="mean strengths or design values")
    command.add_argument("--inputs", choices=("measured", "nominal", "characteristic"), help="which values to take")
    command.add_argument("--sets", nargs="+", metavar="SET", help="guideline sets, or all, instead of the campaign's")
    command.add_argument("--sheet", metavar="ITEM", help="calculation sheets of one test or specimen as text")
    mechanics_cli.add_options(command)
    _own_code(command)
    _json_and_strict(command)


def _add_reduce(commands: Any) -> None:
    command = _command(commands, "reduce", "from raw logs to results", _reduce)
    command.add_argument("--watch", metavar="TEST", help="follow a test while its logger still writes")
    _json_and_strict(command)


def _add_explain(commands: Any) -> None:
    command = _command(commands, "explain", "from one number of a test back to the rows of its raw files", _explain)
    command.add_argument("test", metavar="TEST", help="test as tests.yaml names it")
    command.add_argument("quantity", metavar="QUANTITY", help="name of the quantity, for example V_max")
    command.add_argument("--json", action="store_true", help="print the result as JSON")


def _add_compare(commands: Any) -> None:
    command = _command(commands, "compare", "tests against predictions and against each other", _compare)
    _judging(command)


def _add_report(commands: Any) -> None:
    command = _command(commands, "report", "write the HTML and PDF report into out/", _report)
    _judging(command)


def _add_run(commands: Any) -> None:
    command = _command(commands, "run", "every step the inputs allow", _run)
    command.add_argument("--fresh", action="store_true", help="recompute everything")
    _judging(command)


def _add_demo(commands: Any) -> None:
    command = _command(commands, "demo", "an invented campaign, run from end to end", _demo, folder="")
    command.add_argument("folder", metavar="DIR", type=_path, nargs="?", default="cracktie-demo")
    command.add_argument("--json", action="store_true", help="print the result as JSON")


def _add_models(commands: Any) -> None:
    command = _command(commands, "models", "list published models, or show one", _models, folder="")
    command.add_argument("action", nargs="?", choices=("list", "show", "check"), default="list")
    command.add_argument("name", nargs="?", metavar="ID_OR_FILE", help="model to show, or a file to check")
    command.add_argument("--topic", help="only models of one topic")
    command.add_argument("--status", choices=LEVELS, help="only models with a branch of this status")
    command.add_argument("--json", action="store_true", help="print the result as JSON")
    command.add_argument("--allow-code", action="store_true", help="run the code of the named model file")


def _add_verify(commands: Any) -> None:
    command = _command(commands, "verify", "evaluate case files and report pass or fail per value", _verify, folder="")
    command.add_argument("files", nargs="+", type=_path, metavar="FILE", help="YAML or JSON case files")
    command.add_argument("--json", action="store_true", help="print the result as JSON")


def _print_json(result: dict[str, Any]) -> None:
    import json

    print(json.dumps(result, indent=1, ensure_ascii=not has_every_sign(sys.stdout), allow_nan=False))


def _warned(problems: Sequence[Any], options: argparse.Namespace) -> int:
    for problem in problems:
        print(f"warning: {problem}", file=sys.stderr)
    return 1 if problems and options.strict else 0


def _new(options: argparse.Namespace) -> int:
    from cracktie import actions

    for line in actions.new(options.folder, one_beam=options.one_beam, table=options.table):
        print(line)
    return 0


def _check(options: argparse.Namespace) -> int:
    from cracktie import actions, console

    campaign = actions.open_campaign(options.folder)
    beside = sys.stderr if options.json else sys.stdout
    if options.table:
        actions.write_table(campaign, options.table)
        print(f"wrote {options.table}", file=beside)
    if options.schemas:
        for path in actions.write_schemas(options.schemas):
            print(f"wrote {path}", file=beside)
    found = actions.check(campaign)
    if options.json:
        _print_json(found)
    else:
        console.show_check(found)
    return _warned(campaign.warnings, options)


def _predict(options: argparse.Namespace) -> int:
    from cracktie import actions, console

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
    from cracktie import actions

    _tell_not_run(actions.load_own_models(campaign, options.allow_code))


def _tell_not_run(files: Sequence[LocalFile]) -> None:
    for file in files:
        if not file.ran:
            print(f"models/{file.sentence()}", file=sys.stderr)


def _reduce(options: argparse.Namespace) -> int:
    from cracktie import actions, console

    campaign = actions.open_campaign(options.folder)
    if options.watch:
        return console.follow(actions.watch(campaign, options.watch))
    with _progress("reducing", options) as advance:
        reduced = actions.reduce(campaign, advance=advance)
    if options.json:
        _print_json(reduced.to_dict())
    else:
        console.show_reduced(reduced, campaign.head.shown_units)
    return _warned((*campaign.warnings, *reduced.warnings), options)


def _explain(options: argparse.Namespace) -> int:
    from cracktie import actions

    found = actions.explain(actions.open_campaign(options.folder), options.test, options.quantity)
    _print_json(found.to_dict()) if options.json else print("\n".join(found.lines()))
    return 0


def _compare(options: argparse.Namespace) -> int:
    from cracktie import actions, console

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


def _report(options: argparse.Namespace) -> int:
    return _run_steps(options, fresh=False)


def _run(options: argparse.Namespace) -> int:
    return _run_steps(options, fresh=options.fresh)


def _run_steps(options: argparse.Namespace, *, fresh: bool) -> int:
    from cracktie import actions, console

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


def _demo(options: argparse.Namespace) -> int:
    from cracktie import actions, console

    with _progress("demo", options) as advance:
        done = actions.demo(options.folder, advance=advance)
    if options.json:
        _print_json(done.to_dict())
    else:
        console.show_run(done, demo=True)
    return 0


def _models(options: argparse.Namespace) -> int:
    from cracktie import actions, console

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
        console.show_models(listed, absent)
    return 0


def _models_check(options: argparse.Namespace) -> int:
    from cracktie import actions

    lines, passed = actions.check_model_file(_path(options.name), allow_code=options.allow_code)
    if options.json:
        _print_json({"file": options.name, "passed": passed, "lines": lines})
    else:
        print("\n".join(lines))
    return 0 if passed else 1


def _verify(options: argparse.Namespace) -> int:
    from cracktie import actions, console

    result = actions.verify(options.files)
    _print_json(result.to_dict()) if options.json else console.show_verification(result)
    return 0 if result.passed else 1


def _progress(
    title: str, options: argparse.Namespace
) -> AbstractContextManager[Callable[[str, int, int], None] | None]:
    """A progress bar on standard error, only on a terminal and not with --json."""
    from contextlib import nullcontext

    if options.json or not sys.stderr.isatty():
        return nullcontext(None)
    from cracktie.console import progress_bar

    return progress_bar(title)
