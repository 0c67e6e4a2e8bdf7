"""Bringing a function list in: shown first, row by row, and kept only when the builder confirms."""

import csv
import hashlib
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlmodel import Session, select

from app import units
from app.planning.choose import choose_from_list
from app.planning.edit import next_code
from app.planning.pin_plan import solve_pins
from app.readers.function_kind import read_kind
from app.readers.function_list import FIELDS, FunctionList, ListRow, read_function_list, split_wiring
from app.readers.function_range import read_range
from app.readers.function_table import LONGEST_CELL, FunctionListRefused
from app.tables import Board, Candidate, Component, Function, Panel

__all__ = [
    "FIELDS",
    "BroughtIn",
    "FunctionListRefused",
    "ListPreview",
    "RowPreview",
    "keep_list",
    "preview_list",
]

LONGEST = dict.fromkeys(("panel", "name", "range", "signal", "wiring"), 300) | {"kind": 60, "unit": 24}
CORRECTABLE = ("low", "high", "unit", "is_endless", "positions")
READ_FROM_RANGE = (*CORRECTABLE, "colour")
MOST_POSITIONS = 100
DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}([T ][0-9:.]+)?|[0-9]{2}:[0-9]{2}:[0-9]{2}")

# What a row of a list may set on a function, and its name on the screen.
COLUMN_NAMES = {
    "name": "name",
    "kind": "kind",
    "range_text": "range",
    "low": "low",
    "high": "high",
    "unit": "unit",
    "is_endless": "endless",
    "positions": "positions",
    "colour": "colour",
    "signal": "signal",
    "wiring_text": "wiring",
    "note": "note",
}


@dataclass(frozen=True, slots=True)
class RowPreview:
    """One row of a list as it would be kept.

    Attributes:
        line: the line of the list it stands on.
        outcome: "new", "changed", "same" or "refused".
        reason: why it was refused, else "".
        code: the function's id; empty where one will be given.
        panel: the panel's code, or its name where it is new.
        values: the columns it sets, typed as the table has them.
        component_code: the component its wiring word chooses, or "".
        board_code: the board it goes on, or "".
        changes: column name on the screen, what was, what will be.
        remarks: what the builder should know (an unknown word, an unknown board).
        function_id: the function it updates, or None.
        version: the version of that function as it stands.
    """

    line: int
    outcome: str
    reason: str = ""
    code: str = ""
    panel: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    component_code: str = ""
    board_code: str = ""
    changes: tuple[tuple[str, str, str], ...] = ()
    remarks: tuple[str, ...] = ()
    function_id: int | None = None
    version: int = 0

    @property
    def shown(self) -> Mapping[str, Any]:
        """Every column a row may set, None where this one sets nothing."""
        return dict.fromkeys(COLUMN_NAMES) | dict(self.values)


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


class _Cockpit:
    """The rows a list is matched against, read once."""

    def __init__(self, session: Session) -> None:
        self.panels = session.exec(select(Panel)).all()
        self.panel_by_id = {p.id: p for p in self.panels}
        self.panel_by_word = {_folded(p.name): p for p in self.panels} | {
            _folded(p.code): p for p in self.panels
        }
        self.functions = {f.id or 0: f for f in session.exec(select(Function)).all()}
        self.by_code = {_folded(f.code): f for f in self.functions.values()}
        self.by_name = {(f.panel_id, _folded(f.name)): f for f in self.functions.values()}
        self.components = {c.code.lower(): c for c in session.exec(select(Component)).all()}
        self.boards = {b.code.lower(): b for b in session.exec(select(Board)).all()}
        self.component_by_id = {c.id: c for c in self.components.values()}
        self.chosen = {
            c.function_id: c.component_id
            for c in session.exec(select(Candidate).where(Candidate.state == "chosen")).all()
        }


class _Named:
    """Which function each row of a list means: by its id where that is known, else by panel and name.

    A list may give ids to functions brought in without any, which have ids of the program's own meanwhile. A
    function that a row with a new id names by panel and name is that row's, whatever id of the list it bears now.
    """

    def __init__(self, cockpit: _Cockpit, rows: Sequence[Mapping[str, str]], panel_code: str) -> None:
        self._cockpit = cockpit
        self._panel_code = panel_code
        self._renamed: set[int] = set()
        keyed = [(_folded(row.get("id", "")), self._by_name(row)) for row in rows]
        by_code = {code: function for code, function in keyed if code in cockpit.by_code}
        waiting = [function for code, function in keyed if code and code not in cockpit.by_code]
        while waiting:
            function = waiting.pop()
            if function is None or function.id in self._renamed:
                continue
            self._renamed.add(function.id or 0)
            code = _folded(function.code)
            if by_code.get(code, function) is not function:
                waiting.append(by_code[code])

    def function(self, cells: Mapping[str, str]) -> Function | None:
        """The function that these cells mean, or None where it is new."""
        known = self._cockpit.by_code.get(_folded(cells.get("id", "")))
        by_name = self._by_name(cells)
        if known is None or (known.id in self._renamed and by_name is not known):
            return by_name
        return known

    def _by_name(self, cells: Mapping[str, str]) -> Function | None:
        panel = self._cockpit.panel_by_word.get(_folded(cells.get("panel", "") or self._panel_code))
        return self._cockpit.by_name.get((panel.id or 0, _folded(cells.get("name", "")))) if panel else None


