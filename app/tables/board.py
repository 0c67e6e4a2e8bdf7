"""Boards: small computer cards that run panels."""

from sqlmodel import Field, SQLModel


class Board(SQLModel, table=True):
    """One board; `code` is the builder's own id (BD06). Empty figures are those of its module.

    `link_values` of `link_value_bytes` come from the computer `link_values_a_s` times a second. `identity` is how the
    computer tells this board: "serial number", "message", "port path" or "" where not said.
    """

    __tablename__ = "boards"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str = ""
    module_id: int = Field(foreign_key="board_modules.id", index=True)
    boot_loader_bytes: int | None = None
    stack_reserve_bytes: int = 300
    baud: int | None = None
    link_values: int | None = None
    link_value_bytes: int | None = None
    link_values_a_s: float | None = None
    link_mark: str = "assumed"
    has_bus_time_limit: bool | None = None
    has_watchdog: bool | None = None
    signal_loss_s: float | None = None
    serial_number: str = ""
    identity: str = ""
    note: str = ""
    version: int = 1
