"""The single remedies that a cockpit's stock allows, and a board with some of them taken."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from app.calculations.board_remedy_row import RemedyChange
from app.calculations.board_remedy_stock import Mechanism, RemedyBoard, RemedyQuestion, RemedyStock
from app.calculations.board_remedy_words import (
    LARGER_WORDS,
    MECHANISM_WORDS,
    MOVE_WORDS,
    SECOND_WORDS,
    RemedyWords,
)

TOGETHER = "~"
"""Stands between the single remedies of a combination's code."""
SECOND_BOARD = "second-board"
_CODES: dict[Mechanism, str] = {
    "segment chain": "segment-driver",
    "ladder": "ladder",
    "matrix": "matrix",
    "pixels": "pixels",
}


class UnknownRemedy(LookupError):
    """No remedy has this code; the message names it."""


@dataclass(frozen=True, slots=True)
class RemedyOption:
    """One single remedy: a change of components, a larger module, or a board to move functions to."""

    code: str
    kind: Literal["change", "larger", "move", "second"]
    words: RemedyWords
    name: str
    swaps: tuple[tuple[str, str], ...] = ()
    to: str = ""


def remedy_options(question: RemedyQuestion) -> tuple[RemedyOption, ...]:
    """Every single remedy there is for a board, in the order of the table.

    Args:
        question: the board, the others, and the stock.

    Returns:
        Changes of component by what they are changed to, modules with more pins, other boards, one more board
        of this kind. Codes are plain words that a URL can hold.

    Raises:
        KeyError: a code is not in the stock.

    Source: the components that name others "with fewer pins".

    Example:
        >>> from app.calculations.board_remedy_stock import RemedyComponent, RemedyModule, TerminalNeed
        >>> rotary = RemedyComponent("rot", "Selector", (), ("selector",), fewer_pins_by=("lad",))
        >>> ladder = RemedyComponent("lad", "Ladder", (TerminalNeed("wiper", "analogue"),), ("selector",))
        >>> stock = RemedyStock((rotary, ladder), modules=(RemedyModule("T8S", "Module", ()),))
        >>> [option.code for option in remedy_options(RemedyQuestion(RemedyBoard("B1", "T8S", ()), (), stock))]
        ['ladder', 'second-board']
    """
    stock = question.stock
    usable = len(stock.module[question.board.module].pins)
    larger = sorted((m for m in stock.modules if len(m.pins) > usable), key=lambda m: len(m.pins))
    found = [
        *_changes(stock),
        *(
            RemedyOption(f"larger-{m.code}", "larger", LARGER_WORDS, f"Larger board, {m.name}", to=m.code)
            for m in larger
        ),
        *(
            RemedyOption(f"move-{b.code}", "move", MOVE_WORDS, f"Move to {b.code}", to=b.code)
            for b in question.others
        ),
        RemedyOption(SECOND_BOARD, "second", SECOND_WORDS, SECOND_WORDS.name),
    ]
    options: list[RemedyOption] = []
    taken: set[str] = set()
    for option in found:
        plain = re.sub(r"[^A-Za-z0-9._-]+", "-", option.code)
        code = next(
            c for k in range(1, len(found) + 2) if (c := plain if k == 1 else f"{plain}-{k}") not in taken
        )
        taken.add(code)
        options.append(replace(option, code=code))
    return tuple(options)


def options_named(question: RemedyQuestion, codes: Sequence[str]) -> tuple[RemedyOption, ...]:
    """The single remedies of these codes, in the order of the table, each once.

    Args:
        question: the board, the others, and the stock.
        codes: codes of single remedies or of combinations.

    Returns:
        The options; none for no code.

    Raises:
        UnknownRemedy: no remedy has a code.
    """
    wanted = {single for code in codes for single in code.split(TOGETHER)}
    options = remedy_options(question)
    if unknown := wanted - {option.code for option in options}:
        raise UnknownRemedy(f"There is no remedy {', '.join(sorted(unknown))} for {question.board.code}.")
    return tuple(option for option in options if option.code in wanted)


def with_changes(
    board: RemedyBoard, options: Sequence[RemedyOption]
) -> tuple[RemedyBoard, tuple[RemedyChange, ...]]:
    """A board with the components that remedies change, and the changes.

    Args:
        board: the board as it stands.
        options: remedies in the order of the table; where two take one function, the first has it.

    Returns:
        The board and its changes, in list order.
    """
    to: dict[str, str] = {}
    for option in options:
        for from_code, to_code in option.swaps:
            to.setdefault(from_code, to_code)
    changes = tuple(
        RemedyChange(function.key, function.component, to[function.component])
        for function in board.functions
        if function.component in to
    )
    functions = tuple(
        replace(function, component=to.get(function.component, function.component))
        for function in board.functions
    )
    return replace(board, functions=functions), changes


def _changes(stock: RemedyStock) -> Iterator[RemedyOption]:
    swaps: dict[tuple[Mechanism, str], dict[str, str]] = {}
    for component in stock.components:
        for to_code in component.fewer_pins_by:
            to = stock.component[to_code]
            code = to.carrier or _CODES.get(to.mechanism, to.code)
            swaps.setdefault((to.mechanism, code), {}).setdefault(component.code, to_code)
    order = list(MECHANISM_WORDS)
    mechanisms = [mechanism for mechanism, _ in swaps]
    for (mechanism, code), pairs in sorted(swaps.items(), key=lambda each: order.index(each[0][0])):
        words = MECHANISM_WORDS[mechanism]
        name = words.name
        if mechanism == "direct" or mechanisms.count(mechanism) > 1:
            to = stock.component[next(iter(pairs.values()))]
            name = stock.carrier[to.carrier].name if to.carrier else to.name
        yield RemedyOption(code, "change", words, name, tuple(pairs.items()))
