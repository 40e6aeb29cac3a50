"""The log reader: planted logs with every fault on and off must give the planted numbers, or say why not."""

from __future__ import annotations

import gzip
import hashlib
import io
import itertools
import sys
import zipfile
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from cracktie.errors import FileTrouble, InputRefused, UnknownName
from cracktie.lab.read import read_log, read_log_bytes

sys.path.insert(0, str(Path(__file__).parent))
from make_logs import HEADER, truth, write

NAMES = ("time", "load", "deflection", "e1")
UNITS = ("s", "kN", "mm", "um/m")


def read(text: str | bytes, **options):
    raw = text if isinstance(text, bytes) else text.encode("utf-8")
    return read_log_bytes(raw, "log.txt", **options)


def assert_planted(log, planted, skip=()):
    block = log.blocks[0]
    assert block.columns == NAMES
    for name, expected in zip(NAMES, planted.columns(), strict=True):
        found = block.values(name)
        keep = np.ones(len(expected), dtype=bool)
        keep[[i for i, j in skip if NAMES[j] == name]] = False
        np.testing.assert_array_equal(found[keep], expected[keep])
        assert np.isnan(found[~keep]).all()


@pytest.mark.parametrize("delimiter", ["\t", ";", ",", "|", " "])
@pytest.mark.parametrize("decimal", [".", ","])
def test_delimiter_and_decimal_are_found(delimiter, decimal):
    if delimiter == decimal:
        pytest.skip("a mark cannot be both")
    header = tuple(h.replace(" ", "") for h in HEADER)
    planted = truth()
    log = read(write(planted, delimiter=delimiter, decimal=decimal, header=header))
    assert (log.delimiter, log.decimal) == (delimiter, decimal)
    assert_planted(log, planted)
    assert tuple(log.blocks[0].units.values()) == UNITS
    assert log.blocks[0].time == "time"
    assert not log.report.questions


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(codec, end):
    planted = truth()
    text = write(
        planted, header=("time [s]", "load [kN]", "deflection [mm]", "e1 [µm/m]"), preamble=("Prüfung: März",), end=end
    )
    log = read(text.encode(codec))
    assert_planted(log, planted)
    assert log.blocks[0].units["e1"] == "um/m"
    assert log.preamble == (("Prüfung", "März"),)
    guessed = codec in ("cp1252", "utf-16-le", "utf-16-be")
    assert bool(log.report.questions) == guessed
    if guessed:
        assert log.report.questions[0].kind == "encoding"


def test_unit_row_below_the_header():
    planted = truth()
    for row in (UNITS, ("[s]", "[kN]", "[mm]", "[µm/m]"), ("(s)", "(kN)", "(mm)", "(um/m)")):
        log = read(write(planted, header=NAMES, unit_row=row))
        assert_planted(log, planted)
        assert tuple(log.blocks[0].units.values()) == UNITS


def test_no_header_numbers_the_columns():
    log = read(write(truth(), header=None))
    assert log.blocks[0].columns == ("column_1", "column_2", "column_3", "column_4")
    assert any("no header" in note for note in log.report.notes)


def test_preamble_does_not_become_readings():
    planted = truth()
    preamble = (
        "Test rig 4",
        "Date: 11.09.2014 13:31:54",
        "Rate;0.5;mm/min",
        "Specimen: S-12",
        "Channels: 4",
        "2024",
        "",
    )
    log = read(write(planted, preamble=preamble))
    assert_planted(log, planted)
    assert ("Specimen", "S-12") in log.preamble
    assert ("Rate", "0.5 mm/min") in log.preamble
    assert log.blocks[0].first_line == len(preamble) + 2


MISSING_WORDS = ["", "NaN", "-", "OVER", "#####", "9.9E37", "1E+38", "-9.91E+37", "n/a", "--", "inf", "O.L"]


@pytest.mark.parametrize("word", MISSING_WORDS)
@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_missing_words_are_missing_readings(word, delimiter):
    planted = truth()
    spoiled = {(7, 3), (8, 3), (50, 1), (119, 3)}
    log = read(write(planted, delimiter=delimiter, cell=lambda i, j, text: word if (i, j) in spoiled else text))
    assert_planted(log, planted, spoiled)
    assert log.blocks[0].missing == {"time": 0, "load": 1, "deflection": 0, "e1": 3}
    over = log.report.blocks[0].over_range
    assert over == ({"load": 1, "e1": 3} if word in ("OVER", "9.9E37", "1E+38", "-9.91E+37", "inf", "O.L") else {})
    assert not log.report.blocks[0].unreadable


