"""One reader for each file format; each refuses with file, place and reason."""
