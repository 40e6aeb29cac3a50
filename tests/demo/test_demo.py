"""The demo campaign: valid, balanced, invented, written the same way twice."""

import hashlib
import itertools
import json
import shutil
from pathlib import Path

import pytest

from cracktie.campaign.factors import confounded, contrasted
from cracktie.campaign.read import read_campaign
from cracktie.demo.write import SHIPPED_SEED, TRUTH_FILE, demo_files, write_demo
from cracktie.errors import FileTrouble, InputRefused

FRACTION = ("OV-05", "OV-06", "OV-07", "OV-08")


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return write_demo(tmp_path_factory.mktemp("demo") / "ollervane")


@pytest.fixture(scope="module")
def campaign(demo):
    return read_campaign(demo)


@pytest.fixture(scope="module")
def truth(demo):
    return json.loads((demo / TRUTH_FILE).read_text(encoding="utf-8"))


def _hashes(folder: Path) -> dict[str, str]:
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def test_the_reader_finds_nothing_to_complain_about(campaign):
    assert [str(w) for w in campaign.warnings] == []
    assert len(campaign.specimens) == 12
    assert len(campaign.tests) == 14


def test_same_seed_same_bytes_other_seed_other_logs(demo, tmp_path):
    again = _hashes(write_demo(tmp_path / "again"))
    assert again == _hashes(demo)
    other = _hashes(write_demo(tmp_path / "other", seed=SHIPPED_SEED + 1))
    assert set(other) == set(again)
    changed = {name for name in again if again[name] != other[name]}
    assert changed == {name for name in again if name.startswith("logs/")} | {TRUTH_FILE}


