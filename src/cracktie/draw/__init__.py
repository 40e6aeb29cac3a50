"""Drawings: one scene in millimetres of the real object, rendered as SVG, DXF and PDF."""
