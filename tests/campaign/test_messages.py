"""The texts an engineer sees when a file has a slip: what, where, given, needed, how to mend it."""

from __future__ import annotations

import re

import pytest

from cracktie.campaign.read import read_campaign
from cracktie.errors import InputRefused

from .beams import MATERIALS, SPECIMENS, folder


def refused(place, **files) -> list[str]:
    with pytest.raises(InputRefused) as caught:
        read_campaign(folder(place, **files))
    return [str(p) for p in caught.value.problems if p.level == "error"]


def changed(old: str, new: str, text: str = SPECIMENS) -> str:
    assert text.count(old) >= 1
    return text.replace(old, new, 1)


STRIP = "specimens.U1.spans.A.wrap"
ONE_SLIP = {
    "letter for a digit": (
        "width: 60 mm",
        "width: 6o mm",
        "specimens.yaml:16:62: specimens.U1.spans.A.wrap.width = '6o mm': not a number followed by a unit "
        "(inherited by S1); write for example '60 mm'",
    ),
    "no unit": (
        "b_w: 200 mm",
        "b_w: 200",
        "specimens.yaml:4:20: specimens.REF.section.b_w = '200': the unit is missing (inherited by U1, S1); "
        "write for example '200 mm'",
    ),
    "wrong nature": (
        "h: 400 mm",
        "h: 400 MPa",
        "specimens.yaml:4:31: specimens.REF.section.h = '400 MPa': 'MPa' does not measure a length "
        "(inherited by U1, S1); write for example '60 mm'",
    ),
    "decimal comma": (
        "width: 60 mm",
        "width: '60,5 mm'",
        "specimens.yaml:16:62: specimens.U1.spans.A.wrap.width = '60,5 mm': a decimal comma is not read "
        "(inherited by S1); write '60.5 mm'",
    ),
    "misspelt key": (
        "width: 60 mm",
        "widht: 60 mm",
        "specimens.yaml:16:55: specimens.U1.spans.A.wrap.widht: unknown key (inherited by S1); did you mean 'width'?",
    ),
    "misspelt word": (
        "scheme: u,",
        "scheme: U,",
        "specimens.yaml:16:36: specimens.U1.spans.A.wrap.scheme = 'U': none of the possible words "
        "(inherited by S1); did you mean 'u'? possible: side, u, full",
    ),
    "material": (
        "material: B500",
        "material: B50",
        "specimens.yaml:6:52: specimens.REF.bars.1.material = 'B50': there is no such bar material "
        "(inherited by U1, S1); did you mean 'B500'?",
    ),
    "like": (
        "like: REF",
        "like: RFE",
        "specimens.yaml:12:11: specimens.U1.like = 'RFE': there is no such specimen; did you mean 'REF'?",
    ),
    "missing": (
        "embedment: 60 mm",
        "",
        "specimens.yaml:23:9: specimens.S1.spans.A.anchors.embedment: is missing; add for example `embedment: 60 mm`",
    ),
    "empty": (
        "embedment: 60 mm",
        "embedment:",
        "specimens.yaml:28:11: specimens.S1.spans.A.anchors.embedment: has no value; write one, or delete the key",
    ),
    "bars": (
        "3 x 20 mm",
        "3 20 mm",
        "specimens.yaml:6:16: specimens.REF.bars.1.bars = '3 20 mm': not a number of bars and their size "
        "(inherited by U1, S1); write for example '3 x 20 mm' or '3 x No. 6'",
    ),
    "scalar for a mapping": (
        "fan: {length: 150 mm, angle: 60 deg}",
        "fan: 150 mm",
        "specimens.yaml:32:16: specimens.S1.spans.A.anchors.fan = '150 mm': must be a mapping; write `key: value` "
        "lines below it (keys: form, length, angle, layer, patch)",
    ),
    "negative": (
        "h: 400 mm",
        "h: -400 mm",
        "specimens.yaml:4:31: specimens.REF.section.h = '-400 mm': must be greater than 0 (inherited by U1, S1); "
        "given -400 mm",
    ),
    "scope": (
        "between_loads: 600 mm",
        "prestress: 5 MPa",
        "specimens.yaml:7:5: specimens.REF.prestress: prestressed members are not treated (inherited by U1, S1); "
        "such a beam may stand in the campaign as `kind: other` (reduced and plotted, not predicted)",
    ),
    "scope as a word": (
        "scheme: u,",
        "scheme: nsm,",
        "specimens.yaml:16:36: specimens.U1.spans.A.wrap.scheme = 'nsm': near-surface-mounted bars are not treated "
        "(inherited by S1); such a beam may stand in the campaign as `kind: other` "
        "(reduced and plotted, not predicted)",
    ),
    "date": (
        "like: U1",
        "like: U1\n    cast: 2.3.2026",
        "specimens.yaml:19:11: specimens.S1.cast = '2.3.2026': no date; write year-month-day, for example 2026-03-02",
    ),
    "strips overlap": (
        "spacing: 120 mm",
        "spacing: 50 mm",
        "specimens.yaml:16:9: specimens.U1.spans.A.wrap: strips overlap: width/sin(beta) = 60 mm along the axis, "
        "spacing 50 mm (inherited by S1); widen the spacing or use layout: continuous",
    ),
    "stirrups in the wrong unit": (
        "spacing: 300 mm",
        "spacing: 0.300 mm",
        "specimens.yaml:9:27: specimens.REF.spans.A.stirrups: spacing = 0.3 mm (inherited by U1, S1); "
        "stirrups stand at least 5 mm apart (a slip of the unit?)",
    ),
    "span in the wrong unit": (
        "B: {length: 900 mm",
        "B: {length: 900 m",
        "specimens.yaml:10:7: specimens.REF.spans.B: length = 900000 mm is more than 100 m (a slip of the unit?) "
        "(inherited by U1, S1)",
    ),
    "two ways of placing": (
        "first: 150 mm",
        "positions: '150, 300 mm'",
        "specimens.yaml:16:9: specimens.U1.spans.A.wrap: strips are placed by spacing or by positions, not both "
        "(inherited by S1); delete one of them (an inherited one is taken away by `spacing: none` or "
        "`positions: none`)",
    ),
    "holes that meet": (
        "embedment: 60 mm",
        "embedment: 102 mm",
        "specimens.yaml:21:7: specimens.S1.spans.A: span A: opposite holes meet inside the web: embedment 102 mm at "
        "90 deg reaches 102 mm from each face, b_w = 200 mm; shorten the embedment, or shift the holes of one face by "
        "back_z",
    ),
    "a strip that is not there": (
        "host: web",
        "host: web\n          strips: [1, 9]",
        "specimens.yaml:26:11: specimens.S1.spans.A.anchors.strips: there is no strip 9; span A has strips 1 to 7",
    ),
    "strips outside": (
        "first: 150 mm",
        "first: 10 mm",
        "specimens.yaml:16:9: specimens.U1.spans.A.wrap: the sheet reaches from x = -20 to 880 mm, "
        "span A from 0 to 900 mm (inherited by S1); x counts from the left support; move the strips into their span",
    ),
    "same key twice": (
        "    batch: C2",
        "    batch: C2\n    batch: C1",
        "specimens.yaml:20:5: specimens.S1.batch: the key stands twice, first in line 19; keep one of them",
    ),
    "device": (
        "  S1:",
        "  CON:",
        "specimens.yaml:17:3: specimens.CON: 'CON' is a device name on some systems; choose another id",
    ),
    "case": (
        "  S1:",
        "  u1:",
        "specimens.yaml:17:3: specimens.u1: differs only in case from 'U1' in line 11; choose another id: "
        "some systems would mix up their files",
    ),
    "no space after the colon": (
        "width: 60 mm",
        "width:60 mm",
        "specimens.yaml:16:55: specimens.U1.spans.A.wrap.width: a space is missing after ':' (inherited by S1); "
        "write `width: 60 mm`",
    ),
    "mapping for a value": (
        "host: web",
        "host: {web: 1}",
        "specimens.yaml:25:11: specimens.S1.spans.A.anchors.host: must be one value, not a mapping; "
        "write for example `web`",
    ),
    "tab": (
        "    like: U1",
        "\tlike: U1",
        "specimens.yaml:18:1: a tab stands where spaces are needed; indent with spaces",
    ),
    "open bracket": (
        "{b_w: 200 mm, h: 400 mm}",
        "{b_w: 200 mm, h: 400 mm",
        "specimens.yaml:5:9: a '{' is not closed, or a comma is missing; close it with '}'",
    ),
    "circle": (
        "    batch: C1\n    section",
        "    like: S1\n    section",
        "specimens.yaml:12:11: specimens.U1.like = 'REF': the specimens inherit from each other in a circle "
        "(REF -> S1 -> U1 -> REF); break it",
    ),
}


