"""A row of the table of remedies: what it changes, what is left, what it costs, how it fails."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.board_remedy_stock import RemedyFigures, RemedyStock
from app.calculations.board_remedy_words import MECHANISM_WORDS
from app.calculations.board_take import BoardTake


@dataclass(frozen=True, slots=True)
class RemedyChange:
    """One function whose component is changed for another; both by code."""

    function: str
    from_code: str
    to_code: str


@dataclass(frozen=True, slots=True)
class RemedyMove:
    """One function that goes to another board; `to_board` is "" for the board that is added."""

    function: str
    to_board: str


@dataclass(frozen=True, slots=True)
class RemedyPart:
    """A part to add or change: how many, and what each costs over the plan; None where no price is entered."""

    name: str
    count: int
    cost_each: float | None
    instead_of: str = ""

    @property
    def cost(self) -> float | None:
        """What all of them cost over the plan."""
        return None if self.cost_each is None else round(self.count * self.cost_each, 2)


@dataclass(frozen=True, slots=True)
class RemedyDelay:
    """Time that a pass of the loop waits longer (shorter where negative), in ms."""

    what: str
    added_ms: float


@dataclass(frozen=True, slots=True)
class TargetPins:
    """The pins of a board that functions move to, after the move; `board` is "" for one that is added."""

    board: str
    module: str
    needed: int
    usable: int
    left: int


@dataclass(frozen=True, slots=True)
class RemedyRow:
    """One remedy, solved for one board.

    `codes` are the single remedies in it; `code` stands for all of them. `target` is the board moved to.
    `left_out` are functions that then find no place, `pins_moved` terminals that sit on another pin than now,
    `locks_let_go` locks that could not stand. Costs are over the plan; `cost` leaves out the parts of
    `cost_missing`. `makes_all_fit` holds for pins, memory, program and bus addresses together, None where that
    cannot be told. `verdict` is fine with the margin free, caution without or with something to mind, stop
    where not all fits, "cannot tell" or "does not apply". `is_best_found` says that
    the search ended before the answer was proven the best.
    """

    code: str
    codes: tuple[str, ...]
    name: str
    what: str
    changes: tuple[RemedyChange, ...]
    moves: tuple[RemedyMove, ...]
    module: str
    pins_before: int
    pins_needed: int
    usable: int
    target: TargetPins | None
    left_out: tuple[str, ...]
    pins_moved: int
    locks_let_go: int
    parts: tuple[RemedyPart, ...]
    delays: tuple[RemedyDelay, ...]
    memory_added_bytes: int
    program_added_bytes: int
    memory_verdict: str
    memory_share: float | None
    fails: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    makes_all_fit: bool | None
    has_margin: bool
    verdict: str
    is_best_found: bool
    sentence: str
    source_mark: str
    source: str

    @property
    def pins_saved(self) -> int:
        """Pins that the board needs less than now."""
        return self.pins_before - self.pins_needed

    @property
    def pins_left(self) -> int:
        """Usable pins that stay free; negative where the board is short."""
        return self.usable - self.pins_needed

    @property
    def left_share(self) -> float:
        """Share of the usable pins that stays free."""
        return self.pins_left / self.usable if self.usable else 0.0

    @property
    def cost(self) -> float:
        """What its parts cost over the plan, those with a price."""
        return round(sum(part.cost or 0.0 for part in self.parts), 2)

    @property
    def cost_missing(self) -> tuple[str, ...]:
        """Parts whose price is not entered."""
        return tuple(part.name for part in self.parts if part.cost is None)

    @property
    def added_ms(self) -> float:
        """Time that a pass of the loop waits longer, in ms."""
        return sum(delay.added_ms for delay in self.delays)


def remedy_parts(
    before: BoardTake,
    after: BoardTake,
    changes: Sequence[RemedyChange],
    stock: RemedyStock,
    figures: RemedyFigures,
) -> tuple[RemedyPart, ...]:
    """The parts that changes of component ask for, each with its cost over the plan.

    Args:
        before: what the board takes as it stands.
        after: what it takes with the changes.
        changes: the functions changed.
        stock: the components and carriers with their costs.
        figures: the cost of a diode.

    Returns:
        Components in place of others at the difference of their costs, then carriers beyond those there are,
        then diodes. A component without a cost of its own is the part kept and not listed.

    Raises:
        KeyError: a code is not in the stock.

    Where it holds: for parts not bought yet; a carrier with a free place costs nothing.
    Source: arithmetic over the costs entered.
    """
    parts: list[RemedyPart] = []
    for (from_code, to_code), count in Counter((c.from_code, c.to_code) for c in changes).items():
        old, new = stock.component[from_code], stock.component[to_code]
        if new.cost is not None:
            parts.append(RemedyPart(new.name, count, new.cost - (old.cost or 0.0), old.name))
    for code, number in after.carriers.items():
        if (more := number - before.carriers.get(code, 0)) > 0:
            parts.append(RemedyPart(stock.carrier[code].name, more, stock.carrier[code].cost))
    if after.diodes > before.diodes:
        parts.append(RemedyPart("Diode", after.diodes - before.diodes, figures.diode_cost))
    return tuple(parts)


def remedy_delays(before: BoardTake, after: BoardTake) -> tuple[RemedyDelay, ...]:
    """What a pass of the loop waits for each mechanism more or less than before, in ms."""
    names = {str(mechanism): words.name for mechanism, words in MECHANISM_WORDS.items()}
    return tuple(
        RemedyDelay(names[mechanism], added)
        for mechanism in dict.fromkeys([*after.delays_ms, *before.delays_ms])
        if abs(added := after.delays_ms.get(mechanism, 0.0) - before.delays_ms.get(mechanism, 0.0)) > 1e-9
    )
