"""Whatever a file holds, the reader gives a campaign or a list of problems, never another exception."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cracktie.campaign.new import BEAM
from cracktie.campaign.read import read_campaign, read_single
from cracktie.campaign.schema import Campaign
from cracktie.errors import InputRefused

from .beams import MATERIALS, SPECIMENS, folder
from .test_read import RIG

pytestmark = pytest.mark.slow

TESTS = """\
tests:
  T1: {specimen: REF, date: 2026-05-02, setup: R1, history: [{stage: load, to: 100 kN}], outcome: flexure}
  T2: {specimen: S1, order: 2, setup: R1, layout: L1, studied: A, dead_channels: [k1]}
"""
LAYOUTS = """\
layouts:
  L1:
    channels: [{name: P, quantity: load, unit: kN, alias: AI 1, sign: -1}]
    grids: [{on: strips, columns: 2, rows: "60, 200 mm", faces: [front, back], name: "{strip}{face}{row}{column}"}]
    bands: [{along: crack band, rows: "100, 200 mm", name: "k{row}", angle: 40 deg}]
"""
OBSERVATIONS = """\
specimens:
  S1:
    as_built: {b_w: 201 mm, bar_depth: "349, 351 mm"}
    anchors: {1F: {hole_diameter: 14.5 mm, bar_hit: true}}
    failure_modes: [{mode: dowel rupture at bend, test: T2, load: 200 kN, strip: 2, face: front}]
    crack_lines: [{test: T2, x: "100, 300 mm", z: "20, 300 mm", critical: true}]
"""
REDUCTION = """\
tests:
  T2:
    zeros: [{start: 0 s, end: 10 s}]
    events: [{event: first debonding, status: moved, time: 100 s, reason: seen on video}]
    excluded: [{channel: 1F11, reason: wire broke}]
"""
HEAD = """\
cracktie: 1
title: Fuzzed
references: {control: {group: REF}}
factors: {dowel: {path: anchors.dowel_diameter, levels: [10 mm], moves: [anchors.hole_diameter]}}
"""
TEXTS = {
    "specimens": SPECIMENS,
    "materials": MATERIALS,
    "rig": RIG + LAYOUTS,
    "tests": TESTS,
    "campaign": HEAD,
    "observations": OBSERVATIONS,
    "reduction": REDUCTION,
    "beam": BEAM,
}
PIECES = [
    *("{", "}", "[", "]", ":", ": ", ",", "- ", "\n", "\t", "  ", "#", "&a ", "*a", "!x ", "|", ">", "'", '"', "~"),
    *("null", "none", "0", "-1", "1e999 mm", "nan mm", "inf", "9" * 40, "0,167 mm", "60mm", "mm", "true", "CON", "1/0"),
    *("\u00b5", "\u00e9", "\x00", "\x85", "\ufeff", "---\n", "...\n", "%YAML 1.1\n", "? ", "<<: ", "like: S1"),
    *("like: U1", "2026-13-45", "3 x 0 mm", "first 1 mm, 99999999 @ 1 mm", "first 1 mm, 3 @ 0 mm", "0 deg", "180 deg"),
    *("1e-320 mm", "1e-9 mm", "1e12 mm", "1e300 m", "999999999 x 20 mm"),
]


@st.composite
def mutated(draw):
    name = draw(st.sampled_from(sorted(TEXTS)))
    text = TEXTS[name]
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        stop = min(len(text), start + draw(st.integers(0, 12)))
        piece = draw(st.one_of(st.sampled_from(PIECES), st.text(max_size=5)))
        text = text[:start] + piece + text[stop:]
    return name, text


@st.composite
def swapped(draw):
    """A value of a file replaced by another one: stays valid YAML more often than a random cut."""
    name = draw(st.sampled_from(sorted(TEXTS)))
    lines = TEXTS[name].splitlines()
    row = draw(st.integers(0, len(lines) - 1))
    key, colon, _ = lines[row].rpartition(": ")
    lines[row] = key + colon + draw(st.sampled_from(PIECES)) + draw(st.sampled_from(["", "}", "}}", "]"]))
    return name, "\n".join(lines) + "\n"


def survives(place, name: str, text: str) -> None:
    made = folder(place, **TEXTS)
    path = made / f"{name}.yaml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    problems = None
    try:
        assert isinstance(read_single(path) if name == "beam" else read_campaign(made), Campaign)
    except InputRefused as error:
        problems = error.problems
    assert problems is None or problems
    for problem in problems or ():
        assert problem.message
        assert "Value error" not in problem.message


def test_the_files_that_are_mutated_are_sound(tmp_path):
    made = folder(tmp_path, **TEXTS)
    assert set(read_campaign(made).tests) == {"T1", "T2"}
    assert set(read_single(made / "beam.yaml").specimens) == {"B1"}


QUIET = {"suppress_health_check": [HealthCheck.function_scoped_fixture, HealthCheck.too_slow], "deadline": None}


@settings(max_examples=60, **QUIET)
@given(case=st.one_of(mutated(), swapped()))
def test_mutated_files_never_give_a_traceback(tmp_path, case):
    survives(tmp_path, *case)


@pytest.mark.slow
@settings(max_examples=800, **QUIET)
@given(case=st.one_of(mutated(), swapped()))
def test_many_mutated_files_never_give_a_traceback(tmp_path, case):
    survives(tmp_path, *case)


@settings(max_examples=40, **QUIET)
@given(data=st.binary(max_size=200))
def test_bytes_of_any_kind_never_give_a_traceback(tmp_path, data):
    made = folder(tmp_path, **TEXTS)
    (made / "specimens.yaml").write_bytes(data)
    with pytest.raises(InputRefused):
        read_campaign(made)
