"""Board modules: which chip pins come out where, under which printed label, and what each is good for.

The modules are data of ours, one file each in board_modules/; the chips' own abilities come from
microcontroller.py, or from the module's file where the data set does not have the chip.
"""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from app.reference.microcontroller import ChipPin, Microcontroller, read_microcontroller

_ABILITIES = {
    "in": False,
    "out": False,
    "pullup": False,
    "analogue": True,
    "pulse": None,
    "interrupt": None,
    "sda": True,
    "scl": True,
    "spi-clock": True,
    "spi-out": True,
    "spi-in": True,
    "rx": True,
    "tx": True,
}
"""Abilities, and whether each names an instance (None: may)."""

CONDITION_KINDS = (
    "start-up",
    "input only",
    "on-board memory",
    "programming link",
    "radio analogue",
    "on-board LED",
    "crystal",
    "other",
)
LINK_KINDS = ("port chip", "own port", "radio")
SIDES = ("left", "right", "bottom")


class UnknownBoardModule(LookupError):
    """No board module has this code."""


class BoardModuleError(ValueError):
    """A module's file does not describe a module; names the file, the place and the reason."""


@dataclass(frozen=True, slots=True)
class PinCondition:
    """A warning about one pin, in words, with its kind and source."""

    kind: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class BoardPin:
    """One pin of a module's edge, seen from above with the USB end up.

    `row` is 1 for the outer row; `place` counts along the side, from the top (from the left at the bottom).
    `x_mm` and `y_mm` are the centre, from the top left corner. `role` is io, power, ground, reset or other;
    only an io pin has a chip pin and abilities. `reserved` says what holds the pin, empty where it is free.
    """

    label: str
    side: str
    row: int
    place: int
    x_mm: float
    y_mm: float
    role: str
    chip_pin: str
    abilities: frozenset[str]
    reserved: str
    conditions: tuple[PinCondition, ...]
    input_only: bool
    no_pullup: bool
    on_board_led: bool

    @property
    def usable(self) -> bool:
        """Whether the builder may use the pin at all."""
        return self.role == "io" and not self.reserved

    @property
    def analogue(self) -> bool:
        """Whether the builder may read a voltage at the pin."""
        return self.usable and any(ability.startswith("analogue:") for ability in self.abilities)


@dataclass(frozen=True, slots=True)
class CurrentLimit:
    """A limit of current, in mA, for one pin, a group of pins or the whole chip.

    `pins` are printed labels; none means each pin (scope pin) or all of them (scope chip).
    `direction` is sink, source or either; `basis` says what the figure is.
    """

    scope: str
    direction: str
    limit_ma: float
    pins: tuple[str, ...]
    basis: str
    source: str


@dataclass(frozen=True, slots=True)
class BoardModule:
    """A board module: outline in mm, memories in bytes, how it reaches the computer, pins and limits."""

    code: str
    name: str
    chip: str
    logic_volts: float
    pull_up_ohm: float | None
    pull_up_weakest_ohm: float | None
    cost: float | None
    width_mm: float
    length_mm: float
    pin_pitch_mm: float
    row_spacing_mm: float
    link_kind: str
    link_pins: tuple[str, ...]
    program_bytes: int
    boot_loader_bytes: int
    memory_bytes: int
    eeprom_bytes: int
    pulse_outputs: int
    timers: tuple[str, ...]
    pins: tuple[BoardPin, ...]
    limits: tuple[CurrentLimit, ...]
    mark: str
    source: str
    layout_source: str
    memory_source: str

    @property
    def usable_pins(self) -> tuple[BoardPin, ...]:
        """Every input or output brought out and free, the two of the computer link among them."""
        return tuple(pin for pin in self.pins if pin.usable)

    @property
    def usable_count(self) -> int:
        """How many pins are usable."""
        return len(self.usable_pins)

    @property
    def analogue_count(self) -> int:
        """How many usable pins can read a voltage."""
        return sum(pin.analogue for pin in self.pins)

    @property
    def free_program_bytes(self) -> int:
        """Program memory less the boot loader."""
        return self.program_bytes - self.boot_loader_bytes

    def pin(self, label: str) -> BoardPin:
        """The pin with this printed label; KeyError where there is none."""
        for pin in self.pins:
            if pin.label == label:
                return pin
        raise KeyError(label)


