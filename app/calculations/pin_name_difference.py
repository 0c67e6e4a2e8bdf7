"""Where a program's own list of pins disagrees with the plan of its board."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from app.calculations.pin_identifier import PinIdentifier, pin_number

_NO_LABELS: Mapping[str, str] = MappingProxyType({})

_FIRST_ANALOGUE_NUMBER = (("atmega328", 14), ("atmega168", 14), ("atmega2560", 54), ("atmega32u4", 18))
"""Number by which A0 can be called too, by chip: common practice of the boards' support files."""


@dataclass(frozen=True, slots=True)
class MovedPin:
    """A name that the program has on another pin than the plan; `told` is the pin as the program writes it."""

    planned: PinIdentifier
    told: str


@dataclass(frozen=True, slots=True)
class UnknownPin:
    """A name of the program that the plan does not have, and the plan's names on the same pin."""

    name: str
    told: str
    planned: tuple[PinIdentifier, ...]


@dataclass(frozen=True, slots=True)
class PinNameDifference:
    """Names that agree, that are on another pin, that the program lacks, and that the plan lacks."""

    agrees: tuple[PinIdentifier, ...]
    moved: tuple[MovedPin, ...]
    missing: tuple[PinIdentifier, ...]
    unknown: tuple[UnknownPin, ...]


def _same_name(told: str, chip: str, labels: Mapping[str, str]) -> str:
    """Return the plan's number for a pin as a program writes it."""
    number = pin_number(labels.get(told, told), chip=chip) or told
    for start, first in _FIRST_ANALOGUE_NUMBER:
        if chip.lower().startswith(start) and number.isdigit() and first <= int(number) < first + 16:
            return f"A{int(number) - first}"
    return number


def pin_name_difference(
    plan: Sequence[PinIdentifier],
    told: Sequence[tuple[str, str]],
    *,
    chip: str = "",
    labels: Mapping[str, str] = _NO_LABELS,
) -> PinNameDifference:
    """Hold the names and pins of a program against the plan's.

    Args:
        plan: The plan's pins, as `pin_identifiers` names them.
        told: Name and pin of each line of the program, as "PIN_GEAR" and "2" or "A0".
        chip: The board's chip, as "atmega328p"; "" where not known.
        labels: Other names of a pin and the board's label for it, as "PB5" and "D13".

    Returns:
        Every name of the plan in one of the first three lists and every other name of the program in the
        last. A pin of the plan whose label has no number is held against the label.

    Holds for names written alike to the letter. On chips whose boards number the analogue pins on after the
    others, both names of such a pin count as one.

    Source: common practice of the boards' support files (14, 54 and 18 for A0 on ATmega328P, ATmega2560 and
    ATmega32U4).

    Example:
        >>> from app.calculations.pin_identifier import PinName, pin_identifiers
        >>> plan = pin_identifiers([PinName("F1", "Gear", "signal", "D2")])
        >>> pin_name_difference(plan, [("PIN_GEAR_SIGNAL", "3")]).moved[0].told
        '3'
    """
    by_name = dict(told)
    number_of = {
        pin.identifier: _same_name(pin.number or pin.pin.pin_label, chip, _NO_LABELS) for pin in plan
    }
    on_pin: dict[str, list[PinIdentifier]] = {}
    for pin in plan:
        on_pin.setdefault(number_of[pin.identifier], []).append(pin)
    present = [pin for pin in plan if pin.identifier in by_name]
    same = {
        pin.identifier
        for pin in present
        if _same_name(by_name[pin.identifier], chip, labels) == number_of[pin.identifier]
    }
    return PinNameDifference(
        agrees=tuple(pin for pin in present if pin.identifier in same),
        moved=tuple(MovedPin(pin, by_name[pin.identifier]) for pin in present if pin.identifier not in same),
        missing=tuple(pin for pin in plan if pin.identifier not in by_name),
        unknown=tuple(
            UnknownPin(name, pin, tuple(on_pin.get(_same_name(pin, chip, labels), ())))
            for name, pin in by_name.items()
            if name not in number_of
        ),
    )
