"""Plain edits: a row is saved only over the version that the builder saw."""

from collections.abc import Mapping
from typing import Any, TypeVar, cast

from sqlalchemy import func, or_, update
from sqlmodel import Session, SQLModel, select

Row = TypeVar("Row", bound=SQLModel)


class EditedMeanwhile(Exception):
    """Another tab saved this row first; `theirs` holds the values now kept."""

    def __init__(self, theirs: Mapping[str, Any]) -> None:
        super().__init__("this row was saved in another tab since it was opened here")
        self.theirs = theirs


class CodeTaken(Exception):
    """Another row has this id already."""


def save_row(session: Session, row: Row, seen_version: int, values: Mapping[str, Any]) -> None:
    """Write values over a row, if it is still the version that was seen; the caller commits.

    Raises:
        EditedMeanwhile: the row was saved since; nothing is written.
    """
    table: Any = type(row)
    key = cast(Any, row).id
    written = session.execute(
        update(table)
        .where(table.id == key, table.version == seen_version)
        .values(**values, version=seen_version + 1)
    )
    session.refresh(row)
    if cast(Any, written).rowcount == 0:
        raise EditedMeanwhile({name: getattr(row, name) for name in (*values, "version")})


def code_is_free(session: Session, table: type[Row], code: str, but_id: int | None = None) -> bool:
    """Whether no other row of the table has this code, case ignored."""
    coded = cast(Any, table)
    # SQLite lowers plain letters only, so the code as it is is looked for too.
    same = or_(coded.code == code, func.lower(coded.code) == code.lower())
    found = session.exec(select(coded.id).where(same)).all()
    return all(id_ == but_id for id_ in found)


def next_code(session: Session, table: type[Row], prefix: str, digits: int) -> str:
    """The next free id of a table in the usual form: P17 after P16, F169 after F168."""
    column = cast(Any, table).code
    highest = 0
    for code in session.exec(select(column).where(column.startswith(prefix))).all():
        tail = code[len(prefix) :]
        if tail.isdecimal():
            highest = max(highest, int(tail))
    return f"{prefix}{highest + 1:0{digits}d}"