def test_a_channel_of_missing_words_only_keeps_its_rows():
    log = read(write(truth(), cell=lambda i, j, text: "OVER" if j else text))
    assert log.blocks[0].frame.height == 120
    assert set(log.report.blocks[0].empty) == {"load", "deflection", "e1"}


def test_unreadable_cells_are_counted_and_shown():
    log = read(write(truth(), cell=lambda i, j, text: "4x1" if (i, j) == (33, 1) else text))
    assert log.report.blocks[0].unreadable == {"load": (1, ("4x1",))}
    assert np.isnan(log.blocks[0].values("load")[33])


def test_other_decimal_mark_in_one_cell_is_not_guessed():
    log = read(write(truth(), decimal=",", cell=lambda i, j, text: "1.234" if (i, j) == (33, 1) else text))
    assert np.isnan(log.blocks[0].values("load")[33])
    assert log.report.blocks[0].unreadable == {"load": (1, ("1.234",))}


def test_thousands_marks_only_where_both_marks_stand():
    log = read(write(truth(), decimal=",", cell=lambda i, j, text: "1.234,5" if (i, j) == (33, 1) else text))
    assert log.blocks[0].values("load")[33] == 1234.5
    log = read(write(truth(), delimiter="\t", cell=lambda i, j, text: "1,234.5" if (i, j) == (33, 1) else text))
    assert log.blocks[0].values("load")[33] == 1234.5


def test_three_digits_after_every_comma_are_asked():
    log = read("\n".join(f"{i + 1}\t{i + 1},{i + 100:03d}" for i in range(20)) + "\n")
    assert [q.kind for q in log.report.questions] == ["decimal"]
    assert "three digits" in str(log.report.questions[0])


def test_two_numbers_and_one_comma_are_asked():
    log = read("\n".join(f"{i},{i % 10}" for i in range(30)) + "\n")
    assert [q.kind for q in log.report.questions] == ["decimal"]


def test_one_name_above_numbers_with_one_comma_speaks_for_decimals():
    log = read("P\n" + "\n".join(f"1,{234 + i}" for i in range(30)) + "\n")
    assert log.blocks[0].values("P")[0] == 1.234
    assert log.report.questions[0].answers == ('delimiter: ","', 'decimal: ","')


@pytest.mark.parametrize(("mark", "other"), [(",", "."), (".", ",")])
def test_a_mark_before_three_digits_is_asked_and_the_answer_taken(mark, other):
    text = "P;D\n" + "\n".join(f"{i + 1}{mark}234;2{mark}{500 + i}" for i in range(30)) + "\n"
    log = read(text)
    assert log.blocks[0].values("P")[0] == 1.234
    assert log.report.questions[0].answers == (f'decimal: "{mark}"', f'decimal: "{other}"')
    assert read(text, decimal=mark).blocks[0].values("P")[0] == 1.234
    answered = read(text, decimal=other)
    assert answered.blocks[0].values("P")[:2].tolist() == [1234.0, 2234.0]
    assert answered.report.questions == ()


@pytest.mark.parametrize("gap", ["'", "\u2019", " ", "\u00a0", "\u202f"])
@pytest.mark.parametrize("decimal", [".", ","])
def test_thousands_parted_by_apostrophe_or_blank(gap, decimal):
    text = "P;D\n" + "\n".join(f"1{gap}{234 + i}{decimal}5;-12{gap}{500 + i}{gap}000{decimal}25" for i in range(30))
    block = read(text + "\n").blocks[0]
    assert block.values("P")[0] == 1234.5
    assert block.values("D")[1] == -12501000.25


def test_two_numbers_of_three_digits_and_a_blank_are_two_columns():
    block = read("\n".join(f"{i + 100} {i + 200}" for i in range(30)) + "\n").blocks[0]
    assert [block.values(c)[0] for c in block.columns] == [100.0, 200.0]


