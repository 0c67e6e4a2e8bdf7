"""The function sheets: what a function is, what was weighed for it, its scale, its board and pins."""

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session, col, func, or_, select

from app import units
from app.calculations.source_mark import weakest
from app.pages.face_drawing import DialPoint
from app.pages.panels import panel_of, panel_page, said
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import MARKS, Typed, TypedForm, typed_text
from app.planning.board_edit import put_functions_on_board
from app.planning.choose import CANDIDATE_STATES, drop_candidate, set_candidate
from app.planning.edit import EditedMeanwhile, code_is_free, save_row
from app.planning.function_edit import (
    KINDS,
    FunctionRefused,
    add_function,
    positions_matter,
    range_entries,
    solve_after_edit,
    unit_word,
)
from app.planning.function_sheet import FunctionSheet, function_sheet
from app.planning.panel_edit import remove_function
from app.planning.pin_plan import solve_pins
from app.planning.scale import ScaleRefused, set_scale
from app.tables import Board, Component, Function, Panel

router = APIRouter()

LABELS = {
    "code": "Id",
    "name": "Name",
    "kind": "Kind",
    "range_text": "Range as typed",
    "low": "Low",
    "high": "High",
    "unit": "Unit",
    "range_mark": "Source of the range",
    "is_endless": "Endless",
    "positions": "Positions",
    "colour": "Colour",
    "signal": "Signal",
    "wiring_text": "Wiring as typed",
    "note": "Note",
}
FIELDS = (*LABELS, "version")
MOST_POSITIONS = 100
MOST_POINTS = 200


def function_of(session: Session, code: str) -> Function:
    """The function with this id, case ignored; else the sheet that says there is none."""
    same = or_(col(Function.code) == code, func.lower(Function.code) == code.lower())
    function = session.exec(select(Function).where(same)).first()
    if function is None:
        raise HTTPException(404, f"There is no function {code[:60]} in this cockpit.")
    return function


@router.post("/panels/{code}/functions")
def add_row(request: Request, code: str, typed: TypedForm) -> Response:
    """Add one function typed row by row; the form is ready for the next."""
    with session_of(request) as session:
        panel = panel_of(session, code)
        cells = _row_cells(session, typed) | {"panel": panel.code}
        if typed.is_fine:
            try:
                function, row = add_function(session, cells)
            except FunctionRefused as error:
                typed.refuse("name", str(error)[:1].upper() + str(error)[1:] + ".")
            else:
                session.commit()
                remarks = "".join(f" {remark[:1].upper()}{remark[1:]}." for remark in row.remarks)
                answer = go_to(f"/panels/{panel.code}", f"{function.code} {function.name} is kept.{remarks}")
                answer.headers["location"] += "#add-function"  # ready for the next row
                return answer
    return panel_page(request, code, typed, status=422)


def _row_cells(session: Session, typed: Typed) -> dict[str, str]:
    """The cells of a function typed row by row, each refused at its own field."""
    typed.whole("n", "Positions", least=1, most=MOST_POSITIONS)
    cells = {
        "name": typed.text("name", "Name", required=True),
        "kind": typed.text("kind", "Kind", required=True, longest=60),
        "range": typed.text("range", "Range or colour"),
        "signal": typed.text("signal", "Signal"),
        "wiring": typed.text("wiring", "Wiring word"),
        "n": typed.value("n").strip(),
        "board": typed.text("board", "Board"),
    }
    if cells["board"] and session.exec(select(Board).where(Board.code == cells["board"])).first() is None:
        typed.refuse("board", f"There is no board {cells['board'][:40]} in this cockpit.")
    return cells


@router.get("/functions/{code}")
def show_function(request: Request, code: str) -> Response:
    """The function's sheet."""
    return function_page(request, code, Typed())


def function_page(request: Request, code: str, form: Typed, status: int = 200) -> Response:
    """The function's sheet with its small forms as typed."""
    result = cockpit_result(request)
    with session_of(request) as session:
        sheet = function_sheet(session, function_of(session, code), result)
        if "points" not in form.values:
            form.values["points"] = "\n".join(
                f"{typed_text(p.value)} {typed_text(p.angle_deg)}" for p in sheet.scale
            )
        form.values.setdefault("scale_mark", weakest(p.mark for p in sheet.scale) or "assumed")
        form.values.setdefault("board", sheet.board.code if sheet.board else "")
        return render(
            request,
            "function.html",
            s=sheet,
            f=sheet.function,
            form=form,
            dial_points=_dial(sheet),
            source_marks=MARKS,
            status=status,
        )


