"""The log of attempts: made parts, their revisions, and every try at one, good or not."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Any, cast

from sqlalchemy import func, update
from sqlmodel import Session, col, select

from app.planning.edit import EditedMeanwhile
from app.tables import Attempt, MadePart, PrintFile, Revision

OUTCOMES = ("good", "failed", "stopped")
CAUSES = (
    "wrong size",
    "design changed",
    "bed or corner lift",
    "split layers",
    "supports",
    "looks",
    "power or filament ran out",
    "unknown",
)
FIRST_REVISION = 1
ATTEMPT_ENTRIES = (
    "revision_id", "print_file_id", "made_on", "outcome", "cause",
    "hours", "hours_mark", "grams", "grams_mark", "what_happened",
)  # fmt: skip


class AttemptRefused(ValueError):
    """An attempt that cannot be logged; `entry` names the one that is at fault."""

    def __init__(self, entry: str, message: str) -> None:
        super().__init__(message)
        self.entry = entry


class PartInUse(Exception):
    """A part that has a history is not removed."""


@dataclass(frozen=True, slots=True)
class NewAttempt:
    """One finished try at a part. Hours and grams are None where nobody knows them."""

    revision_number: int
    outcome: str
    made_on: date
    cause: str = ""
    hours: float | None = None
    grams: float | None = None
    hours_mark: str = "measured"
    grams_mark: str = "measured"
    what_happened: str = ""
    print_file_id: int | None = None


@dataclass(frozen=True, slots=True)
class OfferedFigures:
    """Hours and grams to start an entry with: of the revision's newest G-code file, else the part's own."""

    hours: float | None
    grams: float | None
    mark: str
    print_file_id: int | None
    says: str


def log_attempts(session: Session, made_part: MadePart, attempts: Iterable[NewAttempt]) -> list[Attempt]:
    """Log attempts at one part, its revisions made where they are missing; the caller commits.

    Raises:
        AttemptRefused: an outcome or cause is unknown, a figure is below zero, a failure has no cause.
    """
    new = list(attempts)
    for attempt in new:
        check_attempt(attempt)
    revisions = revisions_by_number(session, made_part)
    for number in sorted({attempt.revision_number for attempt in new} - revisions.keys()):
        revisions[number] = Revision(made_part_id=cast(int, made_part.id), number=number)
        session.add(revisions[number])
    session.flush()
    rows = [
        Attempt(
            revision_id=cast(int, revisions[attempt.revision_number].id),
            print_file_id=attempt.print_file_id,
            made_on=attempt.made_on,
            outcome=attempt.outcome,
            cause="" if attempt.outcome == "good" else attempt.cause,
            hours=attempt.hours,
            hours_mark=attempt.hours_mark,
            grams=attempt.grams,
            grams_mark=attempt.grams_mark,
            what_happened=attempt.what_happened,
        )
        for attempt in new
    ]
    session.add_all(rows)
    session.flush()
    return rows


def log_attempt(
    session: Session,
    made_part: MadePart,
    *,
    revision_number: int,
    outcome: str,
    made_on: date,
    cause: str = "",
    hours: float | None = None,
    grams: float | None = None,
    hours_mark: str = "measured",
    grams_mark: str = "measured",
    what_happened: str = "",
    print_file_id: int | None = None,
) -> Attempt:
    """Log one attempt, as `log_attempts`."""
    attempt = NewAttempt(
        revision_number=revision_number,
        outcome=outcome,
        made_on=made_on,
        cause=cause,
        hours=hours,
        grams=grams,
        hours_mark=hours_mark,
        grams_mark=grams_mark,
        what_happened=what_happened,
        print_file_id=print_file_id,
    )
    return log_attempts(session, made_part, [attempt])[0]


def check_attempt(attempt: NewAttempt) -> None:
    """Refuse an attempt that says something impossible.

    Raises:
        AttemptRefused: naming the entry at fault.
    """
    if attempt.revision_number < FIRST_REVISION:
        raise AttemptRefused("revision", f"Revisions are numbered from {FIRST_REVISION}.")
    if attempt.outcome not in OUTCOMES:
        raise AttemptRefused("outcome", f"The outcome is {', '.join(OUTCOMES)}; {attempt.outcome!r} is not.")
    if attempt.outcome != "good" and attempt.cause not in CAUSES:
        raise AttemptRefused("cause", "Why did it fail? Choose a cause; “unknown” is one of them.")
    for entry, figure in (("hours", attempt.hours), ("grams", attempt.grams)):
        if figure is not None and not 0 <= figure < 1e6:
            raise AttemptRefused(entry, f"{entry.capitalize()} cannot be {figure:g}.")


def ensure_revision(
    session: Session,
    made_part: MadePart,
    number: int,
    *,
    why: str | None = None,
    what: str | None = None,
    what_happened: str | None = None,
) -> Revision:
    """The revision of a part, made where it is missing, with the words given written in; the caller commits."""
    revision = session.exec(
        select(Revision).where(Revision.made_part_id == made_part.id, Revision.number == number)
    ).first() or Revision(made_part_id=cast(int, made_part.id), number=number)
    for name, words in (("why", why), ("what", what), ("what_happened", what_happened)):
        if words is not None:
            setattr(revision, name, words)
    session.add(revision)
    session.flush()
    return revision


def revisions_by_number(session: Session, made_part: MadePart) -> dict[int, Revision]:
    """The part's revisions, oldest first."""
    found = session.exec(
        select(Revision).where(Revision.made_part_id == made_part.id).order_by(col(Revision.number))
    ).all()
    return {revision.number: revision for revision in found}


