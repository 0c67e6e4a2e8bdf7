"""Start: importing the application against importing the libraries no start can do without."""

import os
import statistics
import subprocess
import sys

TURNS = 9
FLOOR = "import fastapi, sqlmodel, jinja2, uvicorn"
APP = "from app.cli import load_program; load_program()"


def measure() -> list[tuple[str, str, float, float | None]]:
    """Rows of (what, unit and target in words, measured, target at most or None)."""
    _seconds(FLOOR)  # what is read from the disk is in memory from here on
    _seconds(APP)
    floor, app = [], []
    for _ in range(TURNS):  # in turn, so that what else the machine does falls on both
        floor.append(_seconds(FLOOR))
        app.append(_seconds(APP))
    floor_s, app_s = statistics.median(floor), statistics.median(app)
    return [
        (
            "Start, import of the app",
            f"x import of fastapi, sqlmodel, jinja2, uvicorn ({floor_s:.2f} s, app {app_s:.2f} s); target 1.3",
            app_s / floor_s,
            1.3,
        )
    ]


def _seconds(statement: str) -> float:
    """How long a statement takes in an interpreter of its own, the interpreter's start left out."""
    timed = f"import time; begun = time.perf_counter(); {statement}; print(time.perf_counter() - begun, flush=True)"
    # Compiled modules are kept, as they are for a builder whatever this shell says.
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    ran = subprocess.run([sys.executable, "-c", timed], check=True, capture_output=True, text=True, env=kept)
    return float(ran.stdout)
