"""Where the open data set of microcontrollers slips: our own figures, each with its reason and source."""

import re
from dataclasses import dataclass

NamedAbilities = tuple[tuple[str, frozenset[str]], ...]


@dataclass(frozen=True, slots=True)
class Correction:
    """One slip of the data set and what we say instead.

    `chips` is a pattern that a full device name starts with. What changes at the pins stands in the last four
    fields; a correction with none of them is made while reading (its `reason` says how).
    """

    chips: str
    what: str
    data_set_says: str
    we_say: str
    reason: str
    source: str
    drop_pins: tuple[str, ...] = ()
    add_pins: NamedAbilities = ()
    drop_abilities: NamedAbilities = ()
    shared_pins: tuple[tuple[str, str], ...] = ()


CORRECTIONS: tuple[Correction, ...] = (
    Correction(
        chips=r"atmega(48|88|168|328)(a|p|pa|v|pv)?-\d*(a|m(?!m)|cc)",
        what="analogue-only pins",
        data_set_says="6 analogue inputs in every package",
        we_say="8 in the packages with 32 pins: ADC6 and ADC7 come out and have no digital function",
        reason="the data set lists pins that are inputs or outputs, and these two are neither",
        source="atmega328p-data-sheet",
        add_pins=(("ADC6", frozenset({"analogue:A6"})), ("ADC7", frozenset({"analogue:A7"}))),
    ),
    Correction(
        chips=r"atmega(48|88|168|328)",
        what="reset pin",
        data_set_says="PC6 is an input and output like any other",
        we_say="PC6 is the reset pin unless a fuse says otherwise",
        reason="with the fuse set the chip can no longer be programmed over its usual pins",
        source="atmega328p-data-sheet",
        shared_pins=(("PC6", "reset"),),
    ),
    Correction(
        chips=r"attiny(24|44|84)[av]?-",
        what="reset pin",
        data_set_says="PB3 is an input and output like any other",
        we_say="PB3 is the reset pin unless a fuse says otherwise",
        reason="with the fuse set the chip can no longer be programmed over its usual pins",
        source="attiny84a-data-sheet",
        shared_pins=(("PB3", "reset"),),
    ),
    Correction(
        chips=r"atmega(16|32)u4",
        what="pulse-width outputs",
        data_set_says="8 pins with a pulse-width output",
        we_say="7 pins: the inverted outputs of timer 4 are not outputs of their own",
        reason="PD6, PC6 and PB5 can carry the inverse of the channel at PD7, PC7 and PB6, only beside it",
        source="atmega32u4-data-sheet",
        drop_abilities=(
            ("PD6", frozenset({"pulse:4D"})),
            ("PC6", frozenset({"pulse:4A"})),
            ("PB5", frozenset({"pulse:4B"})),
        ),
    ),
    Correction(
        chips=r"rp2040",
        what="user pins",
        data_set_says="36 inputs and outputs",
        we_say="30: the six of the program memory are not for use",
        reason="the chip has no program memory of its own and reads it over those six",
        source="rp2040-data-sheet",
        drop_pins=tuple(f"QSPI{number}" for number in range(6)),
    ),
    Correction(
        chips=r"rp2040",
        what="pulse-width channels",
        data_set_says="an output a or b at each pin, without its slice",
        we_say="16 channels (8 slices of 2); two pins of one slice and letter are one output",
        reason="added while reading: slice = half the pin number, modulo 8",
        source="rp2040-pulse",
    ),
    Correction(
        chips=r"stm32f1",
        what="second places of the blocks",
        data_set_says="no timer, bus or serial signal at the pins: they stand in remap groups",
        we_say="buses and serial ports at every place, each place an instance of its own; timers at the first place",
        reason="read from the groups; one choice moves a whole block, so pins of two places do not pair",
        source="pin-data-set",
    ),
    Correction(
        chips=r"(atmega|attiny|at90|stm32|sam)",
        what="crystal pins",
        data_set_says="crystal pins are inputs and outputs like any other",
        we_say="they are marked as shared with the crystal; a module that fits one does not bring them out for use",
        reason="marked while reading, from the crystal signal at the pin",
        source="pin-data-set",
    ),
)
"""The visible table."""


def corrections_for(full_name: str) -> tuple[Correction, ...]:
    """The corrections that hold for a chip of the data set.

    Example:
        >>> [correction.what for correction in corrections_for("rp2040")]
        ['user pins', 'pulse-width channels']
    """
    return tuple(correction for correction in CORRECTIONS if re.match(correction.chips, full_name))