def offered_figures(session: Session, made_part: MadePart, revision_id: int | None) -> OfferedFigures:
    """What an entry starts with: simulated from the newest G-code file of the revision, else the part's own."""
    file = None
    if revision_id is not None:
        file = session.exec(
            select(PrintFile)
            .where(PrintFile.revision_id == revision_id)
            .order_by(col(PrintFile.id).desc())
            .limit(1)
        ).first()
    if file is not None:
        hours = round(file.seconds / 3600, 2)
        return OfferedFigures(
            hours, round(file.grams, 1), file.figures_mark, file.id, f"simulated from {file.file_name}"
        )
    says = "" if made_part.hours is None and made_part.grams is None else "the part's own figures"
    return OfferedFigures(made_part.hours, made_part.grams, made_part.figures_mark, None, says)


def attempt_as_seen(attempt: Attempt) -> str:
    """A short fingerprint of an attempt's entries: a form carries it, to tell whether they changed since."""
    text = repr([getattr(attempt, name) for name in ATTEMPT_ENTRIES])
    return sha256(text.encode()).hexdigest()[:16]


def save_attempt(
    session: Session, attempt: Attempt, seen: str, revision_id: int, entries: NewAttempt
) -> None:
    """Correct an attempt, if it is still as it was seen; the caller commits.

    Raises:
        AttemptRefused: as `check_attempt`.
        EditedMeanwhile: it was corrected in another tab since; nothing is written.
    """
    check_attempt(entries)
    values: dict[str, Any] = {
        name: getattr(entries, name) for name in ATTEMPT_ENTRIES if name != "revision_id"
    }
    values["revision_id"] = revision_id
    values["cause"] = "" if entries.outcome == "good" else entries.cause
    kept = {name: getattr(attempt, name) for name in ATTEMPT_ENTRIES}
    written = 0
    if attempt_as_seen(attempt) == seen:
        as_seen = [getattr(Attempt, name) == value for name, value in kept.items()]
        done = session.execute(
            update(Attempt).where(col(Attempt.id) == attempt.id, *as_seen).values(**values)
        )
        written = cast(Any, done).rowcount
        session.refresh(attempt)
    if not written:
        raise EditedMeanwhile({name: getattr(attempt, name) for name in ATTEMPT_ENTRIES})


def remove_attempt(session: Session, attempt: Attempt) -> None:
    """Take an attempt that was logged by mistake out of the log; the caller commits."""
    session.delete(attempt)
    session.flush()


def newest_revision_number(session: Session, made_part_id: int) -> int:
    """The highest revision number of a part, 0 where it has none."""
    found = session.exec(select(func.max(Revision.number)).where(Revision.made_part_id == made_part_id)).one()
    return found or 0


def remove_part(session: Session, made_part: MadePart) -> None:
    """Remove a part with its revisions; the caller commits.

    Raises:
        PartInUse: attempts or files belong to it.
    """
    revisions = list(revisions_by_number(session, made_part).values())
    ids = [revision.id for revision in revisions]
    attempts = session.exec(
        select(func.count()).select_from(Attempt).where(col(Attempt.revision_id).in_(ids))
    )
    files = session.exec(
        select(func.count()).select_from(PrintFile).where(col(PrintFile.revision_id).in_(ids))
    )
    counts = (attempts.one(), files.one())
    if any(counts):
        raise PartInUse(
            f"{made_part.code} has {counts[0]} attempts and {counts[1]} G-code files; "
            "a part with a history stays. Remove those first if they were entered by mistake."
        )
    for revision in revisions:
        session.delete(revision)
    session.flush()
    session.delete(made_part)
    session.flush()


def remove_print_file(session: Session, file: PrintFile) -> None:
    """Take a G-code file off its revision; attempts keep their figures; the caller commits."""
    session.execute(update(Attempt).where(col(Attempt.print_file_id) == file.id).values(print_file_id=None))
    session.delete(file)
    session.flush()
