"""Figures of results as SVG text: deterministic, readable in greyscale, marked where the data are simulated."""
