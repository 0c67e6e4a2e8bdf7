"""Candidates of a function: one chosen with its reason, the others kept with theirs (issue 2, item 3)."""

import pytest
from sqlmodel import Session, col, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.choose import choose_from_list, drop_candidate, set_candidate
from app.tables import Candidate, Component, Function, PinUse


@pytest.fixture
def oil(empty_session: Session) -> Function:
    """An oil lamp on a board, nothing chosen."""
    board = add_board(empty_session, "BD01", "T8S")
    keep_list(empty_session, preview_list(empty_session, "Panel\tFunction\tKind\nP01\tOil lamp\tlight"))
    function = empty_session.exec(select(Function)).one()
    put_functions_on_board(empty_session, [function.id or 0], board.id)
    return function


def component_id(session: Session, code: str) -> int:
    return session.exec(select(Component.id).where(Component.code == code)).one() or 0


def put(session: Session, function: Function, code: str, state: str, reason: str = "") -> None:
    set_candidate(session, function, component_id(session, code), state, reason)


def candidates(session: Session) -> dict[str, tuple[str, str]]:
    """State and reason by component."""
    rows = session.exec(
        select(Component.code, Candidate.state, Candidate.reason).join(
            Candidate, col(Candidate.component_id) == Component.id
        )
    ).all()
    return {code: (state, reason) for code, state, reason in rows}


def pins(session: Session, function: Function) -> int:
    return len(session.exec(select(PinUse).where(PinUse.function_id == function.id)).all())


def test_a_component_chosen_takes_its_pins_at_once(empty_session: Session, oil: Function) -> None:
    assert pins(empty_session, oil) == 0
    put(empty_session, oil, "led", "chosen", "two in a drawer")
    assert candidates(empty_session) == {"led": ("chosen", "two in a drawer")}
    assert pins(empty_session, oil) == 1  # scenario section 4: one plain output


def test_choosing_another_keeps_the_first_as_rejected_and_says_why_it_was_chosen(
    empty_session: Session, oil: Function
) -> None:
    put(empty_session, oil, "led", "chosen", "two in a drawer")
    put(empty_session, oil, "px", "chosen", "any colour")
    name = empty_session.exec(select(Component.name).where(Component.code == "px")).one()
    assert candidates(empty_session) == {
        "led": ("rejected", f"replaced by {name}; chosen before: two in a drawer"),
        "px": ("chosen", "any colour"),
    }


def test_there_is_never_more_than_one_chosen(empty_session: Session, oil: Function) -> None:
    for code in ("led", "px", "led", "sr"):
        put(empty_session, oil, code, "chosen")
    states = [state for state, _ in candidates(empty_session).values()]
    assert sorted(states) == ["chosen", "rejected", "rejected"]


def test_a_component_only_weighed_or_rejected_takes_no_pin(empty_session: Session, oil: Function) -> None:
    put(empty_session, oil, "led", "weighed")
    put(empty_session, oil, "px", "rejected", "too bright at night")
    assert pins(empty_session, oil) == 0
    assert candidates(empty_session)["px"] == ("rejected", "too bright at night")


def test_rejecting_the_chosen_one_frees_its_pins_and_leaves_none_chosen(
    empty_session: Session, oil: Function
) -> None:
    put(empty_session, oil, "led", "chosen", "cheap")
    put(empty_session, oil, "led", "rejected", "broke twice")
    assert candidates(empty_session) == {"led": ("rejected", "broke twice")}
    assert pins(empty_session, oil) == 0


def test_a_reason_is_not_carried_from_one_state_to_another(empty_session: Session, oil: Function) -> None:
    put(empty_session, oil, "led", "rejected", "too dim")
    put(empty_session, oil, "led", "chosen")
    assert candidates(empty_session) == {"led": ("chosen", "")}


def test_a_reason_stays_when_the_same_state_is_said_again_without_one(
    empty_session: Session, oil: Function
) -> None:
    put(empty_session, oil, "led", "chosen", "cheap")
    put(empty_session, oil, "led", "chosen")
    assert candidates(empty_session) == {"led": ("chosen", "cheap")}


def test_a_state_that_is_none_is_refused(empty_session: Session, oil: Function) -> None:
    with pytest.raises(ValueError, match="a candidate is weighed, chosen, rejected, not 'bought'"):
        put(empty_session, oil, "led", "bought")
    assert candidates(empty_session) == {}


def test_a_candidate_forgotten_leaves_nothing_and_frees_its_pins(
    empty_session: Session, oil: Function
) -> None:
    put(empty_session, oil, "led", "chosen")
    drop_candidate(empty_session, oil, component_id(empty_session, "led"))
    assert candidates(empty_session) == {}
    assert pins(empty_session, oil) == 0
    drop_candidate(empty_session, oil, component_id(empty_session, "led"))  # once more changes nothing


def test_a_list_that_names_no_component_any_more_leaves_the_chosen_one_weighed(
    empty_session: Session, oil: Function
) -> None:
    put(empty_session, oil, "led", "chosen", "cheap")
    choose_from_list(empty_session, {oil.id or 0: None})
    assert candidates(empty_session) == {"led": ("weighed", "cheap")}


def test_a_list_chooses_for_many_functions_each_its_own(empty_session: Session, oil: Function) -> None:
    keep_list(empty_session, preview_list(empty_session, "Panel\tFunction\tKind\nP01\tFuel lamp\tlight"))
    fuel = empty_session.exec(select(Function).where(Function.name == "Fuel lamp")).one()
    led, px = component_id(empty_session, "led"), component_id(empty_session, "px")
    choose_from_list(empty_session, {oil.id or 0: led, fuel.id or 0: px})
    chosen = empty_session.exec(
        select(Candidate.function_id, Candidate.component_id).where(Candidate.state == "chosen")
    ).all()
    assert set(chosen) == {(oil.id, led), (fuel.id, px)}
