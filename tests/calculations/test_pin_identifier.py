"""Names and numbers of pins in C: never two alike, each change told."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.calculations.pin_identifier import LONGEST_IDENTIFIER, PinName, pin_identifiers, pin_number

# ISO/IEC 9899:1999, 6.4.2.1: an identifier in the basic character set.
IDENTIFIER = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def named(*pins: tuple[str, str, str]) -> list[str]:
    made = pin_identifiers([PinName(code, name, terminal, "D2") for code, name, terminal in pins])
    return [pin.identifier for pin in made]


@pytest.mark.parametrize(
    ("label", "number"),
    [
        # The labels of the modules in app/reference/board_modules; common practice of the boards' support files.
        ("D2", "2"),
        ("D13", "13"),
        ("A0", "A0"),
        ("GP5", "5"),
        ("GPIO12", "12"),
        ("IO4", "4"),
        ("7", "7"),
        ("D07", "7"),
        ("PB12", "PB12"),
        ("GND 1", ""),
        ("RX/0", ""),
        ("٣", ""),
        ("", ""),
    ],
)
def test_the_number_follows_from_the_label(label: str, number: str) -> None:
    assert pin_number(label) == number


def test_on_the_chip_whose_d_labels_are_no_pin_numbers_they_stay_names() -> None:
    assert pin_number("D1", chip="ESP8266EX") == "D1"
    assert pin_number("GPIO5", chip="ESP8266EX") == "5"


def test_names_with_spaces_accents_digits_first_and_keywords_become_identifiers() -> None:
    assert named(
        ("F1", "Gear lever", "up contact"),
        ("F2", "Höhenmesser größer", "coil 1"),
        ("F3", "2nd radio", ""),
        ("F4", "int", ""),
    ) == ["PIN_GEAR_LEVER_UP_CONTACT", "PIN_HOHENMESSER_GROSSER_COIL_1", "PIN_2ND_RADIO", "PIN_INT"]


def test_a_name_without_a_letter_of_c_has_its_code_and_says_so() -> None:
    pin = pin_identifiers([PinName("F083", "🛩️", "", "D2")])[0]
    assert pin.identifier == "PIN_F083"
    assert "code stands for it" in pin.note
    assert named(("", "高度", "")) == ["PIN_UNNAMED"]


def test_a_name_that_lost_characters_says_so_and_one_that_did_not_is_silent() -> None:
    made = pin_identifiers([PinName("F1", "Lamp 🔴 port", "", "D2"), PinName("F2", "Café (left)", "", "D3")])
    assert [(pin.identifier, bool(pin.note)) for pin in made] == [
        ("PIN_LAMP_PORT", True),
        ("PIN_CAFE_LEFT", False),
    ]


def test_two_alike_both_get_their_code_whatever_their_order() -> None:
    first, second = ("F1", "Lamp", "signal"), ("F2", "lamp!", "signal")
    assert named(first, second) == ["PIN_LAMP_SIGNAL_F1", "PIN_LAMP_SIGNAL_F2"]
    assert named(second, first) == ["PIN_LAMP_SIGNAL_F2", "PIN_LAMP_SIGNAL_F1"]
    made = pin_identifiers([PinName("F1", "Lamp", "", "D2"), PinName("F2", "Lamp", "", "D3")])
    assert all("more than one pin has this name" in pin.note for pin in made)


def test_two_alike_in_all_are_numbered() -> None:
    assert named(("F1", "Lamp", ""), ("F1", "Lamp", "")) == ["PIN_LAMP_F1", "PIN_LAMP_F1_2"]
    assert named(("", "Lamp", ""), ("", "Lamp", "")) == ["PIN_LAMP_1", "PIN_LAMP_2"]


def test_a_name_of_the_boards_own_support_files_is_not_taken() -> None:
    assert named(("F7", "A0", ""), ("F8", "SPI", "SCK"), ("", "i2c", "SDA")) == [
        "PIN_F7_A0",
        "PIN_F8_SPI_SCK",
        "PIN_I2C_SDA",
    ]


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["", "F1", "F2", "f-1"]) | st.text(max_size=5),
            st.sampled_from(["lamp", "LAMP", "A0", "lamp f1", "x" * 90]) | st.text(max_size=8),
            st.sampled_from(["", "1", "signal"]) | st.text(max_size=3),
        ),
        max_size=12,
    )
)
def test_whatever_the_names_all_are_identifiers_and_no_two_alike(pins: list[tuple[str, str, str]]) -> None:
    made = named(*pins)
    assert len(set(made)) == len(made)
    for identifier in made:
        assert IDENTIFIER.fullmatch(identifier)
        assert len(identifier) <= LONGEST_IDENTIFIER
        assert "__" not in identifier  # reserved in C++ (ISO/IEC 14882, lex.name)
