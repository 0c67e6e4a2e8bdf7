"""Pins a board needs: each function's own, shared groups once, the contact matrix, and the link."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from app.calculations.matrix_shape import MatrixShape, matrix_shape
from app.calculations.pin_ability import ABILITY_FOR_NEED, NEEDS_WITHOUT_PIN

MATRIX = "matrix"
"""The group name of matrix rows and columns; no shared group may be called so."""


@dataclass(frozen=True, slots=True)
class TerminalNeed:
    """One terminal of a component: its name and what it needs of a board.

    A terminal shared as a group counts once a board; one per position is repeated for each position.
    """

    name: str
    need: str
    shared_as: str | None = None
    per_position: bool = False


@dataclass(frozen=True, slots=True)
class FunctionNeed:
    """A function with its chosen component's terminals, and its positions where it is a selector."""

    key: str
    terminals: tuple[TerminalNeed, ...]
    positions: int | None = None


@dataclass(frozen=True, slots=True)
class PinDemand:
    """Pins needed of one board.

    `own` counts terminals of one function only, `shared` the pins of each group (neither the link's nor the
    matrix), `link` those of the link and its groups. `unknown` names functions whose pins cannot be counted
    in full; the numbers are then a lower bound.
    """

    own: int
    shared: Mapping[str, int]
    matrix: MatrixShape | None
    link: int
    total: int
    by_need: Mapping[str, int]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FunctionTerminals:
    """The terminals of one function, one by one: its own, those it shares by group, its matrix contacts."""

    own: tuple[TerminalNeed, ...]
    shared: Mapping[str, tuple[TerminalNeed, ...]]
    contacts: int
    is_known: bool


def function_terminals(function: FunctionNeed) -> FunctionTerminals:
    """The terminals of a function, one by one.

    A terminal per position is repeated, numbered from 1; without positions it cannot be counted, but for a
    matrix contact, which then is one (a plain switch).

    Raises:
        ValueError: a need is not a known word, a group is called "matrix", or `positions` is less than 1.
    """
    if function.positions is not None and function.positions < 1:
        raise ValueError(f"positions of {function.key} must be 1 or more, got {function.positions}")
    terminals: list[TerminalNeed] = []
    contacts = 0
    is_known = True
    for terminal in function.terminals:
        _check(terminal)
        repeats = (function.positions or 0) if terminal.per_position else 1
        if terminal.need == "contact":
            contacts += repeats or 1
        elif terminal.need == "none":
            continue
        elif not repeats:
            is_known = False
        elif terminal.per_position:
            terminals += [replace(terminal, name=f"{terminal.name} {k}") for k in range(1, repeats + 1)]
        else:
            terminals.append(terminal)
    terminals = _with_own_names(terminals)
    groups = dict.fromkeys(terminal.shared_as for terminal in terminals if terminal.shared_as)
    return FunctionTerminals(
        own=tuple(terminal for terminal in terminals if not terminal.shared_as),
        shared={group: tuple(t for t in terminals if t.shared_as == group) for group in groups},
        contacts=contacts,
        is_known=is_known,
    )


def group_terminals(users: Iterable[Sequence[TerminalNeed]]) -> tuple[TerminalNeed, ...]:
    """The terminals of a shared group: of each need as many as its most demanding user has."""
    wanted: dict[str, list[TerminalNeed]] = {}
    for terminals in users:
        for need in dict.fromkeys(terminal.need for terminal in terminals):
            alike = [terminal for terminal in terminals if terminal.need == need]
            if len(alike) > len(wanted.get(need, ())):
                wanted[need] = alike
    return tuple(_with_own_names([terminal for alike in wanted.values() for terminal in alike]))


def pin_demand(functions: Sequence[FunctionNeed], link: Sequence[TerminalNeed]) -> PinDemand:
    """The pins that functions on one board need together.

    Args:
        functions: Functions on the board with their terminals.
        link: Terminals of the board's link to the computer; none where it takes no pin.

    Returns:
        The pins needed, own and shared, with the smallest matrix for all contacts; by need, a matrix row
        counting as "out" and a column as "in". A function with a terminal per position and no positions is
        in `unknown`; its other terminals are counted.

    Raises:
        ValueError: a need is not a known word, a group is called "matrix", or positions are less than 1.

    Holds for terminals that take one pin each. Whether pins of the right abilities are there is a question
    for `pin_fit`.

    Source: counting; a bus or chain shared by several parts takes its pins once (common practice).

    Example:
        >>> coils = tuple(TerminalNeed(f"coil {k}", "out") for k in range(1, 5))
        >>> bus = (TerminalNeed("SDA", "sda", "i2c"), TerminalNeed("SCL", "scl", "i2c"))
        >>> functions = [FunctionNeed("F1", coils), FunctionNeed("F2", bus), FunctionNeed("F3", bus)]
        >>> demand = pin_demand(functions, link=[])
        >>> demand.own, demand.shared, demand.total
        (4, {'i2c': 2}, 6)
    """
    parts = [function_terminals(function) for function in functions]
    link_part = function_terminals(FunctionNeed("link", tuple(link)))
    groups: dict[str, list[Sequence[TerminalNeed]]] = {}
    for part in [link_part, *parts]:
        for group, terminals in part.shared.items():
            groups.setdefault(group, []).append(terminals)
    shared = {group: group_terminals(users) for group, users in groups.items()}
    by_need = Counter(terminal.need for part in [link_part, *parts] for terminal in part.own)
    by_need.update(terminal.need for terminals in shared.values() for terminal in terminals)
    contacts = sum(part.contacts for part in parts)
    matrix = matrix_shape(contacts) if contacts else None
    if matrix:
        by_need.update({"out": matrix.rows, "in": matrix.columns})
    return PinDemand(
        own=sum(len(part.own) for part in parts),
        shared={group: len(shared[group]) for group in groups if group not in link_part.shared},
        matrix=matrix,
        link=len(link_part.own) + sum(len(shared[group]) for group in link_part.shared),
        total=by_need.total(),
        by_need=dict(by_need),
        unknown=tuple(
            function.key for function, part in zip(functions, parts, strict=True) if not part.is_known
        ),
    )


def _check(terminal: TerminalNeed) -> None:
    if terminal.need not in ABILITY_FOR_NEED and terminal.need not in NEEDS_WITHOUT_PIN:
        known = ", ".join([*ABILITY_FOR_NEED, *NEEDS_WITHOUT_PIN])
        raise ValueError(f"terminal {terminal.name} needs one of {known}; got {terminal.need!r}")
    if terminal.shared_as == MATRIX:
        raise ValueError(f"terminal {terminal.name} is shared as {MATRIX!r}, a name kept for the matrix")


def _with_own_names(terminals: Sequence[TerminalNeed]) -> list[TerminalNeed]:
    seen: set[tuple[str | None, str]] = set()
    named: list[TerminalNeed] = []
    for terminal in terminals:
        name, k = terminal.name, 1
        while (terminal.shared_as, name) in seen:
            k += 1
            name = f"{terminal.name} {k}"
        seen.add((terminal.shared_as, name))
        named.append(replace(terminal, name=name))
    return named
