"""From the log of one coupon to its values: one function a kind of test, with remarks and warnings of its reduction."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from cracktie.units import Quantity, UnitError, factor

if TYPE_CHECKING:
    from cracktie.lab.report import Block, LogFile

PRELOAD = 0.05
"""Share of the largest force at which a record that starts there is asked about its zero; our own choice."""
BENT = 0.10
"""How far the slope between 25 and 50 % of the force may be from the chord's before it is told; our own choice."""
SPREAD, REPEAT = 0.20, 0.10
"""Transducers round a cylinder, and its last two loadings, may differ by this; our own choice, near EN 12390-13."""
WEAK_R2 = 0.9995
"""R2 of a bar's modulus below which it is told (ISO 6892-1, annex on the modulus; from memory, medium certainty)."""


@dataclass
class Made:
    """What a log gave: values by column of the coupon tables, texts, remarks, warnings, and a bar's curve."""

    values: dict[str, Quantity]
    texts: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    curve: tuple[Any, Any] | None = None


@dataclass
class Log:
    """A log with the settings of its specimen, and what was noticed while its columns were taken."""

    settings: Mapping[str, Any]
    file: LogFile
    block: Block
    notes: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def column(self, name: str, unit: str | None, internal: str) -> Any:
        """Readings of a column in an internal unit; the unit is the file's own, or the stated one."""
        log, own = self.settings["log"], self.block.units.get(name)
        if name not in self.block.columns:
            raise UnitError(f"{log} has no column {name!r}", f"it has {', '.join(self.block.columns)}")
        given = unit or own
        if not given:
            raise UnitError(f"{log}: column {name!r} has no unit", "state it, for example `force_unit: kN`")
        scale = factor(given, internal)
        if own and unit and not math.isclose(factor(own, internal), scale, rel_tol=1e-9):
            self.warnings.append(f"column {name!r}: taken in {unit} as stated, although the file says {own}")
        self._look(name)
        return self.block.values(name) * scale

    def _look(self, name: str) -> None:
        log = self.settings["log"]
        for report in self.file.report.blocks:
            if report.name != self.block.name:
                continue
            if name in report.constant or name in report.empty:
                raise UnitError(f"{log}: column {name!r} never changes", "name another column")
            if name in report.saturated:
                told = f"stands at its extreme value over {report.saturated[name]} rows: was a range reached?"
                self.warnings.append(f"column {name!r} {told}")

    def force(self) -> tuple[Any, float | None]:
        """Force record in N, and the peak that the controller kept (N) where the log has one."""
        from cracktie.lab.coupons import controller_peak

        name = self.settings["force"]
        values = self.column(name, self.settings["force_unit"], "N")
        kept = controller_peak(self.file, name)
        unit = self.settings["force_unit"] or self.block.units.get(name) or "N"
        return values, None if kept is None else kept[0] * factor(unit, "N")

    def need(self, *names: str) -> list[Any]:
        """Settings that must be there."""
        missing = [n for n in names if self.settings[n] is None]
        if missing:
            raise UnitError(
                f"{', '.join(missing)} is missing", f"state it for all specimens or for this one ({missing[0]}: ...)"
            )
        return [self.settings[n] for n in names]

    def share(self, name: str) -> float:
        """A relative uncertainty; 1 % where not stated."""
        return 0.01 if self.settings[name] is None else float(self.settings[name])

    def size(self, name: str) -> float:
        """An uncertainty in mm; 0 where not stated."""
        return 0.0 if self.settings[name] is None else float(self.settings[name])

    def chord(self, usual: tuple[float, float]) -> tuple[float, float]:
        """Strains of a chord: stated, or the usual ones."""
        low, high = self.settings["lower_strain"], self.settings["upper_strain"]
        made = (usual[0] if low is None else float(low), usual[1] if high is None else float(high))
        if not made[0] < made[1]:
            raise UnitError(f"lower_strain {made[0]:g} is not below upper_strain {made[1]:g}", "correct one of them")
        return made

    def day(self) -> None:
        """A warning where the stated day of the test is not the one the log carries."""
        stated = self.settings["tested"]
        days = {str(moment.date()) for moment in self.block.origins.values() if moment.year > 1970}
        if stated is not None and days and stated[:10] not in days:
            self.warnings.append(f"tested on {stated[:10]} as stated, but the log says {', '.join(sorted(days))}")

    def to_failure(self, force: Any, kept: float | None) -> None:
        """Remarks on a record that should rise to a peak and fall."""
        import numpy as np

        size = np.abs(force[np.isfinite(force)])
        if size.size < 3:
            return
        peak = float(size.max())
        if kept is not None and abs(kept) > peak:
            self.notes.append(
                f"peak kept by the controller, {100 * (abs(kept) / peak - 1):.1f} % above that of the log"
            )
        if int(np.argmax(size)) == size.size - 1:
            self.warnings.append(
                f"the largest reading of {self.settings['force']!r} is the last one: the record holds no failure, or "
                "this is not the force"
            )
        if size[0] > PRELOAD * peak:
            told = f"{100 * size[0] / peak:.0f} % of its largest value: a preload, or a cell that was not zeroed?"
            self.warnings.append(f"the force begins at {told}")


