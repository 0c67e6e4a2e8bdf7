"""G-code, parse and plan: one million moves against cutting the same file into lines."""

import io
import statistics
import tempfile
import time
import tracemalloc
from collections.abc import Callable

import numpy as np

from app.calculations.print_motion import MotionLimits, print_motion
from app.readers.gcode import read_gcode

_MOVES = 1_000_000


def written_file(moves: int, seed: int = 1) -> bytes:
    """A file like one for a printer: layers of closed loops of short moves, travel, pulling back, comments."""
    chance = np.random.default_rng(seed)
    turn = np.cumsum(chance.normal(0.0, 0.4, moves))
    reach = chance.exponential(1.2, moves) + 0.05
    x = 110 + 90 * np.sin(np.cumsum(reach * np.cos(turn)) / 90)
    y = 110 + 90 * np.sin(np.cumsum(reach * np.sin(turn)) / 90)
    pushed = reach * 0.033
    lines = ["M201 X2000 Y2000 Z200 E5000", "M204 P1500 T2000", "G21", "G90", "M83", "G28", "G92 E0"]
    height = 0.2
    for k, (at_x, at_y, e) in enumerate(zip(x.tolist(), y.tolist(), pushed.tolist(), strict=True)):
        if k % 4000 == 0:
            height += 0.2
            lines += [";LAYER", "G92 E0", f"G1 Z{height:.2f} F600", f"M106 S{k % 255}"]
        if k % 50 == 0:
            lines += [
                "G1 E-0.8 F2100",
                f"G1 X{at_x:.3f} Y{at_y:.3f} F9000",
                "G1 E0.8 F2100",
                "G1 F2400 ;next loop",
            ]
        if k % 200 == 0:
            lines += [f"M204 P{1000 + k % 3 * 250}"]
        lines.append(f"G1 X{at_x:.3f} Y{at_y:.3f} E{e:.5f}")
    return ("\n".join(lines) + "\n").encode()


def _median_s(work: Callable[[], object], times: int) -> float:
    took = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        took.append(time.perf_counter() - begin)
    return statistics.median(took)


def measure() -> list[tuple[str, str, float, float | None]]:
    """Rows of (what, unit and target in words, measured, target or None)."""
    text = written_file(_MOVES)
    limits = MotionLimits()
    moves = read_gcode(io.BytesIO(text), "bench.gcode", max_bytes=1 << 30)
    floor = _median_s(lambda: text.split(b"\n"), 7)
    read = _median_s(lambda: read_gcode(io.BytesIO(text), "bench.gcode", max_bytes=1 << 30), 5)
    plan = _median_s(lambda: print_motion(moves, limits), 5)
    del moves
    with tempfile.TemporaryFile() as stream:
        stream.write(text)
        stream.seek(0)
        tracemalloc.start()
        moves = read_gcode(stream, "bench.gcode", max_bytes=1 << 30)
        print_motion(moves, limits)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    over_mb = (peak - len(text)) / 1e6
    share = f"x bytes.split of the same {len(text) / 1e6:.0f} MB, {moves.x_mm.size:,} moves ({floor * 1000:.0f} ms)"
    return [
        ("G-code, parse and plan", f"{share}; target 14, stretch 9", (read + plan) / floor, 14.0),
        ("G-code, parse", share, read / floor, None),
        ("G-code, plan", share, plan / floor, None),
        ("G-code, peak memory", "MB above the size of the file; target 150", over_mb, 150.0),
    ]


if __name__ == "__main__":
    for what, unit, measured, target in measure():
        print(
            f"{what}: {measured:.2f} {unit}{'' if target is None else ' ok' if measured <= target else ' MISSED'}"
        )
