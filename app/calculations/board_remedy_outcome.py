"""A board with remedies taken: what is changed, what moves where, and both boards solved."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from app.calculations.board_remedy_fit import BoardFit, board_demand, board_fit
from app.calculations.board_remedy_move import function_move, function_sets, moved_boards
from app.calculations.board_remedy_option import RemedyOption, with_changes
from app.calculations.board_remedy_row import RemedyChange, RemedyMove
from app.calculations.board_remedy_stock import RemedyBoard, RemedyFunction, RemedyQuestion
from app.calculations.board_take import BoardTake, board_take


@dataclass(slots=True)
class RemedyDesk:
    """One question being worked on, with what has been solved for it so far."""

    question: RemedyQuestion
    before: BoardTake = field(init=False)
    pins_before: int = field(init=False)
    solved: dict[RemedyBoard, BoardFit] = field(default_factory=dict)
    sets: dict[RemedyBoard, tuple[tuple[RemedyFunction, ...], ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        board, stock = self.question.board, self.question.stock
        self.before = board_take(board, stock, self.question.figures)
        self.pins_before = board_demand(board, stock).total

    def solve(self, board: RemedyBoard) -> BoardFit:
        """A board solved, once."""
        if board not in self.solved:
            self.solved[board] = board_fit(board, self.question.stock, self.question.figures)
        return self.solved[board]

    def sets_of(self, board: RemedyBoard) -> tuple[tuple[RemedyFunction, ...], ...]:
        """Functions that may go from a board so that it has its margin and its memory."""
        if board not in self.sets:
            self.sets[board] = function_sets(board, self.question.stock, self.question.figures)
        return self.sets[board]

    def needs_remedy(self, fit: BoardFit) -> bool:
        """Whether a board lacks its margin of pins, or its memory or program does not suffice."""
        return not fit.has_margin(self.question.figures.margin_share) or not fit.holds


@dataclass(frozen=True, slots=True)
class RemedyOutcome:
    """A board with remedies taken: itself, what was changed and moved, and the board moved to."""

    fit: BoardFit
    changes: tuple[RemedyChange, ...]
    moves: tuple[RemedyMove, ...] = ()
    target: BoardFit | None = None
    target_code: str = ""
    target_take: BoardTake | None = None
    refused: tuple[str, ...] = ()
    is_best_found: bool = False


def remedy_outcome(desk: RemedyDesk, options: Sequence[RemedyOption]) -> RemedyOutcome:
    """The board with remedies taken: components changed first, then the module, then functions moved."""
    question = desk.question
    board, changes = with_changes(question.board, options)
    for option in options:
        if option.kind == "larger":
            board = on_module(board, option.to)
    outcome = RemedyOutcome(desk.solve(board), changes)
    others = {other.code: other for other in question.others}
    for option in options:
        if option.kind not in ("move", "second"):
            continue
        here = outcome.fit.board
        if not desk.needs_remedy(outcome.fit):
            told = f"{option.name} is not needed: nothing has to go."
            outcome = replace(outcome, refused=(*outcome.refused, told))
            continue
        if option.kind == "second":
            target = RemedyBoard(
                "", question.board.module, (), bus_clock_khz=here.bus_clock_khz, baud=here.baud
            )
            both, is_search_done = _split(desk, here, target)
            outcome = replace(outcome, is_best_found=not is_search_done)
        else:
            target = others[option.to]
            sets = desk.sets_of(here)
            both = function_move(here, target, sets, desk.solve, question.stock, question.figures)
        if both is None:
            told = f"{option.name}: no room for what would have to go."
            outcome = replace(outcome, refused=(*outcome.refused, told))
            continue
        fit, joined = both
        kept = {function.key for function in fit.board.functions}
        gone = tuple(RemedyMove(f.key, option.to) for f in here.functions if f.key not in kept)
        outcome = replace(
            outcome,
            fit=fit,
            moves=(*outcome.moves, *gone),
            target=joined,
            target_code=option.to,
            target_take=board_take(target, question.stock, question.figures),
        )
    return outcome


def _split(
    desk: RemedyDesk, board: RemedyBoard, target: RemedyBoard
) -> tuple[tuple[BoardFit, BoardFit] | None, bool]:
    """A board split over itself and an empty one, and whether that needs no further search."""
    question = desk.question
    sets = function_sets(board, question.stock, question.figures, target)
    for needs_margin in (True, False):
        both = function_move(
            board, target, sets, desk.solve, question.stock, question.figures, needs_margin=needs_margin
        )
        if both is not None:
            return both, True
    # No set that was weighed does it: what finds no place goes over, as far as it does.
    left_out = set(desk.solve(board).fit.left_out)
    moved = [function for function in board.functions if function.key in left_out]
    if not moved:
        return None, False
    here, there = moved_boards(board, target, moved)
    left, joined = desk.solve(here), desk.solve(there)
    return (left, joined), left.holds and joined.holds


def on_module(board: RemedyBoard, module: str) -> RemedyBoard:
    """A board on another module: nothing of its pins stays."""
    return replace(board, module=module, locked=(), in_place=(), boot_loader_bytes=None)