@router.get("/functions/{code}/edit")
def offer_function_edit(request: Request, code: str) -> Response:
    """The form for the function's entries."""
    with session_of(request) as session:
        function = function_of(session, code)
        form = Typed.of_row(function, FIELDS)
        return render(
            request, "function_form.html", form=form, function=function, kinds=KINDS, source_marks=MARKS
        )


@router.post("/functions/{code}/edit")
def save_function(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep the function's entries, unless another tab did first."""
    with session_of(request) as session:
        function = function_of(session, code)
        values = _values(session, typed, function)
        if values is None:
            return render(
                request,
                "function_form.html",
                form=typed,
                function=function,
                kinds=KINDS,
                source_marks=MARKS,
                status=422,
            )
        before = {name: getattr(function, name) for name in LABELS}
        try:
            save_row(session, function, typed.seen_version(), values)
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            both = (said(values, LABELS), said(error.theirs, LABELS))
            return render(
                request,
                "function_form.html",
                form=typed,
                function=function,
                kinds=KINDS,
                source_marks=MARKS,
                both=both,
                status=409,
            )
        if positions_matter(before, values):
            solve_after_edit(session, function)
        session.commit()
        new_code = function.code
    return go_to(f"/functions/{new_code}")


@router.post("/functions/{code}/candidates")
def weigh_component(request: Request, code: str, typed: TypedForm) -> Response:
    """Weigh, choose or reject a component, with the reason."""
    with session_of(request) as session:
        function = function_of(session, code)
        word = typed.text("component", "Component", required=True)
        state = typed.choice("state", "What of it", CANDIDATE_STATES, required=True)
        reason = typed.text("reason", "Reason", longest=2000)
        component = session.exec(select(Component).where(Component.code == word)).first()
        if word and component is None:
            typed.refuse("component", f"{word[:40]!r} is no component of the list.")
        if typed.is_fine and component is not None:
            set_candidate(session, function, component.id or 0, state, reason)
            session.commit()
            return go_to(f"/functions/{function.code}", f"{component.name} is {state}.")
    return function_page(request, code, typed, status=422)


@router.post("/functions/{code}/candidates/{word}/drop")
def forget_candidate(request: Request, code: str, word: str) -> Response:
    """Forget a candidate weighed by mistake."""
    with session_of(request) as session:
        function = function_of(session, code)
        component = session.exec(select(Component).where(Component.code == word)).first()
        if component is None:
            raise HTTPException(404, f"There is no component {word[:60]} in this cockpit.")
        drop_candidate(session, function, component.id or 0)
        session.commit()
    return go_to(f"/functions/{code}")


@router.post("/functions/{code}/board")
def put_on_board(request: Request, code: str, typed: TypedForm) -> Response:
    """Put the function on a board, or take it off."""
    with session_of(request) as session:
        function = function_of(session, code)
        word = typed.text("board", "Board")
        board = session.exec(select(Board).where(Board.code == word)).first() if word else None
        if word and board is None:
            typed.refuse("board", f"There is no board {word[:40]} in this cockpit.")
            return function_page(request, code, typed, status=422)
        put_functions_on_board(session, [function.id or 0], board.id if board else None)
        session.commit()
    return go_to(f"/functions/{code}")


@router.post("/functions/{code}/scale")
def save_scale(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep the points of the dial."""
    with session_of(request) as session:
        function = function_of(session, code)
        points, mark = _points(typed), typed.mark("scale_mark")
        if typed.is_fine:
            try:
                set_scale(session, function, points, mark)
            except ScaleRefused as error:
                typed.refuse("points", str(error))
            else:
                session.commit()
                return go_to(f"/functions/{code}")
    return function_page(request, code, typed, status=422)


@router.get("/functions/{code}/delete")
def offer_function_delete(request: Request, code: str) -> Response:
    """Ask before a function is taken away."""
    result = cockpit_result(request)
    with session_of(request) as session:
        sheet = function_sheet(session, function_of(session, code), result)
        return render(request, "function_delete.html", s=sheet, f=sheet.function)


@router.post("/functions/{code}/delete")
def take_function_away(request: Request, code: str) -> Response:
    """Take the function away with its candidates and scale."""
    with session_of(request) as session:
        function = function_of(session, code)
        code = function.code
        panel_code = session.exec(select(Panel.code).where(Panel.id == function.panel_id)).one()
        board_id = remove_function(session, function)
        if board_id is not None:
            solve_pins(session, [board_id])
        session.commit()
    return go_to(f"/panels/{panel_code}", f"{code} is gone.")


def _dial(sheet: FunctionSheet) -> list[DialPoint]:
    """The scale as marks of a drawn dial, its first mark lower left where the sweep leaves room."""
    if not sheet.scale:
        return []
    angles = [point.angle_deg for point in sheet.scale]
    turn = -(max(angles) + min(angles)) / 2
    return [DialPoint(f"{point.value:g}", point.angle_deg + turn) for point in sheet.scale]


def _points(typed: Typed) -> list[tuple[float, float]]:
    points = []
    for number, line in enumerate(typed.value("points").splitlines(), start=1):
        words = line.replace("->", " ").replace("→", " ").replace(";", " ").split()
        if not words:
            continue
        figures = [_figure(word) for word in words]
        if len(figures) != 2 or figures[0] is None or figures[1] is None:
            typed.refuse(
                "points", f"Line {number}: a value and its degrees are wanted; {line.strip()[:40]!r} is not."
            )
            return []
        points.append((figures[0], figures[1]))
    if len(points) > MOST_POINTS:
        typed.refuse("points", f"A scale has at most {MOST_POINTS} points; these are {len(points):,}.")
    if len(points) == 1:
        typed.refuse("points", "A scale has at least two points.")
    return points


def _figure(word: str) -> float | None:
    try:
        figure = float(units.read_number(word.rstrip("°")))
    except (units.QuantityRefused, OverflowError):
        return None
    return figure if abs(figure) < 1e9 else None


def _values(session: Session, typed: Typed, function: Function) -> dict[str, Any] | None:
    """The columns of a function as typed, or None where a field is refused."""
    code = typed.code("code")
    if code and not code_is_free(session, Function, code, function.id):
        typed.refuse("code", f"Another function has the id {code}.")
    name = typed.text("name", "Name", required=True)
    kind = typed.text("kind", "Kind", required=True, longest=60)
    range_text = typed.text("range_text", "Range")
    values: dict[str, Any] = {
        "code": code,
        "name": name,
        "range_text": range_text,
        "range_mark": typed.mark("range_mark"),
        "signal": typed.text("signal", "Signal"),
        "wiring_text": typed.text("wiring_text", "Wiring"),
        "note": typed.text("note", "Note", longest=20_000),
    }
    read = range_entries(range_text, kind, name)
    if typed.flag("read_range"):
        values |= read
    else:
        values |= {
            "kind": read["kind"],
            "low": range_end(typed, "low", "Low"),
            "high": range_end(typed, "high", "High"),
            "unit": unit_word(typed.text("unit", "Unit", longest=24)),
            "is_endless": typed.flag("is_endless"),
            "positions": typed.whole("positions", "Positions", least=1, most=MOST_POSITIONS),
            "colour": typed.text("colour", "Colour", longest=60),
        }
    low, high = values["low"], values["high"]
    if low is not None and high is not None and low >= high:
        typed.refuse("high", f"The high end, {high:g}, is not above the low end, {low:g}.")
    return values if typed.is_fine else None


def range_end(typed: Typed, name: str, label: str) -> float | None:
    """One end of a range as typed, a number in the range's own unit; None when empty."""
    text = typed.value(name).strip()
    if not text:
        return None
    try:
        figure = float(units.read_number(text))
    except (units.QuantityRefused, OverflowError):
        typed.refuse(name, f"{label} is a number without its unit; {text[:40]!r} is not.")
        return None
    if abs(figure) > 1e12:
        typed.refuse(name, f"{label} is at most 1,000,000,000,000; {text[:40]} is not.")
    return figure
