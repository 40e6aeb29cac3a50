"""The chain behind a number: rows of the raw file, events, zero windows, budget, and the state of the file."""

from __future__ import annotations

import json

import pytest

from cracktie import actions
from cracktie.errors import UnknownName
from cracktie.reduction.explain import STATES, file_state, kept_hashes

from .conftest import REDUCTION, csv, record


def sections(found):
    return {heading: "\n".join(lines) for heading, lines in found.sections}


def test_the_chain_of_V_max(build):
    campaign = build()
    told = sections(actions.explain(campaign, "T", "V_max"))
    steps = told["Steps on the readings, oldest first"].splitlines()
    assert steps[0] == "read(log=logs/T.csv, block=readings, first_line=2, last_line=441): 440 rows"
    assert steps[1] == "unit(channel=P): kN to N, 440 rows"
    assert steps[2].startswith("remove_zero(channel=P, start_s=0, end_s=18")
    assert not any("channel=G1" in s for s in steps)
    lines = (campaign.folder / "logs/T.csv").read_text().splitlines()
    (number,) = [n for n, line in enumerate(lines, 1) if line.startswith("200.000000,")]
    assert f"line {number}: {lines[number - 1]}" in told["Raw files"]
    assert told["Uncertainty"].startswith("dominating: ")
    assert "the scatter between specimens is no part of it" in told["Uncertainty"]


def test_a_strain_share_shows_its_gauges_and_the_load(build):
    told = sections(actions.explain(build(), "T", "V_f_strain"))
    steps = told["Steps on the readings, oldest first"]
    assert "channel=G2" in steps
    assert "channel=P" in steps
    assert "channel=D" not in steps
    assert "V_f_strain(legs=4, gauged=1" in steps
    assert "channel=G1" not in steps  # the assumed line does not cross strip 1
    assert "the same on 1 other channels of FRP strain" in steps


def test_draws_go_through_the_whole_computation(build):
    """Gauges 100 mm off the crack: the strain there lies in a rectangle, whose ends bend the draws; both are told."""
    campaign = build()
    line = {"test": "T", "face": "front", "x": "100, 500 mm", "z": "0, 400 mm", "critical": True}
    (campaign.folder / "observations.yaml").write_text(json.dumps({"specimens": {"S": {"crack_lines": [line]}}}))
    campaign = actions.open_campaign(campaign.folder)
    test = actions.reduce(campaign).test("T")
    for name in ("V_f_strain", "eps_fe", "V_c_eq"):
        found = actions.explain(campaign, "T", name, samples=50_000)
        told = sections(found)["Uncertainty"]
        (line,) = [t for t in told.splitlines() if t.startswith("Monte Carlo")]
        assert "50000 draws through the whole computation" in line
        scale = 1e6 if name == "eps_fe" else 1e-3
        u = float(line.rpartition("u = ")[2].split()[0])
        assert u == pytest.approx(scale * test.values[name].u, rel=0.15)
        assert "JCGM 101:2008, 8.1" in told
        assert told.startswith("dominating: strain at the crack between its bounds")
    assert actions.explain(campaign, "T", "V_f_strain").lines() == actions.explain(campaign, "T", "V_f_strain").lines()
    assert "no budget is made" in sections(actions.explain(campaign, "T", "V_f_gauge"))["Uncertainty"]


def test_a_moved_event_is_told_with_what_was_proposed(build):
    moved = json.loads(json.dumps(REDUCTION))
    moved["tests"]["T"]["events"] = [
        {"event": "first diagonal crack", "status": "moved", "time": "120 s", "reason": "seen on the face"}
    ]
    columns = record()
    columns["G1"] = columns["G1"] * (columns["Time"] > 80.0)
    columns["G2"] = columns["G2"] * (columns["Time"] > 80.0)
    campaign = build(reduction=moved, logs={"logs/T.csv": csv(columns)})
    told = sections(actions.explain(campaign, "T", "V_dia"))
    assert "first diagonal crack at 120.000 s, row 240" in told["Event"]
    assert ", moved" in told["Event"]
    assert "used_s=120" in told["Event"]
    assert "proposed_s=" in told["Event"]
    assert "seen on the face" in told["Remarks"]
    again = sections(actions.explain(actions.open_campaign(campaign.folder), "T", "V_dia"))
    assert again == told


def test_state_of_the_raw_file(build):
    campaign = build()
    path = campaign.folder / "logs/T.csv"
    assert STATES["first"] in sections(actions.explain(campaign, "T", "V_max"))["Raw files"]
    actions.reduce(campaign)
    kept = kept_hashes(campaign, "T")["logs/T.csv"]
    assert STATES["same"] in sections(actions.explain(campaign, "T", "V_max"))["Raw files"]
    original = path.read_bytes()
    path.write_bytes(original.replace(b"\n", b"\r\n"))
    assert file_state(path, kept) == "ends"
    assert (
        STATES["ends"] in sections(actions.explain(actions.open_campaign(campaign.folder), "T", "V_max"))["Raw files"]
    )
    path.write_bytes(original.replace(b"9.000000", b"9.000001"))
    assert file_state(path, kept) == "other"
    path.unlink()
    assert file_state(path, kept) == "gone"


def test_windows_line_ends_converted_to_unix_are_seen(build, tmp_path):
    text = csv(record()).replace("\n", "\r\n").encode()
    campaign = build(logs={"logs/T.csv": text})
    actions.reduce(campaign)
    path = campaign.folder / "logs/T.csv"
    path.write_bytes(text.replace(b"\r\n", b"\n"))
    assert file_state(path, kept_hashes(campaign, "T")["logs/T.csv"]) == "ends"


def test_a_line_is_named_only_where_every_line_counts(build):
    lines = csv(record()).splitlines()
    lines.insert(100, "remark of the operator")
    campaign = build(logs={"logs/T.csv": "\n".join(lines) + "\n"})
    assert "so its line is not named" in sections(actions.explain(campaign, "T", "V_max"))["Raw files"]


def test_unknown_names_list_what_there_is(build):
    campaign = build()
    with pytest.raises(UnknownName, match="there are T"):
        actions.explain(campaign, "X", "V_max")
    with pytest.raises(UnknownName, match="it has P_max, V_max"):
        actions.explain(campaign, "T", "V_cat")


def test_command_line(build, capsys):
    from cracktie.cli import main

    folder = str(build().folder)
    assert main(["explain", folder, "T", "delta_V_max"]) == 0
    out = capsys.readouterr().out
    assert "channel=D" in out
    assert main(["explain", folder, "T", "V_max", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["kind"] == "explanation"
    assert main(["explain", folder, "T", "nothing"]) == 2
