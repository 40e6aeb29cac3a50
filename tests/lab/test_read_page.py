"""The page on logs does what it says."""

from __future__ import annotations

import re
import shutil

import pytest

from cracktie.campaign.choices import LogChoice

from .doc_runner import ROOT, run_page

PAGE = "docs/how-to/read-any-log.md"


@pytest.mark.slow
def test_the_page():
    said, names = run_page(PAGE)
    assert "can be day-month or month-day (dmy or mdy?)" in said
    assert "answer with `date_order: dmy` or `date_order: mdy`" in said
    assert "logger 'cabinet': 3 columns of logs/OV-03.txt, used by OV-03" in said
    assert "logger: cabinet" in said
    shutil.rmtree(names["folder"].parent)


def test_every_key_of_a_log_is_on_the_page():
    table = [line for line in (ROOT / PAGE).read_text(encoding="utf-8").splitlines() if line.startswith("| `")]
    keys = {key for line in table for key in re.findall(r"`(\w+)`", line.split("|")[1])}
    assert keys == set(LogChoice.model_fields) - {"log", "logger"}
