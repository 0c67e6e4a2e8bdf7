"""What a board that is short of pins saves by changing components for ones that need fewer."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from app.calculations.matrix_shape import matrix_shape
from app.calculations.pin_demand import FunctionNeed, TerminalNeed, function_terminals, pin_demand


@dataclass(frozen=True, slots=True)
class PinSaving:
    """Changes of component, each as (from, to, pins before, pins after), and what the board then needs.

    `left` is negative where the board is still short; `left_share` is its share of the usable pins.
    """

    changes: tuple[tuple[str, str, int, int], ...]
    total: int
    left: int
    left_share: float


@dataclass(frozen=True, slots=True)
class _Change:
    """One component code changed for another, for all its functions on the board."""

    from_code: str
    to_code: str
    terminals: tuple[TerminalNeed, ...]


def pin_saving(
    functions: Sequence[tuple[str, FunctionNeed]],
    alternatives: Mapping[str, Sequence[tuple[str, tuple[TerminalNeed, ...]]]],
    link: Sequence[TerminalNeed],
    usable: int,
    margin: float = 0.15,
) -> PinSaving | None:
    """The fewest changes of component that give a board its margin of pins.

    Args:
        functions: Component code and needs of each function on the board, in list order.
        alternatives: For a component code, the codes and terminals it can be changed for.
        link: Terminals of the link to the computer.
        usable: Usable pins of the board, 0 or more.
        margin: Share of the usable pins that should stay free, 0 to 1.

    Returns:
        The changes, in list order. A change concerns all functions of one component code. It is the smallest
        number of changes that reaches the margin; if none does, the smallest that fits; if none does, the
        changes that save most. Of equal numbers, those that save most, then those that change the earlier
        code. The pins of a change are what those functions take on this board beside all others, a shared
        group that others use too not counted again. None where the margin is there already, where nothing
        saves a pin, or where the pins of a function cannot be counted.

    Raises:
        ValueError: a need is not a known word, or positions are less than 1.

    Holds for numbers of pins; whether the pins left have the right abilities is a question for `pin_fit`.

    Source: counting; every set of changes is weighed, those that come to the same kept once (dynamic
    programming, R. Bellman 1957).

    Example:
        >>> rotary = (TerminalNeed("position", "in", per_position=True),)
        >>> ladder = (TerminalNeed("ladder", "analogue"),)
        >>> functions = [("rotary", FunctionNeed("F1", rotary, positions=4))]
        >>> pin_saving(functions, {"rotary": [("ladder", ladder)]}, [], usable=4)
        PinSaving(changes=(('rotary', 'ladder', 4, 1),), total=1, left=3, left_share=0.75)
    """
    now = pin_demand([function for _, function in functions], link)
    if now.unknown or usable - now.total >= margin * usable:
        return None
    # Of each number of changes the least total, from none to all codes changed.
    best = _least_totals(functions, alternatives, link)
    totals = [(total, changes) for total, changes in best if total < now.total]
    with_margin = [found for found in totals if usable - found[0] >= margin * usable]
    fitting = [found for found in totals if found[0] <= usable]
    if with_margin or fitting:
        _, changes = (with_margin or fitting)[0]
    elif totals:
        _, changes = min(totals, key=lambda found: found[0])
    else:
        return None
    return _saving(functions, changes, link, usable)


@dataclass(frozen=True, slots=True)
class _Part:
    """What the functions of one code take: own pins, contacts, and shared pins as a set of bits."""

    own: int
    contacts: int
    shared: int


def _least_totals(
    functions: Sequence[tuple[str, FunctionNeed]],
    alternatives: Mapping[str, Sequence[tuple[str, tuple[TerminalNeed, ...]]]],
    link: Sequence[TerminalNeed],
) -> list[tuple[int, tuple[_Change, ...]]]:
    """The least total for each number of changes, by going from code to code.

    Two ways to the same number of changes, contacts and shared pins go on alike, so that only the one with the
    fewer own pins is kept (of equal ones, the one that changes the earlier code, to the earlier alternative).
    """
    bits: dict[tuple[str, str, int], int] = {}
    start = _part([FunctionNeed("link", tuple(link))], bits)
    ways: dict[tuple[int, int, int], tuple[int, tuple[int, ...], tuple[_Change, ...]]] = {
        (0, start.contacts, start.shared): (start.own, (), ())
    }
    for code in dict.fromkeys(code for code, _ in functions):
        mine = [function for own_code, function in functions if own_code == code]
        options: list[tuple[int, _Part, tuple[_Change, ...]]] = []
        others = [other for other in alternatives.get(code, ()) if other[0] != code]
        for rank, (to_code, terminals) in enumerate(others):
            changed = [replace(function, terminals=terminals) for function in mine]
            if all(function_terminals(function).is_known for function in changed):
                options.append((rank, _part(changed, bits), (_Change(code, to_code, terminals),)))
        options.append((len(others), _part(mine, bits), ()))
        onward: dict[tuple[int, int, int], tuple[int, tuple[int, ...], tuple[_Change, ...]]] = {}
        for (number, contacts, shared), (own, ranks, changes) in ways.items():
            for rank, part, change in options:
                state = (number + len(change), contacts + part.contacts, shared | part.shared)
                way = (own + part.own, (*ranks, rank), (*changes, *change))
                if state not in onward or way[:2] < onward[state][:2]:
                    onward[state] = way
        ways = onward
    best: dict[int, tuple[int, tuple[int, ...], tuple[_Change, ...]]] = {}
    for (number, contacts, shared), (own, ranks, changes) in ways.items():
        matrix = matrix_shape(contacts).pins if contacts else 0
        found = (own + shared.bit_count() + matrix, ranks, changes)
        if number and (number not in best or found[:2] < best[number][:2]):
            best[number] = found
    return [(best[number][0], best[number][2]) for number in sorted(best)]


def _part(functions: Sequence[FunctionNeed], bits: dict[tuple[str, str, int], int]) -> _Part:
    """What functions take; the k-th terminal of a need in a group is one bit, so that users of it share it."""
    own, contacts, shared = 0, 0, 0
    for function in functions:
        terminals = function_terminals(function)
        own += len(terminals.own)
        contacts += terminals.contacts
        for group, wanted in terminals.shared.items():
            for need, count in Counter(terminal.need for terminal in wanted).items():
                for k in range(count):
                    shared |= 1 << bits.setdefault((group, need, k), len(bits))
    return _Part(own, contacts, shared)


def _changed(
    functions: Sequence[tuple[str, FunctionNeed]], changes: Sequence[_Change]
) -> list[tuple[str, FunctionNeed]]:
    to = {change.from_code: change for change in changes}
    return [
        (code, replace(function, terminals=to[code].terminals) if code in to else function)
        for code, function in functions
    ]


def _total(
    functions: Sequence[tuple[str, FunctionNeed]], changes: Sequence[_Change], link: Sequence[TerminalNeed]
) -> int:
    return pin_demand([function for _, function in _changed(functions, changes)], link).total


def _saving(
    functions: Sequence[tuple[str, FunctionNeed]],
    changes: Sequence[_Change],
    link: Sequence[TerminalNeed],
    usable: int,
) -> PinSaving:
    steps = []
    state = list(functions)
    for change in changes:
        others = pin_demand([function for code, function in state if code != change.from_code], link).total
        before = _total(state, (), link) - others
        state = _changed(state, [change])
        steps.append((change.from_code, change.to_code, before, _total(state, (), link) - others))
    total = _total(state, (), link)
    left = usable - total
    return PinSaving(tuple(steps), total, left, left / usable if usable else 0.0)
