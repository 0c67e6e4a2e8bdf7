from collections import Counter
from itertools import pairwise

import pytest

from app.pages.module_drawing import ModuleDrawing, ModulePin, PlacedPin
from app.reference.board_module import board_modules

MODULES = {module.code: module for module in board_modules()}


def drawing(code: str) -> ModuleDrawing:
    module = MODULES[code]
    pins = tuple(
        ModulePin(p.label, p.side, p.place, "free", "a use of some length", x_mm=p.x_mm, y_mm=p.y_mm)
        for p in module.pins
    )
    return ModuleDrawing(module.name, module.chip, module.width_mm, module.length_mm, pins)


@pytest.mark.parametrize("code", sorted(MODULES))
def test_every_pin_of_a_module_is_drawn_once_on_its_body(code: str) -> None:
    board = drawing(code)
    sheet = board.layout()
    assert Counter(placed.pin for placed in sheet.pins) == Counter(board.pins)
    for placed in sheet.pins:
        assert sheet.body_x <= placed.pad_x <= sheet.body_x + sheet.body_width
        assert sheet.body_y <= placed.pad_y <= sheet.body_y + sheet.body_length


@pytest.mark.parametrize("code", sorted(MODULES))
def test_the_body_keeps_the_proportions_of_the_module(code: str) -> None:
    sheet = drawing(code).layout()
    assert sheet.body_length / sheet.body_width == pytest.approx(
        MODULES[code].length_mm / MODULES[code].width_mm
    )


@pytest.mark.parametrize("code", sorted(MODULES))
def test_labels_stand_below_one_another_inside_the_canvas(code: str) -> None:
    sheet = drawing(code).layout()
    for hand in (-1, 1):
        heights = [placed.label_y for placed in sheet.pins if placed.hand == hand]
        assert all(below - above >= sheet.row - 1e-9 for above, below in pairwise(heights))
        assert all(0 < height < sheet.height for height in heights)
        assert sheet.label_room + max(abs(p.label_x) for p in sheet.pins) < 180  # half of the narrow canvas


def crosses(one: PlacedPin, other: PlacedPin) -> bool:
    """Whether two leaders of the same edge change places between pad and label."""
    return (one.pad_y - other.pad_y) * (one.label_y - other.label_y) < 0


@pytest.mark.parametrize("code", sorted(MODULES))
def test_leaders_of_the_long_sides_do_not_cross(code: str) -> None:
    sheet = drawing(code).layout()
    for side in ("left", "right"):
        pins = [placed for placed in sheet.pins if placed.pin.side == side]
        assert not any(crosses(one, other) for one, other in pairwise(pins))


def test_pins_without_a_measured_place_share_out_their_edge() -> None:
    pins = tuple(ModulePin(f"D{n}", "left", n, "free") for n in range(1, 4))
    sheet = ModuleDrawing("Own module", "own chip", 20, 40, pins).layout()
    shares = [(placed.pad_y - sheet.body_y) / sheet.body_length for placed in sheet.pins]
    assert shares == pytest.approx([0.25, 0.5, 0.75])


def test_the_key_counts_the_pins_in_each_state() -> None:
    pins = tuple(
        ModulePin(f"D{n}", "left", n, state) for n, state in enumerate(["free", "used", "short", "used"])
    )
    board = ModuleDrawing("Own module", "own chip", 20, 40, pins)
    assert board.used_words == "1 free, 2 in use, 1 fought over"


def test_a_long_use_is_cut_and_no_stump_is_left_on_a_narrow_drawing() -> None:
    pin = ModulePin("D1", "left", 1, "used", "Port tank level, coil A of the stepper motor")
    assert pin.long_text == "Port tank level, coil A of the st…"
    assert pin.short_text(10) == "Port tank…"
    assert pin.short_text(5) == ""
