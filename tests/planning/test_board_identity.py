"""How the computer tells each board from its twins.

That port numbers shuffle and cheap port chips share a serial number is common practice (needs L2).
"""

import pytest
from sqlmodel import Session

from app.planning.board_identity import identity_findings
from app.planning.finding import Finding
from app.planning.plan import read_plan
from tests.planning.board_case import new_board


def identities(session: Session) -> list[Finding]:
    return list(identity_findings(read_plan(session)))


def test_boards_with_one_serial_number_stop_together(empty_session: Session) -> None:
    for code in ("B1", "B2", "B3"):
        new_board(empty_session, "T8S", code=code, serial_number="0001", identity="serial number")
    (finding,) = identities(empty_session)
    assert finding.verdict == "stop"
    assert [about.id for about in finding.about] == ["B1", "B2", "B3"]
    assert "B1, B2, B3 all answer with the serial number 0001" in finding.sentence
    assert finding.remedies


def test_letters_of_a_serial_number_are_the_same_in_either_case(empty_session: Session) -> None:
    for code, number in (("B1", "abc"), ("B2", "ABC")):
        new_board(empty_session, "T8S", code=code, serial_number=number)
    assert [finding.verdict for finding in identities(empty_session)] == ["stop"]


@pytest.mark.parametrize("identity", ["message", "port path"])
def test_a_twin_told_apart_otherwise_is_in_order(empty_session: Session, identity: str) -> None:
    new_board(empty_session, "T8S", code="B1", serial_number="0001", identity="serial number")
    new_board(empty_session, "T8S", code="B2", serial_number="0001", identity=identity)
    assert identities(empty_session) == []


def test_numbers_of_their_own_are_in_order(empty_session: Session) -> None:
    for code in ("B1", "B2"):
        new_board(empty_session, "T8S", code=code, serial_number=f"n-{code}")
    assert identities(empty_session) == []


def test_a_board_of_which_nothing_is_written_cannot_tell(empty_session: Session) -> None:
    new_board(empty_session, "T8S", code="B1", serial_number="n-1")
    new_board(empty_session, "T8S", code="B2")
    (finding,) = identities(empty_session)
    assert finding.verdict == "cannot tell"
    assert [about.id for about in finding.about] == ["B2"]
    assert finding.mend_at == "/boards/B2/record"


def test_the_only_board_has_no_twin(empty_session: Session) -> None:
    new_board(empty_session, "T8S", code="B1")
    assert identities(empty_session) == []


def test_a_board_that_talks_by_radio_has_no_port_to_be_told_by(empty_session: Session) -> None:
    new_board(empty_session, "T32W", code="B1")
    new_board(empty_session, "T32W", code="B2")
    assert identities(empty_session) == []
