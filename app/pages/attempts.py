"""Attempts: one logged in three taps and a short text, and corrected later."""

from dataclasses import replace
from datetime import date
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session

from app.pages.made_parts import LARGEST_ROW, part_of
from app.pages.sheet import go_to, render, session_of
from app.pages.typed import MARKS, Typed, TypedForm, typed_text
from app.planning.attempt_log import (
    CAUSES,
    OUTCOMES,
    AttemptRefused,
    NewAttempt,
    OfferedFigures,
    attempt_as_seen,
    check_attempt,
    ensure_revision,
    log_attempts,
    offered_figures,
    remove_attempt,
    revisions_by_number,
    save_attempt,
)
from app.planning.edit import EditedMeanwhile
from app.planning.workshop import parts_recent_first
from app.tables import Attempt, MadePart, Revision

router = APIRouter()

NEW_REVISION = "new"
RECENT = 6
ATTEMPT_LABELS = {
    "revision": "Revision",
    "outcome": "Outcome",
    "cause": "Cause",
    "what_happened": "What happened",
    "hours": "Hours",
    "hours_mark": "Source of the hours",
    "grams": "Grams",
    "grams_mark": "Source of the grams",
    "made_on": "Date",
}


@router.get("/workshop/log")
def choose_part(request: Request) -> Response:
    """The part to log an attempt at, recently used ones first."""
    with session_of(request) as session:
        parts = parts_recent_first(session)
    return render(request, "attempt_part.html", recent=parts[:RECENT], others=sorted(parts[RECENT:]))


@router.get("/workshop/{code}/log")
def offer_attempt(request: Request, code: str, revision: str = "") -> Response:
    """The form for an attempt, its figures filled in from the revision's newest file or the part's own."""
    with session_of(request) as session:
        part = part_of(session, code)
        revisions = revisions_by_number(session, part)
        if not (revision == NEW_REVISION or revision in map(str, revisions)):
            revision = str(max(revisions)) if revisions else NEW_REVISION
        offered = offered_figures(session, part, _revision_id(revisions, revision))
        typed = Typed(
            {
                "revision": revision,
                "made_on": date.today().isoformat(),  # noqa: DTZ011 - the day on the builder's own wall
                "hours": typed_text(offered.hours),
                "grams": typed_text(offered.grams),
                **_offer_fields(offered),
            }
        )
        return _log_form(request, part, typed, revisions, offered.says, block="figures")


@router.post("/workshop/{code}/log")
def log_one(request: Request, code: str, typed: TypedForm) -> Response:
    """Log the attempt."""
    with session_of(request) as session:
        part = part_of(session, code)
        revisions = revisions_by_number(session, part)
        attempt = _typed_attempt(typed, revisions)
        # A figure left as it was offered keeps its mark; one that was typed was read off the printer.
        offered = offered_figures(session, part, _revision_id(revisions, typed.value("revision")))
        mark = typed.choice("offered_mark", "Source mark", MARKS) or "measured"
        attempt = replace(
            attempt,
            hours_mark=mark if typed.value("hours") == typed.value("offered_hours") else "measured",
            grams_mark=mark if typed.value("grams") == typed.value("offered_grams") else "measured",
            print_file_id=offered.print_file_id,
        )
        if not typed.is_fine:
            return _log_form(request, part, typed, revisions, offered.says, status=422)
        log_attempts(session, part, [attempt])
        session.commit()
        return go_to(f"/workshop/{part.code}", f"Logged: {_in_words(attempt)}")


@router.get("/workshop/{code}/attempts/{attempt_id:int}")
def offer_correction(request: Request, code: str, attempt_id: int) -> Response:
    """The form to correct an attempt."""
    with session_of(request) as session:
        part = part_of(session, code)
        attempt, revision = _attempt_of(session, part, attempt_id)
        typed = Typed(_entries(attempt, revision.number))
        return _correct_form(request, part, attempt_id, typed, revisions_by_number(session, part))


@router.post("/workshop/{code}/attempts/{attempt_id:int}")
def correct_attempt(request: Request, code: str, attempt_id: int, typed: TypedForm) -> Response:
    """Keep the correction, unless another tab corrected it first."""
    with session_of(request) as session:
        part = part_of(session, code)
        attempt, _ = _attempt_of(session, part, attempt_id)
        revisions = revisions_by_number(session, part)
        entries = replace(
            _typed_attempt(typed, revisions),
            hours_mark=typed.mark("hours_mark"),
            grams_mark=typed.mark("grams_mark"),
            print_file_id=attempt.print_file_id,
        )
        if not typed.is_fine:
            return _correct_form(request, part, attempt_id, typed, revisions, status=422)
        revision = revisions.get(entries.revision_number) or ensure_revision(
            session, part, entries.revision_number
        )
        try:
            save_attempt(session, attempt, typed.value("seen"), revision.id or 0, entries)
        except EditedMeanwhile:
            session.rollback()
            attempt, kept_revision = _attempt_of(session, part, attempt_id)
            theirs = _entries(attempt, kept_revision.number)
            typed.values["seen"] = theirs["seen"]
            return _correct_form(
                request,
                part,
                attempt_id,
                typed,
                revisions,
                status=409,
                mine=[(label, typed.value(name)) for name, label in ATTEMPT_LABELS.items()],
                theirs=[(label, theirs[name]) for name, label in ATTEMPT_LABELS.items()],
            )
        session.commit()
        return go_to(f"/workshop/{part.code}", f"Kept: {_in_words(entries)}")


