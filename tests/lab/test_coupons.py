"""Cylinders and cubes: hand numbers, planted cylinders, and real machine logs read off by eye."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pytest

from cracktie.errors import ModelInputError
from cracktie.lab.coupons import (
    controller_peak,
    cube_strength,
    cylinder_strength,
    density,
    slenderness_factor,
)
from cracktie.lab.modulus import chord_modulus, cylinder_modulus, limits
from cracktie.lab.read import read_log

sys.path.insert(0, str(Path(__file__).parent))
from doc_runner import run_page


def test_cylinder_strength():
    """530 kN on 150 mm: 29.99 MPa (hand)."""
    found = cylinder_strength([0.0, -530e3, -200e3], diameter=150.0, u_force=0.01, u_diameter=0.3)
    assert found.value == pytest.approx(29.9919, abs=5e-5)
    assert found.u == pytest.approx(found.value * math.hypot(0.01, 2 * 0.3 / 150), rel=1e-6)
    assert found.source == "largest reading of the log"


def test_slenderness():
    """ASTM C39/C39M table (from memory), 1.40 interpolated by hand: 0.93 + 0.6 * 0.03 = 0.948."""
    assert [slenderness_factor(r) for r in (1.0, 1.25, 1.4, 1.5, 1.75, 2.0)] == pytest.approx(
        [0.87, 0.93, 0.948, 0.96, 0.98, 1.0]
    )
    assert cylinder_strength([530e3], diameter=150.0, length=210.0).value == pytest.approx(29.99186 * 0.948, rel=1e-6)
    with pytest.raises(ModelInputError, match="begin at"):
        slenderness_factor(0.9)


def test_chord_modulus():
    """(12.0 - 1.1)/(420e-6 - 50e-6) = 29 459 MPa (hand; form of ASTM C469 from memory)."""
    assert chord_modulus(12.0, 1.1, 420e-6) == pytest.approx(29_459.5, abs=0.05)


def machine(cycles=3, modulus=30_000.0, noise=0.0, reseat=True, eccentric=0.0, seed=0):
    """A planted cylinder: diameter 100, base 100 mm, 2 rows a second, compression negative."""
    times, stress = [0.0, 30.0], [0.5, 0.5]
    for _ in range(cycles):
        for level, after in ((15.0, 30.0), (15.0, 5.0), (0.5, 30.0), (0.5, 5.0)):
            times.append(times[-1] + after)
            stress.append(level)
    t = np.arange(0, times[-1], 0.5)
    s = np.interp(t, times, stress)
    rng = np.random.default_rng(seed)
    sides = {}
    for k, share in enumerate((-1.0, 0.0, 1.0)):
        x = -s / modulus * 100.0 * (1 + share * eccentric) + rng.normal(0, noise, t.size)
        sides[f"w{k}"] = np.where(t < 20.2, x + (0.3, -1.1, 0.2)[k], x) if reseat else x
    return t, -s * math.pi * 100.0**2 / 4, sides


OPTIONS = {"diameter": 100.0, "base_length": 100.0, "lower_stress": 3.0, "upper_stress": 14.0}


@pytest.mark.parametrize("reseat", [True, False])
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("eccentric", [0.0, 0.15])
def test_planted_modulus(reseat, sign, eccentric):
    t, force, sides = machine(reseat=reseat, eccentric=eccentric)
    found = cylinder_modulus(t, sign * force, {n: sign * v for n, v in sides.items()}, **OPTIONS)
    assert len(found.cycles) == 3
    assert [c.modulus for c in found.cycles] == pytest.approx([30_000.0] * 3, rel=1e-9)
    assert found.peak_stress == pytest.approx(15.0)
    assert [time for _, time in found.reseated] == ([20.5] if reseat else [])
    if eccentric:
        each = list(found.cycles[-1].each.values())
        assert each == pytest.approx([30_000 / 0.85, 30_000, 30_000 / 1.15], rel=1e-9)
        assert found.budget.dominant() == "position"


def test_stated_uncertainty_covers_noise():
    calm = {"u_force": 0.0, "u_transducer": 0.0}
    found = [cylinder_modulus(*machine(noise=3e-4, seed=s), **OPTIONS, **calm) for s in range(60)]
    errors = np.array([(m.value - 30_000) / m.u for m in found])
    assert np.mean(np.abs(errors) < 2) > 0.9


def test_a_jump_inside_the_test_is_refused():
    t, force, sides = machine(reseat=False)
    sides["w1"] = np.where(t > 61.0, sides["w1"] + 0.4, sides["w1"])  # during the first hold
    with pytest.raises(ModelInputError, match=r"jumps at 61\.5 s"):
        cylinder_modulus(t, force, sides, **OPTIONS, start=0.0)


@pytest.mark.parametrize(
    "change", [{"upper_stress": 20.0}, {"lower_stress": 15.0}, {"base_length": 0.0}, {"diameter": -1.0}]
)
def test_impossible_requests_are_refused(change):
    with pytest.raises(ModelInputError, match=r"MPa|positive"):
        cylinder_modulus(*machine(), **{**OPTIONS, **change})
    t, force, sides = machine()
    with pytest.raises(ModelInputError, match="'w1' does not follow the force"):
        cylinder_modulus(t, force, {**sides, "w1": -sides["w1"]}, **OPTIONS)
    with pytest.raises(ModelInputError, match="no transducer"):
        cylinder_modulus([0, 1], [0, 1], {}, **OPTIONS)
    with pytest.raises(ModelInputError, match="transducer 'w1' holds fewer than three readings"):
        cylinder_modulus(t, force, {**sides, "w1": np.full(t.size, np.nan)}, **OPTIONS)


def test_limits_of_standards():
    """f_c = 30 MPa: EN 12390-13 4.5 to 10 MPa, 3.0 to 4.5 allowed below; ASTM C469 12 MPa (shares from memory)."""
    assert limits("EN 12390-13 B", 30.0) == pytest.approx((4.5, 10.0))
    assert limits("EN 12390-13 A", 30.0, 3.0) == pytest.approx((3.0, 10.0))
    assert limits("ASTM C469", 30.0) == (None, pytest.approx(12.0))
    with pytest.raises(ModelInputError, match=r"0\.5 MPa is not within 3 to 4\.5 MPa"):
        limits("EN 12390-13 B", 30.0, 0.5)
    with pytest.raises(ModelInputError, match="is none of"):
        limits("C39", 30.0)


@pytest.mark.parametrize("noise", [0.0, 2e-5])
def test_chord_from_50_microstrain(noise):
    """A curve e = s/30000 + (s/4000)^2/30 from 0.5 MPa: stress at e(0.5) + 50e-6 and chord to 14 MPa by hand."""
    t, force, _ = machine(reseat=False)
    s = -force / (math.pi * 100.0**2 / 4)

    def strain(x):
        return x / 30_000 + (x / 4000) ** 2 / 30

    rng = np.random.default_rng(2)
    sides = {f"w{k}": -strain(s) * 100.0 + rng.normal(0, noise, s.size) for k in range(3)}
    found = cylinder_modulus(t, force, sides, **{**OPTIONS, "lower_stress": None})
    a, b, c = 1 / 4000**2 / 30, 1 / 30_000, -(strain(0.5) + 50e-6)
    S1 = (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)
    assert found.lower_stress == pytest.approx(S1, rel=0.02)
    assert found.value == pytest.approx((14.0 - S1) / (strain(14.0) - strain(S1)), rel=0.002)


NAMES = ("1944 B", "1281068", "2157")


@pytest.fixture(scope="module")
def emod(logs):
    return read_log(logs / "bam_emod_V4.dat")


def real_modulus(log, **change):
    block = log.blocks[0]
    options = {"diameter": 98.5, "base_length": 100.0, "lower_stress": 4.0, "upper_stress": 16.0, **change}
    return cylinder_modulus(
        block.values("Laufzeit"), block.values("Ch 1 Kraft") * 1000, {n: block.values(n) for n in NAMES}, **options
    )


def test_real_cylinder_against_two_rows_of_the_file(emod):
    """Lines 516 and 566 of the file, read by eye: -30.425356 and -122.23009 kN; the three transducers go from
    -0.014173673, -0.013326561, -0.014406309 to -0.048629582, -0.044918813, -0.050093845 mm.
    12.048 MPa over a mean of 0.033912 mm give 35 526 MPa on an assumed base length of 100 mm."""
    area = math.pi * 98.5**2 / 4
    lower, upper = 30_425.356 / area, 122_230.09 / area
    shortening = (0.048629582 + 0.044918813 + 0.050093845 - 0.014173673 - 0.013326561 - 0.014406309) / 3
    by_eye = (upper - lower) * 100.0 / shortening
    assert by_eye == pytest.approx(35_526, abs=1)
    # the row at the top lies at the end of the ramp; 16.0 MPa are reached a row or two earlier
    found = real_modulus(emod, lower_stress=lower, upper_stress=16.0)
    assert found.value == pytest.approx(by_eye, rel=0.01)
    assert real_modulus(emod, base_length=200.0).value == pytest.approx(2 * real_modulus(emod).value)


def test_real_cylinder_cycles_and_seating(emod):
    """Read off the listing: force falls to about -122.4 kN (16.06 MPa) three times; the transducers jump from
    +0.2247, +1.134, -0.192 mm to almost zero between 123 and 125 s while the force stays near -1 kN."""
    found = real_modulus(emod)
    assert len(found.cycles) == 3
    assert found.peak_stress == pytest.approx(16.06, abs=0.005)
    assert all(122.0 < time < 125.0 for _, time in found.reseated)
    assert found.cycles[0].modulus < 0.96 * found.cycles[1].modulus
    assert found.cycles[1].modulus == pytest.approx(found.cycles[2].modulus, rel=0.03)
    assert 0.01 < found.u / found.value < 0.08
    with pytest.raises(ModelInputError, match="start after"):
        real_modulus(emod, start=34.0)


def test_controller_peaks(emod, logs):
    """Printed in the summary tables: -123.05849 kN, -1317.4683 kN, -354.12192 kN."""
    assert controller_peak(emod, "Ch 1 Kraft") == (-123.05849, "Datenerfassung (2)")
    assert controller_peak(emod, "Ch 1 Weg") is None
    cube = read_log(logs / "bam_cube_M01_W04.dat")
    assert controller_peak(cube, "Ch 1 Prüfkraft")[0] == -1317.4683
    assert controller_peak(read_log(logs / "bam_wolf2.dat"), "Ch 1 Kraft")[0] == -354.12192


def test_real_cube(logs):
    """1317.4683 kN on 150 x 150 mm: 58.554 MPa; on 150 x 146.2 mm: 60.076 MPa (hand). The log alone, at 5 rows a
    second, ends 0.2 % lower (1314.736 kN)."""
    log = read_log(logs / "bam_cube_M01_W04.dat")
    force = log.blocks[1].values("Ch 1 Prüfkraft") * 1000
    kept = controller_peak(log, "Ch 1 Prüfkraft")[0] * 1000
    found = cube_strength(force, width=150.0, depth=150.0, peak_hold=kept)
    assert found.value == pytest.approx(58.554, abs=5e-4)
    assert found.source == "peak kept by the controller"
    assert found.log_force == pytest.approx(1_314_736.0, abs=0.5)
    assert cube_strength(force, width=150.0, depth=146.2, peak_hold=kept).value == pytest.approx(60.076, abs=5e-4)
    assert cube_strength(force, width=150.0, depth=150.0).value < found.value


def test_density_shows_a_typed_size(logs):
    """The file says 5328 g, 100 mm, height 98.6 mm: 6 880 kg/m3; with 298.6 mm it would be 2 272 (hand)."""
    typed = dict(read_log(logs / "bam_wolf2.dat").preamble)
    mass, diameter, height = (
        float(typed[key].replace(",", ".")) for key in ("Masse [g]", "Durchmesser [mm]", "Höhe [mm]")
    )
    area = math.pi * diameter**2 / 4
    value, plausible = density(mass, area, height)
    assert value == pytest.approx(6880.1, abs=0.1)
    assert not plausible
    assert density(mass, area, 298.6) == (pytest.approx(2271.9, abs=0.1), True)
    # the other cylinder: 5428.5 g, 98.5 mm, 300.2 mm
    assert density(5428.5, math.pi * 98.5**2 / 4, 300.2) == (pytest.approx(2373.0, abs=0.1), True)


def test_the_how_to_runs():
    printed, names = run_page("docs/how-to/reduce-a-cylinder-log.md")
    assert "671 rows read, 671 kept" in printed
    assert "log -122.41 kN, controller -123.06 kN" in printed
    assert "transducers put into place at 124.5 s" in printed
    assert printed.count("loading ") == 3
    result = names["result"]
    assert f"E = {result.value:.0f} MPa" in printed
    assert 34_000 < result.value < 37_500
    assert result.spread > 0.1
    assert result.budget.dominant() == "position"
