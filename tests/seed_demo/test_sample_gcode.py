"""The demo's G-code, against sums that can be made by hand."""

import re
from math import pi

import pytest

from app.seed_demo.sample_gcode import SamplePart, sample_gcode


def moves(text: str) -> list[tuple[float, float, float]]:
    """Each drawing move of a file: from its own lines, with nothing of the program's reader."""
    x = y = 0.0
    drawn = []
    for line in text.splitlines():
        at = {word[0]: float(word[1:]) for word in re.findall(r"[XYE]-?[\d.]+", line)}
        if "X" in at:
            if "E" in at:
                drawn.append((((at["X"] - x) ** 2 + (at["Y"] - y) ** 2) ** 0.5, at["E"], at["X"]))
            x, y = at["X"], at["Y"]
    return drawn


def test_the_filament_of_a_solid_block_fills_the_length_of_its_lines() -> None:
    """A line of 0.45 x 0.25 mm takes 0.1125 mm3 a millimetre; filament of 1.75 mm gives pi/4 x 1.75^2 mm3."""
    for length, pushed, _ in moves(sample_gcode(SamplePart(20, 10, 0.5))):
        assert pushed == pytest.approx(length * 0.45 * 0.25 / (pi / 4 * 1.75**2), abs=2e-5)


def test_a_ring_of_one_outline_is_as_long_as_its_rectangle() -> None:
    # One layer, one outline, nothing inside: 2 x (9.55 + 4.55) mm, the line's middle 0.225 mm from each edge.
    text = sample_gcode(SamplePart(10, 5, 0.25, outlines=1, filled=1e-9))
    ring = [length for length, _, _ in moves(text)][:4]
    assert sum(ring) == pytest.approx(2 * (9.55 + 4.55), abs=0.01)


def test_every_move_stays_inside_the_block() -> None:
    text = sample_gcode(SamplePart(30, 12, 2))
    across = [float(value) for value in re.findall(r"X(-?[\d.]+)", text)]
    along = [float(value) for value in re.findall(r"Y(-?[\d.]+)", text)]
    assert min(across) >= 0
    assert max(across) <= 30
    assert min(along) >= 0
    assert max(along) <= 12


@pytest.mark.parametrize(("height_mm", "layers"), [(0.25, 1), (2, 8), (0.1, 1)])
def test_a_block_has_as_many_layers_as_fit_its_height(height_mm: float, layers: int) -> None:
    assert sample_gcode(SamplePart(10, 10, height_mm)).count("G1 Z") == layers