@pytest.mark.parametrize("name", ONE_SLIP)
def test_one_slip_gives_one_message(tmp_path, name):
    old, new, expected = ONE_SLIP[name]
    found = refused(tmp_path, specimens=changed(old, new))
    assert found == [expected]


def test_a_decimal_comma_inside_braces_shows_the_point_form(tmp_path):
    text = changed("width: 60 mm", "width: 0,167 mm")
    assert refused(tmp_path, specimens=text) == [
        f"specimens.yaml:16:62: {STRIP}.width = '0,167 mm': a decimal comma is not read (inherited by S1); "
        "write '0.167 mm'"
    ]


def test_all_problems_of_all_files_come_at_once(tmp_path):
    specimens = changed("width: 60 mm", "width: 6o mm").replace("z: 320 mm", "z: 320").replace("tow\n", "tov\n")
    materials = changed("convention: fibre", "convention: fiber", MATERIALS)
    tests = "tests:\n  T1: {specimen: S2, logs: [logs/S1.csv]}\n"
    found = refused(tmp_path, specimens=specimens, materials=materials, tests=tests)
    assert len(found) == 6
    assert [text.split(":")[0] for text in found] == ["materials.yaml"] + ["specimens.yaml"] * 3 + ["tests.yaml"] * 2
    assert "none of the possible words; did you mean 'fibre'?" in found[0]
    assert found[4].endswith("tests.T1.specimen = 'S2': there is no such specimen; possible: REF, U1, S1")
    assert found[5].endswith(
        "tests.T1.logs.1 = 'logs/S1.csv': there is no such file in the campaign folder; "
        "put it into logs/ or correct the name"
    )


