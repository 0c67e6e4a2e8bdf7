"""Matrix contacts: where each contact of a board's diode matrix sits, and whether it has a diode."""

from sqlmodel import Field, SQLModel, UniqueConstraint


class MatrixContact(SQLModel, table=True):
    """One contact: row and column from 1; `diode` is "", "row to column" or "column to row"."""

    __tablename__ = "matrix_contacts"
    __table_args__ = (UniqueConstraint("function_id", "position"),)

    id: int | None = Field(default=None, primary_key=True)
    board_id: int = Field(foreign_key="boards.id", index=True)
    function_id: int = Field(foreign_key="functions.id", index=True)
    position: int = 1
    row: int
    column: int
    diode: str = ""
