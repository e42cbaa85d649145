"""Values that others published, one CSV for each source."""
