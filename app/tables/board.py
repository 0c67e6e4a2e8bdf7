"""Boards: small computer cards that run panels."""

from sqlmodel import Field, SQLModel


class Board(SQLModel, table=True):
    """One board; `code` is the builder's own id (BD06). Empty figures are those of its module."""

    __tablename__ = "boards"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str = ""
    module_id: int = Field(foreign_key="board_modules.id", index=True)
    boot_loader_bytes: int | None = None
    stack_reserve_bytes: int = 300
    note: str = ""
    version: int = 1
