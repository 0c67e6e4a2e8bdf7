"""Candidates: components weighed for a function; one chosen, the others kept as rejected."""

from sqlmodel import Field, SQLModel, UniqueConstraint


class Candidate(SQLModel, table=True):
    """A component weighed for a function, with the reason it was chosen or rejected."""

    __tablename__ = "candidates"
    __table_args__ = (UniqueConstraint("function_id", "component_id"),)

    id: int | None = Field(default=None, primary_key=True)
    function_id: int = Field(foreign_key="functions.id", index=True)
    component_id: int = Field(foreign_key="components.id", index=True)
    state: str = "weighed"
    reason: str = ""
