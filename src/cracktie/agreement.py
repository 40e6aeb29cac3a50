"""V_f by subtraction beside V_f by strain: two measurands, shown together and never averaged."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Agreement:
    """Both values of one test, N, with the standard uncertainty of THIS beam's value.

    The difference is the change of V_c + V_s that the wrap causes, plus errors. `u_sub` holds the scatter of V_c + V_s
    in the beam and in its reference, instruments and scaling, not the scatter of its own V_f, which both values share;
    V_f by strain holds no load. So the two are independent and u_d^2 = u_sub^2 + u_strain^2.
    """

    test: str
    p: str
    V_f_sub: float
    u_sub: float
    V_f_strain: float
    u_strain: float
    bound: bool

    @property
    def difference(self) -> float:
        """V_f by subtraction less V_f by strain, N."""
        return self.V_f_sub - self.V_f_strain

    @property
    def u_d(self) -> float:
        """Standard uncertainty of the difference, N."""
        return math.hypot(self.u_sub, self.u_strain)

    @property
    def distinguishable(self) -> bool:
        """Whether the difference is larger than twice its standard uncertainty."""
        return abs(self.difference) > 2.0 * self.u_d

    @property
    def verdict(self) -> str:
        """In words; 'not distinguishable' is no proof that both are equal."""
        limit = f"2u_d = {2.0 * self.u_d / 1e3:.3g} kN"
        if not self.distinguishable:
            return f"not distinguishable; {limit}: differences below this cannot be seen"
        more = "V_c + V_s changed by the wrap, or gauges and crack are not what they are taken for"
        return f"|d| = {abs(self.difference) / 1e3:.3g} kN is more than {limit}: {more}"

    def to_dict(self) -> dict[str, Any]:
        """Plain mapping."""
        more = {"difference": self.difference, "u_d": self.u_d, "distinguishable": self.distinguishable}
        return {**self.__dict__, **more, "verdict": self.verdict}
