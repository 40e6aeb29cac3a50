"""A log that grows while it is read: blocks, halves of rows, silence, a new beginning, another file."""

from __future__ import annotations

import os

import pytest

from cracktie import actions
from cracktie.errors import InputRefused, UnknownName
from cracktie.reduction.watch import watch

from .conftest import csv, record


def drive(campaign, steps, every=2.0):
    """Lines after each step: a step changes the file, then the loop looks once."""
    now = [0.0]
    out: list[list[str]] = [[]]
    pending = list(steps)

    class Done(Exception):
        pass

    def sleep(seconds):
        now[0] += seconds
        out.append([])
        if not pending:
            raise Done
        pending.pop(0)()

    try:
        for line in watch(campaign, "T", every=every, sleep=sleep, clock=lambda: now[0]):
            out[-1].append(line)
    except Done:
        pass
    return out


def pieces(count=4):
    lines = csv(record()).splitlines(keepends=True)
    size = len(lines) // count + 1
    return ["".join(lines[i : i + size]) for i in range(0, len(lines), size)]


@pytest.fixture
def growing(build):
    first, *rest = pieces()
    campaign = build(logs={"logs/T.csv": first})
    path = campaign.folder / "logs/T.csv"

    def add(text):
        def step():
            with path.open("a") as stream:
                stream.write(text)

        return step

    return campaign, path, rest, add


def test_it_follows_and_tells_what_is_new(growing):
    campaign, path, rest, add = growing
    out = drive(campaign, [add(r) for r in rest])
    assert out[0][0] == "following logs/T.csv; stop with Ctrl-C"
    rows = [int(block[0].split()[0]) for block in [out[0][1:], *out[1:4]]]
    assert rows == sorted(rows)
    assert rows[-1] == 440
    assert "(110 new)" in out[3][0] or "new)" in out[3][0]
    assert "largest V so far 6" in out[3][0]
    assert path.read_text() == csv(record())


def test_half_a_row_waits_for_its_rest(growing):
    campaign, _, rest, add = growing
    cut = len(rest[0]) - 12
    out = drive(campaign, [add(rest[0][:cut]), add(rest[0][cut:])])
    before, after = (int(block[0].split()[0]) for block in out[1:3])
    assert after == before + 1


def test_silence_is_told_once_and_its_end_too(growing):
    campaign, _, rest, add = growing
    nothing = lambda: None  # noqa: E731
    out = drive(campaign, [add(rest[0]), nothing, nothing, nothing, nothing, nothing, add(rest[1])])
    told = [line for block in out for line in block if "no new rows" in line]
    assert len(told) == 1
    assert told[0] == (
        "no new rows for 6 s; before, rows came at least every 2 s: the logger stopped, waits, or lost its connection"
    )
    assert out[-2][0] == "rows come again after 12 s"


def test_a_logger_that_writes_in_blocks_is_not_called_silent(growing):
    campaign, _, rest, add = growing
    nothing = lambda: None  # noqa: E731
    steps = [nothing, nothing, add(rest[0]), nothing, nothing, nothing, nothing, nothing, add(rest[1])]
    out = drive(campaign, steps)
    assert not any("no new rows" in line for block in out for line in block)


def test_a_new_beginning_is_told(growing):
    campaign, path, rest, add = growing
    head = pieces()[0]

    def roll():
        os.rename(path, path.with_suffix(".csv.1"))
        path.write_text(head)

    out = drive(campaign, [add(rest[0]), roll])
    assert out[2][0].startswith("T.csv was begun anew (rolled over) after 221 rows")
    assert out[2][1].startswith("110 rows (110 new)")


def test_another_file_that_grows_is_named(growing):
    campaign, path, _, _ = growing
    other = path.with_name("T_002.csv")
    out = drive(campaign, [lambda: other.write_text("x"), *[lambda: None] * 4])
    assert any("another file grows: T_002.csv" in line for block in out for line in block)


def test_a_file_that_goes_away_and_one_with_a_header_alone(build):
    campaign = build(logs={"logs/T.csv": csv(record())})
    path = campaign.folder / "logs/T.csv"

    def header():
        path.write_text("Time [s],P [kN]\n")

    out = drive(campaign, [path.unlink, lambda: None, header])
    assert out[1] == ["T.csv is not there: waiting for it"]
    assert out[2] == []
    assert any(line.startswith("not yet: ") for line in out[3])


def test_a_test_without_a_log_is_refused(build):
    with pytest.raises(UnknownName, match="there are T"):
        next(watch(build(), "X"))


def test_the_command_stops_quietly(build, monkeypatch, capsys):
    from cracktie import cli

    folder = str(build().folder)

    def stop(*_a, **_k):
        raise KeyboardInterrupt

    monkeypatch.setattr("time.sleep", stop)
    monkeypatch.setattr(actions, "watch", lambda c, n: watch(c, n, sleep=stop))
    assert cli.main(["reduce", folder, "--watch", "T"]) == 0
    assert "440 rows" in capsys.readouterr().out


def test_a_test_is_followed_before_its_logger_begins(build):
    made = build(logs={"logs/T.csv": csv(record())})
    path = made.folder / "logs/T.csv"
    whole = path.read_text()
    path.unlink()
    with pytest.raises(InputRefused, match="no such file"):
        actions.open_campaign(made.folder)
    with pytest.raises(InputRefused, match="no such file"):
        actions.open_campaign(made.folder, awaited="other")
    campaign = actions.open_campaign(made.folder, awaited="T")
    out = drive(campaign, [lambda: None, lambda: path.write_text(whole), lambda: None])
    assert out[0][-1] == "T.csv is not there: waiting for it"
    assert any("440 rows" in line for block in out[2:] for line in block)
