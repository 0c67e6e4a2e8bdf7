"""Which functions of a board would best go to another: the fewest that leave both enough."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

from app.calculations.board_remedy_fit import BoardFit, board_demand
from app.calculations.board_remedy_stock import RemedyBoard, RemedyFigures, RemedyFunction, RemedyStock
from app.calculations.board_take import board_take
from app.calculations.matrix_shape import matrix_shape
from app.calculations.pin_demand import FunctionNeed, function_terminals

MOST_SETS_WEIGHED = 6_000
"""Sets of functions counted through in search of those to move; a board of six components has fewer."""
MOST_SETS_TRIED = 12
"""Sets that would do by count, tried on each other board, the smallest first."""


def function_sets(
    board: RemedyBoard, stock: RemedyStock, figures: RemedyFigures, target: RemedyBoard | None = None
) -> tuple[tuple[RemedyFunction, ...], ...]:
    """The smallest sets of functions whose going leaves a board its margin of pins, by count, and its memory.

    Args:
        board: the board.
        stock: what its codes stand for.
        figures: the margin wanted.
        target: a board that is to have room for them, with its margin.

    Returns:
        Sets, those of fewest functions first; of equal ones those of fewest kinds of component, then those
        that take the fewest pins away. Of functions with one component, those last in the list. With a target,
        sets that fit on both boards without the margin follow. None where the board has its margin and memory,
        or no set up to the number weighed does it.

    Raises:
        KeyError: a code is not in the stock.

    Where it holds: for numbers of pins; `function_move` tries what is found.
    Source: counting, set by set.
    """
    scale = _PinScale(board, stock, target)
    take = board_take(board, stock, figures)
    is_full = "stop" in (take.memory.verdict, take.program.verdict)
    if scale.share_left(()) >= figures.margin_share and not is_full:
        return ()
    found: list[tuple[RemedyFunction, ...]] = []
    tight: list[tuple[RemedyFunction, ...]] = []
    weighed = 0
    for number in range(1, len(board.functions) + 1):
        ranked: list[tuple[bool, int, float, int, tuple[RemedyFunction, ...]]] = []
        for gone in scale.sets_of(number):
            weighed += 1
            if weighed > MOST_SETS_WEIGHED:
                break
            share = scale.share_left(gone)
            is_tight = share < figures.margin_share
            if share < 0 or (is_tight and target is None):
                continue
            chosen = scale.functions_of(gone)
            if is_full and _is_full(board, chosen, stock, figures):
                continue
            ranked.append((is_tight, sum(1 for count in gone if count), share, len(ranked), chosen))
        for is_tight, _, _, _, chosen in sorted(ranked, key=lambda each: each[:-1]):
            (tight if is_tight else found).append(chosen)
        if weighed > MOST_SETS_WEIGHED or len(found) >= MOST_SETS_TRIED:
            break
    return (*found[:MOST_SETS_TRIED], *tight[:MOST_SETS_TRIED])


def _is_full(
    board: RemedyBoard, gone: Sequence[RemedyFunction], stock: RemedyStock, figures: RemedyFigures
) -> bool:
    keys = {function.key for function in gone}
    staying = tuple(function for function in board.functions if function.key not in keys)
    take = board_take(replace(board, functions=staying), stock, figures)
    return "stop" in (take.memory.verdict, take.program.verdict)


@dataclass(frozen=True, slots=True)
class _Pins:
    """What a function takes of a board: own pins, contacts, and shared pins as a set of bits."""

    own: int
    contacts: int
    shared: int


class _PinScale:
    """Counts pins for sets of functions, so many of each kind, on a board and on the one they go to."""

    def __init__(self, board: RemedyBoard, stock: RemedyStock, target: RemedyBoard | None) -> None:
        self._bits: dict[tuple[str, str, int], int] = {}
        self._matrix = {0: 0}
        kinds: dict[tuple[str, int | None], list[RemedyFunction]] = {}
        for function in reversed(board.functions):
            if function.component in stock.component:
                kinds.setdefault((function.component, function.positions), []).append(function)
        self.kinds = list(kinds.values())
        self._each = [self._pins(stock.needs((kind[0],))[0]) for kind in self.kinds]
        self._here = self._pins(FunctionNeed("link", stock.module[board.module].link))
        self._usable_here = len(stock.module[board.module].pins)
        self._there: list[_Pins] | None = None
        self._usable_there = 0
        if target is not None:
            link = FunctionNeed("link", stock.module[target.module].link)
            self._there = [self._pins(need) for need in (link, *stock.needs(target.functions))]
            self._usable_there = len(stock.module[target.module].pins)

    def sets_of(self, number: int) -> Iterator[tuple[int, ...]]:
        """How many of each kind go, for every set of so many functions of kinds that take anything."""
        places = [k for k, pins in enumerate(self._each) if pins.own or pins.contacts or pins.shared]
        for chosen in combinations_with_replacement(places, number):
            counts = [0] * len(self.kinds)
            for place in chosen:
                counts[place] += 1
            if all(count <= len(kind) for count, kind in zip(counts, self.kinds, strict=True)):
                yield tuple(counts)

    def functions_of(self, gone: Sequence[int]) -> tuple[RemedyFunction, ...]:
        """The functions of a set: of each kind those last in the list."""
        return tuple(f for count, kind in zip(gone, self.kinds, strict=True) for f in kind[:count])

    def share_left(self, gone: Sequence[int]) -> float:
        """The least share of usable pins left on either board; negative where one is short."""
        counts = gone or [0] * len(self.kinds)
        staying = [len(kind) - count for kind, count in zip(self.kinds, counts, strict=True)]
        share = self._share([self._here], staying, self._usable_here)
        if self._there is None or share < 0:
            return share
        return min(share, self._share(self._there, counts, self._usable_there))

    def _share(self, fixed: Sequence[_Pins], counts: Sequence[int], usable: int) -> float:
        own = sum(pins.own for pins in fixed)
        contacts = sum(pins.contacts for pins in fixed)
        shared = 0
        for pins in fixed:
            shared |= pins.shared
        for count, pins in zip(counts, self._each, strict=True):
            own += count * pins.own
            contacts += count * pins.contacts
            shared |= pins.shared if count else 0
        if contacts not in self._matrix:
            self._matrix[contacts] = matrix_shape(contacts).pins
        matrix = self._matrix[contacts]
        return (usable - own - matrix - shared.bit_count()) / usable if usable else -1.0

    def _pins(self, need: FunctionNeed) -> _Pins:
        """The k-th terminal of a need in a group is one bit, so that users of it share it."""
        terminals = function_terminals(need)
        shared = 0
        for group, wanted in terminals.shared.items():
            for name, count in Counter(terminal.need for terminal in wanted).items():
                for k in range(count):
                    shared |= 1 << self._bits.setdefault((group, name, k), len(self._bits))
        return _Pins(len(terminals.own), terminals.contacts, shared)


def function_move(
    board: RemedyBoard,
    target: RemedyBoard,
    sets: Sequence[Sequence[RemedyFunction]],
    solve: Callable[[RemedyBoard], BoardFit],
    stock: RemedyStock,
    figures: RemedyFigures,
    *,
    needs_margin: bool = True,
) -> tuple[BoardFit, BoardFit] | None:
    """A board and the board that functions move to, both solved, for the first set that both can do with.

    Args:
        board: the board that is short.
        target: the other board.
        sets: sets of functions that may move, in the order they are tried.
        solve: solves a board.
        stock: what their codes stand for.
        figures: the margin wanted on both.
        needs_margin: a set that leaves no margin will not do.

    Returns:
        Both boards with pins, memory and addresses enough; None where no set does it.

    Raises:
        KeyError: a code is not in the stock.
    """
    margin_share = figures.margin_share if needs_margin else 0.0
    usable = len(stock.module[target.module].pins)
    addresses_over = len(board_take(target, stock, figures).without_address)
    for moved in sets:
        here, there = moved_boards(board, target, moved)
        if usable - board_demand(there, stock).total < margin_share * usable:
            continue
        left, joined = solve(here), solve(there)
        if (
            left.has_margin(margin_share)
            and joined.has_margin(margin_share)
            and joined.holds
            and len(joined.take.without_address) <= addresses_over
        ):
            return left, joined
    return None


def moved_boards(
    board: RemedyBoard, target: RemedyBoard, moved: Sequence[RemedyFunction]
) -> tuple[RemedyBoard, RemedyBoard]:
    """Both boards when functions have gone from one to the other; their order in the list is kept."""
    gone = {function.key for function in moved}
    ordered = tuple(function for function in board.functions if function.key in gone)
    here = replace(board, functions=tuple(f for f in board.functions if f.key not in gone))
    return here, replace(target, functions=(*target.functions, *ordered))