def test_a_folder_with_a_file_is_refused_and_left_alone(tmp_path):
    kept = tmp_path / "mine.txt"
    kept.write_text("mine", encoding="utf-8")
    with pytest.raises(InputRefused, match="is not empty"):
        write_demo(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
    with pytest.raises(InputRefused, match="is a file"):
        write_demo(kept)


def test_a_demo_that_cannot_be_finished_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(path, data):
        if "OV-05" in str(path):
            raise FileTrouble("the disk is full")
        Path(path).write_bytes(data)

    monkeypatch.setattr("cracktie.demo.write.write_bytes", full)
    (tmp_path / "there").mkdir()
    for name in ("new", "there"):
        with pytest.raises(FileTrouble, match="full"):
            write_demo(tmp_path / name)
    assert [p.name for p in tmp_path.rglob("*")] == ["there"]


def test_everything_says_that_it_is_invented(demo, campaign, truth):
    assert campaign.head.invented
    assert "invented" in campaign.head.title
    assert all(b"INVENTED" in data.splitlines()[0] for data in demo_files().values())
    assert truth["simulated"] is True
    assert truth["note"].startswith("Invented")
    logs = sorted((demo / "logs").iterdir())
    assert len(logs) == 16
    assert all(b"simulated" in log.read_bytes().splitlines()[0] for log in logs)


def test_every_log_is_named_by_a_test_and_none_is_empty(demo, campaign):
    named = [name for test in campaign.tests.values() for name in test.logs]
    assert sorted(named) == sorted(p.relative_to(demo).as_posix() for p in (demo / "logs").iterdir())
    assert all((demo / name).stat().st_size > 100_000 for name in named)


def test_replicates_and_references(campaign):
    assert campaign.groups["control"] == ("OV-01", "OV-02")
    assert campaign.groups["u-wrap"] == ("OV-03", "OV-04")
    assert campaign.groups["full-anchor"] == ("OV-08", "OV-09", "OV-10")
    for group in ("control", "u-wrap"):
        assert {campaign.specimen(id).batch for id in campaign.groups[group]} == {"mix-1", "mix-2"}
    assert {campaign.specimen(id).batch for id in FRACTION} == {"mix-2"}


def test_the_fraction_is_balanced_and_its_columns_are_orthogonal(campaign):
    signs = {}
    for name, factor in campaign.head.factors.items():
        levels = contrasted(campaign, factor)
        low, high = (set(ids) & set(FRACTION) for ids in levels.values())
        assert len(low) == len(high) == 2, name
        signs[name] = [1 if id in high else -1 for id in FRACTION]
    for one, two in itertools.combinations(signs, 2):
        assert sum(a * b for a, b in zip(signs[one], signs[two], strict=True)) == 0, (one, two)
    products = [a * b * c for a, b, c in zip(*signs.values(), strict=True)]
    assert products == [1, 1, 1, 1]  # I = ABC: each main effect aliased with the interaction of the others


def test_a_single_factor_of_the_fraction_is_told_to_be_confounded(campaign):
    """Between two runs of a half fraction two factors change at once; the reader's own check must say so."""
    assert any("confounded" in str(p) for p in confounded(campaign, "bend"))


def test_special_beams(campaign, truth):
    assert campaign.tests["OV-11"].outcome == "flexure"
    assert truth["tests"]["OV-11"]["mode"] == "flexure"
    few, usual = campaign.specimen("OV-11"), campaign.specimen("OV-08")
    assert sum(b.bars.total for b in few.tension_bars) < 0.5 * sum(b.bars.total for b in usual.tension_bars)
    assert campaign.tests["OV-10"].state == "precracked"
    assert campaign.tests["OV-12-A"].studied == "A"
    assert campaign.tests["OV-12-B"].studied == "B"
    assert campaign.tests["OV-12-B"].state == "retest"
    assert campaign.tests["OV-10-pre"].outcome == "stopped"
    shear = {n for n, t in campaign.tests.items() if t.outcome == "shear in studied span"}
    assert {n for n, t in truth["tests"].items() if t["mode"] == "shear"} == shear


def test_a_loading_before_the_strengthening_is_allowed_only_before_a_precracked_one(campaign, demo, tmp_path):
    """OV-10 was cracked bare on 2024-05-17 and strengthened on 2024-05-24."""
    assert campaign.specimen("OV-10").strengthened == "2024-05-24"
    assert campaign.tests["OV-10-pre"].date == "2024-05-17"
    assert campaign.bare("OV-10-pre")
    assert not campaign.bare("OV-10")
    broken = tmp_path / "broken"
    shutil.copytree(demo, broken)
    tests = broken / "tests.yaml"
    tests.write_text(tests.read_text(encoding="utf-8").replace("state: precracked", "state: virgin"), encoding="utf-8")
    with pytest.raises(InputRefused, match="before the strengthening on 2024-05-24"):
        read_campaign(broken)


def test_bending_governs_the_lower_bound_by_hand_calculation(campaign, truth):
    """Rectangular block of 0.85 f_c in the flange, steel at its measured yield strength; M = V a."""
    f_y, f_c, a = 541.0, truth["tests"]["OV-11"]["f_c"], 1040.0
    areas = {378.0: 2 * 3.14159265 * 16**2 / 4, 340.0: 2 * 3.14159265 * 12**2 / 4}
    force = f_y * sum(areas.values())
    block = force / (0.85 * f_c * 480.0)
    moment = sum(f_y * area * depth for depth, area in areas.items()) - force * block / 2
    assert moment / a == pytest.approx(114e3, rel=0.01)  # what the note of OV-11 says
    assert moment / a < 0.85 * truth["tests"]["OV-11"]["V_shear"]


def test_observed_loads_do_not_pass_the_largest_reading(campaign, truth):
    """Loads were read from the cell when the mark was made; within half a per cent of the true peak."""
    largest = {n: t["P_max"] * (1 + t["instrument_errors"]["cell_gain"]) for n, t in truth["tests"].items()}
    seen = 0
    for observed in campaign.observations.specimens.values():
        for mode in (*observed.failure_modes, *observed.crack_lines):
            seen += 1
            assert 0 < mode.load <= largest[mode.test]
    assert seen > 50


def test_the_lost_gauges_of_the_reduction_file_are_the_planted_ones(campaign, truth):
    for name, planted in truth["tests"].items():
        chosen = campaign.reduction.tests[name].excluded
        assert {e.channel for e in chosen} == set(planted["lost_gauges"])
        for entry in chosen:
            assert 0 <= planted["lost_gauges"][entry.channel] - entry.after < 3


def test_channel_maps_of_the_cabinet_logger_name_every_column(demo, campaign):
    logs = [log for test in campaign.tests.values() for log in test.logs if log.endswith(".txt")]
    assert len(logs) == 4
    loggers = campaign.reduction.loggers
    known = {(logger.time, *logger.map) for logger in loggers.values()}
    assert len(known) == len(loggers) == 2
    for log in logs:
        header = next(
            line for line in (demo / log).read_text(encoding="latin-1").splitlines() if line.startswith("Clock")
        )
        assert tuple(cell.split(" [")[0] for cell in header.split(";")) in known


def test_the_page_on_the_demo_names_every_beam_and_special_test(campaign):
    page = (Path(__file__).parents[2] / "docs" / "demo.md").read_text(encoding="utf-8")
    listed = {f"OV-{n:02d}" for n in (6, 7)}  # inside "OV-05 to OV-08"
    assert {id for id in campaign.specimens if id not in page} <= listed
    assert all(name in page for name in campaign.tests if name not in campaign.specimens)
    steel = [sum(b.bars.total for b in campaign.specimen(id).tension_bars) for id in ("OV-11", "OV-08")]
    assert f"{100 * steel[0] / steel[1]:.0f} % of the longitudinal steel" in page
