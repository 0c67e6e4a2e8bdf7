"""Revisions of a made part: why it changed, what changed, what happened; its G-code files and attempts."""

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session

from app.pages.made_parts import part_of
from app.pages.sheet import go_to, render, session_of
from app.pages.typed import LONGEST_TEXT, Typed, TypedForm
from app.planning.attempt_log import ensure_revision, newest_revision_number, revisions_by_number
from app.planning.edit import EditedMeanwhile, save_row
from app.planning.workshop import gather_part, printers_newest_used_first
from app.tables import MadePart, Revision

router = APIRouter()

WORDS = {"why": "Why it changed", "what": "What changed", "what_happened": "What happened"}
MOST_REVISIONS = 999


def revision_of(session: Session, part: MadePart, number: int) -> Revision:
    """The part's revision of this number; else the sheet that says there is none."""
    revision = revisions_by_number(session, part).get(number)
    if revision is None:
        raise HTTPException(404, f"{part.code} has no revision r{number}.")
    return revision


@router.get("/workshop/{code}/revisions/new")
def offer_revision(request: Request, code: str) -> Response:
    """The form for the part's next revision."""
    with session_of(request) as session:
        part = part_of(session, code)
        typed = Typed({"number": str(newest_revision_number(session, part.id or 0) + 1)})
        return render(request, "revision_new.html", part=part, form=typed)


@router.post("/workshop/{code}/revisions/new")
def add_revision(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep a new revision."""
    with session_of(request) as session:
        part = part_of(session, code)
        number = typed.whole("number", "Number", required=True, least=1, most=MOST_REVISIONS)
        if number is not None and number in revisions_by_number(session, part):
            typed.refuse("number", f"{part.code} has a revision r{number} already.")
        words = _words(typed)
        if number is None or not typed.is_fine:
            return render(request, "revision_new.html", status=422, part=part, form=typed)
        ensure_revision(session, part, number, **words)
        session.commit()
        return go_to(f"/workshop/{part.code}/revisions/{number}", f"Revision r{number} was added.")


@router.get("/workshop/{code}/revisions/{number:int}")
def show_revision(request: Request, code: str, number: int) -> Response:
    """The revision's sheet."""
    with session_of(request) as session:
        part = part_of(session, code)
        return revision_sheet(request, session, part, revision_of(session, part, number))


@router.post("/workshop/{code}/revisions/{number:int}")
def edit_revision(request: Request, code: str, number: int, typed: TypedForm) -> Response:
    """Keep the revision's words, unless another tab did first."""
    with session_of(request) as session:
        part = part_of(session, code)
        revision = revision_of(session, part, number)
        words = _words(typed)
        if not typed.is_fine:
            return revision_sheet(request, session, part, revision, form=typed, status=422)
        try:
            save_row(session, revision, typed.seen_version(), words)
        except EditedMeanwhile as other:
            typed.values["version"] = str(other.theirs["version"])
            return revision_sheet(
                request,
                session,
                part,
                revision,
                form=typed,
                status=409,
                mine=[(label, typed.value(name)) for name, label in WORDS.items()],
                theirs=[(label, other.theirs[name]) for name, label in WORDS.items()],
            )
        session.commit()
        return go_to(f"/workshop/{part.code}", f"r{number} was kept.")


def revision_sheet(
    request: Request,
    session: Session,
    part: MadePart,
    revision: Revision,
    *,
    form: Typed | None = None,
    upload: Typed | None = None,
    status: int = 200,
    **conflict: Any,
) -> Response:
    """The sheet of one revision, with the form of its words and the form of its G-code."""
    history = gather_part(session, part)
    printers = printers_newest_used_first(session)
    if upload is None:
        upload = Typed({"printer": str(printers[0][0]) if printers else ""})
    return render(
        request,
        "revision.html",
        status=status,
        part=part,
        revision=revision,
        attempts=[row for row in history.attempts if row.revision_number == revision.number],
        files=[row for row in history.files if row.revision_number == revision.number],
        printers=[(id_, f"{name} ({mark})") for id_, name, mark in printers],
        form=form or Typed.of_row(revision, (*WORDS, "version")),
        upload=upload,
        **{"mine": None, "theirs": None, **conflict},
    )


def _words(typed: Typed) -> dict[str, str]:
    return {name: typed.text(name, label, longest=LONGEST_TEXT) for name, label in WORDS.items()}
