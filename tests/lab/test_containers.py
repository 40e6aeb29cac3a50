"""Containers written by their own libraries and read back; missing packages and damaged files in one clear line."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from cracktie.errors import InputRefused
from cracktie.lab.read import read_log

T = np.arange(50) / 10.0
P = np.linspace(0, 120, 50)


def test_tdms(tmp_path):
    nptdms = pytest.importorskip("nptdms")
    path = tmp_path / "beam.tdms"
    with nptdms.TdmsWriter(path) as writer:
        writer.write_segment([
            nptdms.RootObject({"operator": "none"}),
            nptdms.ChannelObject("rig", "P", P, {"unit_string": "kN", "wf_increment": 0.1, "wf_start_offset": 2.0}),
            nptdms.ChannelObject("rig", "D", P / 10, {"unit_string": "mm", "wf_increment": 0.1}),
            nptdms.ChannelObject("rig", "slow", P[:5], {"unit_string": "degC"}),
        ])  # fmt: skip
    log = read_log(path)
    fast, slow = log.blocks
    assert fast.columns == ("time", "P", "D")
    assert fast.time == "time"
    assert fast.units["P"] == "kN"
    np.testing.assert_array_equal(fast.values("P"), P)
    np.testing.assert_allclose(fast.values("time"), 2.0 + T)
    assert slow.columns == ("slow",)
    assert dict(log.preamble)["operator"] == "none"
    assert log.report.rows_kept == 55


def test_mdf(tmp_path):
    asammdf = pytest.importorskip("asammdf")
    path = tmp_path / "beam.mf4"
    with asammdf.MDF() as file:
        signals = [asammdf.Signal(P, T, unit="kN", name="P"), asammdf.Signal(P / 10, T, unit="mm", name="D")]
        file.append(signals)
        file.append([asammdf.Signal(P[:5], T[:5], unit="degC", name="slow")])
        file.save(path)
    log = read_log(path)
    assert [b.columns for b in log.blocks] == [("time", "P", "D"), ("time", "slow")]
    assert log.blocks[0].units == {"time": "s", "P": "kN", "D": "mm"}
    np.testing.assert_allclose(log.blocks[0].values("time"), T)
    np.testing.assert_array_equal(log.blocks[0].values("P"), P)


def test_matlab(tmp_path):
    from scipy.io import savemat

    path = tmp_path / "beam.mat"
    savemat(path, {"t": T, "P": P[:, None], "gauges": np.column_stack([P, 2 * P]), "rig": "Simulated by Cracktie"})
    log = read_log(path)
    (block,) = log.blocks
    assert block.columns == ("t", "P", "gauges_1", "gauges_2")
    assert block.time is None or block.time == "t"
    np.testing.assert_array_equal(block.values("gauges_2"), 2 * P)
    assert log.simulated
    assert dict(log.preamble)["rig"].startswith("Simulated")


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
