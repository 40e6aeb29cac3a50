"""Real logs: what a careful reader of the files counts and sees.

LebeDigital (Bundesanstalt für Materialforschung und -prüfung, MIT licence) and CCFatiguePlatform (EPFL, MIT licence);
licence texts lie beside the files. Row numbers were counted with a text editor.
"""

from __future__ import annotations

import hashlib
from datetime import datetime

import numpy as np
import pytest

from cracktie.lab.clocks import synchronise
from cracktie.lab.read import read_log


def test_cylinder_log(logs):
    log = read_log(logs / "bam_emod_V4.dat")
    assert (log.encoding, log.delimiter, log.decimal) == ("cp1252", "\t", ",")
    assert [b.frame.shape for b in log.blocks] == [(669, 8), (2, 5)]
    first, second = log.blocks
    assert first.columns == (
        "Datum",
        "Laufzeit",
        "Ch 1 Kraft Sollwert",
        "Ch 1 Kraft",
        "Ch 1 Weg",
        "1944 B",
        "1281068",
        "2157",
    )
    assert list(first.units.values()) == ["s", "s", "kN", "kN", "mm", "mm", "mm", "mm"]
    assert second.columns == ("Ch 1 Kraft", "Ch 1 W2TK Mittel", "1944 A", "1944 B", "1281068")
    assert (first.first_line, first.last_line, second.first_line) == (16, 684, 689)
    assert first.time == "Laufzeit"
    assert first.values("Laufzeit")[[0, -1]].tolist() == [33.549805, 367.5498]
    assert first.values("Ch 1 Kraft").min() == -122.41111
    assert first.origins["Datum"] == datetime(2014, 9, 11)  # the machine's own stamp in line 13 says 11.09.2014
    assert dict(log.preamble)["Probenbezeichnung"] == "BA Los M V-4"
    assert dict(log.preamble)["Länge"] == "300,2"
    assert [q.kind for q in log.report.questions] == ["encoding"]
    assert log.report.lost == ()
    assert not log.simulated


def test_cube_log(logs):
    log = read_log(logs / "bam_cube_M01_W04.dat")
    assert [b.frame.shape for b in log.blocks] == [(2, 2), (593, 5)]
    assert log.blocks[1].values("Ch 1 Prüfkraft")[[0, -1]].tolist() == [-17.737112, 1.5002875]
    assert log.blocks[1].values("Ch 1 Prüfkraft").min() == -1314.736
    assert log.blocks[1].time == "Laufzeit"
    assert log.blocks[1].origins["Datum"] == datetime(2024, 3, 19)
    # 0.34506395 of a day is 08:16:53.5
    assert log.blocks[1].values("Tageszeit")[0] == pytest.approx(8 * 3600 + 16 * 60 + 53.5, abs=0.1)
    assert dict(log.preamble)["Länge Einfüllseite [mm]"] == "146,2"


def test_second_cylinder_log(logs):
    log = read_log(logs / "bam_wolf2.dat")
    assert [b.frame.shape for b in log.blocks] == [(2, 2), (455, 6)]
    # typed date 27.02.2015, day number of the machine 28.01.2015: both are kept, none is corrected
    assert dict(log.preamble)["Datum"] == "27.02.2015"
    assert log.blocks[1].origins["Datum"] == datetime(2015, 1, 28)


def test_epoxy_log_with_a_text_column(logs):
    log = read_log(logs / "TST_Liu_2021-12_QS_TST_2021-12_QS_001.csv")
    block = log.blocks[0]
    assert block.frame.shape == (429, 8)
    assert block.text_columns == {"Specimen Name": ("S-0.25-20-001",)}
    assert block.values("exx--1")[0] == -1.51e-05
    assert "eyy--1" in block.columns  # the header has a trailing blank
    assert block.time is None
    assert log.report.blocks[0].constant == ("Th_chamber",)
    assert log.report.questions == ()


def test_fracture_log_with_doubled_stamps(logs):
    log = read_log(logs / "TST_Wang_2020-12_QS_TST_2020-12_QS_001.csv")
    block = log.blocks[0]
    assert block.frame.height == 6717
    assert log.report.blocks[0].duplicated_times == 3358
    assert block.values("Machine_Time")[0] == 18 * 3600 + 10 * 60 + 1
    assert block.values("Machine_Displacement").max() == 1053.527
    assert block.values("Machine_Load").max() == 55.96667
    assert block.missing["Crack_Load"] == 6717 - np.isfinite(block.values("Crack_Load")).sum()
    assert np.isfinite(block.values("Crack_Load")).sum() == 36
    assert "Crack_Load" in block.columns


# What a careful engineer reads off the files: values looked up line by line in a text editor, line numbers beside them.


def notes(log):
    return [note for block in log.report.blocks for note in block.notes] + list(log.report.notes)


def only(log, words):
    (found,) = [note for note in notes(log) if words in note]
    return found


