"""Invented beams for the drawings: no real specimen."""

from __future__ import annotations

from typing import Any

import pytest

from cracktie.campaign.specimen import Specimen

RECTANGLE = {"shape": "rectangular", "b_w": 200, "h": 400, "cover": 25}
TEE = {"shape": "T", "b_w": 180, "h": 450, "b_flange": 600, "h_flange": 100, "cover": 25}
EYE = {"shape": "I", "b_w": 120, "h": 500, "b_flange": 400, "h_flange": 90, "b_bottom": 300, "h_bottom": 110}
STRIPS = {"system": "C1", "layout": "strips", "width": 60, "spacing": 130}
ANCHOR = {
    "fibre": "T1",
    "host": "web",
    "z": 300,
    "bend_angle": 70,
    "embedment": 80,
    "dowel_diameter": 12,
    "hole_diameter": 14,
    "fibre_area": 60,
    "fan": {"length": 100, "angle": 60},
}
STIRRUPS = {"material": "s8", "diameter": 8, "spacing": 150}


def beam(section: dict[str, Any], span_a: dict[str, Any], span_b: dict[str, Any], **more: Any) -> Specimen:
    """An invented beam with two layers of bars."""
    layers = [
        {"bars": "2 x 12 mm", "depth": 40, "material": "s12"},
        {"bars": "4 x 20 mm", "depth": section["h"] - 45, "material": "s20"},
    ]
    spans = {"A": {"length": 1000, "stirrups": STIRRUPS, **span_a}, "B": {"length": 1000, **span_b}}
    given = {"id": "X1", "overhang_left": 150, "overhang_right": 150, "bars": layers, **more}
    return Specimen(section=section, spans=spans, **given)


@pytest.fixture(scope="session")
def beams() -> dict[str, Specimen]:
    """One beam for each family of drawing."""
    u = {**STRIPS, "scheme": "u", "corner_radius": 20}
    sheet = {"system": "C1", "scheme": "u", "layout": "continuous"}
    return {
        "bare": beam(RECTANGLE, {}, {}),
        "side, beta 60": beam(
            RECTANGLE,
            {"wrap": {**STRIPS, "scheme": "side", "beta": 60, "bottom_edge": 30, "top_edge": 370}},
            {"wrap": {**STRIPS, "scheme": "side", "beta": 60}},
            between_loads=400,
            tested_span="A",
        ),
        "U with anchors": beam(TEE, {"wrap": u, "anchors": ANCHOR}, {"wrap": sheet}, tested_span="A"),
        "flange anchors, beta 120": beam(
            TEE,
            {
                "wrap": {**u, "beta": 120, "width": 50},
                "anchors": {**ANCHOR, "host": "flange", "z": 345, "bend_angle": 15, "per_leg": 2, "across": 30},
            },
            {"wrap": {**u, "soffit": "lapped"}},
            between_loads=300,
        ),
        "I": beam(
            EYE,
            {"wrap": {**u, "scheme": "u"}},
            {"wrap": {**STRIPS, "scheme": "side", "back": {"bottom_edge": 130}, "bottom_edge": 120, "top_edge": 400}},
            tested_span="B",
        ),
        "full": beam(
            RECTANGLE,
            {"wrap": {"system": "C1", "scheme": "full", "layout": "strips", "width": 50, "positions": (100, 190, 350)}},
            {"wrap": {**STRIPS, "scheme": "full", "corner_radius": 30}},
        ),
        "full on T": beam(TEE, {"wrap": {**STRIPS, "scheme": "full"}}, {"wrap": {**sheet, "scheme": "full"}}),
    }
