from __future__ import annotations

import hashlib
import time

import pytest

from cracktie.campaign.read import read_campaign, read_single
from cracktie.campaign.upgrade import upgrade
from cracktie.errors import InputRefused

from .beams import MATERIALS, SPECIMENS, folder


def test_a_campaign_is_specimens_and_materials_alone(tmp_path):
    made = read_campaign(folder(tmp_path))
    assert list(made.specimens) == ["REF", "U1", "S1"]
    assert made.head.title == "Untitled campaign"
    assert made.specimens["S1"].section.b_w == 200.0
    assert made.materials.frp_systems["CF"].mean.E_f == 230000.0
    assert made.materials.concretes["C1"].cast == "2026-03-02"


def test_like_copies_the_nominal_design_and_merges_deeply(tmp_path):
    made = read_campaign(folder(tmp_path)).specimens
    wrap = made["S1"].spans["A"].wrap
    assert (wrap.width, wrap.spacing, wrap.top_edge) == (60, 120, 380)
    assert made["U1"].spans["A"].wrap.top_edge is None
    assert made["S1"].spans["A"].stirrups.first == 100


def test_none_takes_an_inherited_key_away_and_lists_are_replaced_whole(tmp_path):
    more = """\
  X1:
    like: U1
    bars: [{bars: 2 x 25 mm, depth: 340 mm, material: B500}]
    spans: {A: {stirrups: none, wrap: {spacing: none, first: none, positions: "200, 400 mm"}}}
"""
    made = read_campaign(folder(tmp_path, specimens=SPECIMENS + more)).specimens["X1"]
    assert made.spans["A"].stirrups is None
    assert made.spans["A"].wrap.positions == (200, 400)
    assert [(layer.bars.count, layer.bars.diameter) for layer in made.bars] == [(2, 25)]


def test_batch_dates_names_and_notes_are_never_inherited(tmp_path):
    own = "batch: C1\n    cast: 2026-03-02\n    label: L\n    note: n\n    group: G\n    age_at_test: 28 d\n    section"
    text = SPECIMENS.replace("batch: C1\n    section", own) + "  Y1:\n    like: REF\n    between_loads: 500 mm\n"
    made = read_campaign(folder(tmp_path, specimens=text)).specimens["Y1"]
    for key in ("batch", "cast", "label", "note", "group", "age_at_test", "strengthened"):
        assert getattr(made, key) is None


@pytest.mark.parametrize("id", ["012", "1E2", "2026-03-02", "no", "null-1", "0x1F", "1_000", ".5", "on", "true"])
def test_ids_are_the_text_of_the_file(tmp_path, id):
    text = SPECIMENS + f"  {id}:\n    like: REF\n"
    materials = MATERIALS.replace("C1:", f"{id}:")
    made = read_campaign(folder(tmp_path, specimens=text.replace("batch: C1", f"batch: {id}"), materials=materials))
    assert id in made.specimens
    assert made.specimens["REF"].batch == id
    assert id in made.materials.concretes


def test_groups_are_equal_designs_whatever_batch_and_label(tmp_path):
    more = "  REF2: {like: REF, batch: C2, label: again}\n  S2: {like: S1, batch: C1, group: spikes}\n"
    made = read_campaign(folder(tmp_path, specimens=SPECIMENS + more))
    assert made.groups == {"REF": ("REF", "REF2"), "U1": ("U1",), "spikes": ("S1", "S2")}
    assert made.group_of("S1") == "spikes"


def test_inches_and_millimetres_of_one_design_are_one_group(tmp_path):
    more = "  REF2: {like: REF, section: {b_w: 7.874015748031496 in}}\n"
    made = read_campaign(folder(tmp_path, specimens=SPECIMENS + more))
    assert made.groups["REF"] == ("REF", "REF2")


def test_one_group_name_on_two_designs_is_refused(tmp_path):
    text = SPECIMENS.replace("  U1:\n", "  U1:\n    group: G\n").replace("  S1:\n", "  S1:\n    group: G\n")
    with pytest.raises(InputRefused) as caught:
        read_campaign(folder(tmp_path, specimens=text))
    assert "group 'G' would hold U1 and S1, whose designs differ in spans.A.wrap.top_edge, " in str(caught.value)


def test_two_group_names_on_one_design_are_a_warning(tmp_path):
    text = SPECIMENS + "  U2: {like: U1, group: other}\n  U3: {like: U1, group: third}\n"
    made = read_campaign(folder(tmp_path, specimens=text))
    assert made.groups["third"] == ("U3",)
    assert any("has the same nominal design, so the two are replicates" in str(w) for w in made.warnings)


