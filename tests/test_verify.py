"""Reference case files: every printed number is reproduced; a wrong number, unit or source is noticed."""

from __future__ import annotations

from pathlib import Path

import pytest

from cracktie.errors import InputRefused
from cracktie.verify import printed_value, verify_files

FILES = sorted((Path(__file__).parent / "reference").glob("*.yaml"))

CASE = """\
- id: one
  model: concrete_shear.aci318_2014.simplified
  source: {key: ACI318_14, where: 22.5.5.1}
  known: hand calculation, 0.17*5*100*100 = 8500
  inputs: {f_c: 25 MPa, b_w: 100 mm, d: 100 mm, form: test, edition: si}
  expected: {V_c: "8.50 kN"}
"""


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_reference_cases(path: Path) -> None:
    result = verify_files([path])
    assert result.passed, "\n".join(v.sentence() for v in result.failed)


def test_there_are_files() -> None:
    assert len(FILES) >= 2


def written(folder: Path, text: str) -> Path:
    path = folder / "cases.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_wrong_number_fails(tmp_path: Path) -> None:
    assert verify_files([written(tmp_path, CASE)]).passed
    result = verify_files([written(tmp_path, CASE.replace("8.50", "8.51"))])
    assert not result.passed
    assert "DIFFERS: printed 8.51 kN, computed 8500" in result.failed[0].sentence()


def test_slack_widens_and_shows(tmp_path: Path) -> None:
    text = CASE.replace("8.50", "8.52") + "  slack: {V_c: [0.02 kN, 'read off a diagram']}\n"
    result = verify_files([written(tmp_path, text)])
    assert result.passed
    assert result.values[0].slack == "read off a diagram"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("f_c: 25 MPa", "f_c: 25", "unit is missing"),
        ("f_c: 25 MPa", "f_c: 25 mm", "does not measure"),
        ("b_w: 100 mm, ", "", "needs b_w"),
        ("d: 100 mm", "d: 100 mm, a: 3 mm", "takes no a"),
        ("ACI318_14", "NOBODY", "no entry in references.bib"),
        ("  known: hand calculation, 0.17*5*100*100 = 8500\n", "", "needs 'known'"),
        ("model:", "modell:", "unknown field 'modell'"),
        ("V_c:", "V_x:", "gives no 'V_x'"),
        ("form: test", "form: mean", "possible: test, design"),
        ("simplified", "simplifyed", "did you mean concrete_shear.aci318_2014.simplified"),
        ("model: concrete_shear.aci318_2014.simplified", "function: os.getcwd", "not one of cracktie"),
        ("expected:", "slack: {V_c: [1 kN, x]}\n  expected:", "needs a width and a reason"),
    ],
)
def test_faults_are_named_with_their_line(tmp_path: Path, old: str, new: str, message: str) -> None:
    text = "# a comment\n" + CASE.replace(old, new)
    with pytest.raises(InputRefused) as caught:
        verify_files([written(tmp_path, text)])
    assert message in str(caught.value)
    assert "cases.yaml:2:" in str(caught.value)


def test_an_id_is_used_once(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match=r"used in cases\.yaml already"):
        verify_files([written(tmp_path, CASE + CASE)])


def test_a_file_that_is_no_list(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="must be a list of cases"):
        verify_files([written(tmp_path, "id: one\n")])
    with pytest.raises(InputRefused, match="cannot be read"):
        verify_files([tmp_path / "absent.yaml"])


@pytest.mark.parametrize(
    ("text", "unit", "value", "half"),
    [
        ("54.7", "-", 54.7, 0.05),
        ("54.7 kN", "N", 54700.0, 50.0),
        ("2.2", "MPa", 2.2, 0.05),
        ("33 GPa", "MPa", 33000.0, 500.0),
        ("3.5e-3", "-", 0.0035, 0.00005),
        ("20.0 mm", "mm", 20.0, 0.05),
        ("12 %", "-", 0.12, 0.005),
    ],
)
def test_tolerance_is_half_the_last_digit(text: str, unit: str, value: float, half: float) -> None:
    assert printed_value(text, unit) == pytest.approx((value, half))
