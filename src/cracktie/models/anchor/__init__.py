"""Resistance of FRP spike anchors, one source per file; forces in N for ONE anchor.

Published formulas and assumptions of our own are separate models. Each coefficient that is ours stands with its range
in `own_ranges.OWN_RANGES`; the text of the model names the range too.
"""
