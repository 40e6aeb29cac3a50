"""Numbers printed by others, or worked by hand from a stated formula; the source stands beside each."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.channels import lowpass
from cracktie.lab.clocks import parabola_peak
from cracktie.lab.coupons import cube_strength, splitting_strength
from cracktie.lab.derived import regression
from cracktie.lab.hinge import fit_hinge
from cracktie.lab.modulus import chord_modulus
from cracktie.lab.pulloff import MODES, pull_off
from cracktie.lab.read import read_log
from cracktie.lab.strain import shunt_strain
from cracktie.lab.tension import bar_coupon, frp_coupon
from cracktie.lab.uncertainty import fitted_line
from cracktie.stats.variance import one_way

READ = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTION = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def test_thermometer_of_the_guide():
    """JCGM 100:2008, H.3: y1 = -0.1712 (29), y2 = 0.00218 (67), r = -0.930, s = 0.0035, b(30) = -0.1494 (41).

    Data and results from memory; that they fit each other to the last digit is what this test shows.
    """
    line = fitted_line(READ, CORRECTION, origin=20.0)
    assert f"{line.intercept:.4f} {line.u_intercept:.4f}" == "-0.1712 0.0029"
    assert f"{line.slope:.5f} {line.u_slope:.5f}" == "0.00218 0.00067"
    assert f"{line.r:.3f}" == "-0.930"
    assert f"{line.s:.4f}" == "0.0035"
    value, u = line.at(30.0)
    assert f"{value:.4f} {u:.4f}" == "-0.1494 0.0041"
    assert line.dof == 9


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
    [("SiRstv", 11.0), ("AtmWtAg", 9.0), ("SmLs01", 13.0), ("SmLs02", 13.0), ("SmLs03", 12.0), ("SmLs04", 9.0),
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


def test_chord_modulus_of_a_cylinder():
    """(12.0 - 1.1)/(420e-6 - 50e-6) = 29 459.5 MPa, form of ASTM C469/C469M (from memory)."""
    assert f"{chord_modulus(12.0, 1.1, 420e-6):.1f}" == "29459.5"


def test_splitting():
    """2 x 190 kN/(pi 300 150) = 2.688 MPa, form of ASTM C496 and EN 12390-6 (from memory)."""
    found = splitting_strength([0.0, 190e3, 20e3], diameter=150, length=300)
    assert f"{found.value:.3f}" == "2.688"
    assert found.u == pytest.approx(0.01 * found.value)


def test_pull_off():
    """4 x 5.2 kN/(pi 50^2) = 2.648 MPa (EN 1542, ASTM D7522; from memory); only mode G measures the concrete."""
    found = pull_off(5200, 50, "G")
    assert f"{found.value:.3f}" == "2.648"
    assert [m for m in MODES if pull_off(1, 1, m).substrate] == ["G"]
    with pytest.raises(ModelInputError, match="none of A, B"):
        pull_off(5200, 50, "H")


def test_shunt():
    """-120/(2.0 (120 + 59 880)) = -1000e-6 exactly."""
    assert shunt_strain(59880, 2.0, 120.0) == pytest.approx(-1e-3, rel=1e-12)


def test_frp_strip_without_a_thickness():
    """25.1 mm, 979 N at 1000e-6, 2871 N at 3000e-6: 37 689.2 N/mm; 225.7 GPa on 0.167 mm, 37.7 GPa on 1.0 mm."""
    strain = np.concatenate(
        [np.linspace(0, 1e-3, 11), np.linspace(1e-3, 3e-3, 21)[1:], np.linspace(3e-3, 15e-3, 50)[1:]]
    )
    force = np.interp(strain, [0, 1e-3, 3e-3, 15e-3], [0, 979, 2871, 14350])
    found = frp_coupon(strain, force, width=25.1)
    assert f"{found.stiffness_per_width:.1f} {found.force_per_width:.3f}" == "37689.2 571.713"
    assert f"{found.modulus(0.167) / 1e3:.1f} {found.modulus(1.0) / 1e3:.1f}" == "225.7 37.7"


def test_a_rounded_bar_returns_its_own_proof_stress_and_toe():
    """eps = s/E + 0.002 (s/520)^25 + 0.0007: the offset construction gives 520 MPa and a toe of 0.0007 back."""
    s = np.linspace(0.0, 560.0, 8000)
    strain = s / 200e3 + 0.002 * (s / 520.0) ** 25 + 0.0007
    found = bar_coupon(strain, s)
    assert found.proof_stress == pytest.approx(520.0, abs=0.05)
    assert found.toe == pytest.approx(7.0e-4, abs=1e-6)
    assert found.modulus.slope == pytest.approx(200e3, rel=1e-4)


def test_kink_of_two_lines():
    """Stiffness 30 then 12 kN/mm from 1.0 mm on: the break is found where it was put."""
    d = np.linspace(0.0, 3.0, 301)
    found = fit_hinge(d, np.where(d <= 1.0, 30.0 * d, 30.0 + 12.0 * (d - 1.0)))
    assert found is not None
    assert found.at == pytest.approx(1.0, abs=0.02)


def test_parabola_through_three_points():
    """3, 5, 4: the top lies (3 - 4)/(2 (3 - 10 + 4)) = 1/6 of a step to the right."""
    assert parabola_peak(3.0, 5.0, 4.0) == pytest.approx(1 / 6)


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
