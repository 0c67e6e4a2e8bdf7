"""What a table of remedies is worked out from: a board with its functions, and what can be had instead."""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from app.calculations.pin_ability import Pin, PinUse
from app.calculations.pin_demand import FunctionNeed, TerminalNeed

Mechanism = Literal[
    "driver",
    "pulse expander",
    "output register",
    "input register",
    "matrix",
    "expander",
    "pixels",
    "ladder",
    "segment chain",
    "direct",
]
"""By what a component gets along with few pins; "direct" where by nothing of these."""

GAUGE_KINDS = frozenset({"needle", "slide", "drum"})
CONTACT_KINDS = frozenset({"switch", "button", "selector"})


@dataclass(frozen=True, slots=True)
class RemedyComponent:
    """A component: its terminals, what it sits on, what it takes of memory and time, what it costs.

    `carrier` is "" for a part that stands alone, `addresses` those of a device of its own on a two-wire bus,
    `buffer_bytes` None where a buffer is there and its size is not known. A `cost` of None is not known, or is
    that of the part kept (a switch on an expander). `fewer_pins_by` names what does the same with fewer pins.
    """

    code: str
    name: str
    terminals: tuple[TerminalNeed, ...]
    kinds: tuple[str, ...] = ()
    carrier: str = ""
    libraries: tuple[str, ...] = ()
    buffer_bytes: int | None = 0
    blocked_us: float | None = None
    addresses: tuple[int, ...] = ()
    cost: float | None = None
    cost_mark: str = "assumed"
    fewer_pins_by: tuple[str, ...] = ()

    @property
    def own(self) -> tuple[TerminalNeed, ...]:
        """Terminals that take a pin of their own."""
        return tuple(t for t in self.terminals if not t.shared_as and t.need not in ("contact", "none"))

    @property
    def is_on_bus(self) -> bool:
        """Whether it hangs on a two-wire bus."""
        return any(terminal.need == "sda" for terminal in self.terminals)

    @property
    def mechanism(self) -> Mechanism:
        """By what it gets along with few pins, read off its terminals and its carrier."""
        needs = {terminal.need for terminal in self.terminals}
        shared = {terminal.need for terminal in self.terminals if terminal.shared_as}
        found: Mechanism = "direct"
        if "contact" in needs:
            found = "matrix"
        elif self.blocked_us:
            found = "pixels"
        elif self.is_on_bus:
            if self.carrier:
                found = "pulse expander" if GAUGE_KINDS.intersection(self.kinds) else "expander"
        elif self.carrier and self.own:
            found = "driver"
        elif self.carrier:
            found = "input register" if "in" in shared else "output register"
        elif [terminal.need for terminal in self.own] == ["analogue"] and "selector" in self.kinds:
            found = "ladder"
        elif len(self.terminals) > 1 and not self.own and shared == {"out"}:
            found = "segment chain"
        return found


@dataclass(frozen=True, slots=True)
class RemedyCarrier:
    """A driver, expander or register that several parts sit on."""

    code: str
    name: str
    places: int
    addresses: tuple[int, ...] = ()
    cost: float | None = None
    cost_mark: str = "assumed"


@dataclass(frozen=True, slots=True)
class RemedyLibrary:
    """A library: bytes taken once a board, None where not known."""

    code: str
    name: str
    program_bytes: int | None
    memory_bytes: int | None
    is_on_every_board: bool = False


@dataclass(frozen=True, slots=True)
class RemedyModule:
    """A type of board: its usable pins, the terminals of its link, its memories.

    `is_held_by_pixels` says that its chip holds off interrupts while it sends addressable pixels.
    """

    code: str
    name: str
    pins: tuple[Pin, ...]
    link: tuple[TerminalNeed, ...] = ()
    memory_bytes: int | None = None
    program_bytes: int | None = None
    boot_loader_bytes: int = 0
    logic_v: float | None = None
    is_held_by_pixels: bool = True
    cost: float | None = None


@dataclass(frozen=True, slots=True)
class RemedyFunction:
    """A function on a board: its component ("" where none is chosen), and how many contacts it has.

    `positions` counts a terminal "one a position"; `places` is what it takes of a carrier for contacts.
    """

    key: str
    component: str
    positions: int | None = None
    places: int = 1
    panel: str = ""


@dataclass(frozen=True, slots=True)
class RemedyBoard:
    """A board as it stands: module, functions in list order, pins in use, figures of its bus and link."""

    code: str
    module: str
    functions: tuple[RemedyFunction, ...]
    locked: tuple[PinUse, ...] = ()
    in_place: tuple[PinUse, ...] = ()
    stack_reserve_bytes: int = 300
    boot_loader_bytes: int | None = None
    bus_clock_khz: float | None = None
    baud: int | None = None


@dataclass(frozen=True)
class RemedyStock:
    """Everything that can be had: components, carriers, libraries, board modules."""

    components: tuple[RemedyComponent, ...]
    carriers: tuple[RemedyCarrier, ...] = ()
    libraries: tuple[RemedyLibrary, ...] = ()
    modules: tuple[RemedyModule, ...] = ()

    @cached_property
    def component(self) -> dict[str, RemedyComponent]:
        """Components by code."""
        return {each.code: each for each in self.components}

    @cached_property
    def carrier(self) -> dict[str, RemedyCarrier]:
        """Carriers by code."""
        return {each.code: each for each in self.carriers}

    @cached_property
    def module(self) -> dict[str, RemedyModule]:
        """Board modules by code."""
        return {each.code: each for each in self.modules}

    def component_of(self, function: RemedyFunction) -> RemedyComponent | None:
        """The component chosen for a function."""
        return self.component.get(function.component)

    def needs(self, functions: tuple[RemedyFunction, ...]) -> list[FunctionNeed]:
        """What functions with a component chosen need of a board, in list order."""
        return [
            FunctionNeed(function.key, component.terminals, function.positions)
            for function in functions
            if (component := self.component_of(function)) is not None
        ]


@dataclass(frozen=True, slots=True)
class RemedyFigures:
    """Figures of common practice that a table of remedies is worked out with; each may be changed.

    `register_clock_khz` is the clock of a register chain that a program toggles pin by pin, `bus_clock_khz` that
    of a bus whose clock is not entered, `analogue_read_ms` one analogue reading, `equal_readings` how many a
    ladder waits for, `expander_read_bytes` and `pulse_write_bytes` what one expander's inputs and one gauge's
    pulse take on the bus, `image_bits` the places that a byte of memory holds. `time_limit_s` is for one pin fit.
    """

    margin_share: float = 0.15
    register_clock_khz: float = 100.0
    bus_clock_khz: float = 100.0
    analogue_read_ms: float = 0.1
    equal_readings: int = 2
    expander_read_bytes: int = 5
    pulse_write_bytes: int = 6
    matrix_row_us: float = 50.0
    image_bits: int = 8
    diode_cost: float = 0.03
    time_limit_s: float = 1.0


@dataclass(frozen=True)
class RemedyQuestion:
    """A board, the other boards of the cockpit, and what can be had."""

    board: RemedyBoard
    others: tuple[RemedyBoard, ...]
    stock: RemedyStock
    figures: RemedyFigures = RemedyFigures()