LIBRARY_WORDS = ("Value error", "Input should", "pydantic", "http", "Field required", "NoneType", "Extra inputs")


@pytest.mark.parametrize("slip", [": {a: 1}", ": 3", ": x", ":", ": [1, 2]", ": 1.5", ": [[a]]"])
def test_no_message_speaks_the_library(tmp_path, slip):
    keys = r"(spacing|between_loads|batch|angle|depth|b_w|h|width|material|host|fibre|length|scheme):[^\n,}]*"
    found = refused(tmp_path, specimens=re.sub(keys, rf"\1{slip}", SPECIMENS))
    assert len(found) > 3
    for text in found:
        assert not any(word in text for word in LIBRARY_WORDS), text
        assert re.match(r"specimens\.yaml:\d+:\d+: \S", text), text


UNREADABLE = {
    "empty": (b"", "specimens.yaml: holds no specimen; write `specimens: {...}`"),
    "only comments": (b"# nothing\n", "specimens.yaml: holds no specimen; write `specimens: {...}`"),
    "nul": (
        b"specimens:\n  a\0b: 1\n",
        "specimens.yaml:2: the file holds a NUL byte, so it is no text file (a damaged or binary file?); "
        "restore it, or write it again in a text editor",
    ),
    "utf-16": ("specimens:".encode("utf-16"), "specimens.yaml: the file is saved as UTF-16; save it as UTF-8"),
    "latin-1": (
        "specimens:\n  B1: {note: gr\u00fcn}\n".encode("latin-1"),
        "specimens.yaml:2:16: the byte 0xFC is no UTF-8; save the file as UTF-8",
    ),
    "control character": (b"specimens:\n  B\x07: 1\n", "specimens.yaml:2:4: the control character U+0007; delete it"),
    "list": (b"- a\n- b\n", "specimens.yaml:1:1: the file must hold `key: value` lines"),
    "word": (b"beam\n", "specimens.yaml:1:1: the file must hold `key: value` lines"),
    "brackets": (b"{" * 5000, "specimens.yaml: brackets are nested too deeply; close what was opened"),
    "circle": (
        b"specimens: &a {B1: *a}\n",
        "specimens.yaml: the entries are nested too deeply, or refer to themselves; write the entries out plainly",
    ),
    "unfolding": (
        b"a0: &a0 [x,x,x,x,x,x,x,x,x,x]\n"
        + b"".join(b"a%d: &a%d [%s]\n" % (i, i, b",".join([b"*a%d" % (i - 1)] * 10)) for i in range(1, 8)),
        "specimens.yaml: the references (&, *) of this file unfold to too many entries; write the entries out plainly",
    ),
    "unquoted star": (
        b"specimens:\n  B1: *oops\n",
        "specimens.yaml:2:7: '*' begins a reference to nothing; put the text in quotes",
    ),
    "one level too high": (
        b"B1: {section: {b_w: 200 mm}}\n",
        "specimens.yaml:1:1: B1: unknown key; specimens stand one level deeper, below `specimens:`",
    ),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_file_that_is_no_campaign_file_gives_one_clear_problem(tmp_path, name):
    data, expected = UNREADABLE[name]
    folder(tmp_path)
    (tmp_path / "specimens.yaml").write_bytes(data)
    with pytest.raises(InputRefused) as caught:
        read_campaign(tmp_path)
    assert str(caught.value.problems[0]) == expected


def test_a_huge_file_is_not_read(tmp_path):
    folder(tmp_path)
    with (tmp_path / "specimens.yaml").open("wb") as stream:
        stream.truncate(25_000_000)
    with pytest.raises(InputRefused, match="the file is 25 MB large; raw logs belong into logs/"):
        read_campaign(tmp_path)


def test_no_folder_and_a_file_in_its_place(tmp_path):
    with pytest.raises(InputRefused, match="there is no such folder"):
        read_campaign(tmp_path / "none")
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputRefused, match="is a file; name the folder that holds it"):
        read_campaign(tmp_path / "file")


