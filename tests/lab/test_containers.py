"""Containers written by their own libraries and by MATLAB itself; missing packages and damaged files in clear words."""

from __future__ import annotations

import importlib.util
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import scipy.io.matlab

from cracktie.errors import InputRefused
from cracktie.lab.read import read_log

T = np.arange(50) / 10.0
P = np.linspace(0, 120, 50)
START = datetime(2024, 3, 15, 10, 0)
TDMS = importlib.util.find_spec("nptdms")
TDMS_FILES = Path(TDMS.origin).parent / "test" / "data" if TDMS and TDMS.origin else Path("none")
MATLAB_FILES = Path(scipy.io.matlab.__file__).parent / "tests" / "data"


def tdms(path, *channels):
    nptdms = pytest.importorskip("nptdms")
    objects = [nptdms.RootObject({"operator": "none"})]
    with nptdms.TdmsWriter(path) as writer:
        writer.write_segment([*objects, *(nptdms.ChannelObject(*channel) for channel in channels)])
    return read_log(path)


def test_tdms_clocks_of_one_group(tmp_path):
    """Step and offset make the time; a start left open is that of the neighbour, another rate is another block."""
    log = tdms(
        tmp_path / "beam.tdms",
        ("rig", "P", P, {"unit_string": "kN", "wf_increment": 0.1, "wf_start_offset": 2.0,
                         "wf_start_time": np.datetime64(START)}),
        ("rig", "D [mm]", P / 10, {"wf_increment": 0.1}),
        ("rig", "quick", P, {"wf_increment": 0.02}),
        ("rig", "slow", P[:5], {"unit_string": "°C"}),
    )  # fmt: skip
    first, quick, slow = log.blocks
    assert first.columns == ("time", "P", "D")
    assert dict(first.units) == {"time": "s", "P": "kN", "D": "mm"}
    assert (first.time, dict(first.origins)) == ("time", {"time": START})
    np.testing.assert_array_equal(first.values("P"), P)
    np.testing.assert_allclose(first.values("time"), 2.0 + T, rtol=0, atol=1e-12)
    np.testing.assert_allclose(quick.values("time"), T / 5, rtol=0, atol=1e-12)
    assert (slow.columns, slow.units["slow"]) == (("slow",), "degC")
    assert dict(log.preamble)["operator"] == "none"
    assert log.report.rows_kept == 105


def test_tdms_scaled_integers_stamps_texts_and_truth(tmp_path):
    counts = np.arange(50, dtype=np.int16)
    scale = {"NI_Number_Of_Scales": 1, "NI_Scaling_Status": "unscaled", "NI_Scale[0]_Scale_Type": "Linear",
             "NI_Scale[0]_Linear_Slope": 0.25, "NI_Scale[0]_Linear_Y_Intercept": -3.0,
             "NI_Scale[0]_Linear_Input_Source": 0xFFFFFFFF}  # fmt: skip
    broken = {**scale, "NI_Scale[0]_Linear_Input_Source": 7}
    stamps = np.datetime64(START, "us") + np.round(T * 1e6).astype("timedelta64[us]")
    (block,) = (log := tdms(
        tmp_path / "beam.tdms",
        ("rig", "Time", stamps),
        ("rig", "P", counts, scale),
        ("rig", "bad", counts, broken),
        ("rig", "door", P > 60),
        ("rig", "state", ["idle", "load"] * 25),
    )).blocks  # fmt: skip
    np.testing.assert_allclose(block.values("P"), 0.25 * counts - 3.0)
    np.testing.assert_allclose(block.values("Time"), T, rtol=0, atol=1e-9)
    assert (block.time, dict(block.origins)) == ("Time", {"Time": START})
    assert block.values("door").tolist() == (P > 60).astype(float).tolist()
    assert dict(block.text_columns) == {"state": ("idle", "load")}
    assert any("'bad' cannot be read" in note for note in log.report.notes)


@pytest.mark.parametrize("path", sorted(TDMS_FILES.glob("*.tdms")), ids=lambda p: p.name)
def test_files_of_real_tdms_loggers_are_read(path):
    """Files of real loggers (shipped with nptdms): big endian, raw stamps, digital input."""
    pytest.importorskip("nptdms")
    log = read_log(path)
    assert log.report.rows_kept == sum(b.frame.height for b in log.blocks) > 0


def test_tdms_without_readings(tmp_path):
    with pytest.raises(InputRefused, match="without numeric channels"):
        tdms(tmp_path / "beam.tdms", ("rig", "words", ["a", "b"]))


