"""Published concrete contributions to the shear resistance, one file a source."""
