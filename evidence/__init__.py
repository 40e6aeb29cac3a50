"""Long sampling studies; each script here writes docs/evidence/NAME.json. `python dev.py evidence` runs them."""
