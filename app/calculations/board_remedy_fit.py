"""A board solved for a remedy: its pins, and what it takes beside them."""

from dataclasses import dataclass

from app.calculations.board_remedy_stock import RemedyBoard, RemedyFigures, RemedyStock
from app.calculations.board_take import BoardTake, board_take
from app.calculations.pin_demand import PinDemand, pin_demand
from app.calculations.pin_fit import LockRefused, PinFit, pin_fit


@dataclass(frozen=True, slots=True)
class BoardFit:
    """A board as solved: pins needed, the fit, what it takes beside pins; `locks_let_go` could not stand."""

    board: RemedyBoard
    demand: PinDemand
    usable: int
    fit: PinFit
    take: BoardTake
    locks_let_go: int
    without_component: tuple[str, ...]

    @property
    def is_placed(self) -> bool:
        """Whether every function whose pins can be counted has its pins."""
        return self.fit.is_link_placed and not self.fit.left_out

    @property
    def is_known(self) -> bool:
        """Whether the pins of every function can be counted."""
        return not self.without_component and not self.demand.unknown

    def has_margin(self, margin_share: float) -> bool:
        """Whether all is placed and the share wanted of the usable pins stays free."""
        return self.is_placed and self.usable - self.demand.total >= margin_share * self.usable

    @property
    def holds(self) -> bool:
        """Whether pins, memory and program suffice, as far as is known."""
        return self.is_placed and "stop" not in (self.take.memory.verdict, self.take.program.verdict)


def board_demand(board: RemedyBoard, stock: RemedyStock) -> PinDemand:
    """The pins that a board's functions need by count."""
    return pin_demand(stock.needs(board.functions), stock.module[board.module].link)


def board_fit(board: RemedyBoard, stock: RemedyStock, figures: RemedyFigures) -> BoardFit:
    """A board solved with the components it has here.

    Args:
        board: the board; its locks and pins in place are kept where they can be.
        stock: what its codes stand for.
        figures: figures of common practice, the time limit among them.

    Returns:
        The pin fit and all else the board takes. A lock of a terminal that is no more is let go.

    Raises:
        KeyError: a code is not in the stock.

    Source: `pin_fit`, `pin_demand` and `board_take`, which name theirs.
    """
    module = stock.module[board.module]
    needs = stock.needs(board.functions)
    labels = {pin.label for pin in module.pins}
    locked = [use for use in board.locked if use.pin in labels]
    while True:
        try:
            fit = pin_fit(
                module.pins,
                needs,
                module.link,
                locked=locked,
                in_place=board.in_place,
                time_limit_s=figures.time_limit_s,
            )
            break
        except LockRefused as refused:
            kept = [use for use in locked if use not in refused.uses]
            if len(kept) == len(locked):
                raise
            locked = kept
    return BoardFit(
        board=board,
        demand=board_demand(board, stock),
        usable=len(module.pins),
        fit=fit,
        take=board_take(board, stock, figures),
        locks_let_go=len(board.locked) - len(locked),
        without_component=tuple(f.key for f in board.functions if stock.component_of(f) is None),
    )
