"""What the command line prints: short tables, one fact a line. Nothing is computed here."""

from __future__ import annotations

import codecs
import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cracktie.units import shown

if TYPE_CHECKING:
    from cracktie.compared import Comparison
    from cracktie.prediction import Prediction

_PLAIN = {
    "≥": ">=", "≤": "<=", "±": "+-", "×": "x", "·": "*", "°": "deg", "–": "-", "—": "-", "‰": "permil", "→": "->",
    "√": "sqrt", "│": "|", "─": "-", "━": "-", "•": "*", "█": "#", "’": "'", "‘": "'", "“": '"', "”": '"', "ß": "ss",
    "∞": "infinite", "≈": "~", "≠": "!=", "−": "-", "÷": "/", "∑": "sum", "∫": "integral",
    "⌀": "diameter ", "⁄": "/", "µ": "u",
}  # fmt: skip


def plain_text(text: str) -> str:
    """ASCII for signs beyond it: words, names of Greek letters, letters without accents, `^` before an exponent.

    What has no plain form becomes '?'.
    """
    import unicodedata

    written, raised = [], False
    for sign in text:
        is_raised = unicodedata.decomposition(sign).startswith("<super>")
        written.append("^" if is_raised and not raised else "")
        written.append(_plain_sign(sign))
        raised = is_raised
    return "".join(written)


def _plain_sign(sign: str) -> str:
    import unicodedata

    if sign.isascii() or sign in _PLAIN:
        return _PLAIN.get(sign, sign)
    name = unicodedata.name(sign, "").split()
    if name[:1] == ["GREEK"] and "LETTER" in name:
        letter = name[name.index("LETTER") + 1].lower()
        return letter.capitalize() if "CAPITAL" in name else {"lamda": "lambda", "epsilon": "eps"}.get(letter, letter)
    apart = unicodedata.normalize("NFKD", sign)
    return "".join(_PLAIN.get(s, s if s.isascii() else "") for s in apart) or "?"


def register_plain_signs() -> str:
    """Register an encoding error handler that writes plain ASCII for signs an encoding lacks; returns its name."""

    def plain(error: UnicodeError) -> tuple[str, int]:
        if not isinstance(error, UnicodeEncodeError):
            raise error
        return plain_text(error.object[error.start : error.end]), error.end

    codecs.register_error("cracktie-plain", plain)
    return "cracktie-plain"


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, left: int = 1) -> str:
    """Plain text table: the first `left` columns aligned left, the others right."""
    body = [[str(cell) for cell in row] for row in rows]
    widths = [max(len(line[i]) for line in [list(columns), *body]) for i in range(len(columns))]

    def line(cells: Sequence[str]) -> str:
        made = [c.ljust(w) if i < left else c.rjust(w) for i, (c, w) in enumerate(zip(cells, widths, strict=True))]
        return "  ".join(made).rstrip()

    return "\n".join([line(columns), "  ".join("-" * w for w in widths), *map(line, body)])


def force(value: float | None, system: str = "si", *, bound: bool = False) -> str:
    """A force in kN or kip with four significant digits; '-' for none, '>=' before a lower bound."""
    if value is None:
        return "-"
    number, _ = shown(value, "N", system)
    text = f"{number:.1f}" if abs(number) < 1000 else f"{number:.0f}"
    return f">= {text}" if bound else text


def count(n: int, thing: str) -> str:
    """A number of things in words: '1 test', '2 tests'."""
    return f"{n} {thing}{'' if n == 1 else 's'}"


def _unit(system: str, internal: str = "N") -> str:
    return shown(1.0, internal, system)[1]


def show_check(found: Mapping[str, Any]) -> None:
    """What `check` found."""
    print(f"{found['title']}")
    if found["invented"]:
        print("invented data: never quote its numbers")
    for file, units in found["units"].items():
        print(f"{file}: bare numbers are in {', '.join(f'{k} {v}' for k, v in units.items())}")
    print(table(["design group", "specimens", "tests"], found["groups"], left=3))
    for line in (*found["factors"], *found["confounded"]):
        print(line)
    for finding in found.get("detailing", ()):
        print(f"{finding['level']}: {finding['words']} [{finding['source']}] ({', '.join(finding['spans'])})")
    print(f"{', '.join(count(found[n], n[:-1]) for n in ('specimens', 'tests', 'logs'))}; no errors")