def test_mdf_groups_units_texts_invalid_cells_and_start(tmp_path):
    asammdf = pytest.importorskip("asammdf")
    path = tmp_path / "beam.mf4"
    invalid = np.zeros(50, dtype=bool)
    invalid[3] = True
    words = {"val_0": 0, "text_0": b"hold", "val_1": 1, "text_1": b"load"}
    with asammdf.MDF() as file:
        file.start_time = START.replace(tzinfo=UTC)
        rig = [
            asammdf.Signal(P, T, unit="kN", name="P", invalidation_bits=invalid),
            asammdf.Signal((P * 10).astype(np.uint16), T, unit="mm", name="D", conversion={"a": 0.1, "b": -2.0}),
            asammdf.Signal(np.arange(50, dtype=np.uint8) % 2, T, name="stage", conversion=words),
            asammdf.Signal(np.array([b"operator"] * 50), T, name="who", encoding="utf-8"),
        ]
        file.append(rig, acq_name="cabinet")
        file.append([asammdf.Signal(P[:5], T[:5], unit="degC", name="P")])
        file.save(path)
    log = read_log(path)
    first, second = log.blocks
    assert (first.name, first.columns, second.columns) == ("cabinet", ("time", "P", "D"), ("time", "P"))
    assert dict(first.units) == {"time": "s", "P": "kN", "D": "mm"}
    assert (second.units["P"], dict(first.origins)) == ("degC", {"time": START})
    assert np.flatnonzero(np.isnan(first.values("P"))).tolist() == [3]
    np.testing.assert_allclose(first.values("D"), 0.1 * (P * 10).astype(np.uint16) - 2.0)
    assert dict(first.text_columns) == {"stage": ("hold", "load"), "who": ("operator",)}


def test_matlab_structures_matrices_and_properties(tmp_path):
    from scipy.io import savemat

    path = tmp_path / "beam.mat"
    rig = {"t": T, "P_kN": P[:, None], "gauges": np.column_stack([P, 2 * P]), "who": "Simulated by Cracktie"}
    savemat(path, {"rig": rig, "z": P + 1j, "area": 3.0, "cells": np.array(["a", P], dtype=object)})
    log = read_log(path)
    (block,) = log.blocks
    assert block.columns == ("rig.t", "rig.P", "rig.gauges_1", "rig.gauges_2")
    assert (block.time, block.units["rig.P"]) == ("rig.t", "kN")
    np.testing.assert_array_equal(block.values("rig.gauges_2"), 2 * P)
    assert log.simulated
    assert dict(log.preamble)["area"] == "3.0"
    assert {note.split("'")[1] for note in log.report.notes if "left out" in note} == {"z", "cells"}


@pytest.mark.parametrize("name", sorted(p.name for p in MATLAB_FILES.glob("testdouble_*.mat")))
def test_files_written_by_matlab(name):
    """Every version of MATLAB that wrote these files (shipped with scipy) stored 0, pi/4, ... 2 pi as `testdouble`."""
    log = read_log(MATLAB_FILES / name)
    np.testing.assert_allclose(log.blocks[0].values("testdouble"), np.linspace(0, 2 * np.pi, 9), rtol=1e-15)


@pytest.mark.parametrize("path", sorted(MATLAB_FILES.glob("*.mat")), ids=lambda p: p.name)
def test_any_file_of_matlab_is_read_or_refused_in_words(path):
    refusal = None
    try:
        log = read_log(path)
    except InputRefused as caught:
        refusal = caught
    if refusal is not None:
        assert refusal.problems[0].file == path.name
        assert refusal.problems[0].fix
        return
    assert log.report.rows_kept == sum(b.frame.height for b in log.blocks) > 0


def test_hdf5_of_matlab_is_refused_with_a_way_out():
    with pytest.raises(InputRefused, match=r"MATLAB 7\.3 files \(HDF5\) are not read.*-v7"):
        read_log(MATLAB_FILES / "testhdf5_7.4_GLNX86.mat")


@pytest.mark.parametrize(
    ("package", "start", "word"), [("nptdms", b"TDSm", "TDMS"), ("asammdf", b"MDF     4.10", "MDF")]
)
def test_a_missing_package_is_named(tmp_path, monkeypatch, package, start, word):
    monkeypatch.setitem(sys.modules, package, None)
    path = tmp_path / "beam.bin"
    path.write_bytes(start + b"\0" * 100)
    with pytest.raises(InputRefused, match=f"{word} files need the package {package}.*pip install {package}"):
        read_log(path)


@pytest.mark.parametrize("start", [b"TDSm", b"MDF     4.10", b"MATLAB 5.0 MAT-file", b"MATLAB 7.3 MAT-file"])
@pytest.mark.parametrize("rest", [b"", b"\0" * 200, bytes(range(256)) * 8])
def test_damaged_containers_are_refused(tmp_path, start, rest):
    path = tmp_path / "beam.bin"
    path.write_bytes(start + rest)
    before = path.read_bytes()
    with pytest.raises(InputRefused, match=r"beam\.bin"):
        read_log(path)
    assert path.read_bytes() == before