def ability_is_known(ability: str) -> bool:
    """Whether a token is one of the vocabulary of pin abilities.

    Example:
        >>> [ability_is_known(token) for token in ("in", "pulse", "pulse:1A", "sda", "sda:0", "blink")]
        [True, True, True, False, True, False]
    """
    word, colon, instance = ability.partition(":")
    if word not in _ABILITIES:
        return False
    needs = _ABILITIES[word]
    return bool(instance) if colon and needs is not False else not colon and needs is not True


def _chip_pins(row: dict[str, Any], chip: Microcontroller | None) -> dict[str, ChipPin]:
    """Pins by chip pin name: of the data set, or of the module's own file."""
    if chip is not None:
        return {pin.name: pin for pin in chip.pins}
    everywhere = frozenset(row["chip_abilities"]["every_pin"])
    own: dict[str, list[str]] = row["chip_abilities"]["pins"]
    return {name: ChipPin(name, everywhere | set(own[name])) for name in own}


def _pin(
    entry: dict[str, Any],
    strip: dict[str, Any],
    index: int,
    place: int,
    conditions: dict[str, PinCondition],
    chip_pins: dict[str, ChipPin],
) -> BoardPin:
    chip_pin: str = entry.get("chip", "")
    if chip_pin and chip_pin not in chip_pins:
        raise BoardModuleError(f"pin {entry['label']!r}: the chip has no pin {chip_pin!r}")
    abilities = chip_pins[chip_pin].abilities if chip_pin else frozenset()
    input_only: bool = entry.get("input_only", False)
    no_pullup: bool = entry.get("no_pullup", False)
    if input_only:
        abilities = frozenset(
            a for a in abilities if a.split(":")[0] in ("in", "pullup", "analogue", "interrupt", "rx")
        )
    if no_pullup:
        abilities -= {"pullup"}
    step = strip["pitch_mm"] * index
    along_x = strip["side"] == "bottom"
    return BoardPin(
        label=entry["label"],
        side=strip["side"],
        row=strip.get("row", 1),
        place=place,
        x_mm=round(strip["x_mm"] + (step if along_x else 0.0), 3),
        y_mm=round(strip["y_mm"] + (0.0 if along_x else step), 3),
        role=entry.get("role", "io" if chip_pin else "other"),
        chip_pin=chip_pin,
        abilities=abilities,
        reserved=entry.get("reserved", ""),
        conditions=tuple(conditions[name] for name in entry.get("conditions", ())),
        input_only=input_only,
        no_pullup=no_pullup,
        on_board_led=entry.get("led", False),
    )


def _pins(row: dict[str, Any], chip_pins: dict[str, ChipPin]) -> tuple[BoardPin, ...]:
    conditions = {name: PinCondition(**condition) for name, condition in row.get("condition", {}).items()}
    pins: list[BoardPin] = []
    places: dict[tuple[str, int], int] = {}
    for strip in row["strip"]:
        key = (strip["side"], strip.get("row", 1))
        spaced = {"pitch_mm": row["pin_pitch_mm"], **strip}
        for index, entry in enumerate(strip["pins"]):
            places[key] = places.get(key, 0) + 1
            pins.append(_pin(entry, spaced, index, places[key], conditions, chip_pins))
    return tuple(pins)


def _limits(row: dict[str, Any], pins: tuple[BoardPin, ...]) -> tuple[CurrentLimit, ...]:
    """Limits with their groups, given as chip pins, turned into printed labels."""
    labels = {pin.chip_pin: pin.label for pin in pins if pin.chip_pin}
    limits = []
    for limit in row["limit"]:
        wanted = [name for span in limit.get("chip_pins", ()) for name in _span(span)]
        here = tuple(labels[name] for name in wanted if name in labels)
        if wanted and not here:
            continue  # none of the group's pins is brought out on this module
        limits.append(
            CurrentLimit(
                limit["scope"],
                limit["direction"],
                float(limit["limit_ma"]),
                here,
                limit["basis"],
                limit["source"],
            )
        )
    return tuple(limits)


