"""The result of the whole cockpit: kept until the plan changes, computed anew after any change, of one moment."""

import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, event
from sqlmodel import Session, select

from app.database import open_engine
from app.planning.board_edit import put_functions_on_board
from app.planning.cockpit_result import CockpitResult, CockpitResults, compute_cockpit
from app.settings import Settings
from app.tables import Function, Panel


@pytest.fixture
def engine(demo_settings: Settings, tmp_path: Path) -> Iterator[Engine]:
    """The demo in a file of its own, to be changed."""
    copy = tmp_path / "cockpit.sqlite3"
    shutil.copy(demo_settings.database_path, copy)
    engine = open_engine(copy)
    yield engine
    engine.dispose()


@pytest.fixture
def results(engine: Engine) -> Iterator[CockpitResults]:
    results = CockpitResults(engine)
    yield results
    results.close()


def test_a_cockpit_just_begun_has_no_findings_and_no_counts(empty_session: Session) -> None:
    result = compute_cockpit(empty_session)
    assert result.findings == ()
    assert result.boards == {}
    assert (result.counts.stop, result.counts.caution, result.counts.cannot_tell, result.counts.fine) == (
        0,
        0,
        0,
        0,
    )


def test_every_finding_of_the_demo_is_counted_once(demo_result: CockpitResult) -> None:
    counts = demo_result.counts
    assert counts.stop + counts.caution + counts.cannot_tell + counts.fine == len(demo_result.findings)
    stopped = {f.about[0].id for f in demo_result.findings if f.verdict == "stop"}
    assert stopped >= {"BD04", "BD06", "CP33"}  # memory, pins, the servo supply: scenario sections 2 and 3
    assert counts.stop >= len(stopped)


def test_the_result_is_kept_while_nothing_changes(results: CockpitResults) -> None:
    assert results.latest() is results.latest()


def test_a_change_through_any_connection_is_seen_at_once(engine: Engine, results: CockpitResults) -> None:
    before = results.latest()
    with Session(engine) as session:
        board = before.boards["BD06"].board
        served = session.exec(select(Function).where(Function.board_id == board.id)).all()
        put_functions_on_board(session, [served[0].id or 0], None)
        assert results.latest() is before  # not kept yet, so not seen
        session.commit()
    after = results.latest()
    assert after is not before
    assert after.boards["BD06"].function_count == before.boards["BD06"].function_count - 1


def test_reading_the_result_writes_nothing(engine: Engine, results: CockpitResults) -> None:
    with engine.connect() as watching:
        version = watching.exec_driver_sql("PRAGMA data_version").scalar_one()
        watching.rollback()
        results.latest()
        assert watching.exec_driver_sql("PRAGMA data_version").scalar_one() == version


def test_the_whole_plan_is_read_as_of_one_moment(engine: Engine, results: CockpitResults) -> None:
    """A panel with a function is added between the queries of one reading: it is in none of them, or in all."""
    kept = threading.Event()

    def add_meanwhile(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        if "FROM functions" in statement and not kept.is_set():
            kept.set()
            other = open_engine(Path(engine.url.database or ""))
            with Session(other) as session:
                panel = Panel(code="P90", name="Late")
                session.add(panel)
                session.flush()
                session.add(Function(code="F900", panel_id=panel.id or 0, name="Lamp", kind="light"))
                session.commit()
            other.dispose()

    event.listen(engine, "before_cursor_execute", add_meanwhile)
    try:
        during = results.latest()
    finally:
        event.remove(engine, "before_cursor_execute", add_meanwhile)
    assert kept.is_set()
    assert "P90" not in {panel.code for panel in during.plan.panels.values()}
    assert "F900" not in {function.code for function in during.plan.functions.values()}
    after = results.latest()
    assert "P90" in {panel.code for panel in after.plan.panels.values()}
    assert "F900" in {function.code for function in after.plan.functions.values()}


def test_many_readers_at_once_get_one_result_computed_once(engine: Engine, results: CockpitResults) -> None:
    readings: list[str] = []

    def count(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        if "FROM board_modules" in statement:
            readings.append(statement)

    event.listen(engine, "before_cursor_execute", count)
    got: list[CockpitResult] = []
    readers = [threading.Thread(target=lambda: got.append(results.latest())) for _ in range(8)]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    event.remove(engine, "before_cursor_execute", count)
    assert len({id(result) for result in got}) == 1
    assert len(readings) == 1


def test_the_rows_of_a_result_can_be_read_after_its_session_is_closed(results: CockpitResults) -> None:
    result = results.latest()
    assert {result.boards[code].module.code for code in result.boards}
    assert {component.name for component in result.plan.components.values()}