def test_misnamed_file_is_told(tmp_path):
    made = folder(tmp_path, test="tests: {}\n")
    found = read_campaign(made).warnings
    assert "test.yaml: is not read; should it be named 'tests.yaml'?" in [str(w) for w in found]


def test_newer_format_is_refused_with_the_version_needed(tmp_path):
    assert refused(tmp_path, campaign="cracktie: 2\n") == [
        "campaign.yaml:1:11: cracktie = '2': the folder is written in format 2, this version reads formats up to 1; "
        "install a version of cracktie that reads format 2"
    ]


@pytest.mark.parametrize(
    ("units", "expected"),
    [
        ("{lenght: mm}", "units.lenght: unknown kind of unit; did you mean 'length'?"),
        ("{length: kN}", "units.length = 'kN': 'kN' does not measure a length"),
    ],
)
def test_faulty_units_header(tmp_path, units, expected):
    found = refused(tmp_path, specimens=f"units: {units}\n{SPECIMENS}")
    assert expected in found[0]


def test_ids_with_dots_name_their_heirs(tmp_path):
    text = SPECIMENS.replace("REF", "R.1").replace("b_w: 200 mm", "b_w: 200")
    assert refused(tmp_path, specimens=text) == [
        "specimens.yaml:4:20: specimens.R.1.section.b_w = '200': the unit is missing (inherited by U1, S1); "
        "write for example '200 mm'"
    ]


def test_long_values_and_control_characters_do_not_flood_a_terminal(tmp_path):
    text = SPECIMENS.replace("400 mm", "x" * 5000).replace("depth:", '"dep\\x1b[2J":')
    found = refused(tmp_path, specimens=text)
    assert all(len(line) < 400 and line.isprintable() for line in found)


def test_a_faulty_specimen_does_not_make_its_group_unknown(tmp_path):
    text = changed("width: 60 mm", "width: 6o mm")
    assert len(refused(tmp_path, specimens=text, campaign="references: {wrapped: {group: U1}}\n")) == 1


def test_choices_of_a_reduction_speak_of_logs_of_their_test(tmp_path):
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "S1.csv").write_text("1")
    reduction = "tests: {S1: {logs: [{log: logs/S1.cvs}]}}\n"
    assert refused(tmp_path, reduction=reduction) == [
        "reduction.yaml:1:27: tests.S1.logs.1.log = 'logs/S1.cvs': is no log of test S1; did you mean 'logs/S1.csv'?"
    ]


