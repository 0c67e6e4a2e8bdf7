"""Terminals: connection points of a component and what each needs of a board."""

from sqlmodel import Field, SQLModel


class Terminal(SQLModel, table=True):
    """One terminal. `need` is a pin ability, "contact" (of the matrix) or "none"; shared: counts once."""

    __tablename__ = "terminals"

    id: int | None = Field(default=None, primary_key=True)
    component_id: int = Field(foreign_key="components.id", index=True)
    place: int = 0
    name: str
    need: str
    shared_as: str = ""
    per_position: bool = False
