"""Materials as written in materials.yaml: concretes, bars, FRP systems, adhesives, anchor fibres; MPa, mm."""

from __future__ import annotations

from typing import Any

from pydantic import Field, model_validator

from cracktie.campaign.fields import (
    Age,
    Area,
    BarSize,
    Date,
    Density,
    Entry,
    Force,
    Id,
    MassPerArea,
    Modulus,
    Ratio,
    Size,
    Strain,
    Stress,
    Temperature,
    words,
)

FIBRES = ("carbon", "glass", "aramid", "basalt", "hybrid")
ANCHOR_MODES = (
    "fan debonding", "fan splitting", "dowel rupture", "dowel rupture at bend", "dowel pull-out", "dowel cone",
    "combined cone-pull-out", "hole edge crushing",
)  # fmt: skip
"""How a spike anchor may fail in a test of its own."""
CONCRETE_MODES = ("dowel cone",)
"""Those whose resistance follows the root of the concrete strength; in combined modes a part that is not known does."""
SHAPES = ("cylinder 150x300", "cylinder 100x200", "cylinder", "cube 150", "cube 100", "cube", "core")
"""Shapes of compression specimens; 'cylinder' and 'cube' are those of other sizes."""
CUBE_RATIO = (0.70, 1.00)
"""Cylinder over cube strength that may be stated; the classes of EN 1992-1-1 have 0.78 to 0.86."""


def _within(name: str, value: float | None, low: float, high: float) -> None:
    """Refuse a value no such material has, wide enough for any real one: it is a slip of the unit."""
    if value is not None and not low <= value <= high:
        raise ValueError(f"{name} = {value:g} MPa is not between {low:g} and {high:g} MPa (a slip of the unit?)")


class StrengthTest(Entry):
    """One group of companion specimens of a batch."""

    age: Age
    f_c: Stress
    n: int | None = Field(None, ge=1)
    shape: words(*SHAPES) = "cylinder 150x300"  # type: ignore[valid-type]


class ConcreteValues(Entry):
    """Nominal or measured properties of a batch; `h_prism` is the depth of the prisms that gave `f_ct_fl`."""

    f_c: Stress | None = None
    f_ct: Stress | None = None
    f_ct_split: Stress | None = None
    f_ct_fl: Stress | None = None
    h_prism: Size | None = None
    E_c: Modulus | None = None
    pull_off: Stress | None = None

    @model_validator(mode="after")
    def _possible(self) -> ConcreteValues:
        _within("f_c", self.f_c, 1.0, 300.0)
        _within("E_c", self.E_c, 1_000.0, 100_000.0)
        return self


class Concrete(Entry):
    """One batch. `strength` holds companion tests by age; values at a beam's age are interpolated from them.

    `strength_at_age: fitted` takes a curve through three or more ages in place of straight pieces. Cubes count only
    with a stated `cylinder_over_cube`, and only where the batch has no cylinder.
    """

    cast: Date | None = None
    aggregate: Size | None = None
    weight: Density | None = None
    nominal: ConcreteValues | None = None
    measured: ConcreteValues | None = None
    strength: tuple[StrengthTest, ...] = ()
    strength_at_age: words("interpolated", "fitted") = "interpolated"  # type: ignore[valid-type]
    cylinder_over_cube: Ratio | None = None
    source: str | None = Field(None, alias="from")
    note: str | None = None

    @model_validator(mode="after")
    def _ratio(self) -> Concrete:
        low, high = CUBE_RATIO
        if self.cylinder_over_cube is not None and not low <= self.cylinder_over_cube <= high:
            raise ValueError(
                f"cylinder_over_cube = {self.cylinder_over_cube:g} is not between {low:g} and {high:g} (cylinder "
                "strength over cube strength)"
            )
        return self


class BarValues(Entry):
    """Nominal or measured properties of a bar."""

    f_y: Stress | None = None
    f_u: Stress | None = None
    E_s: Modulus | None = None
    A_gt: Strain | None = None

    @model_validator(mode="after")
    def _possible(self) -> BarValues:
        _within("f_y", self.f_y, 50.0, 3_000.0)
        _within("f_u", self.f_u, 50.0, 4_000.0)
        _within("E_s", self.E_s, 10_000.0, 400_000.0)
        return self


class Bar(Entry):
    """One bar material; `diameter` is needed where the bar is used as a stirrup."""

    diameter: BarSize | None = None
    area: Area | None = None
    kind: words("deformed", "plain") = "deformed"  # type: ignore[valid-type]
    yielding: words("plateau", "rounded") = "plateau"  # type: ignore[valid-type]
    nominal: BarValues | None = None
    measured: BarValues | None = None
    source: str | None = Field(None, alias="from")
    note: str | None = None


