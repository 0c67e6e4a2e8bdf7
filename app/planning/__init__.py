"""Gather rows, calculate, hand back a result; or apply a change."""
