"""The diode matrix of a board: which diodes are missing, and which contact then seems closed.

Expected ghosts come from pressing contacts in a model of the wiring (every combination of closed contacts), not from
the rectangle rule that the program uses.
"""

from itertools import combinations

from sqlmodel import Session, col, select

from app.planning.board_matrix import matrix_findings
from app.tables import Board, Function, MatrixContact
from tests.planning.board_case import found, new_board, only

DIODE = "row to column"
Place = tuple[int, int, str]


def matrix_board(session: Session, *places: Place, kind: str = "switch") -> Board:
    """A board with a contact at each place (row, column, diode)."""
    board = new_board(session, "T8L", *[f"Contact {k}\t{kind}\tmx" for k in range(len(places))])
    place_contacts(session, board, places)
    return board


def place_contacts(session: Session, board: Board, places: tuple[Place, ...] | list[Place]) -> None:
    functions = session.exec(select(Function).order_by(col(Function.id))).all()
    for function, (row, column, diode) in zip(functions, places, strict=False):
        session.add(
            MatrixContact(
                board_id=board.id or 0, function_id=function.id or 0, row=row, column=column, diode=diode
            )
        )
    session.flush()


def seem_closed(places: list[Place]) -> set[str]:
    """The contacts that seem closed though they are open, in any state of all contacts.

    Current goes from the row that is driven through closed contacts, both ways but for a diode, which lets it go
    from row to column only.
    """
    seen = set()
    for number in range(len(places) + 1):
        for closed in combinations(range(len(places)), number):
            for driven in {row for row, _, _ in places}:
                reached = {("row", driven)}
                grown = True
                while grown:
                    grown = False
                    for index in closed:
                        row, column, diode = places[index]
                        ends = (("row", row), ("column", column))
                        for start, end in (ends, ends[::-1]) if not diode else (ends,):
                            if start in reached and end not in reached:
                                reached.add(end)
                                grown = True
                seen |= {
                    f"F{index + 1:03}"
                    for index, (row, column, _) in enumerate(places)
                    if index not in closed and row == driven and ("column", column) in reached
                }
    return seen


def test_a_full_rectangle_without_diodes_lets_each_corner_seem_closed(empty_session: Session) -> None:
    places = [(1, 1, ""), (1, 2, ""), (2, 1, ""), (2, 2, "")]
    assert seem_closed(places) == {"F001", "F002", "F003", "F004"}
    finding = only(empty_session, matrix_board(empty_session, *places), matrix_findings)
    assert finding.verdict == "stop"
    assert "4 missing at F001, F002, F003, F004" in finding.sentence
    assert "F001 seems closed when" in finding.sentence
    assert "4 diodes" in finding.remedies[0]


def test_a_diode_at_each_contact_leaves_no_contact_seeming_closed(empty_session: Session) -> None:
    places = [(row, column, DIODE) for row in (1, 2) for column in (1, 2, 3)]
    assert seem_closed(places) == set()
    finding = only(empty_session, matrix_board(empty_session, *places), matrix_findings)
    assert finding.verdict == "fine"
    assert "6 diodes" in finding.sentence


def test_contacts_that_are_no_corner_of_a_full_rectangle_need_no_diode(empty_session: Session) -> None:
    places = [(1, 1, ""), (1, 2, ""), (2, 3, "")]
    assert seem_closed(places) == set()
    assert only(empty_session, matrix_board(empty_session, *places), matrix_findings).verdict == "fine"


def test_diodes_in_one_row_of_two_leave_the_other_rows_contacts_to_pass_current_back(
    empty_session: Session,
) -> None:
    # Scenario sections 9 and 10: row 1 of four with diodes, row 2 of three without.
    places = [(1, k, DIODE) for k in range(1, 5)] + [(2, k, "") for k in range(1, 4)]
    ghosts = seem_closed(places)
    finding = only(empty_session, matrix_board(empty_session, *places), matrix_findings)
    assert finding.verdict == "stop"
    assert "7 contacts" in finding.sentence
    assert "4 are fitted, 3 missing at F005, F006, F007" in finding.sentence
    named = {word for word in ("F001", "F002", "F003") if f"{word} seems closed" in finding.sentence}
    assert named
    assert named <= ghosts


def test_a_matrix_with_no_places_entered_cannot_tell(empty_session: Session) -> None:
    board = new_board(empty_session, "T8L", *[f"Contact {k}\tswitch\tmx" for k in range(7)])
    finding = only(empty_session, board, matrix_findings)
    assert finding.verdict == "cannot tell"
    assert "7 contacts (2 × 4)" in finding.sentence  # 2 x 4, not 3 x 3: scenario section 2
    assert "only 0 of them" in finding.sentence


def test_a_matrix_with_one_place_missing_cannot_tell(empty_session: Session) -> None:
    board = new_board(empty_session, "T8L", *[f"Contact {k}\tswitch\tmx" for k in range(3)])
    place_contacts(empty_session, board, [(1, 1, DIODE), (1, 2, DIODE)])
    finding = only(empty_session, board, matrix_findings)
    assert finding.verdict == "cannot tell"
    assert "only 2 of them" in finding.sentence


def test_positions_of_one_selector_are_never_closed_together(empty_session: Session) -> None:
    board = new_board(empty_session, "T8L", "Selector\tselector\tmx\t4")
    function = empty_session.exec(select(Function)).one()
    for position, (row, column) in enumerate([(1, 1), (1, 2), (2, 1), (2, 2)], start=1):
        empty_session.add(
            MatrixContact(
                board_id=board.id or 0,
                function_id=function.id or 0,
                position=position,
                row=row,
                column=column,
            )
        )
    empty_session.flush()
    assert only(empty_session, board, matrix_findings).verdict == "fine"


def test_a_diode_the_wrong_way_round_lets_nothing_through(empty_session: Session) -> None:
    board = matrix_board(empty_session, (1, 1, "column to row"), (1, 2, DIODE))
    finding = only(empty_session, board, matrix_findings)
    assert finding.verdict == "stop"
    assert "F001 lets nothing through" in finding.sentence


def test_a_board_without_a_matrix_hears_nothing(empty_session: Session) -> None:
    assert found(empty_session, new_board(empty_session, "T8L", "Lamp\tlight\tled"), matrix_findings) == []
