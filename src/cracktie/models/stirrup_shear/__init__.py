"""Published stirrup contributions to the shear resistance, one file a source."""
