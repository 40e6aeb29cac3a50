from __future__ import annotations

import pytest

from cracktie.campaign.factors import all_confounded, confounded, contrasted, role
from cracktie.campaign.read import read_campaign
from cracktie.errors import InputRefused, UnknownName

from .beams import SPECIMENS, folder

DOWEL = "{path: anchors.dowel_diameter, levels: [10 mm, 12 mm], moves: [anchors.hole_diameter], within: anchored}"
BIGGER = """\
  S2:
    like: S1
    batch: C1
    spans: {A: {anchors: {dowel_diameter: 12 mm, hole_diameter: 16 mm}}}
"""
MIXED = """\
  S3:
    like: S1
    batch: C1
    spans: {A: {anchors: {dowel_diameter: 12 mm, hole_diameter: 16 mm, embedment: 80 mm}, wrap: {width: 80 mm}}}
"""


def campaign(place, more: str, factor: str = DOWEL, references: str = ""):
    head = f"factors:\n  dowel: {factor}\n{references}"
    return read_campaign(folder(place, specimens=SPECIMENS + more, campaign=head))


def test_levels_hold_the_specimens_of_the_studied_span(tmp_path):
    made = campaign(tmp_path, BIGGER)
    assert contrasted(made, made.head.factors["dowel"]) == {10.0: ("S1",), 12.0: ("S2",)}


def test_a_clean_contrast_gives_no_warning(tmp_path):
    assert confounded(campaign(tmp_path, BIGGER), "dowel") == []


def test_what_else_differs_is_named(tmp_path):
    assert [str(p) for p in confounded(campaign(tmp_path, MIXED), "dowel")] == [
        "campaign.yaml: factors.dowel: 10 against 12 (S1, S3) is confounded with wrap.width, anchors.embedment; "
        "change the factor alone, or declare what moves with it"
    ]


def test_all_factors_are_told_where_they_are_declared(tmp_path):
    assert [str(p) for p in all_confounded(campaign(tmp_path, MIXED))] == [
        "campaign.yaml:2:3: factors.dowel: 10 against 12 (S1, S3) is confounded with wrap.width, anchors.embedment; "
        "change the factor alone, or declare what moves with it"
    ]


def test_two_declared_factors_that_change_at_once_are_left_to_a_fit(tmp_path):
    """The two other corners of the square are missing, so no pair shows the dowel alone."""
    more = BIGGER.replace("hole_diameter: 16 mm", "hole_diameter: 16 mm, embedment: 80 mm")
    both = f"{DOWEL}\n  depth: {{path: anchors.embedment}}"
    assert [str(p) for p in confounded(campaign(tmp_path, more, both), "dowel")] == [
        "campaign.yaml: factors.dowel: 10 against 12 (S1, S2) is confounded with anchors.embedment; "
        "these are declared factors: judge them together by one fit of all, never by this pair alone"
    ]


def test_a_level_without_a_specimen_is_told(tmp_path):
    found = [str(p) for p in confounded(campaign(tmp_path, BIGGER, DOWEL.replace("12 mm", "13 mm")), "dowel")]
    assert found == [
        "campaign.yaml: factors.dowel: no specimen within 'anchored' has anchors.dowel_diameter = 13 mm; "
        "correct the level, or leave it out"
    ]


def test_one_clean_pair_is_enough(tmp_path):
    assert confounded(campaign(tmp_path, BIGGER + MIXED), "dowel") == []


def test_without_the_declared_move_the_hole_is_a_confounder(tmp_path):
    made = campaign(tmp_path, BIGGER, "{path: anchors.dowel_diameter}")
    assert "is confounded with anchors.hole_diameter" in str(confounded(made, "dowel")[0])


def test_the_same_change_in_the_other_span_is_no_confounder_but_any_other_is(tmp_path):
    both = "  R2: {like: REF, spans: {A: {stirrups: {spacing: 200 mm}}, B: {stirrups: {spacing: 200 mm}}}}\n"
    made = campaign(tmp_path, both, "{path: stirrups.spacing, levels: [300 mm, 200 mm], within: control}")
    assert confounded(made, "dowel") == []
    other = both.replace("B: {stirrups: {spacing: 200 mm}}", "B: {length: 1000 mm}")
    made = campaign(tmp_path, other, "{path: stirrups.spacing, levels: [300 mm, 200 mm], within: control}")
    assert "is confounded with other span: length" in str(confounded(made, "dowel")[0])


def test_the_studied_span_of_the_tests_decides(tmp_path):
    more = "  R2: {like: REF, spans: {B: {stirrups: {spacing: 100 mm}}}}\n"
    factor = "{path: stirrups.spacing, within: control}"
    place = folder(tmp_path, tests="tests: {T1: {specimen: REF, studied: B}, T2: {specimen: R2, studied: B}}\n")
    made = campaign(place, more, factor)
    assert contrasted(made, made.head.factors["dowel"]) == {150.0: ("REF",), 100.0: ("R2",)}


def test_roles(tmp_path):
    made = campaign(tmp_path, BIGGER, references="references: {old: {specimens: [REF, U1], match: listed}}\n")
    assert role(made, "anchored") == ("S1", "S2")
    assert role(made, "unanchored") == ("U1",)
    assert role(made, "strengthened") == ("U1", "S1", "S2")
    assert role(made, "control") == ("REF",)
    assert role(made, "old") == ("REF", "U1")
    assert role(made, "S2") == ("S2",)
    with pytest.raises(UnknownName, match="no role or design group 'achored'; did you mean 'anchored'"):
        role(made, "achored")


@pytest.mark.parametrize(
    ("factor", "expected"),
    [
        ("{path: anchors.dowel}", "factors.dowel.path = 'anchors.dowel': the path leads nowhere; possible: fibre, "),
        ("{path: anchor.z}", "factors.dowel.path = 'anchor.z': the path leads nowhere; did you mean 'anchors'?"),
        (
            "{path: anchors.z, moves: [wrap.widht]}",
            "factors.dowel.moves.1 = 'wrap.widht': the path leads nowhere; did you mean 'width'?",
        ),
        (
            "{path: anchors.z, levels: [300]}",
            "factors.dowel.levels.1 = '300': the unit is missing; write for example '300 mm'",
        ),
        ("{path: wrap.scheme, levels: [uu]}", "factors.dowel.levels.1 = 'uu': none of the possible words; "),
        (
            "{path: anchors.z, within: nobody}",
            "factors.dowel.within = 'nobody': there is no such role or design group; possible: REF, U1, S1, anchored",
        ),
    ],
)
def test_faulty_factors_are_refused(tmp_path, factor, expected):
    with pytest.raises(InputRefused) as caught:
        campaign(tmp_path, "", factor)
    assert expected in str(caught.value)


def test_references_name_groups_that_exist(tmp_path):
    with pytest.raises(InputRefused, match=r"references\.control\.group = 'REFF': there is no such design group"):
        campaign(tmp_path, "", references="references: {control: {group: REFF}}\n")
