"""The workshop: made parts with what their attempts came to, and one part with its whole history."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, cast

from sqlalchemy import func
from sqlmodel import Session, col, select

from app.calculations.attempt_record import AttemptRecord, LoggedAttempt, attempt_record
from app.calculations.print_hours import ExpectedHours, expected_print_hours
from app.planning.attempt_log import OfferedFigures, offered_figures
from app.tables import Attempt, MadePart, Panel, Printer, PrintFile, Revision

NO_PANEL = "no panel of its own"


@dataclass(frozen=True, slots=True)
class WorkshopPart:
    """One made part in the list, with its record."""

    code: str
    name: str
    panel_code: str
    panel_name: str
    material: str
    hours: float | None
    grams: float | None
    figures_mark: str
    newest_revision: int
    approved_revision: int | None
    installed_revision: int | None
    note: str
    record: AttemptRecord


@dataclass(frozen=True, slots=True)
class RecordOfSome:
    """What the attempts of several parts came to: of one panel or one material."""

    code: str
    name: str
    parts: int
    record: AttemptRecord


@dataclass(frozen=True, slots=True)
class Workshop:
    """The made parts shown, their sums, and the panels that have any."""

    parts: tuple[WorkshopPart, ...]
    record: AttemptRecord
    by_panel: tuple[RecordOfSome, ...]
    by_material: tuple[RecordOfSome, ...]
    panels: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PrintFileRow:
    """A G-code file, what its simulated motion came to, and with which printer."""

    id: int
    revision_number: int
    file_name: str
    seconds: float
    filament_m: float
    grams: float
    moves: int
    unknown_words: str
    figures_mark: str
    uploaded_on: date
    printer_id: int
    printer_name: str


@dataclass(frozen=True, slots=True)
class AttemptRow:
    """One attempt in a part's log."""

    id: int
    revision_number: int
    made_on: date
    outcome: str
    cause: str
    hours: float | None
    hours_mark: str
    grams: float | None
    grams_mark: str
    what_happened: str


@dataclass(frozen=True, slots=True)
class RevisionRow:
    """One revision: its words, and how its attempts went."""

    id: int
    number: int
    why: str
    what: str
    what_happened: str
    attempts: int
    good: int
    files: int


@dataclass(frozen=True, slots=True)
class PrintForecast:
    """Hours to expect for each good print; `missing` says what it cannot be told without."""

    figures: OfferedFigures
    good: int
    attempts: int
    expected: ExpectedHours | None
    missing: str


@dataclass(frozen=True, slots=True)
class PartHistory:
    """A made part with its revisions (oldest first), attempts and G-code files (newest first)."""

    part: MadePart
    panel: Panel | None
    revisions: tuple[RevisionRow, ...]
    attempts: tuple[AttemptRow, ...]
    files: tuple[PrintFileRow, ...]
    record: AttemptRecord
    forecast: PrintForecast


def gather_workshop(session: Session, panel_code: str = "") -> Workshop:
    """The made parts of the cockpit, or of one panel (`NO_PANEL`: of none), with their records."""
    attempts: dict[int, list[LoggedAttempt]] = defaultdict(list)
    for made_part_id, outcome, *rest in session.execute(
        select(  # type: ignore[call-overload]  # more columns than its overloads count
            Revision.made_part_id,
            Attempt.outcome,
            Attempt.hours,
            Attempt.grams,
            Attempt.cause,
            Attempt.hours_mark,
            Attempt.grams_mark,
        ).join(Revision, col(Revision.id) == Attempt.revision_id)
    ).all():
        attempts[made_part_id].append(LoggedAttempt(outcome == "good", *rest))
    newest = dict(
        session.execute(
            select(Revision.made_part_id, func.max(Revision.number)).group_by(col(Revision.made_part_id))
        ).all()
    )
    rows = session.exec(
        select(MadePart, Panel.code, Panel.name)
        .join(Panel, col(Panel.id) == MadePart.panel_id, isouter=True)
        .order_by(col(MadePart.code))
    ).all()
    panels = sorted({(code, name) for _, code, name in rows if code is not None})
    shown = [
        (part, code or "", name or "")
        for part, code, name in rows
        if panel_code in ("", code if code is not None else NO_PANEL)
    ]
    return Workshop(
        parts=tuple(
            _workshop_part(part, code, name, newest.get(part.id, 0), attempts[cast(int, part.id)])
            for part, code, name in shown
        ),
        record=attempt_record(attempt for part, _, _ in shown for attempt in attempts[cast(int, part.id)]),
        by_panel=_sums((((code, name), part) for part, code, name in shown), attempts),
        by_material=_sums(((("", part.material), part) for part, _, _ in shown), attempts),
        panels=tuple(panels) + (((NO_PANEL, ""),) if any(code is None for _, code, _ in rows) else ()),
    )


def _workshop_part(
    part: MadePart, panel_code: str, panel_name: str, newest: int, attempts: Sequence[LoggedAttempt]
) -> WorkshopPart:
    return WorkshopPart(
        code=part.code,
        name=part.name,
        panel_code=panel_code,
        panel_name=panel_name,
        material=part.material,
        hours=part.hours,
        grams=part.grams,
        figures_mark=part.figures_mark,
        newest_revision=newest,
        approved_revision=part.approved_revision,
        installed_revision=part.installed_revision,
        note=part.note,
        record=attempt_record(attempts),
    )


def _sums(
    keyed: Iterable[tuple[tuple[str, str], MadePart]], attempts: Mapping[int, Sequence[LoggedAttempt]]
) -> tuple[RecordOfSome, ...]:
    groups: dict[tuple[str, str], list[MadePart]] = defaultdict(list)
    for key, part in keyed:
        groups[key].append(part)
    return tuple(
        RecordOfSome(
            code,
            name,
            len(parts),
            attempt_record(attempt for part in parts for attempt in attempts[cast(int, part.id)]),
        )
        for (code, name), parts in sorted(groups.items(), key=lambda group: (group[0] == ("", ""), group[0]))
    )