STATUS: Mapping[str, str] = {
    "doubtful": "recalled with doubt, not compared with print",
    "memory": "recalled, not compared with print",
    "own": "ours",
    "derived": "follows from an identity or an independent library",
    "checked": "reproduces a printed number that was read",
}
"""What a status says of the coefficients, in a few words; weakest first."""
MOST_DETAILS = 60
"""Rows of shares and governing words that are still printed; beyond them only the matrix is."""
ITEMS_A_TABLE = 8


def show_prediction(prediction: Prediction, system: str) -> None:
    """Resistances of every set side by side, what fails first, shares, then reasons and limits once each."""
    from cracktie.prediction.summary import limits, reasons

    _resistances(prediction, system)
    _first_to_fail(prediction, system)
    given = [r for r in prediction.rows if r.V_R is not None or r.V_f is not None]
    if given and len(given) <= MOST_DETAILS:
        print()
        unit = _unit(system)
        columns = ["test", "span", "set", *(f"{n} [{unit}]" for n in ("V_c", "V_s", "V_f", "V_R")), "governing",
                   "status"]  # fmt: skip
        rows = [
            [r.item, r.span, r.set, *(force(v, system) for v in (r.V_c, r.V_s, r.V_f, r.V_R)), r.governing, r.status]
            for r in given
        ]
        print(table(columns, rows, left=3))
    print()
    for said in reasons(prediction):
        print(f"not applicable: {said.which_sets}: {said.sentence} ({said.which_items})")
    for said in limits(prediction):
        print(f"outside the published range: {said.which_sets}: {said.sentence} ({said.which_items})")
    for item, reason in prediction.skipped.items():
        print(f"{item}: not predicted, {reason}")
    print(f"form: {prediction.form}; inputs: {prediction.choice}")
    met = {r.status for r in given}
    print("status: " + "; ".join(f"{level} = {words}" for level, words in STATUS.items() if level in met or not met))


def _resistances(prediction: Prediction, system: str) -> None:
    """V_R by set and item, a few items a table."""
    from cracktie.prediction.summary import matrix

    cells = matrix(prediction)
    for start in range(0, len(prediction.items), ITEMS_A_TABLE):
        items = prediction.items[start : start + ITEMS_A_TABLE]
        rows = [
            [name, *(force(cells[name, i].V_R if (name, i) in cells else None, system) for i in items)]
            for name in prediction.sets
        ]
        print(table([f"V_R [{_unit(system)}]", *items], rows))
        print()


def _first_to_fail(prediction: Prediction, system: str) -> None:
    """Bending and the other span as shear in the studied span, and their ratio to V_R."""
    from cracktie.prediction.summary import first_to_fail

    def spread(values: tuple[float, float] | None, word: Callable[[float], str]) -> str:
        low, high = ("-", "-") if values is None else map(word, values)
        return low if low == high else f"{low} to {high}"

    def shear(value: float) -> str:
        return force(value, system)

    rows: list[list[str]] = []
    words: dict[str, list[str]] = {}
    for f in first_to_fail(prediction):
        margin = spread(f.margin, "{:.2f}".format)
        rows.append([f.item, f.span, force(f.V_flex, system), spread(f.V_other, shear), margin])
        words.setdefault(f.words, []).append(f.item)
        words.setdefault(f"bending: {f.flexure}", []).append(f.item)
    unit = _unit(system)
    if rows:
        print(table(["item", "span", f"bending [{unit}]", f"other span [{unit}]", "least over V_R"], rows, left=2))
        print("as shear in the studied span, self-weight in it")
        _grouped(words)


def _grouped(lines: Mapping[str, Sequence[str]]) -> None:
    for sentence, items in lines.items():
        print(f"{sentence} ({', '.join(items)})")


