"""The demo cockpit, as data, and the code that loads it."""