@pytest.mark.parametrize(
    "head",
    [
        "Time [s];Load [kN];e1 [µm/m];D [mm]", "Time (sec);Load (kN);e1 (microstrain);D (mm)",
        "Time/s;Load/kN;e1/(um/m);D/mm", "Time / s;Load / kN;e1 / µε;D / mm", "Time_s;Load_kN;e1_ue;D_mm",
        "Time, s;Load, kN;e1, µm/m;D, mm", "Time s;Load kN;e1 µm/m;D mm", "Time;Load;e1;D\ns;kN;um/m;mm",
        "Time;Load;e1;D\n[s];[kN];[um/m];[mm]", "Time;Load;e1;D\nUnit: s;kN;um/m;mm",
        "Time;Load;e1;D\n(sec);(kN);(ue);(mm)",
    ],
)  # fmt: skip
def test_units_in_many_forms(head):
    block = read(head + "\n" + "\n".join(f"{i};{i * 1.5};{i * 10};{i * 0.1:.1f}" for i in range(30)) + "\n").blocks[0]
    assert block.columns == ("Time", "Load", "e1", "D")
    assert dict(block.units) == {"Time": "s", "Load": "kN", "e1": "um/m", "D": "mm"}
    assert block.time == "Time"


@pytest.mark.parametrize("name", ["V/mV", "P/A", "Ch 1", "w/c", "A/D 3"])
def test_a_stroke_in_a_name_is_a_unit_only_where_one_stands(name):
    from cracktie.lab.headers import split_unit

    assert split_unit(name) == (("V", "mV") if name == "V/mV" else (name, ""))


@pytest.mark.parametrize("gap", ["", "\n"])
def test_a_summary_below_the_rows_is_no_reading(gap):
    rows = "\n".join(f"{i};{i * 1.5};{i * 0.1:.1f}" for i in range(30))
    log = read(f"t;P;D\n{rows}\n{gap}Max;43.5;2.9\nMin;0;0\nMean;21.75;1.45\n")
    assert log.blocks[0].frame.height == 30
    assert [text.split(";")[0] for _, text in log.blocks[0].comments] == ["Max", "Min", "Mean"]
    assert any("3 lines of text among or below the rows" in note for note in log.report.notes)


def test_missing_cells_are_counted_by_channel():
    rows = [f"{i};{'OVER' if i % 5 == 0 else i};{'' if i < 3 else i};{i}" for i in range(30)]
    log = read("t [s];P;D;E\n" + "\n".join(rows) + "\n")
    assert dict(log.report.blocks[0].missing) == {"P": 6, "D": 3}
    assert "  readings missing: P 6, D 3" in log.report.lines()


def test_ragged_rows():
    planted = truth()

    def ragged(i, text):
        if i == 10:
            return text.rsplit(";", 1)[0]
        return text + ";77.5" if i == 20 else text

    log = read(write(planted, line=ragged))
    assert log.blocks[0].frame.height == 119
    assert log.report.lost[0].lines == (22,)
    assert "filled cells" in log.report.lost[0].reason
    assert log.blocks[0].missing["e1"] == 1
    assert log.report.rows_read == 120
    assert log.report.rows_kept == 119


def test_trailing_delimiters_make_no_column():
    planted = truth()
    log = read(write(planted, header=(*HEADER, ""), line=lambda i, text: text + ";"))
    assert_planted(log, planted)


def test_a_cut_last_row_is_left_out():
    planted = truth()
    whole = write(planted)
    log = read(whole[: whole.rstrip("\n").rfind(";") - 2])
    assert log.blocks[0].frame.height == 119
    assert log.report.lost[-1].reason == "the last row is cut off"


def test_repeated_headers_join_and_new_headers_part():
    planted = truth(40)
    text = write(planted)
    log = read(text + "\n" + text)
    assert len(log.blocks) == 1
    assert log.blocks[0].frame.height == 80
    assert log.report.blocks[0].segments == ((0, 39), (40, 79))
    assert any("header repeated 1 times" in note for note in log.report.notes)
    other = "Summary\npeak load;peak deflection\nkN;mm\n17.2;0.55\n"
    log = read(text + "\n" + other)
    assert [b.columns for b in log.blocks] == [NAMES, ("peak load", "peak deflection")]
    assert dict(log.blocks[1].units) == {"peak load": "kN", "peak deflection": "mm"}
    assert log.block("Summary").values("peak load")[0] == 17.2
    with pytest.raises(UnknownName, match="Summary"):
        log.block("none such")


def test_remarks_between_rows_are_kept_as_comments():
    planted = truth()
    log = read(write(planted, line=lambda i, text: f"{text}\n# crack seen at front face" if i == 60 else text))
    assert_planted(log, planted)
    assert log.blocks[0].comments == ((63, "# crack seen at front face"),)


