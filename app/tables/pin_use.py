"""Pin uses: which terminal sits on which pin of a board, as solved and kept, or locked by the builder."""

from datetime import datetime

from sqlmodel import Field, SQLModel, UniqueConstraint


class PinUse(SQLModel, table=True):
    """A terminal on a pin. Without a function it belongs to a shared group (`group_name`) of the board."""

    __tablename__ = "pin_uses"
    __table_args__ = (UniqueConstraint("board_id", "pin_label"),)

    id: int | None = Field(default=None, primary_key=True)
    board_id: int = Field(foreign_key="boards.id", index=True)
    pin_label: str
    function_id: int | None = Field(default=None, foreign_key="functions.id", index=True)
    group_name: str = ""
    terminal: str
    is_locked: bool = False


class PinPlan(SQLModel, table=True):
    """The outcome of the last pin fit of a board."""

    __tablename__ = "pin_plans"

    board_id: int = Field(foreign_key="boards.id", primary_key=True)
    is_best_found: bool = False
    contest: str = ""
    trouble: str = ""
    solved_at: datetime


class PinLeftOut(SQLModel, table=True):
    """A function that found no place on its board."""

    __tablename__ = "pins_left_out"

    board_id: int = Field(foreign_key="boards.id", primary_key=True)
    function_id: int = Field(foreign_key="functions.id", primary_key=True, index=True)
