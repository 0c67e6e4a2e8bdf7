"""Board modules: what a type of board brings out, where, and what it may be used for."""

from sqlmodel import Field, SQLModel


class BoardModule(SQLModel, table=True):
    """One type of board: a chip on a module. Limits in mA; memory as a program may use it."""

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
    row_spacing_mm: float | None = None
    pin_ma: float | None = None
    chip_ma: float | None = None
    source: str = ""
    note: str = ""
    is_starter: bool = False
    version: int = 1


class ModulePin(SQLModel, table=True):
    """One pin of a module seen from above: its side, its place from the top, its abilities, space between."""

    __tablename__ = "module_pins"

    id: int | None = Field(default=None, primary_key=True)
    module_id: int = Field(foreign_key="board_modules.id", index=True)
    side: str
    place: int
    label: str
    chip_pin: str = ""
    abilities: str = ""
    reserved_for: str = ""
    condition: str = ""