def show_sheets(prediction: Prediction, item: str) -> None:
    """Calculation sheets of one item as text."""
    for row in prediction.of(item):
        print(f"== {row.item}, span {row.span}: {row.title} ({row.form} form)")
        for reason in row.reasons:
            print(f"not applicable: {reason}")
        for sheet in prediction.sheets(row):
            print(f"-- {sheet.title} [{sheet.status.level}]")
            for step in sheet.rows:
                unit = "" if step.unit == "-" else f" {step.unit}"
                formula = step.symbolic
                print(f"   {step.name} = {formula} = {step.value:.5g}{unit}   [{step.where or 'unit change'}]")


def follow(lines: Iterable[str]) -> int:
    """Print lines as they come until the user stops; the exit status."""
    try:
        for line in lines:
            print(line, flush=True)
    except KeyboardInterrupt:
        print("stopped; `cracktie reduce` without --watch gives the results of the whole log")
    return 0


def show_comparison(comparison: Comparison, system: str) -> None:
    """Test/prediction, gains and shares."""
    rows = [
        [s.title, str(s.n), str(s.of), *(f"{v:.2f}" if v is not None else "-" for v in (s.mean, s.cv, s.low, s.high))]
        for s in comparison.summaries
    ]
    if rows:
        print(table(["test/prediction", "n", "of", "mean", "CV", "least", "greatest"], rows))
    else:
        print("no test has a prediction to be set against")
    print()
    rows = []
    for g in comparison.gains:
        r = g.ratio
        span = f"{r.low:.2f} to {'-' if r.high is None else f'{r.high:.2f}'}"
        value = f"{'>= ' if r.bound else ''}{r.value:.2f}"
        rows.append([g.item, g.role, ", ".join(g.reference), value, span, f"{r.critical:.2f}", r.verdict])
    columns = ["test", "over", "which are", "V ratio", "95 % interval", "least that shows", "verdict"]
    if rows:
        print(table(columns, rows, left=3))
    else:
        print("no beam is set against another: that takes a test of a strengthened beam and one of its reference")
        print("(`references` in campaign.yaml, for example `references: {control: {group: REF}}`)")
    for c in comparison.contrasts:
        r = c.ratio
        upper, lower = ", ".join(c.upper), ", ".join(c.lower)
        sign, high = (">= ", "open") if r.high is None else ("", f"{r.high:.2f}")
        print(f"{c.name}: {c.what} = {sign}{r.value:.2f} ({r.low:.2f} to {high}), {r.verdict} [{upper} / {lower}]")
        for warning in c.warnings:
            print(f"   {warning}")
    print(f"scatter: CV {100 * comparison.scatter.cv:.1f} %, {comparison.scatter.origin}")
    unit = _unit(system)
    rows = [
        [s.test, ", ".join(s.reference), s.p, *(force(v, system) for v in (s.V_ctl_scaled, s.V_c, s.V_s)),
         force(s.V_f, system, bound=s.bound), force(s.u, system),
         f"{force(s.low, system)} to {'open' if s.high is None else force(s.high, system)}"]
        for s in comparison.shares
    ]  # fmt: skip
    forces = (f"{n} [{unit}]" for n in ("V_ctl'", "V_c", "V_s", "V_f,sub", "u"))
    columns = ["test", "reference", "p", *forces, "95 % interval"]
    if rows:
        print()
        print(table(columns, rows, left=2))
    for name, reason in comparison.left_out.items():
        print(f"{name}: left out, {reason}")
    if comparison.simulated:
        print("SIMULATED logs: invented numbers, no evidence of anything")