def test_quoted_cells():
    planted = truth()
    log = read(write(planted, delimiter=",", line=lambda i, text: ",".join(f'"{c}"' for c in text.split(","))))
    assert_planted(log, planted)
    lines = write(planted, delimiter="\x01", decimal=",", unit_row=UNITS, header=NAMES).splitlines()
    for mark in ",;":  # with quotation marks even delimiter and decimal mark may be the same
        quoted = "\n".join('"' + line.replace("\x01", f'"{mark}"') + '"' for line in lines) + "\n"
        assert_planted(read(quoted), planted)


def test_gaps_duplicates_saturation_constant():
    planted = truth()
    time = planted.time.copy()
    time[60:] += 3.0
    time[30] = time[29]
    strain = np.minimum(planted.strain, 400.0)
    planted = type(planted)(time, planted.load, np.full(120, 0.25), strain)
    report = read(write(planted)).report.blocks[0]
    assert [(gap.row, round(gap.length, 6)) for gap in report.gaps] == [(59, 3.1)]
    assert report.duplicated_times == 1
    assert report.constant == ("deflection",)
    assert dict(report.saturated) == {"e1": int((strain == 400.0).sum())}
    assert report.median_step == pytest.approx(0.1)


def test_simulated_mark():
    text = write(truth(), preamble=("# simulated by cracktie 0.1, seed 3, 11 and 4 columns",))
    assert read(text).simulated
    assert not read(write(truth())).simulated
    assert read(write(truth(), delimiter=" ", header=NAMES, preamble=("# simulated by cracktie now",))).simulated


def stamped(stamps, **options):
    text = "time;load [kN]\n" + "\n".join(f"{s};{i}.5" for i, s in enumerate(stamps)) + "\n"
    return read(text, **options)


@pytest.mark.parametrize(
    ("stamps", "origin"),
    [
        (["2024-03-19 08:42:47.5", "2024-03-19 08:42:48.0"], datetime(2024, 3, 19, 8, 42, 47, 500000)),
        (["2024-03-19T08:42:47.5Z", "2024-03-19T08:42:48Z"], datetime(2024, 3, 19, 8, 42, 47, 500000)),
        (["19.03.2024 08:42:47,5", "19.03.2024 08:42:48,0"], datetime(2024, 3, 19, 8, 42, 47, 500000)),
        (["3/19/2024 8:42:47.5 PM", "3/19/2024 8:42:48 PM"], datetime(2024, 3, 19, 20, 42, 47, 500000)),
        (["19/03/98 08:42:47.5", "19/03/98 08:42:48"], datetime(1998, 3, 19, 8, 42, 47, 500000)),
    ],
)
def test_date_forms(stamps, origin):
    log = stamped(stamps)
    assert log.blocks[0].values("time").tolist() == [0.0, 0.5]
    assert log.blocks[0].origins["time"] == origin
    assert log.blocks[0].units["time"] == "s"
    assert not log.report.questions


def test_ambiguous_dates_are_asked_not_guessed():
    stamps = ["05.04.2022 10:00:00", "05.04.2022 10:00:01"]
    log = stamped(stamps)
    assert [q.kind for q in log.report.questions] == ["date order"]
    assert "time" not in log.blocks[0].origins
    assert log.blocks[0].values("time").tolist() == [0.0, 1.0]  # as after the answer
    assert stamped(stamps, date_order="dmy").blocks[0].origins["time"] == datetime(2022, 4, 5, 10)
    assert stamped(stamps, date_order="mdy").blocks[0].origins["time"] == datetime(2022, 5, 4, 10)
    several = stamped(["05.04.2022 10:00:00", "05.05.2022 10:00:00"])
    assert several.report.questions
    assert np.isnan(several.blocks[0].frame["load"].to_numpy()).sum() == 0
    assert several.blocks[0].missing["time"] == 2


def test_midnight_settles_the_order():
    log = stamped(["11.04.2022 23:59:59", "12.04.2022 00:00:00", "12.04.2022 00:00:01"])
    assert not log.report.questions
    assert log.blocks[0].values("time").tolist() == [0.0, 1.0, 2.0]
    assert log.blocks[0].origins["time"] == datetime(2022, 4, 11, 23, 59, 59)
    assert any("midnight" in note for note in log.report.notes)