def reduce_log(what: str, settings: Mapping[str, Any], file: LogFile) -> Made:
    """Values of one specimen from its log. Raises `CracktieError` with what is wrong."""
    log = Log(settings, file, max(file.blocks, key=lambda b: b.frame.height))
    log.day()
    made = _MADE[what](log)
    made.notes += log.notes
    made.warnings += log.warnings
    return made


def _cylinder_strength(log: Log) -> Made:
    from cracktie.lab.coupons import cylinder_strength

    force, kept = log.force()
    (diameter,) = log.need("diameter")
    log.to_failure(force, kept)
    u = {"u_force": log.share("u_force"), "u_diameter": log.size("u_size")}
    found = cylinder_strength(force, diameter=diameter, length=log.settings["length"], peak_hold=kept, **u)
    if found.factor != 1.0:
        log.notes.append(f"slenderness factor {found.factor:.3f} (ASTM C39/C39M, from memory)")
    return Made({"f_c": Quantity(found.value, found.u), **_sizes(log, "diameter", "length")})


def _sizes(log: Log, *names: str) -> dict[str, Quantity]:
    return {n: log.settings[n] for n in names if log.settings[n] is not None}


def _cube_strength(log: Log) -> Made:
    from cracktie.lab.coupons import cube_strength

    force, kept = log.force()
    width, depth = log.need("width", "depth")
    log.to_failure(force, kept)
    u = {"u_force": log.share("u_force"), "u_side": log.size("u_size")}
    found = cube_strength(force, width=width, depth=depth, peak_hold=kept, **u)
    return Made({"f_c": Quantity(found.value, found.u), **_sizes(log, "width", "depth", "length")})


def _splitting(log: Log) -> Made:
    from cracktie.lab.coupons import splitting_strength

    force, kept = log.force()
    diameter, length = log.need("diameter", "length")
    log.to_failure(force, kept)
    u = {"u_force": log.share("u_force"), "u_size": log.size("u_size")}
    found = splitting_strength(force, diameter=diameter, length=length, peak_hold=kept, **u)
    return Made({"f_ct_split": Quantity(found.value, found.u), "diameter": diameter, "length": length})


def _flexure(log: Log) -> Made:
    log.need("span", "width", "depth", "loading")
    return Made({"flexural_force": _largest_force(log), **_sizes(log, "span", "width", "depth")})


def _modulus(log: Log) -> Made:
    from cracktie.lab.modulus import cylinder_modulus, limits

    transducers, diameter, base = log.need("transducers", "diameter", "base_length")
    standard, lower = log.settings["standard"], log.settings["lower_stress"]
    if standard is None:
        lower, upper = log.need("lower_stress", "upper_stress")
    else:
        (strength,) = log.need("strength")
        if log.settings["upper_stress"] is not None:
            raise UnitError(f"{standard} sets the upper stress", "delete upper_stress, or standard")
        lower, upper = limits(standard, float(strength), None if lower is None else float(lower))
    force, _ = log.force()
    time = log.settings["time"] or log.block.time
    if time is None:
        raise UnitError(f"{log.settings['log']} has no time column", "name it (time: ...)")
    lengths = {n: log.column(n, log.settings["transducer_unit"], "mm") for n in transducers}
    found = cylinder_modulus(
        log.block.values(time), force, lengths, diameter=diameter, base_length=base, lower_stress=lower,
        upper_stress=upper, start=log.settings["start"], u_force=log.share("u_force"), u_diameter=log.size("u_size"),
        u_base_length=log.size("u_base_length"), u_transducer=log.share("u_strain"),
    )  # fmt: skip
    _modulus_told(log, found, standard)
    return Made({"E_c": Quantity(found.value, found.u)})


