"""Rendering of results: numbers and formulas as text and mathematics, calculation sheets, reports."""
