"""Made parts, their revisions and every attempt at them."""

from datetime import date

from sqlmodel import Field, SQLModel, UniqueConstraint


class MadePart(SQLModel, table=True):
    """One printed part; `code` is the builder's own id (MP01). Hours and grams are of one print."""

    __tablename__ = "made_parts"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    panel_id: int | None = Field(default=None, foreign_key="panels.id", index=True)
    name: str
    material: str = ""
    hours: float | None = None
    grams: float | None = None
    figures_mark: str = "assumed"
    installed_revision: int | None = None
    approved_revision: int | None = None
    note: str = ""
    version: int = 1


class Revision(SQLModel, table=True):
    """A numbered version of a part: why it changed, what changed, what happened."""

    __tablename__ = "revisions"
    __table_args__ = (UniqueConstraint("made_part_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    made_part_id: int = Field(foreign_key="made_parts.id", index=True)
    number: int
    why: str = ""
    what: str = ""
    what_happened: str = ""
    version: int = 1


class PrintFile(SQLModel, table=True):
    """A G-code file and what its simulated motion came to."""

    __tablename__ = "print_files"

    id: int | None = Field(default=None, primary_key=True)
    revision_id: int = Field(foreign_key="revisions.id", index=True)
    printer_id: int = Field(foreign_key="printers.id", index=True)
    file_name: str
    fingerprint: str
    seconds: float
    filament_m: float
    grams: float
    moves: int
    unknown_words: str = ""
    figures_mark: str = "assumed"
    uploaded_on: date


class Attempt(SQLModel, table=True):
    """One try at making a part, good or not."""

    __tablename__ = "attempts"

    id: int | None = Field(default=None, primary_key=True)
    revision_id: int = Field(foreign_key="revisions.id", index=True)
    print_file_id: int | None = Field(default=None, foreign_key="print_files.id", index=True)
    made_on: date
    outcome: str
    cause: str = ""
    hours: float | None = None
    hours_mark: str = "measured"
    grams: float | None = None
    grams_mark: str = "measured"
    what_happened: str = ""
