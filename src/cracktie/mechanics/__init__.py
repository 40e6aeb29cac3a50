"""Numerical kernels: numbers and arrays in, arrays out; no model and no campaign is known here."""