def _modulus_told(log: Log, found: Any, standard: str | None) -> None:
    each = ", ".join(f"{c.modulus / 1000:.1f}" for c in found.cycles)
    by = f"{standard}, " if standard else ""
    log.notes.append(
        f"E_c by the secant from {found.lower_stress:.3g} to {found.upper_stress:.3g} MPa ({by}from memory; "
        f"{len(found.cycles)} loadings: {each} GPa; the last one counts)"
    )
    if found.reseated:
        log.notes.append(f"transducers were put into place until {found.reseated[-1][1]:.1f} s; later rows count")
    if standard == "EN 12390-13 A" and len(found.cycles) > 1:
        log.notes.append(f"initial secant modulus {found.cycles[0].modulus / 1000:.1f} GPa (first loading)")
    if standard and len(found.cycles) < 2:
        log.warnings.append(f"one loading only; {standard} asks for earlier ones to seat the specimen")
    if found.spread > SPREAD:
        log.warnings.append(
            f"transducers differ by {100 * found.spread:.0f} % in the last loading: bending, or a fault"
        )
    if len(found.cycles) > 1:
        change = abs(found.cycles[-1].modulus / found.cycles[-2].modulus - 1)
        if change > REPEAT:
            log.warnings.append(f"the last two loadings differ by {100 * change:.0f} %: seating goes on")


def _bar(log: Log) -> Made:
    from cracktie.lab.tension import bar_coupon

    force, _ = log.force()
    (name,) = log.need("strain")
    strain = log.column(name, log.settings["strain_unit"], "-")
    log.to_failure(force, None)
    u = log.share("u_force")
    area = log.settings["area"]
    if area is None:
        (diameter,) = log.need("diameter")
        area = math.pi * float(diameter) ** 2 / 4.0
        u = math.hypot(u, 2.0 * log.size("u_size") / float(diameter))
    found = bar_coupon(strain, force / float(area))
    spread, E = math.hypot(u, log.share("u_strain")), found.modulus
    values = {
        "R_p0.2" if found.upper_yield is None else "R_eH": Quantity(found.yield_stress, u * found.yield_stress),
        "R_m": Quantity(found.strength, u * found.strength),
        "E_s": Quantity(E.slope, math.hypot(spread * E.slope, E.u)),
    }
    if found.lower_yield is not None:
        values["R_eL"] = Quantity(found.lower_yield, u * found.lower_yield)
    if found.strain_at_max is not None:
        values["A_gt"] = Quantity(found.strain_at_max, log.share("u_strain") * found.strain_at_max)
    else:
        log.notes.append("no A_gt: the extensometer was off before the largest force")
    _bar_told(log, found)
    return Made(values, {"yielding": found.yielding}, curve=found.curve)


def _bar_told(log: Log, found: Any) -> None:
    E = found.modulus
    log.notes.append(
        f"E = {E.slope / 1000:.1f} GPa from {E.points} readings of the {found.modulus_from} (R2 = {E.r2:.5f}), toe "
        f"{1e6 * found.toe:.0f} um/m"
    )
    if E.r2 < WEAK_R2:
        log.warnings.append(
            f"R2 of the modulus is {E.r2:.4f}, below {WEAK_R2:g}: a curved start or noise; test with a loop"
        )
    if not 170e3 <= E.slope <= 230e3:
        log.warnings.append(
            f"E = {E.slope / 1000:.0f} GPa is not that of steel: look for a slip of the grips, of a unit or of the area"
        )
    if found.upper_yield is not None:
        low = "" if found.lower_yield is None else f", lower yield R_eL = {found.lower_yield:.0f} MPa"
        log.notes.append(f"R_eH = {found.upper_yield:.0f} MPa{low}, R_p0.2 = {found.proof_stress:.0f} MPa")