class FrpValues(Entry):
    """Properties of an FRP in the stated thickness convention."""

    E_f: Modulus | None = None
    f_fu: Stress | None = None
    eps_fu: Strain | None = None

    @model_validator(mode="after")
    def _possible(self) -> FrpValues:
        _within("E_f", self.E_f, 1_000.0, 1_000_000.0)
        _within("f_fu", self.f_fu, 20.0, 10_000.0)
        return self


class FrpSystem(Entry):
    """One FRP system. A stress or modulus means nothing without the thickness convention, so it is mandatory.

    `known_cv`: coefficient of variation of the strength known from earlier tests (an upper estimate, with its source);
    the characteristic strength of coupons then follows the row 'V_X known' of EN 1990 Table D1.
    """

    fibre: words(*FIBRES)  # type: ignore[valid-type]
    form: words("sheet", "laminate")  # type: ignore[valid-type]
    thickness: Size
    convention: words("fibre", "laminate")  # type: ignore[valid-type]
    areal_mass: MassPerArea | None = None
    mean: FrpValues | None = None
    characteristic: FrpValues | None = None
    guaranteed: FrpValues | None = None
    known_cv: Ratio | None = None
    known_cv_source: str | None = None
    source: str | None = Field(None, alias="from")
    note: str | None = None

    @model_validator(mode="after")
    def _some_values(self) -> FrpSystem:
        if self.known_cv is not None and (self.known_cv_source is None or not 0.0 < self.known_cv <= 0.5):
            raise ValueError("known_cv lies between 0 and 50 % and needs known_cv_source: the tests it is known from")
        if self.source is None and not any((self.mean, self.characteristic, self.guaranteed)):
            raise ValueError("give at least one of mean, characteristic, guaranteed (E_f with f_fu or eps_fu)")
        return self

    def values(self, *order: str) -> tuple[str, dict[str, float]]:
        """First complete set of `E_f, f_fu, eps_fu` in the given order of kinds, the third value derived.

        Raises `ValueError` where none is complete.
        """
        for kind in order:
            entry = getattr(self, kind)
            if entry is None or entry.E_f is None:
                continue
            if entry.f_fu is None and entry.eps_fu is None:
                continue
            f_fu = float(entry.f_fu if entry.f_fu is not None else entry.eps_fu * entry.E_f)
            eps_fu = float(entry.eps_fu if entry.eps_fu is not None else entry.f_fu / entry.E_f)
            return kind, {"E_f": float(entry.E_f), "f_fu": f_fu, "eps_fu": eps_fu}
        raise ValueError(f"none of {', '.join(order)} gives E_f with f_fu or eps_fu; write one of them")


class Adhesive(Entry):
    """Adhesive or primer; the glass transition temperature `T_g` is kept as a datum."""

    E_a: Modulus | None = None
    f_t: Stress | None = None
    bond_strength: Stress | None = None
    pull_off: Stress | None = None
    thickness: Size | None = None
    T_g: Temperature | None = None
    source: str | None = Field(None, alias="from")
    note: str | None = None


class AnchorFibre(Entry):
    """Dry fibre of spike anchors."""

    fibre: words(*FIBRES)  # type: ignore[valid-type]
    tow_area: Area | None = None
    mean: FrpValues | None = None
    characteristic: FrpValues | None = None
    guaranteed: FrpValues | None = None
    note: str | None = None


class AnchorsTested(Entry):
    """Pull-out tests of anchors like those of a span: mean resistance of ONE anchor, its 5 % fractile, usual mode.

    `f_c` is the concrete strength of the tested blocks; where a cone was pulled out, a beam of another strength takes
    the resistance times the root of the ratio.
    """

    resistance: Force | None = None
    characteristic: Force | None = None
    n: int | None = Field(None, ge=1)
    mode: words(*ANCHOR_MODES) | None = None  # type: ignore[valid-type]
    f_c: Stress | None = None
    source: str | None = Field(None, alias="from")
    note: str | None = None

    @model_validator(mode="after")
    def _some_value(self) -> AnchorsTested:
        if self.source is None and self.resistance is None:
            raise ValueError("give the mean resistance of one anchor, or `from: coupons/FILE`")
        return self


class Materials(Entry):
    """The whole of materials.yaml."""

    units: dict[str, str] | None = None
    concretes: dict[Id, Concrete] = Field(default_factory=dict)
    bars: dict[Id, Bar] = Field(default_factory=dict)
    frp_systems: dict[Id, FrpSystem] = Field(default_factory=dict)
    adhesives: dict[Id, Adhesive] = Field(default_factory=dict)
    anchor_fibres: dict[Id, AnchorFibre] = Field(default_factory=dict)
    anchors_tested: dict[Id, AnchorsTested] = Field(default_factory=dict)

    def lookup(self, kind: str, id: str) -> Any:
        """Entry of a kind; raises `KeyError`."""
        return getattr(self, kind)[id]
