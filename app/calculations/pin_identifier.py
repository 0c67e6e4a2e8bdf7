"""The name and number that a program calls each pin by: valid in C, no two alike, each change reported."""

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

LONGEST_IDENTIFIER = 63
"""Characters of a macro's name that every C compiler tells apart (ISO/IEC 9899:1999, 5.2.4.1)."""

PREFIX = "PIN_"

_NUMBERED = re.compile(r"(?:D|GP|GPIO|IO)?(\d{1,3})", re.IGNORECASE)
_NAMED = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_OF_BOARD_CORES = re.compile(
    r"PIN_(A\d+|P[A-K]_?\d+|D?\d+|(LED|RGB|NEOPIXEL|BUTTON)\d*|LED_[RT]XL?"
    r"|(SPI|QSPI|WIRE|I2S|SERIAL|UART|USB|DAC|ADC|CAN)\d*(_.*)?)"
)
"""Names that the support files of boards define for themselves: common practice, from memory."""


@dataclass(frozen=True, slots=True)
class PinName:
    """A pin in use: the function it serves (code and name), which terminal of it, and the board's label."""

    function_code: str
    function_name: str
    terminal: str
    pin_label: str


@dataclass(frozen=True, slots=True)
class PinIdentifier:
    """A pin with its name and number in C.

    `number` is "" where the board's label is neither a number nor a name in C. `note` is "" where the
    identifier is the plain name, and says in one clause what was changed where not.
    """

    pin: PinName
    identifier: str
    number: str
    note: str


def pin_number(label: str, *, chip: str = "") -> str:
    """Return what a program calls a pin, from the label at it.

    Args:
        label: The board's label: "D2", "A0", "GP5", "GPIO12", "PB12", "7".
        chip: The board's chip, as "atmega328p"; "" where not known.

    Returns:
        The number of a numbered pin ("2", "5", "12"); any other name as it stands ("A0", "PB12"); "" for a
        label that is neither. On an ESP8266 a label with D stays as it stands: there D1 is not pin 1.

    Source: common practice of the boards' support files.

    Example:
        >>> [pin_number(label) for label in ("D2", "A0", "GP5", "GPIO12", "PB12", "5V 1")]
        ['2', 'A0', '5', '12', 'PB12', '']
    """
    label = label.strip()
    if not label.isascii():
        return ""
    numbered = _NUMBERED.fullmatch(label)
    if numbered is not None and not (chip.lower().startswith("esp8266") and label[0] in "dD"):
        return str(int(numbered[1]))
    return label if _NAMED.fullmatch(label) else ""


def _words(text: str) -> str:
    """Return the letters and digits of a name in capitals, all between them one underscore.

    >>> _words("Größe (2nd, éclair)")
    'GROSSE_2ND_ECLAIR'
    """
    bare = unicodedata.normalize("NFKD", text.upper())
    kept = "".join(character for character in bare if not unicodedata.combining(character))
    return re.sub(r"[^A-Z0-9]+", "_", kept).strip("_")


def _is_all_kept(text: str) -> bool:
    """Tell whether every letter and digit of a name has its place in C's alphabet."""
    bare = unicodedata.normalize("NFKD", text.upper())
    return all(character.isascii() or unicodedata.category(character)[0] not in "LNS" for character in bare)


def _plain_name(pin: PinName) -> tuple[str, list[str]]:
    """Return the identifier that a pin asks for and what had to be changed to get it."""
    name, terminal, code = _words(pin.function_name), _words(pin.terminal), _words(pin.function_code)
    notes = []
    if not name:
        notes.append("the name has no letter or digit of C, so the code stands for it")
        name = code or "UNNAMED"
    elif not _is_all_kept(f"{pin.function_name} {pin.terminal}"):
        notes.append("characters that C does not have are left out")
    words = [word for word in (name, terminal) if word]
    identifier = PREFIX + "_".join(words)
    if _OF_BOARD_CORES.fullmatch(identifier):
        notes.append(f"{identifier} may be a name of the board's own support files")
        identifier = PREFIX + "_".join([code or "OWN", *words])
    return identifier, notes


def _fitted(identifier: str, ending: str = "") -> str:
    """Return an identifier with its ending, cut in the middle to the length that C tells apart."""
    return identifier[: LONGEST_IDENTIFIER - len(ending)].rstrip("_") + ending


def pin_identifiers(pins: Sequence[PinName], *, chip: str = "") -> tuple[PinIdentifier, ...]:
    """Name each pin for a program.

    Args:
        pins: Pins in use, in any order.
        chip: The board's chip; see `pin_number`.

    Returns:
        One identifier for each pin, in the same order: the prefix PIN_, the function's name and the terminal
        in capitals. No two are alike: where two would be, all of them get the function's code, and a running
        number after that.

    Holds for C and C++: the prefix keeps digits from standing first and keywords from standing alone.

    Source: ISO/IEC 9899:1999, 6.4.2.1 (letters, digits, underscore; no digit first), 7.1.3 (no underscore
    first), 5.2.4.1 (63 characters); names of boards' support files from memory.

    Example:
        >>> two = [PinName("F1", "Gear up", "signal", "D2"), PinName("F2", "gear-up", "signal", "D3")]
        >>> [(pin.identifier, pin.number) for pin in pin_identifiers(two)]
        [('PIN_GEAR_UP_SIGNAL_F1', '2'), ('PIN_GEAR_UP_SIGNAL_F2', '3')]
    """
    asked = [_plain_name(pin) for pin in pins]
    count = Counter(_fitted(identifier) for identifier, _ in asked)
    taken = {identifier for identifier, times in count.items() if times == 1}
    named = []
    for pin, (identifier, notes) in zip(pins, asked, strict=True):
        told = list(notes)
        final = _fitted(identifier)
        if count[final] > 1:
            code = _words(pin.function_code)[:20]
            told.append("more than one pin has this name")
            final = _distinct(identifier, f"_{code}" if code else "", taken)
            taken.add(final)
        elif final != identifier:
            told.append(f"cut to {LONGEST_IDENTIFIER} characters")
        named.append(PinIdentifier(pin, final, pin_number(pin.pin_label, chip=chip), "; ".join(told)))
    return tuple(named)


def _distinct(identifier: str, ending: str, taken: set[str]) -> str:
    """Return the identifier with an ending, and a running number where that is taken too."""
    if ending and (final := _fitted(identifier, ending)) not in taken:
        return final
    number = 2 if ending else 1
    while (final := _fitted(identifier, f"{ending}_{number}")) in taken:
        number += 1
    return final
