"""Results in, bytes out: one file for each format."""
