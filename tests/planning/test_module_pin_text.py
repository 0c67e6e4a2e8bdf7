"""A module's pins as lines: read, refused with the line, written back."""

import pytest

from app.planning.module_pin_text import (
    PinLineRefused,
    default_module_pins,
    read_module_pins,
    write_module_pins,
)
from app.tables import ModulePin

PLAIN = frozenset({"in", "out", "pullup"})
CHIP = {"PB5": PLAIN | {"spi-clock:0"}, "PD0": PLAIN | {"rx:0"}, "PC0": PLAIN | {"analogue:A0"}, "PC6": PLAIN}


def read(left: str, right: str = "") -> dict[str, object]:
    return {pin.label: pin for pin in read_module_pins({"left": left, "right": right}, CHIP)}


def test_a_label_its_chip_pin_and_the_remarks_are_read() -> None:
    pins = read_module_pins(
        {
            "left": "D13 = pb5 | mind: an LED, lit when high\nGND 1\nPC0 | input only | no pull-up",
            "right": "D0=PD0|reserved: link",
        },
        CHIP,
    )
    led, ground, analogue, link = pins
    assert (led.label, led.chip_pin, led.role, led.condition) == ("D13", "PB5", "io", "an LED, lit when high")
    assert (ground.role, ground.chip_pin, ground.abilities) == ("ground", "", frozenset())
    assert analogue.abilities == {"in", "analogue:A0"}
    assert (link.side, link.place, link.reserved_for) == ("right", 1, "link")
    assert [pin.place for pin in pins] == [1, 2, 3, 1]


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("D1 = PZ9", "no pin 'PZ9'"),
        ("D1 =", "nothing typed"),
        ("= PB5", "label is missing"),
        ("PB55", "is no pin of the chip"),
        ("D1 = PB5 | wobbly", "is not known"),
        ("D1 = PB5\nD1 = PD0", "given to two pins"),
        ("D1 = PB5\nD2 = PB5", "at D1 already"),
        ("a label much too long for a board = PB5", "at most 16"),
        ("GND", "no pin carries a signal"),
        ("", "no pin carries a signal"),
        ("<script>alert(1)</script>", "16 characters"),
    ],
)
def test_a_line_that_is_no_pin_is_refused_with_its_reason(line: str, reason: str) -> None:
    with pytest.raises(PinLineRefused, match=reason):
        read(line)


def test_the_refusal_names_side_and_line() -> None:
    with pytest.raises(PinLineRefused, match="Line 3") as refused:
        read("PB5", "\nPD0\nD9 = PX1")
    assert refused.value.side == "right"


def test_what_is_written_reads_back_the_same() -> None:
    drafts = read_module_pins(
        {
            "left": "D13 = PB5 | mind: an LED\nGND 1\nX | no signal\nPC0 | input only | no pull-up",
            "bottom": "PD0 | inner row",
        },
        CHIP,
    )
    rows = [
        ModulePin(
            module_id=1,
            side=d.side,
            row=d.row,
            place=d.place,
            label=d.label,
            role=d.role,
            chip_pin=d.chip_pin,
            abilities=" ".join(d.abilities),
            reserved_for=d.reserved_for,
            condition=d.condition,
        )
        for d in drafts
    ]
    assert read_module_pins(write_module_pins(rows, CHIP), CHIP) == drafts


def test_a_new_module_has_every_pin_on_two_sides_and_the_shared_ones_reserved() -> None:
    texts = default_module_pins(CHIP, {"PC6": "reset"})
    assert texts["left"] == "PB5\nPD0"
    assert texts["right"] == "PC0\nPC6 | reserved: reset"
    assert len(read_module_pins(texts, CHIP)) == 4
