"""The demo cockpit, as data, and the code that loads it through the same doors a builder's data comes through."""

from app.seed_demo.load import clear_demo, is_demo_dir, load_demo

__all__ = ["clear_demo", "is_demo_dir", "load_demo"]
