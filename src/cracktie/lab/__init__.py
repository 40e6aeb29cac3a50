"""Laboratory data: logs, channels, clocks, events, coupons, uncertainty. Pure functions; raw files stay as they are."""