def show_run(done: Any, *, demo: bool = False) -> None:
    """The short table of a whole run and where the reports are."""
    system = done.campaign.head.shown_units
    unit = _unit(system)
    names = list(done.campaign.head.guideline_sets)
    columns = ["test", "span", "V_deb", "V_max", *(f"V_R {s}" for s in names), "outcome"]
    rows = []
    predicted = {(r.item, r.set): r for r in done.prediction.rows}
    items = list(
        dict.fromkeys([*(t.test for t in done.reduced.tests.values()), *(r.item for r in done.prediction.rows)])
    )
    for item in items:
        test = done.reduced.tests.get(item)
        span = test.span if test else next(r.span for r in done.prediction.rows if r.item == item)
        measured = ["-", "-"]
        if test is not None:
            measured = [force(test.value("V_deb"), system), force(test.value("V_max"), system, bound=test.bound)]
        resist = [force(predicted[(item, s)].V_R, system) if (item, s) in predicted else "-" for s in names]
        rows.append([item, span, *measured, *resist, (test.outcome if test else None) or "-"])
    print(table(columns, rows, left=2))
    print(f"shear in {unit}, self-weight and rig weight included; test form, all factors 1")
    if done.reduced.simulated:
        print("SIMULATED logs of an invented campaign: no number here is evidence of anything")
    for name, reason in {**done.reduced.skipped, **done.prediction.skipped}.items():
        print(f"{name}: left out, {reason}")
    for line in done.lines:
        print(line)
    print(f"report: {done.html}")
    print(f"report: {done.pdf}")
    if demo:
        print("checking by a licensed engineer under the local code stays necessary wherever a result steers real work")


def show_models(
    listed: Sequence[Mapping[str, Any]], not_included: Sequence[Mapping[str, Any]] = (), width: int = 80
) -> None:
    """A model in each row, its title wrapped to `width` columns, then the documents that give none."""
    import textwrap

    columns = ["model", "status", "title"]
    heads = [[m["id"], ", ".join(m["levels"])] for m in listed]
    taken = sum(max(map(len, column)) + 2 for column in zip(columns[:2], *heads, strict=True)) if heads else 0
    room = max(width - taken, 30)
    rows: list[list[str]] = []
    for head, m in zip(heads, listed, strict=True):
        first, *more = textwrap.wrap(m["title"], room, break_on_hyphens=False) or [""]
        rows += [[*head, first], *(["", "", line] for line in more)]
    print(table(columns, rows, left=3))
    print(f"{count(len(listed), 'model')}; `cracktie models show ID` gives source, status, inputs and formulas of one")
    if not_included:
        print("\nnot included:")
        for entry in not_included:
            print(f"  {entry['document']}: {entry['reason']}")
        for recipe in dict.fromkeys(entry["plug_in"] for entry in not_included):
            print(f"to use one of them: {recipe}")


def show_model(described: Mapping[str, Any]) -> None:
    """Everything about one model."""
    print(f"{described['id']}: {described['title']}")
    print(f"source: {described['source']}")
    meaning = f", {described['meaning']}" if described["meaning"] else ""
    print(f"predicts {described['predicts']} [{described['unit']}]{meaning}")
    for status in described["status"]:
        when = f" where {status['when']}" if status["when"] else ""
        print(f"status {status['level']}{when}: {status['how']}")
    for name in ("inputs", "coefficients", "limits", "applies", "formula"):
        lines = described[name]
        if lines:
            print(f"{name}:")
            for line in lines:
                print(f"  {line}")
    if described["anchored"]:
        print(f"anchored U-wraps: {described['anchored']}")


def show_verification(result: Any) -> None:
    """Pass or fail per value."""
    for value in result.values:
        print(value.sentence())
    failed = len(result.failed)
    agreed = len(result.values) - failed
    print(f"{count(agreed, 'value')} agree{'s' if agreed == 1 else ''}, {failed} differ{'s' if failed == 1 else ''}")


@contextlib.contextmanager
def progress_bar(title: str) -> Iterator[Callable[[str, int, int], None]]:
    """A bar on standard error; `advance(text, done, total)`."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    with Progress(
        TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[text]}"),
        console=Console(stderr=True), transient=True,
    ) as bar:  # fmt: skip
        task = bar.add_task(title, total=None, text="")

        def advance(text: str, done: int, total: int) -> None:
            bar.update(task, completed=done, total=total, text=text)

        yield advance
