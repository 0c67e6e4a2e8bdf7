"""Board modules: what a type of board brings out, where, and what it may be used for."""

from sqlmodel import Field, SQLModel


class BoardModule(SQLModel, table=True):
    """One type of board: a chip on a module. Memory is what a program may use of it."""

    __tablename__ = "board_modules"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    chip: str
    logic_v: float | None = None
    program_bytes: int | None = None
    memory_bytes: int | None = None
    eeprom_bytes: int | None = None
    boot_loader_bytes: int = 0
    figures_mark: str = "listed"
    link: str = "port chip"
    width_mm: float | None = None
    length_mm: float | None = None
    pull_up_ohm: float | None = None
    pull_up_weakest_ohm: float | None = None
    cost: float | None = None
    cost_mark: str = "assumed"
    source: str = ""
    note: str = ""
    is_starter: bool = False
    version: int = 1


class ModulePin(SQLModel, table=True):
    """One pin of a module seen from above, USB end up; its centre from the top left corner.

    `role` is "io", "power", "ground", "reset" or "other"; `abilities` are tokens with a space between;
    `reserved_for` says what holds a pin, `condition` what to mind in using it.
    """

    __tablename__ = "module_pins"

    id: int | None = Field(default=None, primary_key=True)
    module_id: int = Field(foreign_key="board_modules.id", index=True)
    side: str
    row: int = 1
    place: int
    x_mm: float | None = None
    y_mm: float | None = None
    label: str
    role: str = "io"
    chip_pin: str = ""
    abilities: str = ""
    reserved_for: str = ""
    condition: str = ""


class ModuleLimit(SQLModel, table=True):
    """A current limit: of each pin, of a group of pins (labels, space between) or of the whole chip."""

    __tablename__ = "module_limits"

    id: int | None = Field(default=None, primary_key=True)
    module_id: int = Field(foreign_key="board_modules.id", index=True)
    scope: str
    direction: str
    limit_ma: float
    pin_labels: str = ""
    basis: str = ""
    source: str = ""
