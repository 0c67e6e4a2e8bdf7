"""The terminals of all functions on one board, one by one, as the pins of the board see them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.calculations.pin_ability import ABILITY_FOR_NEED, PinUse
from app.calculations.pin_demand import (
    MATRIX,
    FunctionNeed,
    TerminalNeed,
    function_terminals,
    group_terminals,
)


@dataclass(frozen=True, slots=True)
class Terminal:
    """One terminal that takes one pin: of a function, of a shared group, of the matrix or of the link."""

    function: str | None
    group: str | None
    name: str
    need: str

    @property
    def ability(self) -> str:
        """The ability its pin must have."""
        return ABILITY_FOR_NEED[self.need]

    @property
    def full_name(self) -> str:
        """Whose terminal, and which: "F083 coil 1", "i2c SDA", "link RX"."""
        return f"{self.function or self.group or 'link'} {self.name}"

    def on(self, pin: str) -> PinUse:
        """This terminal on a pin."""
        return PinUse(pin, self.function, self.group, self.name)


@dataclass(frozen=True, slots=True)
class BoardFunction:
    """A function on the board: its own terminals, the groups it shares, its matrix contacts."""

    key: str
    own: tuple[Terminal, ...]
    groups: tuple[str, ...]
    contacts: int


@dataclass(frozen=True, slots=True)
class BoardTerminals:
    """All that wants a pin of one board. `unknown` holds functions whose pins cannot be counted."""

    functions: tuple[BoardFunction, ...]
    unknown: tuple[FunctionNeed, ...]
    groups: Mapping[str, tuple[Terminal, ...]]
    link: tuple[Terminal, ...]
    link_groups: tuple[str, ...]

    @property
    def contacts(self) -> int:
        """Contacts in the board's matrix when every function is placed."""
        return sum(function.contacts for function in self.functions)


def board_terminals(functions: Sequence[FunctionNeed], link: Sequence[TerminalNeed]) -> BoardTerminals:
    """The terminals that functions and the link bring to one board.

    Args:
        functions: Functions on the board, in list order, each key once.
        link: Terminals of the board's link to the computer.

    Returns:
        The terminals of each function, of each shared group and of the link.

    Raises:
        ValueError: a key comes twice, or a terminal is not well said (see `function_terminals`).
    """
    keys = [function.key for function in functions]
    if len(set(keys)) < len(keys):
        twice = sorted({key for key in keys if keys.count(key) > 1})
        raise ValueError(f"function keys come more than once: {', '.join(twice)}")
    parts = [(function, function_terminals(function)) for function in functions]
    known = [(function, part) for function, part in parts if part.is_known]
    link_part = function_terminals(FunctionNeed("link", tuple(link)))
    users: dict[str, list[Sequence[TerminalNeed]]] = {}
    for part in [link_part, *(part for _, part in known)]:
        for group, terminals in part.shared.items():
            users.setdefault(group, []).append(terminals)
    return BoardTerminals(
        functions=tuple(
            BoardFunction(
                key=function.key,
                own=tuple(Terminal(function.key, None, need.name, need.need) for need in part.own),
                groups=tuple(part.shared),
                contacts=part.contacts,
            )
            for function, part in known
        ),
        unknown=tuple(function for function, part in parts if not part.is_known),
        groups={
            group: tuple(Terminal(None, group, need.name, need.need) for need in group_terminals(wanted))
            for group, wanted in users.items()
        },
        link=tuple(Terminal(None, None, need.name, need.need) for need in link_part.own),
        link_groups=tuple(link_part.shared),
    )


def matrix_terminals(rows: int, columns: int) -> tuple[Terminal, ...]:
    """The terminals of a matrix: rows are outputs, columns inputs."""
    return (
        *(Terminal(None, MATRIX, f"row {k}", "out") for k in range(1, rows + 1)),
        *(Terminal(None, MATRIX, f"column {k}", "in") for k in range(1, columns + 1)),
    )


def bus_units(terminals: Sequence[Terminal], buses: Mapping[str, str]) -> list[tuple[Terminal, ...]]:
    """Terminals of one owner that must meet at one peripheral: its first SDA with its first SCL, and so on.

    Args:
        terminals: Terminals of one function, one group or the link.
        buses: Which bus each bus ability belongs to.

    Returns:
        The terminals of each bus, unit by unit.
    """
    units: dict[tuple[str, int], list[Terminal]] = {}
    seen: dict[str, int] = {}
    for terminal in terminals:
        bus = buses.get(terminal.ability)
        if bus is not None:
            order = seen.get(terminal.ability, 0)
            seen[terminal.ability] = order + 1
            units.setdefault((bus, order), []).append(terminal)
    return [tuple(unit) for unit in units.values()]