def preview_list(
    session: Session,
    data: bytes | str,
    file_name: str | None = None,
    *,
    columns: Mapping[int, str] | None = None,
    has_headings: bool | None = None,
    panel_code: str = "",
    corrections: Mapping[int, Mapping[str, Any]] | None = None,
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

    Raises:
        FunctionListRefused: the list cannot be read at all.
    """
    cockpit = _Cockpit(session)
    read = read_function_list(
        data, file_name, columns=columns, has_headings=has_headings, wiring_words=set(cockpit.components)
    )
    rows: list[RowPreview] = []
    seen: dict[tuple[str, str], int] = {}
    named_now = _Named(cockpit, [row.values for row in read.rows if not row.trouble], panel_code)
    for row in read.rows:
        shown = _row(cockpit, named_now, row, panel_code, (corrections or {}).get(row.line, {}))
        rows.append(_refuse_twin(shown, seen))
    rows = _refuse_taken_codes(cockpit, rows)
    kept = [row for row in rows if row.outcome != "refused"]
    named = {row.function_id for row in kept}
    touched = {
        panel.id for row in kept if (panel := cockpit.panel_by_word.get(_folded(row.panel))) is not None
    }
    return ListPreview(
        list=read,
        rows=tuple(rows),
        new_panels=tuple(
            {
                _folded(row.panel): row.panel
                for row in reversed(kept)  # the first way it is written counts
                if _folded(row.panel) not in cockpit.panel_by_word
            }.values()
        )[::-1],
        not_named=tuple(
            (f.code, f.name)
            for f in cockpit.functions.values()
            if f.panel_id in touched and f.id not in named
        ),
        as_text=_as_text(read),
    )


def keep_list(session: Session, preview: ListPreview) -> BroughtIn:
    """Keep the rows of a preview that were not refused, solve the boards they touch; the caller commits."""
    every_panel = session.exec(select(Panel)).all()
    panels = {_folded(p.name): p for p in every_panel} | {_folded(p.code): p for p in every_panel}
    for word in preview.new_panels:
        panels[_folded(word)] = _new_panel(session, word)
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
        panel_id = panels[_folded(row.panel)].id or 0
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
            dict.fromkeys(panels[_folded(r.panel)].code for r in preview.rows if r.outcome != "refused")
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


def _row(
    cockpit: _Cockpit,
    named_now: _Named,
    row: ListRow,
    panel_code: str,
    corrections: Mapping[str, Any],
) -> RowPreview:
    cells = {column: _one_line(cell) for column, cell in row.values.items()}
    panel_word = cells.get("panel", "") or panel_code
    code = "".join(cells.get("id", "").split())
    name = cells.get("name", "")
    by_code = cockpit.by_code.get(_folded(code)) if code else None
    existing = named_now.function(cells)
    known_panel = cockpit.panel_by_word.get(_folded(panel_word))
    if not panel_word and existing is not None:
        known_panel = cockpit.panel_by_id[existing.panel_id]
    panel = known_panel.code if known_panel else panel_word
    if by_code is not None:
        code = by_code.code  # written in its own case
    shown = RowPreview(line=row.line, outcome="refused", code=code, panel=panel)
    reason = (
        row.trouble
        or _cell_trouble(cells)
        or _refusal(code, name, cells.get("kind", ""), panel, existing)
        or _strange_id(cockpit, code, name, known_panel, existing)
    )
    values, word, remarks = _values(cockpit, cells, existing)
    values |= {column: corrections[column] for column in CORRECTABLE if column in corrections}
    reason = reason or _range_trouble(values)
    if reason:
        return replace(shown, reason=reason, values=values, remarks=remarks)
    board = cockpit.boards.get(cells.get("board", "").lower())
    if cells.get("board") and board is None:
        remarks = (
            *remarks,
            f"board {cells['board']} is not in this cockpit: the function is on no board yet",
        )
    component = cockpit.components.get(word.lower()) if word else None
    chosen = cockpit.component_by_id.get(cockpit.chosen.get(existing.id or 0)) if existing else None
    if (
        existing
        and component
        and chosen
        and component is not chosen
        and existing.wiring_text == cells.get("wiring")
    ):
        remarks = (
            *remarks,
            f"{chosen.code} was chosen since and stays; {component.code} is as the list said before",
        )
    shown = replace(
        shown,
        values=values,
        component_code=component.code if component else "",
        board_code=board.code if board else "",
        remarks=remarks,
    )
    if existing is None:
        return replace(shown, outcome="new")
    changes = _changes(cockpit, existing, shown, board, component, known_panel)
    return replace(
        shown,
        outcome="changed" if changes else "same",
        changes=changes,
        function_id=existing.id,
        version=existing.version,
    )


def _refusal(code: str, name: str, kind: str, panel: str, existing: Function | None) -> str:
    if not name and existing is None:
        return "the function has no name"
    if code and (len(code) > 24 or not all(ch.isalnum() or ch in "-_." for ch in code)):
        return f"the id {code[:30]!r} may hold letters, figures, - _ and . only, 24 at most"
    if code and not (code[0].isalnum() and code[-1].isalnum()):
        return f"the id {code!r} begins or ends with neither a letter nor a figure"
    if not panel:
        return "no panel is named; name one in the list or choose one for all rows"
    if not kind and existing is None:
        return "the kind is missing (needle, light, switch, …)"
    return ""


def _range_trouble(values: Mapping[str, Any]) -> str:
    low, high = values.get("low"), values.get("high")
    if low is None or high is None or low < high:
        return ""
    return f"the low end of its range, {low:g}, is not below the high end, {high:g}"


def _strange_id(
    cockpit: _Cockpit, code: str, name: str, panel: Panel | None, existing: Function | None
) -> str:
    """Why a row is refused whose id is another panel's function of another name: numbers begun anew on each panel."""
    if existing is None or not name or panel is None or existing.panel_id == panel.id:
        return ""
    if _folded(existing.name) == _folded(name) or _folded(existing.code) != _folded(code):
        return ""
    where = cockpit.panel_by_id[existing.panel_id].code
    return (
        f"the id {existing.code} is that of {existing.name!r} on {where}: another name on another panel; "
        "leave the id column out, or give the row an id of its own"
    )


def _cell_trouble(cells: Mapping[str, str]) -> str:
    """Why a row is refused for a cell: too long, or made a date by a spreadsheet (in text known by its form)."""
    for column, cell in cells.items():
        longest = LONGEST.get(column, LONGEST_CELL)
        if len(cell) > longest:
            return f"its {column} has {len(cell):,} characters; at most {longest} are kept"
        if column != "note" and DATE.fullmatch(cell):
            return f"its {column} is the date {cell}: mark the cell as text if it was a range like 3-5"
    return ""


def _values(
    cockpit: _Cockpit, cells: Mapping[str, str], existing: Function | None
) -> tuple[dict[str, Any], str, tuple[str, ...]]:
    """The columns that a row sets; an empty cell leaves what is there."""
    values: dict[str, Any] = {}
    remarks: list[str] = []
    if cells.get("name"):
        values["name"] = cells["name"]
    if cells.get("kind"):
        values["kind"] = read_kind(cells["kind"], cells.get("name", existing.name if existing else ""))
    if cells.get("range"):
        values["range_text"] = cells["range"]
        if existing is not None and existing.range_text == cells["range"]:
            values |= {column: getattr(existing, column) for column in READ_FROM_RANGE}  # as corrected since
        else:
            span = read_range(cells["range"])
            values |= {column: getattr(span, column) for column in READ_FROM_RANGE}
    if cells.get("unit"):
        values["unit"] = units.unit_named(cells["unit"]) or cells["unit"]
    for column in ("signal", "note"):
        if cells.get(column):
            values[column] = cells[column]
    word, word_positions = split_wiring(cells.get("wiring", ""))
    positions = _whole(cells.get("n", "")) if cells.get("n") else word_positions
    if existing is not None and not cells.get("n") and existing.wiring_text == cells.get("wiring"):
        positions = existing.positions  # as corrected since
    if positions is not None and not 1 <= positions <= MOST_POSITIONS:
        remarks.append(f"{positions:,} positions are not from 1 to {MOST_POSITIONS}: left out")
        positions = None
    elif cells.get("n") and positions is None:
        remarks.append(f"the number of positions {cells['n']!r} could not be read")
    if positions is not None:
        values["positions"] = positions
    if cells.get("wiring"):
        values["wiring_text"] = cells["wiring"]
        is_as_before = existing is not None and existing.wiring_text == cells["wiring"]
        if word.lower() not in cockpit.components and not is_as_before:
            remarks.append(
                f"{word!r} is no component of the list: kept as text, the function has none chosen yet"
            )
    return values, word, tuple(remarks)


def _changes(
    cockpit: _Cockpit,
    existing: Function,
    row: RowPreview,
    board: Board | None,
    component: Component | None,
    panel: Panel | None,
) -> tuple[tuple[str, str, str], ...]:
    changes = [
        (COLUMN_NAMES[column], _said(getattr(existing, column)), _said(value))
        for column, value in row.values.items()
        if getattr(existing, column) != value
    ]
    if row.code and row.code != existing.code:
        changes.append(("id", existing.code, row.code))
    if panel is not None and panel.id != existing.panel_id:
        was = next(p.code for p in cockpit.panels if p.id == existing.panel_id)
        changes.append(("panel", was, panel.code))
    if board is not None and board.id != existing.board_id:
        was = next((b.code for b in cockpit.boards.values() if b.id == existing.board_id), "none")
        changes.append(("board", was, board.code))
    chosen = cockpit.chosen.get(existing.id or 0)
    wiring = row.values.get("wiring_text", existing.wiring_text)
    chosen_now = component.id if component else None
    if chosen_now != chosen and (chosen is None or wiring != existing.wiring_text):
        was = next((c.code for c in cockpit.components.values() if c.id == chosen), "none")
        changes.append(("component", was, component.code if component else "none"))
    return tuple(changes)


def _refuse_twin(row: RowPreview, seen: dict[tuple[str, str], int]) -> RowPreview:
    """Refuse a row that says the same function as an earlier one."""
    if row.outcome == "refused":
        return row
    keys = [("panel and name", f"{_folded(row.panel)}/{_folded(str(row.values.get('name', '')))}")]
    if row.code:
        keys.append(("id", _folded(row.code)))
    if row.function_id is not None:
        keys.append(("function", str(row.function_id)))
    for what, key in keys:
        if (what, key) in seen and not (what == "panel and name" and row.code):
            return replace(row, outcome="refused", reason=f"the same {what} as line {seen[what, key]}")
    for what_key in keys:
        seen.setdefault(what_key, row.line)
    return row


def _refuse_taken_codes(cockpit: _Cockpit, rows: Sequence[RowPreview]) -> list[RowPreview]:
    """Refuse rows that take the id of a function that keeps it, as the row that gave it another was refused."""
    by_id = {row.function_id: row for row in rows if row.function_id is not None and row.outcome != "refused"}
    checked = list(rows)
    is_settled = False
    while not is_settled:
        is_settled = True
        for place, row in enumerate(checked):
            holder = cockpit.by_code.get(_folded(row.code)) if row.code else None
            if row.outcome == "refused" or holder is None or holder.id == row.function_id:
                continue
            new_code = by_id[holder.id].code if holder.id in by_id else ""
            if new_code in ("", holder.code):
                reason = f"the id {holder.code} is that of {holder.name!r}, which keeps it"
                checked[place] = replace(row, outcome="refused", reason=reason)
                by_id.pop(row.function_id or 0, None)
                is_settled = False
    return checked


def _as_text(read: FunctionList) -> str:
    """The list as tab-separated text, to be sent back when the builder confirms.

    Rows keep their lines, and what made a row refused stays in it, so that a second reading says the same.
    """
    written = io.StringIO(newline="")
    writer = csv.writer(written, delimiter="\t", quoting=csv.QUOTE_ALL, lineterminator="\n")
    line = 1
    if read.has_headings:
        headings = [column.heading for column in read.columns]
        sound = [row.cells for row in read.rows if not row.trouble]
        writer.writerow(headings[: max(len(_without_empty_end(cells)) for cells in (headings, *sound))])
        line = 2
    for row in read.rows:
        written.write("\n" * (row.line - line))
        line = max(row.line, line) + 1
        told = re.fullmatch(r"a cell holds ([0-9,]+) characters.*", row.trouble)
        longest = int(told[1].replace(",", "")) if told else 0
        writer.writerow([_kept_cell(cell, longest) for cell in row.cells])
    return written.getvalue()


def _without_empty_end(cells: Sequence[str]) -> Sequence[str]:
    filled = [index for index, cell in enumerate(cells) if cell]
    return cells[: filled[-1] + 1] if filled else cells[:1]


def _kept_cell(cell: str, longest: int) -> str:
    """A cell on one line; one that was cut for its length is as long again."""
    return cell.ljust(longest, "…") if longest and len(cell) >= LONGEST_CELL else " ".join(cell.split())


def _one_line(cell: str) -> str:
    return " ".join("".join(ch for ch in cell if ch.isspace() or ch >= " ").split())


def _folded(text: str) -> str:
    return "".join(text.casefold().split())


def _whole(text: str) -> int | None:
    try:
        return round(units.parse_quantity(text, "count").value)
    except units.QuantityRefused:
        return None


def _said(value: Any) -> str:
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def columns_of(read: FunctionList) -> Sequence[tuple[int, str, str, str]]:
    """Each column's index, heading, the field it was taken as, and why."""
    return [(column.index, column.heading, column.field, column.reason) for column in read.columns]
