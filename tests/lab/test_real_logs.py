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
