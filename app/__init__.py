"""Coaming: plans a full-size simulated cockpit and computes what the plan means."""
