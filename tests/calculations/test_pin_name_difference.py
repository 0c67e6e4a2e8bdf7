"""Where a program's pins disagree with the plan; what reason alone decides."""

from app.calculations.pin_identifier import PinName, pin_identifiers
from app.calculations.pin_name_difference import pin_name_difference

PLAN = pin_identifiers(
    [
        PinName("F1", "Gear", "signal", "D2"),
        PinName("F2", "Flap", "wiper", "A1"),
        PinName("F3", "Lamp", "signal", "D13"),
    ]
)


def test_a_program_that_agrees_has_nothing_else_to_tell() -> None:
    told = [("PIN_GEAR_SIGNAL", "2"), ("PIN_FLAP_WIPER", "A1"), ("PIN_LAMP_SIGNAL", "13")]
    difference = pin_name_difference(PLAN, told)
    assert difference.agrees == PLAN
    assert (difference.moved, difference.missing, difference.unknown) == ((), (), ())


def test_each_kind_of_disagreement_is_told_with_its_pins() -> None:
    difference = pin_name_difference(
        PLAN, [("PIN_GEAR_SIGNAL", "4"), ("PIN_FLAP_WIPER", "A1"), ("LED", "13")]
    )
    assert [(each.planned.identifier, each.told) for each in difference.moved] == [("PIN_GEAR_SIGNAL", "4")]
    assert [pin.identifier for pin in difference.missing] == ["PIN_LAMP_SIGNAL"]
    unknown = difference.unknown[0]
    assert (unknown.name, unknown.told, [pin.identifier for pin in unknown.planned]) == (
        "LED",
        "13",
        ["PIN_LAMP_SIGNAL"],
    )


def test_an_analogue_pin_may_be_called_by_its_number_where_the_chip_has_one() -> None:
    # Common practice of the boards' support files: A1 is 15 on an ATmega328P and 55 on an ATmega2560.
    for chip, number in (("atmega328p-pu", "15"), ("atmega2560-16au", "55")):
        assert len(pin_name_difference(PLAN, [("PIN_FLAP_WIPER", number)], chip=chip).agrees) == 1
    assert len(pin_name_difference(PLAN, [("PIN_FLAP_WIPER", "15")], chip="atmega2560-16au").moved) == 1
    assert len(pin_name_difference(PLAN, [("PIN_FLAP_WIPER", "15")]).moved) == 1


def test_a_pin_may_be_called_by_the_chips_own_name() -> None:
    told = [("PIN_LAMP_SIGNAL", "PB5")]
    assert len(pin_name_difference(PLAN, told, labels={"PB5": "D13"}).agrees) == 1
    assert len(pin_name_difference(PLAN, told).moved) == 1
