"""The starter list: components a new builder can choose from, with the wiring words of the trade as codes.

Every figure is a first guess marked assumed, to be replaced by the builder's own.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

NEEDS = (
    "out",
    "in",
    "pulse",
    "analogue",
    "interrupt",
    "sda",
    "scl",
    "spi-clock",
    "spi-out",
    "spi-in",
    "select",
    "rx",
    "tx",
    "contact",
    "none",
)
"""What a terminal can need of a board."""

KINDS = (
    "needle",
    "slide",
    "drum",
    "light",
    "display",
    "switch",
    "selector",
    "button",
    "encoder",
    "analogue",
    "holding",
    "backlight",
    "sounder",
)
"""Function kinds; the builder may add others."""

BASE_LIBRARY = "base"
"""The library that every board carries: the program's base with its serial link."""


STACK_RESERVE_BYTES = 300
"""Memory kept for the stack on every board, in bytes (assumed; source demo-cockpit)."""


class UnknownStarterComponent(LookupError):
    """The starter list has no component of this code."""


class StarterListError(ValueError):
    """The starter list does not hold together; names the row and the reason."""


@dataclass(frozen=True, slots=True)
class StarterTerminal:
    """One terminal and what it needs of a board.

    `shared_as` names the group that is counted once a board ("" for an own pin); `per_position` repeats the
    terminal for each position of a selector.
    """

    name: str
    need: str
    shared_as: str = ""
    per_position: bool = False


@dataclass(frozen=True, slots=True)
class StarterLibrary:
    """A library and the bytes it takes once a board."""

    code: str
    name: str
    program_bytes: int
    memory_bytes: int
    mark: str
    source: str


@dataclass(frozen=True, slots=True)
class StarterRail:
    """A power rail of the starter list."""

    code: str
    name: str
    volts: float
    mark: str
    source: str


@dataclass(frozen=True, slots=True)
class StarterCarrier:
    """A driver, expander or register that several parts sit on, `places` of them on each."""

    code: str
    name: str
    places: int
    cost: float
    mark: str
    source: str
    addresses: str = ""
    input_pull_up_ohm: float | None = None
    input_pull_up_weakest_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class StarterComponent:
    """A component of the starter list: terminals, currents in mA, bytes, what it suits and what does it with less.

    `rail` is "" for a part without a supply of its own; `carrier` is "" for a part that stands alone;
    sizes and cost are None where nothing is known (a contact's cost is that of the switch it belongs to).
    """

    code: str
    name: str
    kinds: tuple[str, ...]
    terminals: tuple[StarterTerminal, ...]
    rail: str
    rail_volts: float | None
    idle_ma: float
    typical_ma: float
    peak_ma: float
    peak_is: str
    buffer_bytes: int
    buffer_at_run_time: bool
    libraries: tuple[str, ...]
    fewer_pins_by: tuple[str, ...]
    fewer_bytes_by: tuple[str, ...]
    carrier: str
    length_mm: float | None
    width_mm: float | None
    height_mm: float | None
    cost: float | None
    note: str
    mark: str
    source: str
    addresses: str = ""
    redraw_bytes: int | None = None
    blocked_us: float | None = None
    input_supply_v: float | None = None
    drive_ma: float | None = None
    drive_is: str = ""
    clicks_a_turn: float | None = None
    changes_a_click: float | None = None


@cache
def _list() -> dict[str, Any]:
    with files(__package__).joinpath("starter_components.toml").open("rb") as file:
        rows: dict[str, Any] = tomllib.load(file)
    return rows


def _marked(row: dict[str, Any]) -> dict[str, Any]:
    return {"mark": _list()["mark"], "source": _list()["source"], **row}


@cache
def starter_rails() -> tuple[StarterRail, ...]:
    """The rails of the starter list.

    Example:
        >>> [(rail.code, rail.volts) for rail in starter_rails()]
        [('5L', 5.0), ('5M', 5.0), ('6S', 6.0), ('12', 12.0)]
    """
    return tuple(StarterRail(**_marked(row)) for row in _list()["rail"])


@cache
def starter_libraries() -> tuple[StarterLibrary, ...]:
    """The libraries of the starter list, the board's base among them."""
    return tuple(StarterLibrary(**_marked(row)) for row in _list()["library"])


@cache
def starter_carriers() -> tuple[StarterCarrier, ...]:
    """The drivers, expanders and registers that parts of the starter list sit on."""
    return tuple(StarterCarrier(**_marked(row)) for row in _list()["carrier"])


def _component(row: dict[str, Any], volts: dict[str, float]) -> StarterComponent:
    typical = float(row.get("typical_ma", 0.0))
    rail: str = row.get("rail", "")
    if rail and rail not in volts:
        raise StarterListError(f"component {row['code']!r}: no rail {rail!r}")
    marked = _marked(row)
    return StarterComponent(
        code=row["code"],
        name=row["name"],
        kinds=tuple(row["kinds"]),
        terminals=tuple(StarterTerminal(**terminal) for terminal in row.get("terminals", ())),
        rail=rail,
        rail_volts=volts.get(rail),
        idle_ma=float(row.get("idle_ma", typical)),
        typical_ma=typical,
        peak_ma=float(row.get("peak_ma", typical)),
        peak_is=row.get("peak_is", "peak"),
        buffer_bytes=row.get("buffer_bytes", 0),
        buffer_at_run_time=row.get("buffer_at_run_time", False),
        libraries=tuple(row.get("libraries", ())),
        fewer_pins_by=tuple(row.get("fewer_pins_by", ())),
        fewer_bytes_by=tuple(row.get("fewer_bytes_by", ())),
        carrier=row.get("carrier", ""),
        length_mm=row.get("length_mm"),
        width_mm=row.get("width_mm"),
        height_mm=row.get("height_mm"),
        cost=row.get("cost"),
        note=row.get("note", ""),
        mark=marked["mark"],
        source=marked["source"],
        addresses=row.get("addresses", ""),
        redraw_bytes=row.get("redraw_bytes"),
        blocked_us=row.get("blocked_us"),
        input_supply_v=row.get("input_supply_v"),
        drive_ma=row.get("drive_ma"),
        drive_is=row.get("drive_is", ""),
        clicks_a_turn=row.get("clicks_a_turn"),
        changes_a_click=row.get("changes_a_click"),
    )


@cache
def starter_components() -> tuple[StarterComponent, ...]:
    """Every component of the starter list, in its order.

    Raises:
        StarterListError: a component stands on a rail that the list does not have.
    """
    volts = {rail.code: rail.volts for rail in starter_rails()}
    return tuple(_component(row, volts) for row in _list()["component"])


def starter_component(code: str) -> StarterComponent:
    """The component with this code (a wiring word of a function list).

    Raises:
        UnknownStarterComponent: the list has no such code.

    Example:
        >>> stepper = starter_component("gs4")
        >>> [terminal.need for terminal in stepper.terminals], stepper.fewer_pins_by
        (['out', 'out', 'out', 'out'], ('gsd',))
    """
    for component in starter_components():
        if component.code == code:
            return component
    raise UnknownStarterComponent(f"no component {code!r} in the starter list")
