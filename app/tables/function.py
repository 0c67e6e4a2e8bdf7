"""Functions: each thing a panel does or shows. The one list that drives everything."""

from sqlmodel import Field, SQLModel


class Function(SQLModel, table=True):
    """One function; `code` is the builder's own id (F012), `place` its place in the panel's list.

    `contact_least_ma` keeps the contacts of its switch clean; `turns_a_s` is how fast its knob is turned at most,
    `read_by` whether the knob is read in the "loop" or by "interrupt" ("" where not said).
    """

    __tablename__ = "functions"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    panel_id: int = Field(foreign_key="panels.id", index=True)
    board_id: int | None = Field(default=None, foreign_key="boards.id", index=True)
    place: int = 0
    name: str
    kind: str
    range_text: str = ""
    low: float | None = None
    high: float | None = None
    unit: str = ""
    range_mark: str = "assumed"
    is_endless: bool = False
    positions: int | None = None
    colour: str = ""
    signal: str = ""
    contact_least_ma: float | None = None
    contact_mark: str = "assumed"
    turns_a_s: float | None = None
    turns_mark: str = "assumed"
    read_by: str = ""
    wiring_text: str = ""
    note: str = ""
    version: int = 1