def test_bare_numbers_take_the_units_of_their_own_file_only(tmp_path):
    bare = "units: {length: in}\n" + SPECIMENS.replace("b_w: 200 mm", "b_w: 8")
    made = read_campaign(folder(tmp_path, specimens=bare))
    assert made.specimens["REF"].section.b_w == pytest.approx(203.2)
    assert made.units == {"specimens.yaml": {"length": "in"}}
    with pytest.raises(InputRefused, match="b_w = '8': the unit is missing"):
        read_campaign(folder(tmp_path, specimens=bare.split("\n", 1)[1], materials="units: {length: in}\n" + MATERIALS))


def test_byte_order_mark_and_windows_line_ends(tmp_path):
    text = "\ufeff" + SPECIMENS.replace("\n", "\r\n")
    assert list(read_campaign(folder(tmp_path, specimens=text)).specimens) == ["REF", "U1", "S1"]


def test_without_tests_file_each_specimen_is_one_test_with_the_logs_of_its_name(tmp_path):
    made = folder(tmp_path)
    (made / "logs").mkdir()
    (made / "logs" / "S1.csv").write_bytes(b"time,load\r\n")
    (made / "logs" / "S10.csv").write_bytes(b"x")
    found = read_campaign(made)
    assert list(found.tests) == ["REF", "U1", "S1"]
    assert found.tests["S1"].logs == ("logs/S1.csv",)
    assert found.tests["U1"].logs == ()
    assert found.sources["logs/S1.csv"] == hashlib.sha256(b"time,load\r\n").hexdigest()
    assert "logs/S10.csv" not in found.sources


def test_sources_hold_the_hash_of_every_file_read(tmp_path):
    made = folder(tmp_path, tests="tests: {T1: {specimen: S1, logs: [logs/a.csv]}}\n")
    (made / "logs").mkdir()
    (made / "logs" / "a.csv").write_bytes(b"1")
    found = read_campaign(made).sources
    assert set(found) == {"materials.yaml", "specimens.yaml", "tests.yaml", "logs/a.csv"}
    assert found["specimens.yaml"] == hashlib.sha256(SPECIMENS.encode()).hexdigest()


def test_a_log_outside_the_folder_is_refused(tmp_path):
    (tmp_path / "a.csv").write_text("1")
    made = folder(tmp_path / "c", tests="tests: {T1: {specimen: S1, logs: [../a.csv]}}\n")
    with pytest.raises(InputRefused, match="there is no such file in the campaign folder"):
        read_campaign(made)


RIG = """\
setups:
  R1:
    supports: [{x: 0 mm}, {x: 2400 mm}]
    loads: [{x: 850 mm}, {x: 1500 mm}]
"""


def test_rig_that_does_not_fit_the_shear_span_is_a_warning(tmp_path):
    made = folder(tmp_path, rig=RIG, tests="tests:\n  T1: {specimen: S1, setup: R1}\n")
    assert [str(w) for w in read_campaign(made).warnings if w.file == "tests.yaml"] == [
        "tests.yaml:2:29: tests.T1.setup = 'R1': its shear span A is 850 mm, that of S1 900 mm; "
        "correct one of them, or say mirrored: true"
    ]


def test_a_mirrored_test_swaps_the_spans_of_the_rig(tmp_path):
    rig = RIG.replace("850", "900").replace("1500 mm", "1550 mm")
    made = folder(tmp_path, rig=rig, tests="tests:\n  T1: {specimen: S1, setup: R1, mirrored: true}\n")
    assert "its shear span A is 850 mm" in str(read_campaign(made).warnings)
    assert "its shear span B" not in str(read_campaign(made).warnings)


def test_holes_on_stirrups_are_a_warning(tmp_path):
    found = [str(w) for w in read_campaign(folder(tmp_path)).warnings]
    assert found == [
        "specimens.yaml:23:9: specimens.S1.spans.A.anchors: holes of strip 3 meet a stirrup of span A "
        "(nominal positions); shift the strips or the stirrups, or expect bars in the way"
    ]
    clear = SPECIMENS.replace("first: 100 mm", "first: 60 mm")
    assert read_campaign(folder(tmp_path, specimens=clear)).warnings == ()


def test_dates_run_forward(tmp_path):
    text = SPECIMENS.replace("like: U1", "like: U1\n    strengthened: 2026-03-01")
    tests = "tests:\n  T1: {specimen: REF, date: 2026-02-01}\n"
    with pytest.raises(InputRefused) as caught:
        read_campaign(folder(tmp_path, specimens=text, tests=tests))
    found = [str(p) for p in caught.value.problems if p.level == "error"]
    assert found == [
        "specimens.yaml:19:19: specimens.S1.strengthened = '2026-03-01': lies before the casting on 2026-03-09; "
        "check both dates",
        "tests.yaml:2:29: tests.T1.date = '2026-02-01': lies before the casting on 2026-03-02; check both dates",
    ]


