"""Statistics of few beams: scatter with its origin, ratios with intervals, differences that share a control."""