def _span(text: str) -> list[str]:
    """Chip pins named in short: "PD0-4" is PD0 to PD4."""
    span = re.fullmatch(r"([A-Z]+)(\d+)-(\d+)", text)
    return [f"{span[1]}{n}" for n in range(int(span[2]), int(span[3]) + 1)] if span else [text]


def _pulse_outputs(row: dict[str, Any], pins: tuple[BoardPin, ...]) -> int:
    given: int | None = row.get("pulse_outputs")
    if given is not None:
        return given
    channels = {
        ability for pin in pins if pin.usable for ability in pin.abilities if ability.startswith("pulse:")
    }
    with_pulse = sum(
        any(ability.startswith("pulse:") for ability in pin.abilities) for pin in pins if pin.usable
    )
    return min(len(channels), with_pulse)


def _module(row: dict[str, Any]) -> BoardModule:
    chip = read_microcontroller(row["chip"]) if "chip_abilities" not in row else None
    pins = _pins(row, _chip_pins(row, chip))
    memories = {
        "program_bytes": chip.program_bytes if chip else None,
        "memory_bytes": chip.memory_bytes if chip else None,
        "eeprom_bytes": chip.eeprom_bytes if chip else None,
    }
    memories |= {key: row[key] for key in memories if key in row}
    missing = [key for key, value in memories.items() if value is None]
    if missing:
        raise BoardModuleError(f"{row['code']}: no {', '.join(missing)} in the file nor in the data set")
    return BoardModule(
        code=row["code"],
        name=row["name"],
        chip=row["chip"],
        logic_volts=float(row["logic_volts"]),
        pull_up_ohm=row.get("pull_up_ohm"),
        cost=row.get("cost"),
        pull_up_weakest_ohm=row.get("pull_up_weakest_ohm"),
        width_mm=float(row["width_mm"]),
        length_mm=float(row["length_mm"]),
        pin_pitch_mm=float(row["pin_pitch_mm"]),
        row_spacing_mm=float(row["row_spacing_mm"]),
        link_kind=row["link_kind"],
        link_pins=tuple(row.get("link_pins", ())),
        boot_loader_bytes=row["boot_loader_bytes"],
        program_bytes=memories["program_bytes"] or 0,
        memory_bytes=memories["memory_bytes"] or 0,
        eeprom_bytes=memories["eeprom_bytes"] or 0,
        pulse_outputs=_pulse_outputs(row, pins),
        timers=tuple(row["timers"]) if "timers" in row else chip.timers if chip else (),
        pins=pins,
        limits=_limits(row, pins),
        mark=row["mark"],
        source=row["source"],
        layout_source=row["layout_source"],
        memory_source=row.get("memory_source", "pin-data-set"),
    )


_IN_ORDER = ("T8S", "T8A", "T8L", "T8U", "T32", "T32W", "T32F")


@cache
def board_modules() -> tuple[BoardModule, ...]:
    """Every module of the reference list, smallest chips first.

    Raises:
        BoardModuleError: a file names a chip pin that the chip has not, or lacks a figure.
    """
    folder = files(__package__).joinpath("board_modules")
    modules: dict[str, BoardModule] = {}
    for file in folder.iterdir():
        if not file.name.endswith(".toml"):
            continue
        try:
            module = _module(tomllib.loads(file.read_text(encoding="utf-8")))
        except (BoardModuleError, KeyError, TypeError, tomllib.TOMLDecodeError) as error:
            raise BoardModuleError(f"{file.name}: {error}") from error
        modules[module.code] = module
    order = {code: place for place, code in enumerate(_IN_ORDER)}
    return tuple(
        sorted(modules.values(), key=lambda module: (order.get(module.code, len(order)), module.code))
    )


def board_module(code: str) -> BoardModule:
    """The module with this code.

    Raises:
        UnknownBoardModule: no module has it.

    Example:
        >>> small = board_module("T8S")
        >>> small.usable_count, small.analogue_count, small.free_program_bytes
        (20, 6, 32256)
    """
    for module in board_modules():
        if module.code == code:
            return module
    raise UnknownBoardModule(f"no board module with the code {code!r}")
