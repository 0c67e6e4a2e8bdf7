"""What a pin can do, what a terminal needs, and whether the one meets the other."""

from collections.abc import Iterable
from dataclasses import dataclass

ABILITY_FOR_NEED = {
    "out": "out",
    "in": "in",
    "pulse": "pulse",
    "analogue": "analogue",
    "interrupt": "interrupt",
    "select": "out",
    "sda": "sda",
    "scl": "scl",
    "spi-clock": "spi-clock",
    "spi-out": "spi-out",
    "spi-in": "spi-in",
    "rx": "rx",
    "tx": "tx",
}
"""Which ability of a pin meets a need; a chip select is any output."""

NEEDS_WITHOUT_PIN = ("contact", "none")
"""Needs that take no pin of their own: a contact of the board's matrix, and nothing."""

BUS_OF_ABILITY = {
    "sda": "two-wire bus",
    "scl": "two-wire bus",
    "spi-clock": "SPI bus",
    "spi-out": "SPI bus",
    "spi-in": "SPI bus",
    "rx": "serial port",
    "tx": "serial port",
}
"""Abilities whose terminals must meet at one instance of one peripheral."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A usable pin of a board: its printed label and its abilities, as "out", "analogue:A0" or "sda:1"."""

    label: str
    abilities: frozenset[str]


@dataclass(frozen=True, slots=True)
class PinUse:
    """A terminal on a pin. Without a function it is one of a shared group, of the matrix, or of the link."""

    pin: str
    function: str | None
    group: str | None
    terminal: str


def ability_instances(pin: Pin, ability: str) -> frozenset[str]:
    """The instances of an ability that a pin has: {"1A"} for "pulse:1A", {""} for a bare "pulse"."""
    return frozenset(
        instance for name, _, instance in (token.partition(":") for token in pin.abilities) if name == ability
    )


def meets_need(pin: Pin, need: str) -> bool:
    """Whether a pin has the ability that a need asks for."""
    return bool(ability_instances(pin, ABILITY_FOR_NEED[need]))


def ability_names(abilities: Iterable[str]) -> frozenset[str]:
    """The names of abilities without their instances."""
    return frozenset(token.partition(":")[0] for token in abilities)
