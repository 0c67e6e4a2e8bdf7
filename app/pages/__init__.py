"""Sheets: an address in, HTML out."""
