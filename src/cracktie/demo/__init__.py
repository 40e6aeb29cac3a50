"""The demo: an invented campaign of twelve beams with simulated logs of known truth."""
