"""Planning of tests: rehearsal of a campaign with simulated logs whose truth is known."""
