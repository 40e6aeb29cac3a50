from __future__ import annotations

import csv
import io

import pytest

from cracktie.campaign.groups import differences
from cracktie.campaign.read import read_campaign
from cracktie.campaign.table import read_table, specimens_of, table_csv, table_of
from cracktie.campaign.write import dump_yaml
from cracktie.errors import FileTrouble, InputRefused

from .beams import SPECIMENS, folder

MORE = """\
  I1:
    like: S1
    label: "a, label; with: signs"
    note: third of five
    batch: C2
    cast: 2026-03-05
    section: {shape: I, b_w: 7.874 in, b_flange: 400 mm, h_flange: 80 mm, b_bottom: 300 mm, h_bottom: 70 mm}
    bars:
      - {bars: 3 x No. 6, depth: 350 mm, material: B500}
      - {bars: 2 x 12 mm, depth: 50 mm, material: B500}
    spans:
      A:
        wrap: {spacing: none, first: none, positions: "150, 280.5, 400 mm", top_edge: 300 mm, beta: 60 deg}
        anchors: {strips: [1, 3], z: 300 mm, fan: {patch: true}, embedment: 60 +- 2 mm}
    crack_angle: 33.3 deg
    scatter: 8 %
"""


def test_a_table_written_and_read_back_gives_the_same_specimens(tmp_path):
    first = read_campaign(folder(tmp_path / "one", specimens=SPECIMENS + MORE))
    rows = list(csv.reader(io.StringIO(table_csv(first))))
    assert rows == table_of(first)
    text = dump_yaml({"specimens": specimens_of(rows)})
    second = read_campaign(folder(tmp_path / "two", specimens=text))
    assert second.specimens == first.specimens
    assert second.groups == first.groups
    assert second.specimens["I1"].spans["A"].anchors.embedment.u == 2.0
    assert all(not differences(first.specimens[id], second.specimens[id]) for id in first.specimens)
    assert table_of(second) == rows


def test_headers_follow_the_schema_and_carry_units(tmp_path):
    head = table_of(read_campaign(folder(tmp_path)))[0]
    assert head[:8] == [
        "id", "batch", "section.b_w [mm]", "section.h [mm]", "between_loads [mm]",
        "bars.1.bars", "bars.1.depth [mm]", "bars.1.material",
    ]  # fmt: skip
    assert "spans.A.wrap.width [mm]" in head
    assert "spans.A.anchors.fibre_area [mm2]" in head
    assert "spans.A.anchors.bend_angle [deg]" not in head  # all at the default


SHORT = """\
id;batch;b_w [mm];h [in];bars.1.bars;bars.1.depth [mm];bars.1.material;A.length [mm];B.length;\
A.wrap.system;A.wrap.scheme;A.wrap.layout
012;C1;200;16;3 x 20 mm;350;B500;900;900 mm;;;
B2;C1;200 mm;16;3 x 20 mm;350;B500;900;900 mm;CF;u;continuous

"""


def test_short_headers_semicolons_and_own_units(tmp_path):
    path = tmp_path / "t.csv"
    path.write_bytes(("\ufeff" + SHORT).replace("\n", "\r\n").encode())
    made = specimens_of(read_table(path))
    assert made["012"]["section"] == {"b_w": "200 mm", "h": "16 in"}
    assert made["B2"]["section"]["b_w"] == "200 mm"
    assert "wrap" not in made["012"]["spans"]["A"]
    assert made["B2"]["spans"]["A"]["wrap"] == {"system": "CF", "scheme": "u", "layout": "continuous"}


def test_spreadsheets_give_the_same_as_text(tmp_path):
    import openpyxl

    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO(SHORT), delimiter=";"):
        book.active.append([float(c) if c in ("200", "350", "900", "16") else c for c in row])
    book.save(tmp_path / "t.xlsx")
    (tmp_path / "t.csv").write_text(SHORT)
    assert specimens_of(read_table(tmp_path / "t.xlsx")) == specimens_of(read_table(tmp_path / "t.csv"))


def test_all_slips_of_a_table_come_at_once_with_row_and_column(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text(SHORT.replace("012;C1;200;", "012;C1;2oo;").replace("CF;u;", "CF;w;").replace("900 mm", "900"))
    with pytest.raises(InputRefused) as caught:
        specimens_of(read_table(path), "t.csv")
    assert [str(p) for p in caught.value.problems] == [
        "t.csv:2:3: section.b_w = '2oo mm': not a number followed by a unit; write for example '60 mm'",
        "t.csv:2:9: spans.B.length = '900': the unit is missing; write for example '900 mm'",
        "t.csv:3:9: spans.B.length = '900': the unit is missing; write for example '900 mm'",
        "t.csv:3:11: spans.A.wrap.scheme = 'w': none of the possible words; possible: side, u, full",
    ]


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        ("id,b_ww [mm]", "t:1:2: b_ww [mm]: unknown column; did you mean 'b_w'?"),
        ("id,wrap.width [mm]", "t:1:2: wrap.width [mm]: unknown column; name the span: A.wrap.width or B.wrap.width"),
        ("id,A.wrap.widht", "t:1:2: A.wrap.widht: unknown column; did you mean 'width'?"),
        ("id,b_w [mm],section.b_w [in]", "t:1:3: section.b_w [in]: the column stands twice; delete one"),
        ("id,bathc", "t:1:2: bathc: unknown column; did you mean 'batch'?"),
        ("batch,b_w [mm]", "t:1: there is no column id; add one: it names the specimens"),
    ],
)
def test_faulty_headers(head, expected):
    with pytest.raises(InputRefused) as caught:
        specimens_of([head.split(","), ["B1", "1"]], "t")
    assert str(caught.value.problems[0]) == expected


def test_ids_twice_no_rows_no_file(tmp_path):
    rows = list(csv.reader(io.StringIO(SHORT.replace("B2;", "012;")), delimiter=";"))
    with pytest.raises(InputRefused, match="the id '012' stands twice; rename one"):
        specimens_of(rows)
    with pytest.raises(InputRefused, match="holds no specimen; write a row of headers"):
        specimens_of([["id"]])
    with pytest.raises(FileTrouble, match="cannot be read"):
        read_table(tmp_path / "none.csv")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\x03\x04 no book")
    with pytest.raises(InputRefused, match="no spreadsheet that can be read"):
        read_table(tmp_path / "broken.xlsx")
