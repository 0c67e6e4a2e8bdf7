"""Microcontrollers from the open data set `modm-devices`: memory, pins and what each pin can do.

This is the one file that reads the data set. It is imported when the first chip is read, not before:
names are found through the data set's own list of names.
Where the data set slips, microcontroller_correction.py wins and says why.
"""

import json
import re
import threading
import warnings
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from app.reference.microcontroller_correction import Correction, corrections_for
from app.reference.microcontroller_signal import ABILITIES_OF_SIGNAL, Signal


class UnknownMicrocontroller(LookupError):
    """No microcontroller of this name is in the data set."""


@dataclass(frozen=True, slots=True)
class ChipPin:
    """One pin of a chip, with the abilities the chip gives it.

    `shared_with` names what else hangs on the pin ("crystal", "reset"): a module's own table decides.
    """

    name: str
    abilities: frozenset[str]
    shared_with: str = ""


@dataclass(frozen=True, slots=True)
class Microcontroller:
    """A chip: memories in bytes, pins, and the instances of what is inside it.

    `program_bytes` and `memory_bytes` are None where the data set lists none (program memory outside the chip);
    `pins` is empty where it lists none. `not_listed` names what the data set leaves out for this chip: of those
    the answer is "cannot tell", not "none".
    """

    name: str
    family: str
    program_bytes: int | None
    memory_bytes: int | None
    eeprom_bytes: int
    pins: tuple[ChipPin, ...]
    timers: tuple[str, ...]
    serial_ports: tuple[str, ...]
    two_wire_buses: tuple[str, ...]
    spi_buses: tuple[str, ...]
    corrections: tuple[Correction, ...]
    not_listed: tuple[str, ...]

    def pin(self, name: str) -> ChipPin:
        """The pin of this name; KeyError where the chip has none."""
        for pin in self.pins:
            if pin.name == name:
                return pin
        raise KeyError(name)


def _devices_folder() -> Path:
    spec = find_spec("modm_devices")
    if spec is None or spec.origin is None:
        raise UnknownMicrocontroller("the data set package modm-devices is not installed")
    return Path(spec.origin).parent / "resources" / "devices"


@cache
def _file_of_name() -> Mapping[str, str]:
    """Every full device name with the data set's file that describes it, in order of names."""
    with (_devices_folder() / "db.json").open(encoding="utf-8") as file:
        groups: dict[str, dict[str, str]] = json.load(file)
    return dict(sorted((name, path) for group in groups.values() for name, path in group.items()))


def find_microcontrollers(text: str, limit: int = 20) -> list[str]:
    """Names in the data set that match what was typed.

    Args:
        text: part of a name; case, spaces and dashes are ignored. Nothing finds nothing.
        limit: the most names returned, 1 or more.

    Returns:
        Full names: first those that start with the text, then those that contain it.

    Example:
        >>> find_microcontrollers("ATmega328P", 3)
        ['atmega328p-an', 'atmega328p-au', 'atmega328p-mmh']
    """
    typed = re.sub(r"\s", "", text.casefold())
    wanted = typed.replace("-", "")
    if not wanted:
        return []
    ranks: tuple[list[str], list[str], list[str]] = ([], [], [])
    for name in _file_of_name():
        place = name.replace("-", "").find(wanted)
        if place >= 0:
            ranks[0 if name.startswith(typed) else 1 if place == 0 else 2].append(name)
    return [name for rank in ranks for name in rank][:limit]


def _full_name(name: str) -> str:
    """The data set's full name for a full name or one without its package ending."""
    wanted = name.strip().casefold()
    names = _file_of_name()
    if wanted in names:
        return wanted
    if wanted:
        ending = re.compile(re.escape(wanted) + r"(-.+|[a-z]\d[a-z]{0,2})")
        for known in names:
            if ending.fullmatch(known):
                return known
    near = find_microcontrollers(name, 3)
    hint = f"; near it: {', '.join(near)}" if near else ""
    raise UnknownMicrocontroller(f"no microcontroller {name!r} in the data set{hint}")


