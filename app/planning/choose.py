"""Candidates of a function: weighed, one chosen with its reason, the others kept as rejected with theirs."""

from sqlmodel import Session, col, select

from app.planning.pin_plan import solve_pins
from app.tables import Candidate, Component, Function

CANDIDATE_STATES = ("weighed", "chosen", "rejected")


def set_candidate(
    session: Session, function: Function, component_id: int, state: str, reason: str = ""
) -> None:
    """Weigh, choose or reject a component for a function, and solve its board's pins anew; the caller commits.

    Choosing one turns the one chosen before into a rejected one; its reason is kept, or says what replaced it.
    """
    if state not in CANDIDATE_STATES:
        raise ValueError(f"a candidate is {', '.join(CANDIDATE_STATES)}, not {state!r}")
    put_candidate(session, function, component_id, state, reason)
    if function.board_id is not None:
        solve_pins(session, [function.board_id])


def put_candidate(
    session: Session, function: Function, component_id: int, state: str, reason: str = ""
) -> None:
    """As `set_candidate`, without solving the pins: for a list of many, solved once at its end."""
    candidates = {
        candidate.component_id: candidate
        for candidate in session.exec(select(Candidate).where(Candidate.function_id == function.id)).all()
    }
    if state == "chosen":
        for candidate in candidates.values():
            if candidate.state == "chosen" and candidate.component_id != component_id:
                candidate.state = "rejected"
                name = session.exec(select(Component.name).where(Component.id == component_id)).one()
                candidate.reason = candidate.reason or f"replaced by {name}"
                session.add(candidate)
    candidate = candidates.get(component_id) or Candidate(
        function_id=function.id or 0, component_id=component_id
    )
    candidate.state = state
    candidate.reason = reason or (candidate.reason if candidate.state == state else "")
    session.add(candidate)
    session.flush()


def drop_candidate(session: Session, function: Function, component_id: int) -> None:
    """Forget a candidate that was only weighed or rejected by mistake; the caller commits."""
    row = session.exec(
        select(Candidate).where(
            Candidate.function_id == function.id, col(Candidate.component_id) == component_id
        )
    ).first()
    if row is not None:
        session.delete(row)
        session.flush()
        if row.state == "chosen" and function.board_id is not None:
            solve_pins(session, [function.board_id])
