"""Numbers printed by others, or worked by hand from a stated formula; the source stands beside each."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.channels import lowpass
from cracktie.lab.coupons import cube_strength
from cracktie.lab.derived import regression
from cracktie.lab.pulloff import MODES, pull_off
from cracktie.lab.read import read_log
from cracktie.lab.uncertainty import fitted_line
from cracktie.stats.variance import one_way


def nist(name: str) -> Path:
    import scipy.stats

    (found,) = (Path(scipy.stats.__file__).parent / "tests" / "data").rglob(f"{name}.dat")
    return found


def digits(found: float, certified: float) -> float:
    """Number of significant digits that agree."""
    return 15.0 if found == certified else -math.log10(abs(found - certified) / abs(certified))


def test_norris():
    """NIST StRD, Norris, linear regression: certified values as printed in the head of the set."""
    text = nist("Norris").read_text().splitlines()
    start = next(i for i, line in enumerate(text) if line.startswith("Data:") and "y" in line and "x" in line)
    y, x = np.array([[float(v) for v in line.split()] for line in text[start + 1 :] if line.strip()]).T
    assert x.size == 36
    line = fitted_line(x, y)
    certified = {
        "intercept": -0.262323073774029, "slope": 1.00211681802045, "u_intercept": 0.232818234301152,
        "u_slope": 0.429796848199937e-03, "s": 0.884796396144373,
    }  # fmt: skip
    printed = " ".join(text)
    assert "1.00211681802045" in printed
    assert "-0.262323073774029" in printed
    for name, value in certified.items():
        assert digits(getattr(line, name), value) > 11.5, name
    assert digits(regression(x, y).slope, certified["slope"]) > 12.0
    assert digits(regression(x, y).r2, 0.999993745883712) > 12.0


def analysis(name: str) -> tuple[list[list[float]], dict[str, float]]:
    """Groups of a NIST analysis of variance and its certified mean squares and F."""
    text = nist(name).read_text().splitlines()
    numbers = [line.split() for line in text]
    between = next(row for row in numbers if row[:1] == ["Between"])
    within = next(row for row in numbers if row[:1] == ["Within"])
    start = next(i for i, line in enumerate(text) if line.startswith("Data:") and i > 40)
    groups: dict[str, list[float]] = {}
    for line in text[start + 1 :]:
        cells = line.split()
        if len(cells) == 2:
            try:
                groups.setdefault(cells[0], []).append(float(cells[1]))
            except ValueError:
                continue
    floats = [float(v) for v in between if any(c.isdigit() for c in v)]
    inner = [float(v) for v in within if any(c.isdigit() for c in v)]
    return list(groups.values()), {"ms_between": floats[2], "f": floats[3], "ms_within": inner[2]}


@pytest.mark.parametrize(
    ("name", "least"),
    [("SiRstv", 12.0), ("AtmWtAg", 10.0), ("SmLs01", 13.5), ("SmLs02", 13.5), ("SmLs03", 13.5), ("SmLs04", 9.0),
     ("SmLs05", 9.0), ("SmLs06", 9.0), ("SmLs07", 3.0), ("SmLs08", 3.0), ("SmLs09", 3.0)],
)  # fmt: skip
def test_nist_analysis_of_variance(name, least):
    """NIST StRD: digits that agree with the certified values in the head of each set.

    The last sets hold 13 leading digits that never change: doubles keep no more than 3 to 4 of the rest.
    """
    groups, certified = analysis(name)
    found = one_way(groups)
    for quantity, value in certified.items():
        assert digits(getattr(found, quantity), value) > least, (quantity, getattr(found, quantity), value)


def test_components_of_variance_by_hand():
    """Means 10 and 14, deviations +-1: within 2, between 2 (2^2 + 2^2) = 16; s_between^2 = (16 - 2)/2 = 7."""
    found = one_way([[9, 11], [13, 15]])
    assert (found.ms_between, found.ms_within, found.dof_between, found.dof_within) == (16.0, 2.0, 1, 2)
    assert found.s_between == pytest.approx(math.sqrt(7))
    assert one_way([[1, 3], [1, 3]]).s_between == 0.0
    with pytest.raises(ModelInputError, match="two groups"):
        one_way([[1, 2]])


def test_pull_off():
    """4 x 5.2 kN/(pi 50^2) = 2.648 MPa (EN 1542, ASTM D7522; from memory); only mode G measures the concrete."""
    found = pull_off(5200, 50, "G")
    assert f"{found.value:.3f}" == "2.648"
    assert [m for m in MODES if pull_off(1, 1, m).substrate] == ["G"]
    with pytest.raises(ModelInputError, match="none of A, B"):
        pull_off(5200, 50, "H")


@pytest.mark.parametrize("frequency", [2.0, 5.0, 10.0])
def test_gain_of_the_low_pass_is_0_7071_at_its_cutoff(frequency):
    """Two passes of second order, designed at f/(sqrt 2 - 1)^(1/4) = f/0.802, fall to 1/sqrt 2 at f (Butterworth)."""
    assert f"{(math.sqrt(2) - 1) ** 0.25:.3f}" == "0.802"
    t = np.arange(4000) / 100.0
    wave = np.sin(2 * math.pi * frequency * t)
    middle = slice(1500, 2500)
    out = lowpass(wave, 100.0, frequency)
    gain = float(np.max(np.abs(out[middle])) / np.max(np.abs(wave[middle])))
    assert gain == pytest.approx(
        1 / math.sqrt(2), rel=0.025
    )  # the bilinear map warps by up to 2 % at a tenth of 100 Hz


def test_real_cube(logs):
    """LebeDigital (BAM, MIT licence), cube M01 W04: 1317.4683 kN kept by the controller, log 1314.736 kN; read by eye.

    58.55 MPa on 150 x 150 mm, 60.08 MPa on the measured 150 x 146.2 mm.
    """
    log = read_log(logs / "bam_cube_M01_W04.dat")
    force = log.blocks[1].values("Ch 1 Prüfkraft") * 1e3
    assert f"{cube_strength(force, width=150, depth=150, peak_hold=-1317468.3).value:.3f}" == "58.554"
    assert f"{cube_strength(force, width=150, depth=146.2, peak_hold=-1317468.3).value:.3f}" == "60.076"


def test_three_real_cubes_of_one_batch():
    """LebeDigital M01 W04 to W06, 28 days, 150 mm: 59.24 MPa, s = 0.74 MPa, CV 1.25 % (forces read in the logs)."""
    from cracktie.campaign.coupons import summary
    from cracktie.units import Quantity

    found = summary("f_c", "MPa", [Quantity(F * 1e3 / 22500) for F in (1317.4683, 1350.6528, 1330.6907)])
    assert f"{found.mean:.3f} {found.s:.4f} {100 * found.cv:.2f}" == "59.242 0.7425 1.25"
    assert found.u == pytest.approx(found.s / math.sqrt(3))