def test_order_of_two_tests_against_their_dates(tmp_path):
    tests = """\
tests:
  T1: {specimen: REF, order: 1, date: 2026-05-02}
  T2: {specimen: REF, order: 2, date: 2026-05-01, state: retest}
"""
    with pytest.raises(InputRefused, match=r"tests\.T2\.date = '2026-05-01': lies before that of test T1"):
        read_campaign(folder(tmp_path, tests=tests))


def test_any_beam_may_stand_as_other(tmp_path):
    made = read_campaign(folder(tmp_path, specimens=SPECIMENS + "  P1: {kind: other}\n  P2: {kind: other}\n"))
    assert made.groups["P1"] == ("P1",)


SINGLE = """\
units: {length: mm}
title: One beam
materials:
  concretes: {C: {nominal: {f_c: 30 MPa}}}
  bars: {B500: {nominal: {f_y: 500 MPa}}}
specimen:
  batch: C
  section: {b_w: 200, h: 400 mm}
  bars: [{bars: 3 x 20 mm, depth: 350 mm, material: B500}]
  spans: {A: {length: 900}, B: {length: 900}}
"""


def test_one_beam_file(tmp_path):
    path = tmp_path / "beam.yaml"
    path.write_text(SINGLE)
    made = read_single(path)
    assert list(made.specimens) == ["beam"]
    assert made.specimens["beam"].section.b_w == 200
    assert made.head.title == "One beam"
    assert set(made.sources) == {"beam.yaml"}
    assert list(made.tests) == ["beam"]
    assert made.folder is None


def test_one_beam_file_names_its_own_lines(tmp_path):
    path = tmp_path / "beam.yaml"
    path.write_text(SINGLE.replace("h: 400 mm", "h: 4oo mm").replace("material: B500", "material: B5") + "spec: 1\n")
    with pytest.raises(InputRefused) as caught:
        read_single(path)
    assert [str(p) for p in caught.value.problems] == [
        "beam.yaml:8:26: specimen.section.h = '4oo mm': not a number followed by a unit; write for example '60 mm'",
        "beam.yaml:9:53: specimen.bars.1.material = 'B5': there is no such bar material; did you mean 'B500'?",
        "beam.yaml:11:1: spec: unknown key; did you mean 'specimen'?",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "holds no beam"),
        ("materials: {}\n", "specimen: is missing"),
        ("specimen: x\n", "must be a mapping"),
        ("specimen: {like: A}\n", "nothing to inherit from"),
        ("a: [\n", "a bracket is not closed"),
    ],
)
def test_faulty_one_beam_files(tmp_path, text, expected):
    path = tmp_path / "beam.yaml"
    path.write_text(text)
    with pytest.raises(InputRefused, match=expected):
        read_single(path)


def test_an_older_format_goes_through_its_steps(tmp_path):
    """A format 0 that never shipped, with `concrete` for `batch`, shows that steps are applied in turn."""
    from dataclasses import replace

    from cracktie.campaign.positions import load

    folder(tmp_path, campaign="cracktie: 0\n", specimens="specimens: {B: {concrete: C1}}\n")
    documents = {name: load(tmp_path / name) for name in ("campaign.yaml", "specimens.yaml")}
    seen = []

    def rename(given):
        seen.append("0 to 1")
        root = given["specimens.yaml"].root
        beam = root.get("specimens", "B")
        beam.items["batch"] = beam.items.pop("concrete")
        return given | {"specimens.yaml": replace(given["specimens.yaml"], root=root)}

    upgraded, problem = upgrade(documents, steps={0: rename}, newest=1)
    assert problem is None
    assert seen == ["0 to 1"]
    assert upgraded["specimens.yaml"].root.raw() == {"specimens": {"B": {"batch": "C1"}}}
    _, problem = upgrade(documents, steps={}, newest=1)
    assert "there never was a format 0" in str(problem)


def test_twelve_beams_read_in_less_than_a_third_of_a_second(tmp_path):
    more = "".join(
        SPECIMENS.replace("specimens:\n", "").replace("REF", f"R{i}").replace("U1", f"V{i}").replace("S1", f"T{i}")
        for i in range(3)
    )
    made = folder(tmp_path, specimens=SPECIMENS + more)
    assert len(read_campaign(made).specimens) == 12
    best = min(_timed(made) for _ in range(5))
    assert best < 0.3


def _timed(made) -> float:
    begin = time.perf_counter()
    read_campaign(made)
    return time.perf_counter() - begin