_reading = threading.Lock()


def _properties(name: str) -> tuple[dict[str, Any], dict[str, str]]:
    """What the data set tells of one device, and the parts of its name."""
    path = _devices_folder() / _file_of_name()[name]
    with _reading, warnings.catch_warnings():
        # The package finds its own files with a call that Python 3.12 and 3.13 warn about.
        warnings.simplefilter("ignore", DeprecationWarning)
        from modm_devices.parser import DeviceParser

        for device in DeviceParser().parse(str(path)).get_devices():
            if device.partname == name:
                identifier = device.identifier
                return device.properties, {key: identifier[key] for key in identifier.keys()}  # noqa: SIM118 its own class
    raise UnknownMicrocontroller(f"the data set lists {name!r} but its file does not describe it")


def _bytes(memories: Iterable[Signal], named: re.Pattern[str]) -> int | None:
    sizes = [int(memory["size"]) for memory in memories if named.fullmatch(memory["name"])]
    return sum(sizes) if sizes else None


# The data set's names of memories. Left out: "code", "itcm..." and "..._s" (the same bytes seen at a second
# address, or not for data) and "backup".
_PROGRAM = re.compile(r"flash\d?(_ns)?")
_MEMORY = re.compile(r"(d\d_)?s?ram\d?(_ns)?|core\d|ccm|dtcm|lpram")
_EEPROM = re.compile(r"eeprom")


_PLAIN = frozenset({"in", "out", "pullup"})


def _pin_name(family: str, port: str, number: str) -> str:
    if family == "rp":
        return f"GP{number}" if port == "bank0" else f"{port.upper()}{number}"
    if family == "nrf":
        return f"P{port}.{int(number):02d}"
    return f"P{port.upper()}{number}"


def _remapped_signals(gpio: Signal) -> dict[tuple[str, str], list[Signal]]:
    """Signals of the older family that carries them in remap groups instead of at the pins."""
    signals: dict[tuple[str, str], list[Signal]] = {}
    for remap in gpio.get("remap", []):
        for group in remap.get("group", []):
            for signal in group.get("signal", []):
                entry = {
                    "driver": remap["driver"],
                    "instance": remap.get("instance", ""),
                    "name": signal["name"],
                    "remap": group["id"],
                }
                signals.setdefault((signal["port"], signal["pin"]), []).append(entry)
    return signals


def _anywhere(family: str, number: str, drivers: list[Signal]) -> Iterable[str]:
    """Abilities that every pin of a chip has, because any pin may be joined to the block."""
    names = {driver["name"] for driver in drivers}
    if family in ("rp", "nrf") or (family == "sam" and "eic" not in names):
        yield "interrupt"
    elif family == "stm32":
        yield f"interrupt:EXTI{number}"
    if family == "nrf":
        yield "pulse"
        for instance in _instances(drivers, "twi", "twim"):
            yield from (f"sda:{instance}", f"scl:{instance}")
        for instance in _instances(drivers, "uart", "uarte"):
            yield from (f"rx:{instance}", f"tx:{instance}")
        for instance in _instances(drivers, "spi", "spim"):
            yield from (f"spi-clock:{instance}", f"spi-out:{instance}", f"spi-in:{instance}")


def _instances(drivers: list[Signal], *names: str) -> tuple[str, ...]:
    found = {
        instance
        for driver in drivers
        if driver["name"] in names
        for instance in driver.get("instance", ["0"])
    }
    return tuple(sorted(found, key=lambda label: (len(label), label)))


