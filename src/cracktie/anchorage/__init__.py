"""Spike anchors of a span: inputs from the specimen, resistance of one anchor, governing map, derived sizes."""

from cracktie.anchorage.geometry import AnchorGeometry, anchor_geometry
from cracktie.anchorage.governing import GoverningMap, governing_map
from cracktie.anchorage.inputs import AnchorInputs, anchor_inputs
from cracktie.anchorage.resistance import (
    FAR,
    MECHANISMS,
    AnchorResistance,
    Spring,
    anchor_band,
    anchor_resistance,
)

__all__ = [
    "FAR",
    "MECHANISMS",
    "AnchorGeometry",
    "AnchorInputs",
    "AnchorResistance",
    "GoverningMap",
    "Spring",
    "anchor_band",
    "anchor_geometry",
    "anchor_inputs",
    "anchor_resistance",
    "governing_map",
]