def test_impossible_date_order_is_refused():
    with pytest.raises(InputRefused, match="no such day"):
        stamped(["19.03.2024 08:42:47", "19.03.2024 08:42:48"], date_order="mdy")
    with pytest.raises(InputRefused, match="both orders"):
        stamped(["19.03.2024 08:42:47", "03.19.2024 08:42:48"])


def test_time_of_day_runs_on_over_midnight():
    log = stamped(["23:59:58", "23:59:59", "00:00:00"])
    assert log.blocks[0].values("time").tolist() == [86398.0, 86399.0, 86400.0]


def test_spreadsheet_day_numbers():
    # 41893 is 2014-09-11, 42032 is 2015-01-28, 45370 is 2024-03-19 in the 1900 date system (day 1 = 1900-01-01)
    for serial, day in ((41893, datetime(2014, 9, 11)), (42032, datetime(2015, 1, 28)), (45370, datetime(2024, 3, 19))):
        log = read(f"Date;load\nd;kN\n{serial};1.5\n{serial}.25;2.5\n")
        assert log.blocks[0].origins["Date"] == day
        assert log.blocks[0].values("Date").tolist() == [0.0, 21600.0]


def spreadsheet(rows, sheets=("Tabelle1",)):
    import openpyxl

    book = openpyxl.Workbook()
    book.active.title = sheets[0]
    for title in sheets:
        sheet = book[title] if title in book.sheetnames else book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_xlsx():
    planted = truth()
    rows = [
        ["Specimen: S-1"],
        [],
        list(HEADER),
        *[[float(v) for v in row] for row in zip(*planted.columns(), strict=True)],
    ]
    raw = spreadsheet(rows)
    log = read(raw)
    assert_planted(log, planted)
    assert log.encoding == "spreadsheet"
    assert log.blocks[0].name == "Tabelle1"
    assert log.blocks[0].first_line == 4
    assert log.preamble == (("Specimen", "S-1"),)
    two = read(spreadsheet(rows, ("A", "B")))
    assert [b.name for b in two.blocks] == ["A", "B"]


def test_xlsx_with_dates():
    rows = [["when", "load [kN]"], [datetime(2024, 4, 5, 10, 0, 0), 1.5], [datetime(2024, 4, 5, 10, 0, 1), 2.5]]
    log = read(spreadsheet(rows))
    assert log.blocks[0].origins["when"] == datetime(2024, 4, 5, 10)
    assert log.blocks[0].values("when").tolist() == [0.0, 1.0]


