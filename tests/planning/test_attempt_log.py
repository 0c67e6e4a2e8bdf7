"""The log of attempts and what the workshop gathers from it."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlmodel import Session, select

from app.database import migrate, open_engine
from app.planning.attempt_log import (
    CAUSES,
    AttemptRefused,
    NewAttempt,
    PartInUse,
    attempt_as_seen,
    ensure_revision,
    log_attempt,
    log_attempts,
    offered_figures,
    remove_attempt,
    remove_part,
    save_attempt,
)
from app.planning.edit import EditedMeanwhile
from app.planning.workshop import NO_PANEL, gather_part, gather_workshop, parts_recent_first
from app.settings import Settings, program_dir
from app.tables import Attempt, MadePart, Panel, Printer, PrintFile, Revision

DAY = date(2026, 11, 2)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    settings = Settings(tmp_path)
    migrate(settings.database_path, program_dir() / "migrations")
    engine = open_engine(settings.database_path)
    with Session(engine) as session:
        yield session
    engine.dispose()


def a_part(session: Session, code: str = "MP05", panel: Panel | None = None, **entries: object) -> MadePart:
    part = MadePart(code=code, name="Flap slide pinion", panel_id=panel.id if panel else None)
    for name, value in entries.items():
        setattr(part, name, value)
    session.add(part)
    session.flush()
    return part


def of(good: int, failed: int, hours: float, cause: str = "wrong size") -> list[NewAttempt]:
    return [NewAttempt(1, "good", DAY, hours=hours) for _ in range(good)] + [
        NewAttempt(1, "failed", DAY, cause=cause, hours=hours) for _ in range(failed)
    ]


def test_an_attempt_makes_the_revision_it_names(session: Session) -> None:
    part = a_part(session)
    log_attempt(session, part, revision_number=4, outcome="good", made_on=DAY, hours=0.5, grams=3)
    assert [row.number for row in session.exec(select(Revision)).all()] == [4]


def test_a_whole_part_is_logged_without_a_query_for_each_attempt(session: Session) -> None:
    part = a_part(session)
    session.commit()
    session.refresh(part)
    statements: list[str] = []
    event.listen(session.get_bind(), "before_cursor_execute", lambda *call: statements.append(str(call[2])))
    log_attempts(session, part, of(10, 12, 0.3))
    assert [text.split()[1] for text in statements if text.startswith("SELECT")] == ["revisions.id,"]


@pytest.mark.parametrize(
    ("entries", "entry"),
    [
        ({"outcome": "perhaps"}, "outcome"),
        ({"outcome": "failed", "cause": ""}, "cause"),
        ({"outcome": "stopped", "cause": "bad luck"}, "cause"),
        ({"hours": -1.0}, "hours"),
        ({"grams": float("nan")}, "grams"),
        ({"revision_number": 0}, "revision"),
    ],
)
def test_an_attempt_that_cannot_be_is_refused_at_its_entry(
    session: Session, entries: dict[str, object], entry: str
) -> None:
    usual = {"revision_number": 1, "outcome": "good", "made_on": DAY}
    with pytest.raises(AttemptRefused) as refused:
        log_attempts(session, a_part(session), [NewAttempt(**{**usual, **entries})])  # type: ignore[arg-type]
    assert refused.value.entry == entry
    assert session.exec(select(Attempt)).all() == []


def test_a_good_attempt_keeps_no_cause(session: Session) -> None:
    attempt = log_attempt(
        session, a_part(session), revision_number=1, outcome="good", made_on=DAY, cause="looks"
    )
    assert attempt.cause == ""


def test_the_causes_are_those_of_the_published_study_and_unknown(session: Session) -> None:
    # The list of needs, "by cause": from a measured workshop study.
    assert CAUSES == (
        "wrong size",
        "design changed",
        "bed or corner lift",
        "split layers",
        "supports",
        "looks",
        "power or filament ran out",
        "unknown",
    )


def test_words_of_a_revision_that_are_not_given_stay(session: Session) -> None:
    part = a_part(session)
    ensure_revision(session, part, 2, why="jammed", what="finer teeth")
    revision = ensure_revision(session, part, 2, what_happened="gap 0.3 deg")
    assert (revision.why, revision.what, revision.what_happened) == ("jammed", "finer teeth", "gap 0.3 deg")


def test_figures_offered_are_simulated_where_there_is_a_file_and_the_parts_own_where_not(
    session: Session,
) -> None:
    part = a_part(session, hours=0.5, grams=3.0, figures_mark="copied")
    revision = ensure_revision(session, part, 1)
    own = offered_figures(session, part, revision.id)
    assert (own.hours, own.grams, own.mark, own.print_file_id) == (0.5, 3.0, "copied", None)
    printer = Printer(name="Printer")
    session.add(printer)
    session.flush()
    for seconds in (1800.0, 5400.0):
        session.add(
            PrintFile(
                revision_id=revision.id or 0,
                printer_id=printer.id or 0,
                file_name=f"{seconds:.0f}.gcode",
                fingerprint=f"{seconds}",
                seconds=seconds,
                filament_m=1.0,
                grams=2.98255,
                moves=9,
                uploaded_on=DAY,
            )
        )
    session.flush()
    simulated = offered_figures(session, part, revision.id)
    assert (simulated.hours, simulated.grams, simulated.mark) == (1.5, 3.0, "assumed")
    assert simulated.says == "simulated from 5400.gcode"
    assert offered_figures(session, part, None) == own


def test_panels_materials_and_sums_are_those_of_the_scenario(session: Session) -> None:
    # Scenario section 7, P10: MP04 4 attempts 2 good at 1.6 h, MP05 6 and 3 at 0.5 h, MP06 3 and 1 at 3.1 h;
    # by hand 18.7 h, of which 2 x 1.6 + 3 x 0.5 + 2 x 3.1 = 10.9 h went into scrap.
    panel = Panel(code="P10", name="Flap and trim quadrant")
    session.add(panel)
    session.flush()
    log_attempts(session, a_part(session, "MP04", panel, material="tough"), of(2, 2, 1.6))
    log_attempts(session, a_part(session, "MP05", panel, material="tough"), of(3, 3, 0.5, "looks"))
    log_attempts(session, a_part(session, "MP06", panel, material="tough"), of(1, 2, 3.1))
    # Section 7, MP36: a coupon of no panel, 7 of 7 good at 0.2 h.
    log_attempts(session, a_part(session, "MP36", material="both"), of(7, 0, 0.2))
    workshop = gather_workshop(session)
    assert [part.code for part in workshop.parts] == ["MP04", "MP05", "MP06", "MP36"]
    by_panel = {row.code: row.record for row in workshop.by_panel}
    assert by_panel["P10"].hours_spent == pytest.approx(18.7)
    assert by_panel["P10"].hours_in_scrap == pytest.approx(10.9)
    assert (by_panel["P10"].good, by_panel["P10"].attempts) == (6, 13)
    assert (by_panel[""].good, by_panel[""].attempts) == (7, 7)
    assert [(row.name, row.parts) for row in workshop.by_material] == [("both", 1), ("tough", 3)]
    assert [(cause.cause, cause.attempts) for cause in workshop.record.causes] == [
        ("wrong size", 4),
        ("looks", 3),
    ]
    assert [part.code for part in gather_workshop(session, "P10").parts] == ["MP04", "MP05", "MP06"]
    assert [part.code for part in gather_workshop(session, NO_PANEL).parts] == ["MP36"]


def test_hours_for_each_good_print_come_from_the_parts_own_share(session: Session) -> None:
    # The long tray, one good in four at 11.5 h: T/p = 46 h if seen at the end (scenario sections 7 and 8);
    # (e^(lambda T) - 1)/lambda with lambda T = ln 4: 3 x 11.5 / 1.386294 = 24.8865 h if seen at once.
    part = a_part(session, "MP28", hours=11.5)
    log_attempts(session, part, of(1, 3, 11.5, "bed or corner lift"))
    forecast = gather_part(session, part).forecast
    assert forecast.expected is not None
    assert forecast.expected.seen_at_end_h == pytest.approx(46.0)
    assert forecast.expected.seen_at_once_h == pytest.approx(24.8865, abs=5e-5)


@pytest.mark.parametrize(
    ("hours", "good", "failed", "missing"),
    [
        (1.0, 0, 0, "no attempt is logged yet"),
        (1.0, 0, 2, "none of 2 attempts came good"),
        (None, 1, 1, "the hours of one print are not entered"),
    ],
)
def test_without_its_inputs_there_is_no_forecast(
    session: Session, hours: float | None, good: int, failed: int, missing: str
) -> None:
    part = a_part(session, hours=hours)
    log_attempts(session, part, of(good, failed, 1.0))
    forecast = gather_part(session, part).forecast
    assert (forecast.expected, forecast.missing) == (None, missing)


def test_a_correction_over_another_one_is_told_and_writes_nothing(session: Session) -> None:
    part = a_part(session)
    attempt = log_attempt(
        session, part, revision_number=1, outcome="failed", cause="looks", made_on=DAY, hours=1.0
    )
    seen = attempt_as_seen(attempt)
    revision_id = attempt.revision_id
    save_attempt(session, attempt, seen, revision_id, NewAttempt(1, "good", DAY, hours=2.0))
    assert (attempt.outcome, attempt.cause, attempt.hours) == ("good", "", 2.0)
    with pytest.raises(EditedMeanwhile) as other:
        save_attempt(session, attempt, seen, revision_id, NewAttempt(1, "good", DAY, hours=9.0))
    assert other.value.theirs["hours"] == 2.0
    assert attempt.hours == 2.0


def test_the_part_logged_last_comes_first(session: Session) -> None:
    old, new = a_part(session, "MP01"), a_part(session, "MP02")
    a_part(session, "MP03")
    log_attempt(session, new, revision_number=1, outcome="good", made_on=date(2026, 11, 3))
    log_attempt(session, old, revision_number=2, outcome="good", made_on=date(2026, 11, 1))
    assert [(code, newest) for code, _, newest in parts_recent_first(session)] == [
        ("MP02", 1),
        ("MP01", 2),
        ("MP03", 0),
    ]


def test_a_part_with_attempts_is_not_removed(session: Session) -> None:
    part = a_part(session)
    attempt = log_attempt(session, part, revision_number=1, outcome="good", made_on=DAY)
    with pytest.raises(PartInUse, match="1 attempts and 0 G-code files"):
        remove_part(session, part)
    remove_attempt(session, attempt)
    remove_part(session, part)
    assert session.exec(select(MadePart)).all() == []
    assert session.exec(select(Revision)).all() == []


def test_queries_do_not_grow_with_the_workshop(session: Session) -> None:
    statements: list[str] = []
    event.listen(session.get_bind(), "before_cursor_execute", lambda *call: statements.append(str(call[2])))

    def queries() -> int:
        session.commit()
        statements.clear()
        gather_workshop(session)
        gather_part(session, session.exec(select(MadePart)).first() or MadePart(code="", name=""))
        return len(statements)

    log_attempts(session, a_part(session, "MP01"), of(1, 1, 1.0))
    few = queries()
    for number in range(2, 30):
        log_attempts(session, a_part(session, f"MP{number:02d}"), of(2, 2, 1.0))
    assert queries() == few
