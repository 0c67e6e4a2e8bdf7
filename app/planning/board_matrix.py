"""The diode matrix of a board: which diodes are missing, and which contact then seems closed (C5)."""

from app.calculations.contact_matrix import MatrixContact as Contact
from app.calculations.contact_matrix import contact_matrix
from app.calculations.matrix_shape import matrix_shape
from app.planning.board_pins import about_board, contacts_of, terminal_needs
from app.planning.finding import Finding
from app.planning.plan import FunctionRow, Plan
from app.tables import Board

MATRIX_SOURCE = (
    "three closed contacts at the corners of a rectangle make the fourth seem closed; a diode at each corner of a "
    "full rectangle of contacts that can be closed together: application notes on key matrices"
)


def matrix_functions(plan: Plan, board: Board) -> list[FunctionRow]:
    """The functions whose contacts sit in the board's matrix, in list order."""
    return [
        function
        for function in plan.functions_by_board.get(board.id or 0, ())
        if function.component_id is not None
        and any(need.need == "contact" for need in terminal_needs(plan, function.component_id))
    ]


def matrix_findings(plan: Plan, board: Board) -> tuple[Finding, ...]:
    """What the matrix of a board wants; nothing where it has none."""
    functions = matrix_functions(plan, board)
    if not functions:
        return ()
    by_id = {function.id: function for function in functions}
    placed = [c for c in plan.matrix_contacts.get(board.id or 0, ()) if c.function_id in by_id]
    wanted = sum(contacts_of(function) or 1 for function in functions)
    shape = matrix_shape(wanted)
    if len(placed) < wanted:
        return (
            _finding(
                plan,
                board,
                "cannot tell",
                f"{board.code}'s matrix has {wanted} contacts ({shape.rows} × {shape.columns}), but only "
                f"{len(placed)} of them have their row, column and diode entered.",
                (
                    f"Enter rows, columns and diodes; with {wanted} diodes, one at each contact, none can seem closed.",
                ),
                functions,
                None,
            ),
        )
    several = {c.function_id for c in placed if sum(1 for o in placed if o.function_id == c.function_id) > 1}
    contacts = [
        Contact(
            key=by_id[c.function_id].code + (f"/{c.position}" if c.function_id in several else ""),
            row=c.row,
            column=c.column,
            diode=c.diode,
            excludes=by_id[c.function_id].code if c.function_id in several else "",
        )
        for c in placed
    ]
    matrix = contact_matrix(contacts)
    fitted = sum(1 for c in placed if c.diode)
    if matrix.verdict == "fine":
        sentence = (
            f"{board.code}'s matrix of {wanted} contacts has {fitted} diodes: none can seem closed by others."
        )
        return (_finding(plan, board, "fine", sentence, (), functions, "assumed"),)
    sentence = (
        f"{board.code}'s matrix has {wanted} contacts, of which {len(matrix.needed)} can close a loop and need a "
        f"diode; {fitted} are fitted, {len(matrix.missing_diodes)} missing at {', '.join(matrix.missing_diodes)}"
    )
    if matrix.wrong_way:
        sentence += f"; the diode of {', '.join(matrix.wrong_way)} lets nothing through"
    if matrix.ghosts:
        told = [
            f"{ghost.appears} seems closed when {', '.join(ghost.closed)} are" for ghost in matrix.ghosts[:3]
        ]
        more = f", and {len(matrix.ghosts) - 3} more" if len(matrix.ghosts) > 3 else ""
        sentence += f"; {'; '.join(told)}{more}"
    remedies = (
        f"Fit {len(matrix.missing_diodes)} diodes at {', '.join(matrix.missing_diodes)}: no contact seems closed then.",
    )
    return (_finding(plan, board, "stop", sentence + ".", remedies, functions, "assumed"),)


def _finding(
    plan: Plan,
    board: Board,
    verdict: str,
    sentence: str,
    remedies: tuple[str, ...],
    functions: list[FunctionRow],
    mark: str | None,
) -> Finding:
    return Finding(
        verdict=verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board, functions if verdict != "fine" else ()),
        sentence=sentence,
        remedies=remedies,
        source_mark=mark,
        source=MATRIX_SOURCE,
        mend_at=f"/boards/{board.code}/record",
        mend_word="See the matrix",
    )