def test_ids_of_other_files_obey_the_same_rules(tmp_path):
    found = refused(tmp_path, rig="setups:\n  my rig: {}\n  NUL: {}\n")
    assert "rig.yaml:2:3: setups.my rig: 'my rig' is no id; use letters, digits, '-', '_' and '.'" in found
    assert "rig.yaml:3:3: setups.NUL: 'NUL' is a device name on some systems; choose another id" in found


IN_OTHER_FILES = [
    (
        {"tests": "tests:\n  - {specimen: S1}\n"},
        "tests.yaml:1:1: tests: must be a mapping; write each entry below its id: `id: {...}`",
    ),
    (
        {"tests": "tests: {T: {specimen: S1, logs: logs/a.csv}}\n"},
        "tests.yaml:1:33: tests.T.logs = 'logs/a.csv': must be a list; write its entries as [a, b] or as lines that "
        "begin with '- '",
    ),
    (
        {"tests": "tests: {T: {specimen: S1, spans_at_risk: 3}}\n"},
        "tests.yaml:1:42: tests.T.spans_at_risk = '3': must be at most 2",
    ),
    (
        {"tests": "tests: {T: {specimen: S1, outcome: test fault}}\n"},
        "tests.yaml:1:9: tests.T: a test fault needs its reason (reason: ...): it is left out of every statistic",
    ),
    (
        {"rig": "setups: {R: {supports: [{x: 0 mm}], loads: [{x: 1 m}]}}\n"},
        "rig.yaml:1:14: setups.R.supports: has too few entries; it takes 2",
    ),
    (
        {"rig": "setups: {R: {supports: [{x: 0 mm}, {x: 2 m}], loads: [{x: 3 m}]}}\n"},
        "rig.yaml:1:10: setups.R: load at x = 3000 mm does not lie between the supports",
    ),
    (
        {"specimens": "specimens:\n  - {batch: C1}\n"},
        "specimens.yaml:1:1: specimens: must be a mapping; write each specimen below its id: `B1: {...}`",
    ),
    (
        {"specimens": "units: mm\n" + SPECIMENS},
        "specimens.yaml:1:8: units = 'mm': must be a mapping; write for example `units: {length: mm, force: kN}`",
    ),
    (
        {"campaign": "titel: x\n"},
        "campaign.yaml:1:1: titel: unknown key; did you mean 'title'?",
    ),
    (
        {"campaign": "references: {control: {}}\n"},
        "campaign.yaml:1:14: references.control: name either the design group or the specimens of this reference",
    ),
    (
        {"materials": MATERIALS.replace("    mean: {E_f", "    E: 230 GPa\n    mean: {E_f")},
        "materials.yaml:13:5: frp_systems.CF.E: unknown key; possible: fibre, form, thickness, convention, areal_mass, "
        "mean, characteristic, guaranteed, known_cv, known_cv_source, from, note",
    ),
]


@pytest.mark.parametrize(("files", "expected"), IN_OTHER_FILES)
def test_slips_in_other_files(tmp_path, files, expected):
    assert refused(tmp_path, **files) == [expected]


@pytest.mark.parametrize(
    ("written", "fix"),
    [
        ("logs/s1.csv", "did you mean 'logs/S1.csv'?"),
        ("S1.csv", "did you mean 'logs/S1.csv'?"),
        ("logs\\S1.csv", "write the path with '/'"),
        ("x" * 90 + ".csv", "put it into logs/ or correct the name"),
        ("logs/other.dat", "put it into logs/ or correct the name"),
    ],
)
def test_logs_that_are_not_there_have_near_names(tmp_path, written, fix):
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "S1.csv").write_text("1")
    found = refused(tmp_path, tests=f"tests: {{T: {{specimen: S1, logs: [{written}]}}}}\n")
    assert found == [
        f"tests.yaml:1:34: tests.T.logs.1 = {written!r}: there is no such file in the campaign folder; {fix}"
    ]


def test_a_name_too_long_for_the_disk_is_a_problem_like_any_other(tmp_path):
    found = refused(tmp_path, tests=f"tests: {{T: {{specimen: S9, logs: [{'x' * 400}]}}}}\n")
    assert len(found) == 2
    assert "there is no such file in the campaign folder" in found[1]