@router.post("/workshop/{code}/attempts/{attempt_id:int}/remove")
def take_attempt_out(request: Request, code: str, attempt_id: int) -> Response:
    """Remove an attempt that was logged by mistake."""
    with session_of(request) as session:
        part = part_of(session, code)
        attempt, revision = _attempt_of(session, part, attempt_id)
        words = f"an attempt at r{revision.number} of {attempt.made_on.isoformat()} was taken out of the log."
        remove_attempt(session, attempt)
        session.commit()
        return go_to(f"/workshop/{part.code}", f"{part.code}: {words}")


def _typed_attempt(typed: Typed, revisions: dict[int, Revision]) -> NewAttempt:
    """What was typed, with messages at the fields refused."""
    newest = max(revisions, default=0)
    options = [*map(str, revisions), NEW_REVISION]
    chosen = typed.choice("revision", "Revision", options, required=True)
    if not typed.value("outcome") and typed.value("cause"):
        typed.values["outcome"] = "failed"  # a cause alone says that it failed
    outcome = typed.choice("outcome", "Outcome", OUTCOMES, required=True)
    attempt = NewAttempt(
        revision_number=newest + 1 if chosen == NEW_REVISION else int(chosen) if chosen in options else 1,
        outcome=outcome,
        made_on=_made_on(typed),
        cause="" if outcome == "good" else typed.choice("cause", "Cause", CAUSES),
        hours=typed.quantity("hours", "duration_h", "Hours"),
        grams=typed.quantity("grams", "mass_g", "Grams"),
        what_happened=typed.text("what_happened", "What happened"),
    )
    if outcome in OUTCOMES:
        try:
            check_attempt(attempt)
        except AttemptRefused as error:
            typed.refuse(error.entry, str(error))
    return attempt


def _made_on(typed: Typed) -> date:
    today = date.today()  # noqa: DTZ011 - the day on the builder's own wall
    text = typed.text("made_on", "Date", required=True, longest=40)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        if text:
            typed.refuse("made_on", f"The date is wanted as 2026-11-24; {text!r} is not.")
        return today
    if day > today:
        typed.refuse("made_on", f"{text} has not come yet; an attempt is logged when it is over.")
    return day


def _attempt_of(session: Session, part: MadePart, attempt_id: int) -> tuple[Attempt, Revision]:
    attempt = session.get(Attempt, attempt_id) if attempt_id <= LARGEST_ROW else None
    revision = session.get(Revision, attempt.revision_id) if attempt else None
    if attempt is None or revision is None or revision.made_part_id != part.id:
        raise HTTPException(404, f"{part.code} has no attempt {attempt_id} in its log.")
    return attempt, revision


def _entries(attempt: Attempt, number: int) -> dict[str, str]:
    entries = {name: typed_text(getattr(attempt, name)) for name in ATTEMPT_LABELS if name != "revision"}
    return {**entries, "revision": str(number), "seen": attempt_as_seen(attempt)}


def _revision_id(revisions: dict[int, Revision], chosen: str) -> int | None:
    return next((revision.id for number, revision in revisions.items() if str(number) == chosen), None)


def _offer_fields(offered: OfferedFigures) -> dict[str, str]:
    return {
        "offered_hours": typed_text(offered.hours),
        "offered_grams": typed_text(offered.grams),
        "offered_mark": offered.mark,
    }


def _in_words(attempt: NewAttempt) -> str:
    why = f", {attempt.cause}" if attempt.outcome != "good" else ""
    return f"r{attempt.revision_number} {attempt.outcome}{why}."


def _revision_options(revisions: dict[int, Revision]) -> list[tuple[str, str]]:
    newest = max(revisions, default=0)
    options = [(str(number), f"r{number}") for number in sorted(revisions, reverse=True)]
    return [*options, (NEW_REVISION, f"new revision, r{newest + 1}")]


def _log_form(
    request: Request,
    part: MadePart,
    typed: Typed,
    revisions: dict[int, Revision],
    says: str,
    *,
    status: int = 200,
    block: str | None = None,
) -> Response:
    return render(
        request,
        "attempt_log.html",
        block=block,
        status=status,
        part=part,
        form=typed,
        says=says,
        opened=request.headers.get("hx-request") == "true",
        revision_options=_revision_options(revisions),
        outcomes=OUTCOMES,
        causes=CAUSES,
    )


def _correct_form(
    request: Request,
    part: MadePart,
    attempt_id: int,
    typed: Typed,
    revisions: dict[int, Revision],
    status: int = 200,
    **conflict: Any,
) -> Response:
    return render(
        request,
        "attempt.html",
        status=status,
        part=part,
        attempt_id=attempt_id,
        form=typed,
        revision_options=_revision_options(revisions),
        outcomes=OUTCOMES,
        causes=CAUSES,
        source_marks=MARKS,
        **{"mine": None, "theirs": None, **conflict},
    )
