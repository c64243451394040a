"""Studies: several heaters asked one question."""