def _pins(family: str, drivers: list[Signal]) -> tuple[ChipPin, ...]:
    abilities_of = ABILITIES_OF_SIGNAL[family]
    gpio: Signal = next((driver for driver in drivers if driver["name"] == "gpio"), {})
    remapped = _remapped_signals(gpio)
    pins = []
    for pin in gpio.get("gpio", []):
        port, number = pin["port"], pin["pin"]
        signals = [{**signal, "pin": number} for signal in pin.get("signal", [])] + remapped.get(
            (port, number), []
        )
        abilities = {ability for signal in signals for ability in abilities_of(signal)}
        abilities.update(_PLAIN, _anywhere(family, number, drivers))
        crystal = any(
            re.fullmatch(r"xtal\d|osc(32|x)?_(in|out)|x(in|out)(32)?", s.get("name", "")) for s in signals
        )
        pins.append(
            ChipPin(_pin_name(family, port, number), frozenset(abilities), "crystal" if crystal else "")
        )
    return tuple(pins)


def _corrected(pins: tuple[ChipPin, ...], corrections: Iterable[Correction]) -> tuple[ChipPin, ...]:
    table = {pin.name: pin for pin in pins}
    for correction in corrections:
        for name in correction.drop_pins:
            table.pop(name, None)
        for name, abilities in correction.drop_abilities:
            if name in table:
                table[name] = ChipPin(name, table[name].abilities - abilities, table[name].shared_with)
        for name, abilities in correction.add_pins:
            table[name] = ChipPin(name, abilities)
        for name, shared_with in correction.shared_pins:
            if name in table:
                table[name] = ChipPin(name, table[name].abilities, shared_with)
    return tuple(table.values())


def _not_listed(
    program_bytes: int | None, memory_bytes: int | None, pins: tuple[ChipPin, ...], drivers: list[Signal]
) -> tuple[str, ...]:
    has_converter = any(driver["name"] in ("adc", "saadc", "afec") for driver in drivers)
    has_analogue = any(ability.startswith("analogue:") for pin in pins for ability in pin.abilities)
    gaps = {
        "program memory": program_bytes is None,
        "memory": memory_bytes is None,
        "pins": not pins,
        "analogue inputs": has_converter and not has_analogue,
    }
    return tuple(name for name, missing in gaps.items() if missing)


@lru_cache(maxsize=256)
def read_microcontroller(name: str) -> Microcontroller:
    """One chip of the data set, corrected where the data set slips.

    Args:
        name: a full name of the data set, or one without its package ending; case is ignored.

    Returns:
        Memories in bytes, pins with their abilities, instances of what is inside. Where a block can come out at
        several pins it is listed at each: not every combination is possible on every chip, a module's own table
        and the builder decide. Timer outputs of a chip with remap groups are listed at their first place only.

    Raises:
        UnknownMicrocontroller: no such chip in the data set.

    Example:
        >>> chip = read_microcontroller("ATmega328P")
        >>> chip.program_bytes, chip.memory_bytes, chip.eeprom_bytes
        (32768, 2048, 1024)
        >>> sorted(chip.pin("PD3").abilities)
        ['in', 'interrupt:INT1', 'out', 'pullup', 'pulse:2B']
    """
    full_name = _full_name(name)
    properties, parts = _properties(full_name)
    drivers: list[Signal] = properties["driver"]
    family = parts["platform"]
    core = next(driver for driver in drivers if driver["name"] == "core")
    memories: list[Signal] = core.get("memory", [])
    program_bytes, memory_bytes = _bytes(memories, _PROGRAM), _bytes(memories, _MEMORY)
    corrections = corrections_for(full_name)
    pins = _corrected(_pins(family, drivers), corrections)
    return Microcontroller(
        name=full_name,
        family=family,
        program_bytes=program_bytes,
        memory_bytes=memory_bytes,
        eeprom_bytes=_bytes(memories, _EEPROM) or 0,
        pins=pins,
        timers=tuple(f"{n}" for n in range(8))
        if family == "rp"
        else _instances(drivers, "tc", "tim", "tcc", "timer"),
        serial_ports=_instances(drivers, "usart", "uart", "lpuart", "uarte"),
        two_wire_buses=_instances(drivers, "twi", "i2c", "twihs", "twim", "fmpi2c"),
        spi_buses=_instances(drivers, "spi", "spim"),
        corrections=corrections,
        not_listed=_not_listed(program_bytes, memory_bytes, pins, drivers),
    )
