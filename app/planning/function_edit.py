"""Functions one by one: added as a row of a list would be, and their entries read from the range as typed."""

from collections.abc import Mapping
from typing import Any

from sqlmodel import Session, select

from app import units
from app.planning.bring_in import FIELDS, RowPreview, keep_list, preview_list
from app.planning.bring_in_text import rows_as_text
from app.planning.pin_plan import solve_pins
from app.readers.function_kind import KINDS, read_kind
from app.readers.function_range import read_range
from app.tables import Function

__all__ = ["KINDS", "add_function", "positions_matter", "range_entries", "solve_after_edit"]


class FunctionRefused(Exception):
    """The row cannot be kept; the message says why."""


def add_function(session: Session, cells: Mapping[str, str]) -> tuple[Function, RowPreview]:
    """Add one function from a row typed by hand, through the same door as a list; the caller commits.

    Args:
        session: the cockpit.
        cells: text of each of `FIELDS` that is entered; "panel" is the panel's id.

    Raises:
        FunctionRefused: the row would be refused in a list, or names a function that is there already.
    """
    columns = dict(enumerate(FIELDS))
    text = rows_as_text((FIELDS, [cells.get(field, "") for field in FIELDS]))
    preview = preview_list(session, text, columns=columns, has_headings=True, is_sent_back=True)
    if not preview.rows:
        raise FunctionRefused("the function has no name")
    row = preview.rows[0]
    if row.outcome == "refused":
        raise FunctionRefused(row.reason)
    if row.outcome != "new":
        raise FunctionRefused("a function of this name is on the panel already; open it to change it")
    before = set(session.exec(select(Function.id)).all())
    keep_list(session, preview)
    added = next(f for f in session.exec(select(Function)).all() if f.id not in before)
    return added, row


def range_entries(range_text: str, kind: str, name: str) -> dict[str, Any]:
    """The entries that a range as typed gives: low, high, unit, endless, positions, colour; and the kind."""
    span = read_range(range_text)
    return {
        "kind": read_kind(kind, name),
        "low": span.low,
        "high": span.high,
        "unit": span.unit,
        "is_endless": span.is_endless,
        "positions": span.positions,
        "colour": span.colour,
    }


def positions_matter(before: Mapping[str, Any], after: Mapping[str, Any]) -> bool:
    """Whether an edit changes what the function needs of its board."""
    return any(before[name] != after[name] for name in ("kind", "positions"))


def solve_after_edit(session: Session, function: Function) -> None:
    """Solve the pins of the function's board anew."""
    if function.board_id is not None:
        solve_pins(session, [function.board_id])


def unit_word(text: str) -> str:
    """A unit as the trade writes it, or the text itself where it is not known."""
    return units.unit_named(text) or text
