"""One row of a function list against the cockpit: which function it means, what it sets, why it is refused."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlmodel import Session, select

from app import units
from app.readers.function_kind import read_kind
from app.readers.function_list import ListRow, split_wiring
from app.readers.function_range import read_range
from app.readers.function_table import LONGEST_CELL
from app.tables import Board, Candidate, Component, Function, Panel

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
        before: its columns as they stand.
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
    before: Mapping[str, Any] = field(default_factory=dict)

    @property
    def shown(self) -> Mapping[str, Any]:
        """Every column that a list may set, as it will stand; None where nothing is known of it."""
        return dict.fromkeys(COLUMN_NAMES) | dict(self.before) | dict(self.values)


class ListedCockpit:
    """The rows a list is matched against, read once."""

    def __init__(self, session: Session) -> None:
        self.panels = session.exec(select(Panel)).all()
        self.panel_by_id = {p.id: p for p in self.panels}
        self.panel_by_word = {folded(p.name): p for p in self.panels} | {
            folded(p.code): p for p in self.panels
        }
        self.functions = {f.id or 0: f for f in session.exec(select(Function)).all()}
        self.by_code = {folded(f.code): f for f in self.functions.values()}
        self.by_name = {(f.panel_id, folded(f.name)): f for f in self.functions.values()}
        self.components = {c.code.lower(): c for c in session.exec(select(Component)).all()}
        self.boards = {b.code.lower(): b for b in session.exec(select(Board)).all()}
        self.component_by_id = {c.id: c for c in self.components.values()}
        self.chosen = {
            c.function_id: c.component_id
            for c in session.exec(select(Candidate).where(Candidate.state == "chosen")).all()
        }


class NamedFunctions:
    """Which function each row of a list means: by its id where that is known, else by panel and name.

    A list may give ids to functions brought in without any, which have ids of the program's own meanwhile. A
    function that a row with a new id names by panel and name is that row's, whatever id of the list it bears now.
    """

    def __init__(self, cockpit: ListedCockpit, rows: Sequence[Mapping[str, str]], panel_code: str) -> None:
        self._cockpit = cockpit
        self._panel_code = panel_code
        self._renamed: set[int] = set()
        keyed = [(folded(row.get("id", "")), self._by_name(row)) for row in rows]
        by_code = {code: function for code, function in keyed if code in cockpit.by_code}
        waiting = [function for code, function in keyed if code and code not in cockpit.by_code]
        while waiting:
            function = waiting.pop()
            if function is None or function.id in self._renamed:
                continue
            self._renamed.add(function.id or 0)
            code = folded(function.code)
            if by_code.get(code, function) is not function:
                waiting.append(by_code[code])

    def function(self, cells: Mapping[str, str]) -> Function | None:
        """The function that these cells mean, or None where it is new."""
        known = self._cockpit.by_code.get(folded(cells.get("id", "")))
        by_name = self._by_name(cells)
        if known is None or (known.id in self._renamed and by_name is not known):
            return by_name
        return known

    def _by_name(self, cells: Mapping[str, str]) -> Function | None:
        panel = self._cockpit.panel_by_word.get(folded(cells.get("panel", "") or self._panel_code))
        return self._cockpit.by_name.get((panel.id or 0, folded(cells.get("name", "")))) if panel else None


def row_preview(
    cockpit: ListedCockpit,
    named_now: NamedFunctions,
    row: ListRow,
    panel_code: str,
    corrections: Mapping[str, Any],
) -> RowPreview:
    """How one row would be kept.

    Args:
        cockpit: what it is matched against.
        named_now: which function each row of its list means.
        row: the row as read.
        panel_code: the panel of a row that names none.
        corrections: column to value, where the builder corrected what was read.
    """
    cells = {column: _one_line(cell) for column, cell in row.values.items()}
    panel_word = cells.get("panel", "") or panel_code
    code = "".join(cells.get("id", "").split())
    name = cells.get("name", "")
    by_code = cockpit.by_code.get(folded(code)) if code else None
    existing = named_now.function(cells)
    known_panel = cockpit.panel_by_word.get(folded(panel_word))
    if not panel_word and existing is not None:
        known_panel = cockpit.panel_by_id[existing.panel_id]
    panel = known_panel.code if known_panel else panel_word
    if by_code is not None:
        code = by_code.code  # written in its own case
    before = {column: getattr(existing, column) for column in COLUMN_NAMES} if existing is not None else {}
    shown = RowPreview(line=row.line, outcome="refused", code=code, panel=panel, before=before)
    reason = (
        row.trouble
        or _cell_trouble(cells)
        or _refusal(code, name, cells.get("kind", ""), panel, existing)
        or _strange_id(cockpit, code, name, known_panel, existing)
    )
    values, word, remarks = _values(cockpit, cells, existing)
    values |= {column: corrections[column] for column in CORRECTABLE if column in corrections}
    reason = reason or _range_trouble(before | values)
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
    cockpit: ListedCockpit, code: str, name: str, panel: Panel | None, existing: Function | None
) -> str:
    """Why a row is refused whose id is another panel's function of another name: numbers begun anew on each panel."""
    if existing is None or not name or (panel is not None and existing.panel_id == panel.id):
        return ""
    if folded(existing.name) == folded(name) or folded(existing.code) != folded(code):
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
    cockpit: ListedCockpit, cells: Mapping[str, str], existing: Function | None
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
    cockpit: ListedCockpit,
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
    if panel is None or panel.id != existing.panel_id:
        changes.append(("panel", cockpit.panel_by_id[existing.panel_id].code, row.panel))
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


def _one_line(cell: str) -> str:
    return " ".join("".join(ch for ch in cell if ch.isspace() or ch >= " ").split())


def folded(text: str) -> str:
    """A word as it is compared: case and spaces ignored."""
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
