"""A beam with one diagonal crack and bonded FRP: shear over the opening, peaks, events, strains at gauges."""

from cracktie.beam.coefficients import COEFFICIENTS, Coefficient
from cracktie.beam.response import FAST, FINE, Fineness, Peaks, Response, peaks, respond

__all__ = ["COEFFICIENTS", "FAST", "FINE", "Coefficient", "Fineness", "Peaks", "Response", "peaks", "respond"]
