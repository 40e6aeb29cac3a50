"""Published flexural limits: one file a source."""
