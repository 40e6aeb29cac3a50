"""A map saved once: the file keeps its comments and its meaning, and every log with the same words names the logger."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from cracktie.actions import open_campaign
from cracktie.campaign.loggers import NoMap, save_map
from cracktie.cli import main
from cracktie.demo.write import write_demo
from cracktie.errors import InputRefused
from cracktie.units import UnitError

TEXT = """# choices of this campaign
tests:
  OV-01:
    zeros:
      - {start: 3 s, end: 27 s}   # quiet rows
  OV-08:
    logs:
      # the old logger in the cabinet
      - log: logs/OV-08_cabinet.txt
        time: Clock
        encoding: cp1252
        map: {K01: P, K02: TH, K03: S1F1}
        clock_offset: 2 s
  OV-12-B:
    logs:
      - {log: logs/OV-12-B_cabinet.txt, time: Clock, encoding: cp1252, map: {K01: P, K02: TH, K03: S1F1}}
  OV-03:
    logs:
      - log: logs/OV-03.txt
        map: {K01: P, K02: DF}
"""


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return write_demo(tmp_path_factory.mktemp("loggers") / "demo")


@pytest.fixture
def folder(tmp_path, demo):
    """The demo with other choices on its logs."""
    made = Path(shutil.copytree(demo, tmp_path / "demo"))
    (made / "reduction.yaml").write_text(TEXT, encoding="utf-8")
    return made


def test_a_map_moves_to_its_logger(folder):
    before = open_campaign(folder).reduction
    (told,) = save_map(open_campaign(folder), "OV-08", "cabinet")
    assert told == "logger 'cabinet': 3 columns of logs/OV-08_cabinet.txt, used by OV-08, OV-12-B"
    after = open_campaign(folder).reduction
    logger = after.loggers["cabinet"]
    assert (logger.map, logger.time, logger.encoding) == ({"K01": "P", "K02": "TH", "K03": "S1F1"}, "Clock", "cp1252")
    for test in ("OV-08", "OV-12-B"):
        (log,) = after.tests[test].logs
        assert (log.logger, log.map, log.time, log.encoding) == ("cabinet", {}, None, None)
        assert log.clock_offset == before.tests[test].logs[0].clock_offset
    assert after.tests["OV-03"] == before.tests["OV-03"]
    text = (folder / "reduction.yaml").read_text(encoding="utf-8")
    for comment in ("# choices of this campaign", "# quiet rows", "# the old logger in the cabinet"):
        assert comment in text


def test_saving_again_finds_nothing_and_says_so(folder):
    save_map(open_campaign(folder), "OV-08", "cabinet")
    with pytest.raises(NoMap, match="its logs name cabinet"):
        save_map(open_campaign(folder), "OV-08", "cabinet")


@pytest.mark.slow
def test_a_name_with_other_words_is_kept(folder):
    save_map(open_campaign(folder), "OV-08", "cabinet")
    with pytest.raises(UnitError, match="already with other words"):
        save_map(open_campaign(folder), "OV-03", "cabinet")
    (told,) = save_map(open_campaign(folder), "OV-03")
    assert told.startswith("logger 'logger': 2 columns")


@pytest.mark.parametrize(
    ("test", "words"), [("OV-01", "has no map in reduction.yaml"), ("OV-88", "no test 'OV-88'; did you mean 'OV-08'?")]
)
def test_no_map_to_save(folder, test, words):
    text = (folder / "reduction.yaml").read_bytes()
    with pytest.raises(NoMap) as caught:
        save_map(open_campaign(folder), test)
    assert words in str(caught.value)
    assert (folder / "reduction.yaml").read_bytes() == text


def test_an_unknown_logger_is_refused_with_a_near_name(folder):
    save_map(open_campaign(folder), "OV-08", "cabinet")
    path = folder / "reduction.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("logger: cabinet", "logger: cabinett"), encoding="utf-8")
    with pytest.raises(InputRefused, match="no such logger; did you mean 'cabinet'"):
        open_campaign(folder)


@pytest.mark.slow
def test_the_command_tells_what_it_kept(folder, capsys):
    assert main(["reduce", str(folder), "--save-map", "OV-08=cabinet"]) == 0
    assert "logger 'cabinet': 3 columns of logs/OV-08_cabinet.txt" in capsys.readouterr().out
    assert "cabinet" in open_campaign(folder).reduction.loggers


def test_a_segment_is_a_number_or_all(folder):
    path = folder / "reduction.yaml"
    path.write_text(TEXT.replace("clock_offset: 2 s", "segment: first"), encoding="utf-8")
    with pytest.raises(InputRefused, match="segment"):
        open_campaign(folder)
