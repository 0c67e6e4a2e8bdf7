"""Bringing a function list in: shown first, row by row, and kept only when the builder confirms."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session, select

from app.planning.bring_in_row import (
    CORRECTABLE,
    ListedCockpit,
    NamedFunctions,
    RowPreview,
    folded,
    row_preview,
)
from app.planning.bring_in_text import SEPARATOR, list_as_text
from app.planning.choose import choose_from_list
from app.planning.edit import next_code
from app.planning.pin_plan import solve_pins
from app.readers.function_list import FIELDS, FunctionList, read_function_list
from app.readers.function_table import FunctionListRefused
from app.tables import Board, Component, Function, Panel

__all__ = [
    "CORRECTABLE",
    "FIELDS",
    "BroughtIn",
    "FunctionListRefused",
    "ListPreview",
    "RowPreview",
    "keep_list",
    "preview_list",
]


@dataclass(frozen=True, slots=True)
class ListPreview:
    """A list as it would be kept, with the functions of its panels that it does not name (they stay)."""

    list: FunctionList
    rows: tuple[RowPreview, ...]
    new_panels: tuple[str, ...]
    not_named: tuple[tuple[str, str], ...]
    as_text: str

    @property
    def fingerprint(self) -> str:
        """Of what the builder is shown: which row becomes what, over which version of which function."""
        rows = [
            (r.line, r.outcome == "refused", r.function_id, r.version, r.component_code, r.board_code)
            for r in self.rows
        ]
        return hashlib.sha256(repr((rows, self.new_panels, self.not_named)).encode()).hexdigest()[:16]

    def count(self, outcome: str) -> int:
        """How many rows have this outcome."""
        return sum(1 for row in self.rows if row.outcome == outcome)


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """What was kept."""

    new: int
    changed: int
    same: int
    refused: int
    panel_codes: tuple[str, ...]


def preview_list(
    session: Session,
    data: bytes | str,
    file_name: str | None = None,
    *,
    columns: Mapping[int, str] | None = None,
    has_headings: bool | None = None,
    panel_code: str = "",
    corrections: Mapping[int, Mapping[str, Any]] | None = None,
    is_sent_back: bool = False,
) -> ListPreview:
    """How a list would be kept; writes nothing.

    Args:
        session: the cockpit.
        data: pasted text, or the bytes of a CSV or XLSX file.
        file_name: the file's name, for messages.
        columns: column index to field, where the builder changed how a column was taken ("" leaves it out).
        has_headings: whether the first row is headings; None lets the reader see.
        panel_code: the panel of rows that name none.
        corrections: line to column to value, for what was read from the range wrongly.
        is_sent_back: the data is the text of a preview.

    Raises:
        FunctionListRefused: the list cannot be read at all.
    """
    cockpit = ListedCockpit(session)
    read = read_function_list(
        data,
        file_name,
        columns=columns,
        has_headings=has_headings,
        wiring_words=set(cockpit.components),
        separator=SEPARATOR if is_sent_back else "",
    )
    rows: list[RowPreview] = []
    seen: dict[tuple[str, str], int] = {}
    named_now = NamedFunctions(cockpit, [row.values for row in read.rows if not row.trouble], panel_code)
    for row in read.rows:
        shown = row_preview(cockpit, named_now, row, panel_code, (corrections or {}).get(row.line, {}))
        rows.append(_refuse_twin(shown, seen))
    rows = _refuse_taken_codes(cockpit, rows)
    kept = [row for row in rows if row.outcome != "refused"]
    named = {row.function_id for row in kept}
    touched = {
        panel.id for row in kept if (panel := cockpit.panel_by_word.get(folded(row.panel))) is not None
    }
    return ListPreview(
        list=read,
        rows=tuple(rows),
        new_panels=tuple(
            {
                folded(row.panel): row.panel
                for row in reversed(kept)  # the first way it is written counts
                if folded(row.panel) not in cockpit.panel_by_word
            }.values()
        )[::-1],
        not_named=tuple(
            (f.code, f.name)
            for f in cockpit.functions.values()
            if f.panel_id in touched and f.id not in named
        ),
        as_text=list_as_text(read),
    )


def keep_list(session: Session, preview: ListPreview) -> BroughtIn:
    """Keep the rows of a preview that were not refused, solve the boards they touch; the caller commits."""
    every_panel = session.exec(select(Panel)).all()
    panels = {folded(p.name): p for p in every_panel} | {folded(p.code): p for p in every_panel}
    for word in preview.new_panels:
        panels[folded(word)] = _new_panel(session, word)
    session.flush()
    components = {c.code: c.id or 0 for c in session.exec(select(Component)).all()}
    boards = {b.code: b.id or 0 for b in session.exec(select(Board)).all()}
    functions = {f.id: f for f in session.exec(select(Function)).all()}
    places: dict[int, int] = {}
    for function in functions.values():
        places[function.panel_id] = max(places.get(function.panel_id, -1), function.place)
    touched_boards: set[int] = set()
    number = int(next_code(session, Function, "F", 3)[1:])
    taken = {f.code.lower() for f in functions.values()} | {r.code.lower() for r in preview.rows if r.code}
    _take_back_codes(session, preview, functions)
    kept: list[tuple[Function, RowPreview]] = []
    for row in preview.rows:
        if row.outcome in ("refused", "same"):
            continue
        panel_id = panels[folded(row.panel)].id or 0
        known = functions.get(row.function_id) if row.function_id is not None else None
        if known is not None:
            function = known
            function.code = row.code or function.code
        else:
            code = row.code
            while not code or (not row.code and code.lower() in taken):
                code = f"F{number:03d}"
                number += 1
            taken.add(code.lower())
            places[panel_id] = places.get(panel_id, -1) + 1
            function = Function(
                code=code, panel_id=panel_id, place=places[panel_id], name="", kind="", version=0
            )
        if function.panel_id != panel_id:
            places[panel_id] = places.get(panel_id, -1) + 1
            function.panel_id, function.place = panel_id, places[panel_id]
        for column, value in row.values.items():
            setattr(function, column, value)
        if function.board_id is not None:
            touched_boards.add(function.board_id)
        if row.board_code:
            function.board_id = boards[row.board_code]
            touched_boards.add(function.board_id)
        function.version += 1
        session.add(function)
        kept.append((function, row))
    session.flush()
    choose_from_list(
        session,
        {
            function.id or 0: components.get(row.component_code)
            for function, row in kept
            if row.outcome == "new" or any(what == "component" for what, _, _ in row.changes)
        },
    )
    solve_pins(session, sorted(touched_boards))
    return BroughtIn(
        new=preview.count("new"),
        changed=preview.count("changed"),
        same=preview.count("same"),
        refused=preview.count("refused"),
        panel_codes=tuple(
            dict.fromkeys(panels[folded(r.panel)].code for r in preview.rows if r.outcome != "refused")
        ),
    )


def _take_back_codes(
    session: Session, preview: ListPreview, functions: Mapping[int | None, Function]
) -> None:
    """Take the ids back that this list changes, so that one can pass from a function to another."""
    for row in preview.rows:
        function = functions.get(row.function_id)
        if function is not None and row.outcome == "changed" and row.code not in ("", function.code):
            function.code = f"~{function.id}"
            session.add(function)
    session.flush()


def _new_panel(session: Session, word: str) -> Panel:
    is_code = len(word) <= 8 and word[:1].isalpha() and word[-1:].isdigit() and word.isalnum()
    panel = Panel(code=word if is_code else next_code(session, Panel, "P", 2), name=word)
    session.add(panel)
    session.flush()
    return panel


def _refuse_twin(row: RowPreview, seen: dict[tuple[str, str], int]) -> RowPreview:
    """Refuse a row that says the same function as an earlier one."""
    if row.outcome == "refused":
        return row
    keys = [("panel and name", f"{folded(row.panel)}/{folded(str(row.values.get('name', '')))}")]
    if row.code:
        keys.append(("id", folded(row.code)))
    if row.function_id is not None:
        keys.append(("function", str(row.function_id)))
    for what, key in keys:
        if (what, key) in seen and not (what == "panel and name" and row.code):
            return replace(row, outcome="refused", reason=f"the same {what} as line {seen[what, key]}")
    for what_key in keys:
        seen.setdefault(what_key, row.line)
    return row


def _refuse_taken_codes(cockpit: ListedCockpit, rows: Sequence[RowPreview]) -> list[RowPreview]:
    """Refuse rows that take the id of a function that keeps it, as the row that gave it another was refused."""
    by_id = {row.function_id: row for row in rows if row.function_id is not None and row.outcome != "refused"}
    checked = list(rows)
    is_settled = False
    while not is_settled:
        is_settled = True
        for place, row in enumerate(checked):
            holder = cockpit.by_code.get(folded(row.code)) if row.code else None
            if row.outcome == "refused" or holder is None or holder.id == row.function_id:
                continue
            new_code = by_id[holder.id].code if holder.id in by_id else ""
            if new_code in ("", holder.code):
                reason = f"the id {holder.code} is that of {holder.name!r}, which keeps it"
                checked[place] = replace(row, outcome="refused", reason=reason)
                by_id.pop(row.function_id or 0, None)
                is_settled = False
    return checked