def test_cylinder_log_jumps_before_loading(logs):
    """Lines 197 and 198: at 124.0498 s the wires read 0,2247 1,1341 -0,1919 mm, half a second later -0,0001 each, and
    the force is -1,07 and -1,10 kN: set to zero while the machine held its preload."""
    told = only(read_log(logs / "bam_emod_V4.dat"), "while the load rests")
    assert "'1944 B' by -0.2248 at 124.55 s" in told
    assert "'1281068' by -1.134 at 124.55 s" in told
    assert "'2157' by +0.1918 at 124.55 s" in told


@pytest.mark.parametrize(
    ("name", "words"),
    [  # the second block of V4 ends with -123,05849 (line 690); the log reaches -122,41111
        ("bam_emod_V4.dat", "0.5% more: a peak held by the controller belongs into tests.yaml (peak_hold: 123.058 kN)"),
        # line 18 holds -1317,4683; the log reaches -1314,736
        ("bam_cube_M01_W04.dat", "0.2% more: a peak held by the controller belongs into tests.yaml (peak_hold: 1317.47 kN)"),  # noqa: E501
    ],
)  # fmt: skip
def test_the_controller_kept_a_higher_peak_than_the_log(logs, name, words):
    assert only(read_log(logs / name), "peak_hold").endswith(words)


@pytest.mark.parametrize("name", ["bam_emod_V4.dat", "bam_cube_M01_W04.dat", "bam_wolf2.dat"])
def test_compression_is_counted_negative(logs, name):
    assert "counted negative under load?" in only(read_log(logs / name), "sign: -1")


def test_typed_words_against_the_readings(logs):
    """Line 4: 27.02.2015; the rows carry day 42032 = 2015-01-28, as does the machine's stamp in line 3. Lines 8 to 10:
    100 mm, 98,6 mm, 5328 g, so 5328 / (pi 5^2 9.86) = 6.88 g/cm3."""
    log = read_log(logs / "bam_wolf2.dat")
    assert "27.02.2015, the readings are of 2015-01-28" in only(log, "which is right?")
    assert "give 6880 kg/m3" in only(log, "typed wrong")


@pytest.mark.parametrize("name", ["bam_emod_V4.dat", "bam_cube_M01_W04.dat"])
def test_typed_words_that_agree_are_not_doubted(logs, name):
    """V4: 5428,5 g, 98,5 mm, 300,2 mm give 2373 kg/m3; both typed dates are those of the machine's stamps."""
    assert not [note for note in notes(read_log(logs / name)) if "which is right" in note or "typed wrong" in note]


def test_swapped_columns_of_the_fracture_log(logs):
    """'Machine_Displacement' rises to 1053.527 and ends at 748.859, as the load of 'Crack_Load' (to 1052.951 N) does;
    'Machine_Load' grows by 1/120 a row to the end, as a crosshead does."""
    log = read_log(logs / "TST_Wang_2020-12_QS_TST_2020-12_QS_001.csv")
    assert only(log, "swapped") == (
        "'Machine_Load' never falls and 'Machine_Displacement' ends 29% below its peak: are the two columns swapped?"
    )


def test_doubled_stamps_are_spread_over_their_second(logs):
    """6717 rows over 18:10:01 to 19:05:59 are 2 a second: rows of half a second, none left doubled."""
    block = read_log(logs / "TST_Wang_2020-12_QS_TST_2020-12_QS_001.csv").blocks[0]
    steps = np.diff(block.values("Machine_Time"))
    assert np.median(steps) == 0.5
    assert steps.min() > 0.3


def test_strains_without_a_unit(logs):
    """exx--1 ends at 0,0115887: a ratio, as um/m it would be nothing."""
    found = [n for n in notes(read_log(logs / "TST_Liu_2021-12_QS_TST_2021-12_QS_001.csv")) if "a ratio (m/m)" in n]
    assert [n.split("'")[1] for n in found] == ["exx--1", "eyy--1", "exy--1"]


def test_reading_changes_no_byte(logs):
    for path in sorted(logs.iterdir()):
        if path.suffix in (".dat", ".csv"):
            before = hashlib.sha256(path.read_bytes()).hexdigest()
            assert read_log(path).sha256 == before
            assert hashlib.sha256(path.read_bytes()).hexdigest() == before


def test_the_same_real_record_on_two_clocks(logs):
    """The cylinder's force cut at row 100, thinned to every second row and moved by 7.3 s is found again."""
    block = read_log(logs / "bam_emod_V4.dat").blocks[0]
    t, force = block.values("Laufzeit"), block.values("Ch 1 Kraft")
    found = synchronise(t, force, t[100::2] - 7.3, force[100::2] * 0.98 + 4.0, max_shift=60)
    assert found.status == "accepted"
    assert abs(found.offset - 7.3) < 2 * found.u
    assert found.u < 0.5


def test_a_quiet_real_record_is_asked(logs):
    """Before loading the machine only holds: two parts of that record have nothing in common."""
    block = read_log(logs / "bam_emod_V4.dat").blocks[0]
    t, force = block.values("Laufzeit")[:90], block.values("Ch 1 Kraft")[:90]
    wire = block.values("1944 B")[90:170]
    assert synchronise(t, force, t[:80], wire, max_shift=20).status == "asked"
