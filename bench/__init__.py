"""Benches: each module has `rows()`, a list of rows made by `bench.rows`; `python dev.py bench` runs them."""