def test_ods():
    """The smallest OpenDocument spreadsheet: one sheet, two columns."""
    cell = '<table:table-cell office:value-type="{}" {}><text:p>{}</text:p></table:table-cell>'
    rows = [[("string", "", "time [s]"), ("string", "", "load [kN]")]]
    rows += [[("float", f'office:value="{v}"', v) for v in pair] for pair in ((0.0, 1.5), (0.5, 2.25))]
    body = "".join("<table:table-row>" + "".join(cell.format(*c) for c in row) + "</table:table-row>" for row in rows)
    names = " ".join(f'xmlns:{k}="urn:oasis:names:tc:opendocument:xmlns:{k}:1.0"' for k in ("office", "table", "text"))
    content = (
        f'<?xml version="1.0"?><office:document-content {names} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="log">{body}</table:table></office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    kind = b"application/vnd.oasis.opendocument.spreadsheet"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", '<?xml version="1.0"?><manifest/>')
    log = read(out.getvalue())
    assert log.blocks[0].name == "log"
    assert log.blocks[0].values("time").tolist() == [0.0, 0.5]
    assert log.blocks[0].values("load").tolist() == [1.5, 2.25]
    assert log.blocks[0].units["load"] == "kN"


def zipped(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def test_zipped_and_gzipped_logs():
    planted = truth()
    raw = write(planted).encode()
    assert_planted(read(zipped({"log.csv.zip": raw, "__MACOSX/x": b"1"})), planted)
    assert_planted(read(gzip.compress(raw)), planted)
    with pytest.raises(InputRefused, match="an archive inside an archive"):
        read(zipped({"b.zip": zipped({"a.csv": raw})}))
    with pytest.raises(InputRefused, match="holds 2 files"):
        read(zipped({"a.csv": raw, "b.csv": raw}))
    with pytest.raises(InputRefused, match="damaged or cut off"):
        read(zipped({"a.csv": raw})[:200])
    with pytest.raises(InputRefused, match="damaged or cut off"):
        read(gzip.compress(raw)[:200])


def test_zip_bombs_are_refused(monkeypatch):
    from cracktie.lab import archives

    bomb = zipped({"a.csv": b"0" * 3_000_000})
    with pytest.raises(InputRefused, match="MiB"):
        archives.unpack(bomb, "a.zip", limit=1 << 20)
    with pytest.raises(InputRefused, match="MiB"):
        archives.unpack(gzip.compress(b"0" * 3_000_000), "a.gz", limit=1 << 20)
    lying = bytearray(bomb)  # the directory claims 1 000 bytes
    at = lying.rfind(b"PK\x01\x02")
    lying[at + 24 : at + 28] = (1000).to_bytes(4, "little")
    with pytest.raises(InputRefused):
        archives.unpack(bytes(lying), "a.zip", limit=1 << 20)


REFUSED = {
    "empty": (b"", "empty"),
    "blanks": (b"  \n\r\n\t", "blanks or NUL only"),
    "zeros": (b"\x00" * 5000, "blanks or NUL only"),
    "nul tail": (b"t;load\n0;1\n1;2\n" + b"\x00" * 400, "NUL bytes, the first in line 4"),
    "binary": (bytes(range(256)) * 20, "NUL"),
    "controls": (bytes(b for b in range(1, 32)) * 50 + b"1;2\n", "control characters"),
    "tdms": (b"TDSm\x0e\x00\x00\x00", "TDMS"),
    "picture": (b"\x89PNG\r\n\x1a\n123", "picture"),
    "prose": (b"This is a letter.\nIt has no readings.\n", "none of them readings"),
    "broken xls": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"x" * 100, "spreadsheet cannot be opened"),
    "broken utf-16": (b"\xff\xfe1\x00\x00\xd8\x00\xd8", "damaged or mixed"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_name_file_finding_and_remedy(case):
    raw, finding = REFUSED[case]
    with pytest.raises(InputRefused) as caught:
        read(raw)
    assert len(caught.value.problems) == 1
    problem = caught.value.problems[0]
    assert problem.file == "log.txt"
    assert finding in problem.message
    assert problem.fix


def test_stated_options():
    with pytest.raises(InputRefused, match="not utf-8"):
        read("Prüfung\n1;2\n".encode("cp1252"), encoding="utf-8")
    with pytest.raises(InputRefused, match="no encoding is called"):
        read(b"1;2\n", encoding="klingon")
    for option in ({"decimal": "'"}, {"delimiter": "ab"}, {"delimiter": "."}, {"delimiter": ",", "decimal": ","}):
        with pytest.raises(InputRefused):
            read(b"1;2\n", **option)
    assert read("Prüfung\n1;2\n".encode("cp1252"), encoding="cp1252").report.questions == ()


def test_missing_file(tmp_path):
    with pytest.raises(FileTrouble, match="cannot be read"):
        read_log(tmp_path / "none.csv")


def test_the_file_is_not_changed(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(write(truth()).encode())
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    log = read_log(path)
    assert log.sha256 == before == hashlib.sha256(path.read_bytes()).hexdigest()
    assert log.path == "a.csv"
    with pytest.raises(ValueError):
        log.blocks[0].values("load")[0] = 1.0


def test_report_as_sentences():
    log = read(write(truth(), cell=lambda i, j, text: "OVER" if (i, j) == (3, 1) else text))
    assert log.report.lines()[0] == "120 rows read, 120 kept"
    assert "  load: 1 cells over range" in log.report.lines()


@pytest.mark.parametrize(
    ("codec", "delimiter", "decimal", "end"),
    list(itertools.product(["utf-8", "utf-16", "cp1252"], ["\t", ";"], [".", ","], ["\n", "\r\n"])),
)
def test_faults_together(codec, delimiter, decimal, end):
    """All common faults at once change no reading that is not itself spoiled."""
    planted = truth()
    spoiled = {(3, 1), (44, 2), (90, 3)}
    text = write(
        planted,
        delimiter=delimiter,
        decimal=decimal,
        header=NAMES,
        unit_row=("s", "kN", "mm", "µm/m"),
        end=end,
        preamble=("Prüfer: nobody", "Rate: 0,5", ""),
        cell=lambda i, j, t: "OVER" if (i, j) in spoiled else t,
        line=lambda i, t: t + delimiter if i % 7 == 0 else t,
    )
    log = read(text.encode(codec))
    assert_planted(log, planted, spoiled)
    assert log.report.rows_kept == 120


@pytest.mark.slow
def test_a_large_log_reads_in_seconds(tmp_path):
    import time

    import polars as pl

    n = 360_000
    values = np.round(np.random.default_rng(1).normal(size=(n, 39)) * 1000, 3)
    frame = pl.DataFrame({"time [s]": np.arange(n) / 100} | {f"c{i}": values[:, i] for i in range(39)})
    frame.write_csv(tmp_path / "big.csv", separator=";", decimal_comma=True)
    start = time.perf_counter()
    log = read_log(tmp_path / "big.csv")
    elapsed = time.perf_counter() - start
    assert log.blocks[0].frame.shape == (n, 40)
    np.testing.assert_array_equal(log.blocks[0].values("c38"), values[:, 38])
    assert elapsed < 15.0  # about 3 s on two quiet cores; the bound only catches a fall to the slow path


LAYOUTS = {
    # a marker column that is filled in one row only; the header names it
    "marker": ("time;P;marker\n0;1.5\n1;2.5;crack seen\n2;3.5\n", {"time": [0, 1, 2], "P": [1.5, 2.5, 3.5]}),
    # channels called by their numbers
    "numbered channels": (
        "time,1,2,3\n0,1.5,2.5,3.5\n1,2.5,3.5,4.5\n",
        {"time": [0, 1], "1": [1.5, 2.5], "2": [2.5, 3.5], "3": [3.5, 4.5]},
    ),
    "serial numbers": ("2157\t1281068\nmm\tkN\n0,5\t1,5\n0,6\t1,6\n", {"2157": [0.5, 0.6], "1281068": [1.5, 1.6]}),
    # two recorders side by side, the slower one with a decimal in one row only
    "side by side": (
        "t1;P;;t2;e\ns;kN;;s;um/m\n0;1;;0;5\n1;2;;0,5;6\n2;3;;1;7\n",
        {"t1": [0, 1, 2], "P": [1, 2, 3], "t2": [0, 0.5, 1], "e": [5, 6, 7]},
    ),
    "one-letter names": ("a b c\n1 2 3\n4 5 6\n", {"a": [1, 4], "b": [2, 5], "c": [3, 6]}),
    "fixed width": (
        "   Time      Load\n    (s)      (kN)\n   0.00     1.000\n   0.10    -1.100\n",
        {"Time": [0, 0.1], "Load": [1.0, -1.1]},
    ),
    "preamble with numbers": (
        "Writer\nVersion\t2\n***End***\t\n\nChannels\t2\t\t\nSamples\t3\t3\t\n***End***\t\t\n"
        "X\tForce\tDisp\tComment\n0.0\t1.5\t2.5\n0.1\t1.6\t2.6\tcrack\n0.2\t1.7\t2.7\n",
        {"X": [0, 0.1, 0.2], "Force": [1.5, 1.6, 1.7], "Disp": [2.5, 2.6, 2.7]},
    ),
    "text column": ("t,P,status\n0,1.5,OK\n1,2.5,OK\n2,3.5,FAIL\n", {"t": [0, 1, 2], "P": [1.5, 2.5, 3.5]}),
    "footer": ("t;P\n0;1\n1;2\n2;3\nEnd of test\nMax load: 3 kN\n", {"t": [0, 1, 2], "P": [1, 2, 3]}),
    "comment header": ("# t [s]\tP [kN]\n0\t1\n1\t2\n", {"t": [0, 1], "P": [1, 2]}),
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_layouts(layout):
    text, expected = LAYOUTS[layout]
    log = read(text)
    assert len(log.blocks) == 1
    assert log.blocks[0].frame.to_dict(as_series=False) == expected
    assert log.report.lost == ()


def test_milliseconds_of_dated_stamps_survive():
    log = stamped(["2024-03-19 08:42:47.123", "2024-03-19 08:42:47.223", "2024-03-20 08:42:47.123"])
    assert log.blocks[0].values("time").tolist() == [0.0, 0.1, 86400.0]


def test_a_refusal_shows_the_line_that_was_not_understood():
    with pytest.raises(InputRefused) as caught:
        read("time;load\n0,5;1.5\n0,6;1.6\n")
    assert caught.value.problems[0].line == 2
    assert caught.value.problems[0].value == "0,5;1.5"


def test_too_many_columns():
    with pytest.raises(InputRefused, match="2001 columns, the limit is 2000"):
        read(",".join(["1"] * 2001) + "\n")
