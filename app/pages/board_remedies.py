"""The remedies of a board short of something: every way out, solved for this very board, priced, tried, taken."""

from typing import TYPE_CHECKING, cast

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.pages.boards import board_row
from app.pages.sheet import cockpit_result, cockpit_results, go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.finding import findings_about
from app.planning.remedy_tables import RemedyTable, RemedyTables

if TYPE_CHECKING:
    from app.planning.board_remedies import RemedyRow

router = APIRouter()

MOST_TOGETHER = 6


def remedy_tables(request: Request) -> RemedyTables:
    """The tables being solved in this program."""
    return cast(RemedyTables, request.app.state.remedy_tables)


@router.get("/boards/{code}/remedies")
def show_remedies(request: Request, code: str) -> Response:
    """The table as far as it is solved; an empty one offers to solve it."""
    return remedies_page(request, code, Typed())


def remedies_page(
    request: Request, code: str, form: Typed, tried: "tuple[RemedyRow, ...]" = (), status: int = 200
) -> Response:
    """The table with what was tried together beside it."""
    result = cockpit_result(request)
    with session_of(request) as session:
        board = board_row(session, code)
        found = result.boards[board.code]
        table = remedy_tables(request).table(board.id or 0)
        is_stale = table is not None and table.plan_version != cockpit_results(request).version
        return render(
            request,
            "board_remedies.html",
            block="table",
            board=board,
            result=found,
            table=table,
            rows=_best_first(table),
            is_stale=is_stale,
            tried=tried,
            form=form,
            found=[f for f in findings_about(result.findings, "board", board.code) if f.verdict != "fine"],
            status=status,
        )


@router.post("/boards/{code}/remedies")
def solve_remedies(request: Request, code: str) -> Response:
    """Begin to solve the table; its rows are shown as they come."""
    cockpit_result(request)
    with session_of(request) as session:
        board = board_row(session, code)
        remedy_tables(request).start(board.id or 0, cockpit_results(request).version)
    return go_to(f"/boards/{code}/remedies")


@router.post("/boards/{code}/remedies/cancel")
def cancel_remedies(request: Request, code: str) -> Response:
    """Stop solving; the rows so far stay."""
    with session_of(request) as session:
        remedy_tables(request).cancel(board_row(session, code).id or 0)
    return go_to(f"/boards/{code}/remedies")


@router.post("/boards/{code}/remedies/try")
def try_together(request: Request, code: str, typed: TypedForm) -> Response:
    """Try the remedies ticked together on paper, beside each of them alone; nothing is kept."""
    from app.planning.board_remedies import UnknownRemedy, try_remedies  # on first use, as below

    codes = _codes(typed)
    result = cockpit_result(request)
    with session_of(request) as session:
        board = result.plan.boards[board_row(session, code).id or 0]
    tried: tuple[RemedyRow, ...] = ()
    if typed.is_fine:
        try:
            alone = [try_remedies(result.plan, board, [one]) for one in codes] if len(codes) > 1 else []
            tried = (*alone, try_remedies(result.plan, board, codes))
        except UnknownRemedy as error:
            typed.refuse("code", str(error))
    return remedies_page(request, code, typed, tried, status=200 if typed.is_fine else 422)


@router.post("/boards/{code}/remedies/take")
def take_together(request: Request, code: str, typed: TypedForm) -> Response:
    """Take the remedies: components, choices and places change with them, pins are solved anew."""
    from app.planning.board_remedies import UnknownRemedy, take_remedies

    codes = _codes(typed)
    with session_of(request) as session:
        board = board_row(session, code)
        if typed.is_fine:
            try:
                row = take_remedies(session, board, codes)
            except UnknownRemedy as error:
                typed.refuse("code", str(error))
            else:
                session.commit()
                return go_to(f"/boards/{code}", f"{row.name} is taken: {row.sentence}")
    return remedies_page(request, code, typed, status=422)


def _best_first(table: RemedyTable | None) -> "list[RemedyRow]":
    """The rows as they come; once all are there, those that fit with room first, the cheapest of them first."""
    if table is None or table.is_going_on:
        return list(table.rows) if table else []
    order = {"fine": 0, "caution": 1, "cannot tell": 2, "stop": 3, "does not apply": 4}
    return sorted(
        table.rows, key=lambda row: (order[row.verdict], len(row.cost_missing), row.cost, -row.pins_left)
    )


def _codes(typed: Typed) -> list[str]:
    ticked = [typed.value("only")] if typed.value("only") else typed.lists.get("code", [])
    codes = [code for text in ticked for code in text.split("~") if code]
    if not codes:
        typed.refuse("code", "Tick at least one remedy.")
    if len(codes) > MOST_TOGETHER:
        typed.refuse("code", f"At most {MOST_TOGETHER} remedies are tried together.")
    return list(dict.fromkeys(codes))
