"""Candidates of a function: weighed, one chosen with its reason, the others kept as rejected with theirs."""

from collections.abc import Mapping, Sequence

from sqlmodel import Session, col, select

from app.planning.pin_plan import solve_pins
from app.tables import Candidate, Component, Function

CANDIDATE_STATES = ("weighed", "chosen", "rejected")
FROM_THE_LIST = "from the function list"


def set_candidate(
    session: Session, function: Function, component_id: int, state: str, reason: str = ""
) -> None:
    """Weigh, choose or reject a component for a function, and solve its board's pins anew; the caller commits.

    Choosing one turns the one chosen before into a rejected one; its reason says what
    replaced it, and why it was chosen before.
    """
    if state not in CANDIDATE_STATES:
        raise ValueError(f"a candidate is {', '.join(CANDIDATE_STATES)}, not {state!r}")
    put_candidate(session, function, component_id, state, reason)
    if function.board_id is not None:
        solve_pins(session, [function.board_id])


def put_candidate(
    session: Session, function: Function, component_id: int, state: str, reason: str = ""
) -> None:
    """As `set_candidate`, without solving the pins."""
    candidates = session.exec(select(Candidate).where(Candidate.function_id == function.id)).all()
    names = {component_id: session.exec(select(Component.name).where(Component.id == component_id)).one()}
    _put(session, candidates, function.id or 0, component_id, state, reason, names)
    session.flush()


def choose_from_list(session: Session, chosen: Mapping[int, int | None]) -> None:
    """Choose the component that a function list names for each of these functions (None: none stays chosen).

    Pins are not solved, and the number of queries does not grow with the list.
    """
    candidates: dict[int, list[Candidate]] = {function_id: [] for function_id in chosen}
    for row in session.exec(select(Candidate).where(col(Candidate.function_id).in_(chosen))).all():
        candidates[row.function_id].append(row)
    names = {id_ or 0: name for id_, name in session.exec(select(Component.id, Component.name)).all()}
    for function_id, component_id in chosen.items():
        if component_id is not None:
            _put(session, candidates[function_id], function_id, component_id, "chosen", FROM_THE_LIST, names)
            continue
        for row in candidates[function_id]:
            if row.state == "chosen":
                row.state = "weighed"
                session.add(row)
    session.flush()


def _put(
    session: Session,
    candidates: Sequence[Candidate],
    function_id: int,
    component_id: int,
    state: str,
    reason: str,
    names: Mapping[int, str],
) -> None:
    """Put one candidate of a function where the builder says; `candidates` are those it has."""
    held = next((row for row in candidates if row.component_id == component_id), None)
    for row in candidates:
        if state == "chosen" and row.state == "chosen" and row is not held:
            row.state = "rejected"
            before = f"; chosen before: {row.reason}" if row.reason not in ("", FROM_THE_LIST) else ""
            row.reason = f"replaced by {names[component_id]}{before}"
            session.add(row)
    candidate = held or Candidate(function_id=function_id, component_id=component_id, state="")
    candidate.reason = reason or (candidate.reason if candidate.state == state else "")
    candidate.state = state
    session.add(candidate)


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
