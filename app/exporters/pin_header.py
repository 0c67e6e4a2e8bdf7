"""A C header with the name and number of every pin in use on a board."""

import re
import unicodedata
from collections.abc import Sequence

from app.calculations.pin_identifier import PinIdentifier

_LONGEST_COMMENT = 160


def _comment(text: str) -> str:
    r"""Return text that can stand in a C comment: one line, nothing that ends, opens or hides anything.

    >>> _comment("up */ int x; /* \u202e\n down")
    'up * / int x; / * down'
    """
    shown = "".join(" " if unicodedata.category(each)[0] in "CZ" else each for each in text)
    for pair, apart in (("*/", "* /"), ("/*", "/ *"), ("??", "? ?")):
        while pair in shown:
            shown = shown.replace(pair, apart)
    return " ".join(shown.split())[:_LONGEST_COMMENT].rstrip("\\ ")


def _guard(board_code: str) -> str:
    """Return the include guard's name for a board."""
    return f"PINS_OF_{re.sub(r'[^A-Z0-9]+', '_', board_code.upper()).strip('_') or 'BOARD'}_H"


def pin_header(pins: Sequence[PinIdentifier], *, board_code: str, board_words: str = "") -> bytes:
    """Return a header that C and C++ programs of a board can include.

    Args:
        pins: The board's pins, named by `pin_identifiers`.
        board_code: The board's code, for the include guard and the heading.
        board_words: What the board is, for the heading.

    Returns:
        The header in UTF-8: one macro a pin, in the order given, with what it is for beside it. A pin whose
        label is no number or name in C stands as a comment only. A label such as A0 is a name of the board's
        support files: it needs those where it is used, not where the header is included.
    """
    heading = _comment(f"Pins of board {board_code}{', ' if board_words else ''}{board_words}.")
    guard = _guard(board_code)
    lines = [
        f"/* {heading} */",
        "/* Written from the plan: change the plan and write it again. */",
        f"#ifndef {guard}",
        f"#define {guard}",
        "",
    ]
    width = max((len(pin.identifier) for pin in pins), default=0)
    for pin in pins:
        named = " ".join(part for part in (pin.pin.function_code, pin.pin.function_name) if part)
        use = _comment(
            f"{', '.join(part for part in (named, pin.pin.terminal) if part)}: {pin.pin.pin_label}"
        )
        if pin.number:
            lines.append(f"#define {pin.identifier:<{width}} {pin.number:<4} /* {use} */")
        else:
            lines.append(f"/* {pin.identifier} has no number: {use} */")
        if pin.note:
            lines.append(f"/*   {_comment(pin.note)} */")
    lines += ["", "#endif", ""]
    return "\n".join(lines).encode("utf-8", "replace")
