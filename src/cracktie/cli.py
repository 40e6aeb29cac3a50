"""The command line: what may be asked for. `cracktie.commands` holds what each command does and prints, and is read
only when one runs, so that help starts fast.

Exit status: 0 done, 1 done with warnings under --strict (or a failed comparison), 2 input refused, 3 a defect of ours.
"""

from __future__ import annotations

import argparse
import os
import sys

from cracktie import __version__
from cracktie.streams import defect_line, drop_output, output_works, safe_streams, terminal_width

TYPE_CHECKING = False  # type checkers take it as true; importing typing, pathlib and contextlib here would slow --help
if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from typing import Any


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
    from cracktie import commands
    from cracktie.errors import CracktieError, InputRefused

    try:
        status = int(getattr(commands, options.run)(options))
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except InputRefused as refusal:
        for problem in refusal.problems:
            print(f"{'warning: ' if problem.level == 'warning' else ''}{problem}", file=sys.stderr)
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
        epilog="A campaign is a folder of plain-text files; start with `cracktie new DIR` or `cracktie demo`. "
        "Exit status: 0 done; 1 warnings under --strict, or a check or comparison that failed; 2 input refused; "
        "3 a defect of ours.",
    )
    parser.add_argument("--version", action="version", version=f"cracktie {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for add in (
        _add_new, _add_check, _add_predict, _add_reduce, _add_explain, _add_compare, _add_report, _add_run, _add_demo,
        _add_models, _add_verify, _add_study,
    ):  # fmt: skip
        add(commands)
    return parser


_FOLDERS = {"DIR": "campaign folder", "DIR_OR_FILE": "campaign folder, or the file of one beam"}


def _command(commands: Any, name: str, text: str, *, folder: str = "DIR") -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = commands.add_parser(
        name, help=text, description=text, formatter_class=_Formatter
    )
    if folder:
        command.add_argument("folder", metavar=folder, type=_path, help=_FOLDERS[folder])
    command.set_defaults(run=name)
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
    command = _command(commands, "new", "start a campaign folder")
    command.add_argument("--one-beam", action="store_true", help="a single beam instead of a campaign")
    command.add_argument("--from", dest="table", type=_path, metavar="TABLE", help="specimens from a CSV or XLSX table")


def _add_check(commands: Any) -> None:
    command = _command(commands, "check", "read a campaign and show every problem at once")
    command.add_argument("--detailing", action="store_true", help="rules for corners, strips, anchors and holes too")
    command.add_argument("--table", type=_path, metavar="FILE", help="write the specimens as a wide CSV table")
    command.add_argument("--schemas", type=_path, metavar="DIR", help="write JSON Schemas of the files for editors")
    _json_and_strict(command)


def _add_predict(commands: Any) -> None:
    command = _command(commands, "predict", "shear resistance by guideline sets", folder="DIR_OR_FILE")
    command.add_argument("--form", choices=("test", "design"), default="test", help="mean strengths or design values")
    command.add_argument("--inputs", choices=("measured", "nominal", "characteristic"), help="which values to take")
    command.add_argument("--sets", nargs="+", metavar="SET", help="guideline sets, or all, instead of the campaign's")
    command.add_argument("--sheet", metavar="ITEM", help="calculation sheets of one test or specimen as text")
    command.add_argument("--mechanics", action="store_true", help="shear over the crack opening, strips and gauges")
    command.add_argument("--measured-crack", action="store_true", help="with --mechanics: angle of digitised cracks")
    _own_code(command)
    _json_and_strict(command)


def _add_reduce(commands: Any) -> None:
    command = _command(commands, "reduce", "from raw logs to results")
    command.add_argument("--watch", metavar="TEST", help="follow a test while its logger still writes")
    save = "first keep the channel map of a test in reduction.yaml, under this name, for all logs with the same columns"
    command.add_argument("--save-map", metavar="TEST[=NAME]", help=save)
    _json_and_strict(command)


def _add_explain(commands: Any) -> None:
    command = _command(commands, "explain", "from one number of a test back to the rows of its raw files")
    command.add_argument("test", metavar="TEST", help="test as tests.yaml names it")
    command.add_argument("quantity", metavar="QUANTITY", help="name of the quantity, for example V_max")
    samples = "draws of the Monte Carlo interval beside the first-order one (100000; 0 for none)"
    command.add_argument("--samples", type=int, default=100_000, metavar="N", help=samples)
    command.add_argument("--json", action="store_true", help="print the result as JSON")


def _add_compare(commands: Any) -> None:
    command = _command(commands, "compare", "tests against predictions and against each other")
    _judging(command)


def _add_report(commands: Any) -> None:
    command = _command(commands, "report", "write the HTML and PDF report into out/")
    _judging(command)


def _add_run(commands: Any) -> None:
    command = _command(commands, "run", "every step the inputs allow")
    command.add_argument("--fresh", action="store_true", help="recompute everything")
    _judging(command)


def _add_demo(commands: Any) -> None:
    command = _command(commands, "demo", "an invented campaign, run from end to end", folder="")
    command.add_argument(
        "folder", metavar="DIR", type=_path, nargs="?", default="cracktie-demo", help="new folder (cracktie-demo)"
    )
    command.add_argument("--json", action="store_true", help="print the result as JSON")


def _add_models(commands: Any) -> None:
    command = _command(commands, "models", "list published models, or show one", folder="")
    command.add_argument("action", nargs="?", choices=("list", "show", "check"), default="list")
    command.add_argument("name", nargs="?", metavar="ID_OR_FILE", help="model to show, or a file to check")
    command.add_argument("--topic", help="only models of one topic")
    command.add_argument("--status", choices=LEVELS, help="only models with a branch of this status")
    command.add_argument("--json", action="store_true", help="print the result as JSON")
    command.add_argument("--allow-code", action="store_true", help="run the code of the named model file")


def _add_verify(commands: Any) -> None:
    command = _command(commands, "verify", "evaluate case files and report pass or fail per value", folder="")
    command.add_argument("files", nargs="+", type=_path, metavar="FILE", help="YAML or JSON case files")
    command.add_argument("--json", action="store_true", help="print the result as JSON")


def _add_study(commands: Any) -> None:
    command = _command(commands, "study", "samples, sweeps and goals for one wrapped span", folder="")
    command.add_argument("file", metavar="FILE", type=_path, help="YAML file of the study")
    command.add_argument("--workers", type=int, default=2, metavar="N", help="threads; the result is the same")
    command.add_argument("--json", action="store_true", help="print the result as JSON")
