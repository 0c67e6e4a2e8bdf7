"""Firmware builds: what was measured of each file uploaded for a board."""

from datetime import datetime

from sqlmodel import Field, SQLModel


class FirmwareBuild(SQLModel, table=True):
    """One build of a board's program. An Intel HEX file cannot tell memory: `memory_bytes` is then empty.

    `map_fingerprint` is that of its linker map's file, "" where none is kept.
    """

    __tablename__ = "firmware_builds"

    id: int | None = Field(default=None, primary_key=True)
    board_id: int = Field(foreign_key="boards.id", index=True)
    file_name: str
    fingerprint: str
    map_fingerprint: str = ""
    file_format: str
    machine: str = ""
    chip: str = ""
    program_bytes: int
    memory_bytes: int | None = None
    eeprom_bytes: int | None = None
    claims_at_run_time: bool | None = None
    note: str = ""
    uploaded_at: datetime


class FirmwareSection(SQLModel, table=True):
    """One section of a build: where it lies and how large it is."""

    __tablename__ = "firmware_sections"

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="firmware_builds.id", index=True)
    name: str
    address: int
    size_bytes: int
    memory_kind: str