def gather_part(session: Session, part: MadePart) -> PartHistory:
    """One made part with its revisions, attempts and files."""
    revisions = session.exec(
        select(Revision).where(Revision.made_part_id == part.id).order_by(col(Revision.number))
    ).all()
    numbers = {revision.id: revision.number for revision in revisions}
    attempts = session.exec(
        select(Attempt)
        .join(Revision, col(Revision.id) == Attempt.revision_id)
        .where(Revision.made_part_id == part.id)
        .order_by(col(Attempt.made_on).desc(), col(Attempt.id).desc())
    ).all()
    files = tuple(print_file_rows(session, col(Revision.made_part_id) == part.id))
    record = attempt_record(
        LoggedAttempt(a.outcome == "good", a.hours, a.grams, a.cause, a.hours_mark, a.grams_mark)
        for a in attempts
    )
    newest_id = revisions[-1].id if revisions else None
    return PartHistory(
        part=part,
        panel=session.get(Panel, part.panel_id) if part.panel_id is not None else None,
        revisions=tuple(_revision_row(revision, attempts, files) for revision in revisions),
        attempts=tuple(
            AttemptRow(
                id=cast(int, a.id),
                revision_number=numbers[a.revision_id],
                made_on=a.made_on,
                outcome=a.outcome,
                cause=a.cause,
                hours=a.hours,
                hours_mark=a.hours_mark,
                grams=a.grams,
                grams_mark=a.grams_mark,
                what_happened=a.what_happened,
            )
            for a in attempts
        ),
        files=files,
        record=record,
        forecast=print_forecast(offered_figures(session, part, newest_id), record),
    )


def _revision_row(
    revision: Revision, attempts: Sequence[Attempt], files: Sequence[PrintFileRow]
) -> RevisionRow:
    own = [attempt for attempt in attempts if attempt.revision_id == revision.id]
    return RevisionRow(
        id=cast(int, revision.id),
        number=revision.number,
        why=revision.why,
        what=revision.what,
        what_happened=revision.what_happened,
        attempts=len(own),
        good=sum(attempt.outcome == "good" for attempt in own),
        files=sum(file.revision_number == revision.number for file in files),
    )


def print_forecast(figures: OfferedFigures, record: AttemptRecord) -> PrintForecast:
    """Hours to expect for each good print, from the hours of one print and the part's own good share."""
    expected, missing = None, ""
    if record.good_share is None:
        missing = "no attempt is logged yet"
    elif not record.good:
        missing = f"none of {record.attempts} attempts came good"
    elif not figures.hours:
        missing = "the hours of one print are not entered"
    else:
        expected = expected_print_hours(figures.hours, record.good_share)
    return PrintForecast(figures, record.good, record.attempts, expected, missing)


def print_file_rows(session: Session, where: Any) -> list[PrintFileRow]:
    """The G-code files that a condition on files, printers or revisions picks, newest first."""
    found = session.execute(
        select(PrintFile, Revision.number, Printer.name)
        .join(Revision, col(Revision.id) == PrintFile.revision_id)
        .join(Printer, col(Printer.id) == PrintFile.printer_id)
        .where(where)
        .order_by(col(PrintFile.id).desc())
    ).all()
    return [
        PrintFileRow(
            id=file.id,
            revision_number=number,
            file_name=file.file_name,
            seconds=file.seconds,
            filament_m=file.filament_m,
            grams=file.grams,
            moves=file.moves,
            unknown_words=file.unknown_words,
            figures_mark=file.figures_mark,
            uploaded_on=file.uploaded_on,
            printer_id=file.printer_id,
            printer_name=printer_name,
        )
        for file, number, printer_name in found
    ]


def parts_recent_first(session: Session) -> list[tuple[str, str, int]]:
    """Code, name and newest revision of every made part, the one last logged first, then by code."""
    found = session.execute(
        select(MadePart.code, MadePart.name, func.max(Revision.number))
        .join(Revision, col(Revision.made_part_id) == MadePart.id, isouter=True)
        .join(Attempt, col(Attempt.revision_id) == Revision.id, isouter=True)
        .group_by(col(MadePart.id))
        .order_by(
            func.max(Attempt.made_on).desc().nulls_last(),
            func.max(Attempt.id).desc().nulls_last(),
            col(MadePart.code),
        )
    ).all()
    return [(code, name, newest or 0) for code, name, newest in found]


def files_of_printer(session: Session, printer_id: int) -> list[tuple[str, PrintFileRow]]:
    """The files timed with a printer, newest first, each with the code of its part."""
    rows = print_file_rows(session, col(PrintFile.printer_id) == printer_id)
    codes = dict(
        session.execute(
            select(PrintFile.id, MadePart.code)
            .join(Revision, col(Revision.id) == PrintFile.revision_id)
            .join(MadePart, col(MadePart.id) == Revision.made_part_id)
            .where(PrintFile.printer_id == printer_id)
        ).all()
    )
    return [(codes[row.id], row) for row in rows]


def printers_newest_used_first(session: Session) -> list[tuple[int, str, str]]:
    """Id, name and source mark of every printer, the one that timed the newest file first."""
    found = session.execute(
        select(Printer.id, Printer.name, Printer.figures_mark)
        .join(PrintFile, col(PrintFile.printer_id) == Printer.id, isouter=True)
        .group_by(col(Printer.id))
        .order_by(func.max(PrintFile.id).desc().nulls_last(), col(Printer.id))
    ).all()
    return [(id_, name, mark) for id_, name, mark in found]
