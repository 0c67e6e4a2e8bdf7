"""Tables of remedies as they are solved: in the background, row by row, kept until the plan changes."""

import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sqlalchemy import Engine
from sqlmodel import Session

from app.planning.plan import read_plan

if TYPE_CHECKING:
    from app.planning.board_remedies import RemedyRow


@dataclass(slots=True)
class RemedyTable:
    """One board's table: the rows solved so far, and whether it goes on. `plan_version` is that it was made of."""

    plan_version: int
    rows: "list[RemedyRow]" = field(default_factory=list)
    is_done: bool = False
    is_cancelled: bool = False
    trouble: str = ""

    @property
    def is_going_on(self) -> bool:
        """Whether rows are still to come."""
        return not self.is_done and not self.is_cancelled


class RemedyTables:
    """The tables of one running program, one a board; a new start takes the place of an old one."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._lock = threading.Lock()
        self._tables: dict[int, RemedyTable] = {}

    def table(self, board_id: int) -> RemedyTable | None:
        """The newest table of a board, if any was asked for."""
        with self._lock:
            return self._tables.get(board_id)

    def start(self, board_id: int, plan_version: int) -> RemedyTable:
        """Begin to solve a board's table, unless one of the same plan is there."""
        with self._lock:
            held = self._tables.get(board_id)
            if held is not None and held.plan_version == plan_version and not held.is_cancelled:
                return held
            if held is not None:
                held.is_cancelled = True
            table = self._tables[board_id] = RemedyTable(plan_version)
        threading.Thread(target=self._solve, args=(board_id, table), daemon=True).start()
        return table

    def cancel(self, board_id: int) -> None:
        """Stop after the row that is being solved; the rows so far stay."""
        table = self.table(board_id)
        if table is not None:
            table.is_cancelled = True

    def _solve(self, board_id: int, table: RemedyTable) -> None:
        from app.planning.board_remedies import board_remedies  # on first use: start-up does not want it

        try:
            with Session(self._engine) as session:
                plan = read_plan(session)
                session.expunge_all()
            if board_id in plan.boards:
                for row in board_remedies(plan, plan.boards[board_id], cancelled=lambda: table.is_cancelled):
                    table.rows.append(row)
            table.is_done = not table.is_cancelled
        except Exception as error:
            table.trouble = (
                f"The table could not be finished ({type(error).__name__}); the rows so far stand."
            )
            table.is_done = True
            raise
