"""A module's pins as lines of text: what the builder types, and the same read back.

One pin a line, in order along its side: `label = chip pin`, then remarks behind upright strokes, as in
`D13 = PB5 | mind: an LED follows it` or `D0 = PD0 | reserved: USB serial`. A label that is itself a chip pin
needs no equals sign; a pin without a signal (GND, 5V) stands alone.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from app.tables import ModulePin

SIDES = ("left", "right", "top", "bottom")
MOST_PINS = 400
LONGEST_LABEL = 16
LONGEST_REMARK = 300

PLAIN_ROLES = (
    ("ground", re.compile(r"(GND|AGND|DGND|PGND|VSS)\b.*", re.IGNORECASE)),
    (
        "power",
        re.compile(
            r"(\+?\d{1,2}V\d?|\+?\d\.\d ?V|V(IN|CC|DD|BUS|SYS|BAT|OUT|USB|REF)|RAW|AREF|IOREF|BAT|USB|USB 5V)\b.*",
            re.IGNORECASE,
        ),
    ),
    ("reset", re.compile(r"(RST|RESET|NRST|RUN|EN)\b.*", re.IGNORECASE)),
)
NO_SIGNAL = "no signal"
INPUT_ONLY = "input only"
NO_PULLUP = "no pull-up"
INNER_ROW = "inner row"
REMARKS = (NO_SIGNAL, INPUT_ONLY, NO_PULLUP, INNER_ROW, "reserved: …", "mind: …")

INPUT_ABILITIES = ("in", "pullup", "analogue", "interrupt", "rx")

Abilities = Mapping[str, frozenset[str]]


class PinLineRefused(ValueError):
    """A line that does not describe a pin: which side, which line, and why."""

    def __init__(self, side: str, line: int, reason: str) -> None:
        super().__init__(f"Line {line}: {reason}")
        self.side = side


@dataclass(frozen=True, slots=True)
class PinDraft:
    """One pin as typed, with the abilities its chip pin gives it."""

    side: str
    row: int
    place: int
    label: str
    role: str
    chip_pin: str
    abilities: frozenset[str]
    reserved_for: str
    condition: str


def read_module_pins(texts: Mapping[str, str], chip: Abilities) -> tuple[PinDraft, ...]:
    """The pins of a module from its lines, side by side.

    Args:
        texts: the lines of each side.
        chip: abilities of each pin of the chip.

    Returns:
        The pins, each with its place along its side.

    Raises:
        PinLineRefused: a line is not a pin, a label or a chip pin comes twice, or there are none or too many.
    """
    pins: list[PinDraft] = []
    labels: dict[str, str] = {}
    taken: dict[str, str] = {}
    for side in SIDES:
        places: dict[int, int] = {}
        for number, line in enumerate(texts.get(side, "").splitlines(), 1):
            if not line.strip():
                continue
            pin = _read_line(line, side, number, chip)
            if pin.label.casefold() in labels:
                raise PinLineRefused(side, number, f"the label {pin.label} is given to two pins.")
            if pin.chip_pin in taken:
                other = taken[pin.chip_pin]
                raise PinLineRefused(side, number, f"chip pin {pin.chip_pin} is at {other} already.")
            labels[pin.label.casefold()] = pin.label
            if pin.chip_pin:
                taken[pin.chip_pin] = pin.label
            places[pin.row] = places.get(pin.row, 0) + 1
            pins.append(
                PinDraft(
                    side,
                    pin.row,
                    places[pin.row],
                    pin.label,
                    pin.role,
                    pin.chip_pin,
                    pin.abilities,
                    pin.reserved_for,
                    pin.condition,
                )
            )
            if len(pins) > MOST_PINS:
                raise PinLineRefused(side, number, f"at most {MOST_PINS} pins are kept.")
    if not taken:
        raise PinLineRefused("left", 1, "no pin carries a signal; write at least one as `label = chip pin`.")
    return tuple(pins)


def write_module_pins(pins: Iterable[ModulePin], chip: Abilities) -> dict[str, str]:
    """The lines of each side that read back as these pins."""
    lines: dict[str, list[str]] = {side: [] for side in SIDES}
    for pin in sorted(pins, key=lambda pin: (pin.place, pin.row)):
        lines.setdefault(pin.side, []).append(_write_line(pin, chip))
    return {side: "\n".join(of_side) for side, of_side in lines.items()}


def default_module_pins(chip: Abilities, shared: Mapping[str, str]) -> dict[str, str]:
    """Every pin of a chip in order, the first half at the left, the rest at the right.

    Args:
        chip: abilities of each pin of the chip, in its order.
        shared: what else hangs on a pin ("crystal", "reset"); such a pin is reserved for it.
    """
    lines = [f"{name} | reserved: {shared[name]}" if name in shared else name for name in chip]
    half = (len(lines) + 1) // 2
    return {"left": "\n".join(lines[:half]), "right": "\n".join(lines[half:]), "top": "", "bottom": ""}


def _read_line(line: str, side: str, number: int, chip: Abilities) -> PinDraft:
    head, *remarks = (" ".join(part.split()) for part in line.split("|"))
    label, equals, chip_pin = (part.strip() for part in head.partition("="))
    if not label or len(label) > LONGEST_LABEL:
        reason = "a label is missing." if not label else f"a label has at most {LONGEST_LABEL} characters."
        raise PinLineRefused(side, number, reason)
    names = {name.casefold(): name for name in chip}
    found = names.get((chip_pin if equals else label).casefold(), "")
    said = _remarks(remarks, side, number)
    if equals and not found:
        raise PinLineRefused(side, number, f"the chip has no pin {chip_pin or '(nothing typed)'!r}.")
    role = "io" if found else _plain_role(label)
    if not role:
        if NO_SIGNAL not in said:
            raise PinLineRefused(
                side,
                number,
                f"{label} is no pin of the chip. Write `{label} = chip pin`, or `{label} | {NO_SIGNAL}`.",
            )
        role = "other"
    abilities = chip[found] if found else frozenset()
    if INPUT_ONLY in said:
        abilities = frozenset(token for token in abilities if token.partition(":")[0] in INPUT_ABILITIES)
    if NO_PULLUP in said:
        abilities -= {"pullup"}
    return PinDraft(
        side=side,
        row=2 if INNER_ROW in said else 1,
        place=0,
        label=label,
        role=role,
        chip_pin=found,
        abilities=abilities,
        reserved_for=said.get("reserved", ""),
        condition=said.get("mind", ""),
    )


def _remarks(remarks: Iterable[str], side: str, number: int) -> dict[str, str]:
    said: dict[str, str] = {}
    for remark in remarks:
        word, colon, text = (part.strip() for part in remark.partition(":"))
        word = word.casefold()
        if colon and word in ("reserved", "mind") and text:
            said[word] = text[:LONGEST_REMARK]
        elif not colon and word in (NO_SIGNAL, INPUT_ONLY, NO_PULLUP, INNER_ROW):
            said[word] = word
        elif remark:
            raise PinLineRefused(
                side, number, f"the remark {remark[:60]!r} is not known; there are {', '.join(REMARKS)}."
            )
    return said


def _plain_role(label: str) -> str:
    return next((role for role, pattern in PLAIN_ROLES if pattern.fullmatch(label)), "")


def _write_line(pin: ModulePin, chip: Abilities) -> str:
    parts = [pin.label if not pin.chip_pin or pin.label == pin.chip_pin else f"{pin.label} = {pin.chip_pin}"]
    able = set(pin.abilities.split())
    could = chip.get(pin.chip_pin, frozenset(able))
    if pin.role == "io" and "out" in could and "out" not in able:
        parts.append(INPUT_ONLY)
    if pin.role == "io" and "pullup" in could and "pullup" not in able:
        parts.append(NO_PULLUP)
    if not pin.chip_pin and not _plain_role(pin.label):
        parts.append(NO_SIGNAL)
    if pin.row == 2:
        parts.append(INNER_ROW)
    if pin.reserved_for:
        parts.append(f"reserved: {pin.reserved_for.replace('|', '/')}")
    if pin.condition:
        parts.append(f"mind: {pin.condition.replace('|', '/')}")
    return " | ".join(parts)
