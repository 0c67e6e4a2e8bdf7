"""What a board that is short of pins saves by changing components for ones that need fewer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

from app.calculations.pin_demand import FunctionNeed, TerminalNeed, pin_demand


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
        changes that save most. Of equal numbers, those that save most, then the first in list order. The pins
        of a change are what those functions take on this board beside all others, a shared group that
        others use too not counted again. None where the margin is there already, where nothing saves a pin,
        or where the pins of a function cannot be counted.

    Raises:
        ValueError: a need is not a known word, or positions are less than 1.

    Holds for numbers of pins; whether the pins left have the right abilities is a question for `pin_fit`.

    Source: counting, by trying every set of changes that saves (alternatives that save nothing beside another
    are dropped first).

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
    options = {
        code: _useful(functions, code, alternatives.get(code, ()))
        for code in dict.fromkeys(code for code, _ in functions)
    }
    codes = [code for code, changes in options.items() if changes]
    fits: tuple[int, tuple[_Change, ...]] | None = None
    most: tuple[int, tuple[_Change, ...]] | None = None
    for number in range(1, len(codes) + 1):
        best = min(
            (
                (_total(functions, changes, link), at, changes)
                for at, changes in enumerate(
                    changes
                    for chosen in combinations(codes, number)
                    for changes in product(*(options[code] for code in chosen))
                )
            ),
            key=lambda found: found[:2],
        )
        total, _, changes = best
        if usable - total >= margin * usable:
            return _saving(functions, changes, link, usable)
        if fits is None and total <= usable and total < now.total:
            fits = (total, changes)
        if total < (most[0] if most else now.total):
            most = (total, changes)
    found = fits or most
    return _saving(functions, found[1], link, usable) if found else None


def _useful(
    functions: Sequence[tuple[str, FunctionNeed]],
    code: str,
    alternatives: Sequence[tuple[str, tuple[TerminalNeed, ...]]],
) -> list[_Change]:
    """Changes of one code that can save a pin, without those that another is never worse than."""
    mine = [function for own_code, function in functions if own_code == code]
    before = pin_demand(mine, [])
    kept: list[tuple[_Change, int, frozenset[tuple[str, int]], int]] = []
    for to_code, terminals in alternatives:
        demand = pin_demand([replace(function, terminals=terminals) for function in mine], [])
        if demand.unknown or to_code == code:
            continue
        groups = frozenset(demand.shared.items())
        contacts = demand.matrix.contacts if demand.matrix else 0
        old_contacts = before.matrix.contacts if before.matrix else 0
        if demand.own >= before.own and contacts >= old_contacts and groups >= set(before.shared.items()):
            continue
        kept.append((_Change(code, to_code, terminals), demand.own, groups, contacts))
    return [
        change
        for k, (change, own, groups, contacts) in enumerate(kept)
        if not any(
            other_own <= own
            and other_groups <= groups
            and other_contacts <= contacts
            and (at < k or (other_own, other_groups, other_contacts) != (own, groups, contacts))
            for at, (_, other_own, other_groups, other_contacts) in enumerate(kept)
            if at != k
        )
    ]


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
