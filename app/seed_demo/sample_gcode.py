"""Writes G-code for a rectangular sample part: outlines and a crossed filling, layer by layer."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi


@dataclass(frozen=True, slots=True)
class SamplePart:
    """A block: size in mm, line width and layer height in mm, share of the inside that is filled."""

    width_mm: float
    depth_mm: float
    height_mm: float
    filled: float = 0.25
    line_mm: float = 0.45
    layer_mm: float = 0.25
    outlines: int = 3
    speed_mm_s: float = 55.0


def sample_gcode(part: SamplePart, filament_diameter_mm: float = 1.75) -> str:
    """The file as text: absolute places, filament by the move, millimetres and mm a minute.

    >>> sample_gcode(SamplePart(10, 10, 0.25)).splitlines()[:4]
    ['; sample block 10 x 10 x 0.25 mm', 'G21', 'G90', 'M83']
    """
    lines = [
        f"; sample block {part.width_mm:g} x {part.depth_mm:g} x {part.height_mm:g} mm",
        "G21",
        "G90",
        "M83",
        "G28",
        "G92 E0",
    ]
    feed = part.line_mm * part.layer_mm / (pi / 4 * filament_diameter_mm**2)
    for layer in range(max(1, round(part.height_mm / part.layer_mm))):
        lines.append(f"G1 Z{(layer + 1) * part.layer_mm:.3f} F600")
        for path in _paths(part, layer):
            lines.extend(_drawn(path, feed, part.speed_mm_s * 60))
    lines.append("G1 E-2 F2400")
    return "\n".join(lines) + "\n"


def _paths(part: SamplePart, layer: int) -> Iterator[list[tuple[float, float]]]:
    for turn in range(part.outlines):
        inset = (turn + 0.5) * part.line_mm
        left, right = inset, part.width_mm - inset
        front, back = inset, part.depth_mm - inset
        if left < right and front < back:
            yield [(left, front), (right, front), (right, back), (left, back), (left, front)]
    edge = part.outlines * part.line_mm
    across = part.width_mm if layer % 2 == 0 else part.depth_mm
    along = part.depth_mm if layer % 2 == 0 else part.width_mm
    if along <= 2 * edge:
        return
    place, forth = edge, True
    while place < across - edge:
        ends = [(place, edge), (place, along - edge)]
        ends = ends if forth else ends[::-1]
        yield ends if layer % 2 == 0 else [(y, x) for x, y in ends]
        place += part.line_mm / part.filled
        forth = not forth


def _drawn(path: list[tuple[float, float]], feed: float, speed_mm_min: float) -> Iterator[str]:
    x, y = path[0]
    yield f"G0 X{x:.3f} Y{y:.3f} F9000"
    for next_x, next_y in path[1:]:
        length = ((next_x - x) ** 2 + (next_y - y) ** 2) ** 0.5
        yield f"G1 X{next_x:.3f} Y{next_y:.3f} E{length * feed:.5f} F{speed_mm_min:.0f}"
        x, y = next_x, next_y