def _frp(log: Log) -> Made:
    from cracktie.lab.tension import CHORD, frp_coupon

    force, _ = log.force()
    name, width = log.need("strain", "width")
    strain = log.column(name, log.settings["strain_unit"], "-")
    log.to_failure(force, None)
    on = bool(log.settings["strain_to_failure"])
    found = frp_coupon(strain, force, width=width, chord=log.chord(CHORD), strain_to_failure=on)
    u_p = math.hypot(log.share("u_force"), log.size("u_size") / float(width))
    u_K = math.hypot(u_p, log.share("u_strain"))
    values = {
        "force_per_width": Quantity(found.force_per_width, u_p * found.force_per_width),
        "stiffness_per_width": Quantity(found.stiffness_per_width, u_K * found.stiffness_per_width),
    }
    if found.measured:
        values["eps_fu"] = Quantity(found.ultimate_strain, log.share("u_strain") * found.ultimate_strain)
    else:
        log.notes.append(f"strain at failure {1e6 * found.ultimate_strain:.0f} um/m is force over stiffness")
    if found.chord != CHORD:
        log.notes.append(f"chord from {1e6 * found.chord[0]:.0f} to {1e6 * found.chord[1]:.0f} um/m")
    _bent(log, found.bend, found.chord)
    return Made(values)


def _adhesive(log: Log) -> Made:
    from cracktie.lab.tension import ADHESIVE_CHORD, adhesive_coupon

    force, _ = log.force()
    (name,) = log.need("strain")
    area = log.settings["area"]
    u_area = 0.0
    if area is None:
        width, thickness = log.need("width", "thickness")
        area = width * thickness
        u_area = log.size("u_size") * math.hypot(1.0 / float(width), 1.0 / float(thickness))
    strain = log.column(name, log.settings["strain_unit"], "-")
    found = adhesive_coupon(strain, force, area=float(area), chord=log.chord(ADHESIVE_CHORD))
    u_f = math.hypot(log.share("u_force"), u_area)
    u_E = math.hypot(u_f, log.share("u_strain"))
    _bent(log, found.bend, found.chord)
    return Made(
        {"f_t": Quantity(found.strength, u_f * found.strength), "E_a": Quantity(found.modulus, u_E * found.modulus)}
    )


def _bent(log: Log, bend: float | None, chord: tuple[float, float]) -> None:
    if bend is not None and abs(bend - 1.0) > BENT:
        log.warnings.append(
            f"the record is not straight: its slope between 25 and 50 % of the largest force is {bend:.2f} times that "
            f"of the chord from {1e6 * chord[0]:.0f} to {1e6 * chord[1]:.0f} um/m (slip or seating at the start?); "
            "state lower_strain and upper_strain of a straight part, or leave the specimen out"
        )


def _largest_force(log: Log) -> Quantity:
    """Largest unfiltered force in N, or what the controller kept where that is larger."""
    import numpy as np

    force, kept = log.force()
    if not np.isfinite(force).any() or not (peak := max(float(np.nanmax(force)), kept or 0.0)) > 0.0:
        raise UnitError(
            f"{log.settings['log']}: the force {log.settings['force']!r} never rises above 0", "check its sign"
        )
    log.to_failure(force, kept)
    return Quantity(peak, log.share("u_force") * peak)


def _pull_out(log: Log) -> Made:
    return Made({"force": _largest_force(log)})


def _pull_off(log: Log) -> Made:
    (diameter,) = log.need("diameter")
    size = Quantity(float(diameter), log.size("u_size") or None)
    return Made({"pull_off_force": _largest_force(log), "diameter": size})


_MADE: Mapping[str, Callable[[Log], Made]] = {
    "cylinder strength": _cylinder_strength,
    "cube strength": _cube_strength,
    "splitting strength": _splitting,
    "flexural strength": _flexure,
    "cylinder modulus": _modulus,
    "bar tension": _bar,
    "frp tension": _frp,
    "adhesive tension": _adhesive,
    "anchor pull-out": _pull_out,
    "pull-off of concrete": _pull_off,
    "pull-off of adhesive": _pull_off,
}
