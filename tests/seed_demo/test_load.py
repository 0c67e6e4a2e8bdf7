"""Loading the demo: into an empty folder only, whole or not at all, and taken away without anything else."""

import hashlib
import shutil
from datetime import date
from pathlib import Path

import pytest
from sqlmodel import Session, col, func, select

from app.database import migrate, open_engine, open_session
from app.planning.starter_list import begin_cockpit
from app.seed_demo import clear_demo, is_demo_dir, load, load_demo
from app.seed_demo.load import NotDemo
from app.settings import Settings, program_dir
from app.tables import (
    Attempt,
    Board,
    Candidate,
    Cockpit,
    Component,
    FirmwareBuild,
    Function,
    MadePart,
    Panel,
    PanelLoad,
    PinUse,
    PrintFile,
    ScalePoint,
)

LOADED_ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder: Path = tmp_path_factory.mktemp("demo")
    load_demo(folder, LOADED_ON)
    return Settings(folder)


@pytest.fixture
def own_demo(demo: Settings, tmp_path: Path) -> Settings:
    """A demo of the test's own, to be taken away."""
    shutil.copytree(demo.data_dir, tmp_path / "demo")
    return Settings(tmp_path / "demo")


def begin(settings: Settings) -> None:
    """A builder's own cockpit in this folder."""
    migrate(settings.database_path, program_dir() / "migrations")
    engine = open_engine(settings.database_path)
    begin_cockpit(engine)
    engine.dispose()


def count(settings: Settings, table: type) -> int:
    engine = open_engine(settings.database_path)
    with open_session(engine) as session:
        number = session.exec(select(func.count()).select_from(table)).one()
    engine.dispose()
    return number


@pytest.mark.parametrize(
    ("table", "number"),
    [  # scenario.md: "16 panels, 168 functions, 12 boards"; section 3: 14 strips; section 7: 38 parts, 180 attempts
        (Panel, 16),
        (Function, 168),
        (Board, 12),
        (PanelLoad, 14),
        (MadePart, 38),
        (Attempt, 180),
        (ScalePoint, 27),  # 9 breakpoints of F001, 8 of F012, 10 of F045
        (FirmwareBuild, 7),  # an image beside the source of each eight-bit board
        (PrintFile, 5),
    ],
)
def test_the_demo_holds_what_the_scenario_counts(demo: Settings, table: type, number: int) -> None:
    assert count(demo, table) == number


def test_the_demo_says_that_it_is_one_and_has_the_scenarios_name(demo: Settings) -> None:
    assert is_demo_dir(demo.data_dir)
    engine = open_engine(demo.database_path)
    with open_session(engine) as session:
        cockpit = session.exec(select(Cockpit)).one()
        assert cockpit.is_demo
        assert cockpit.begun_on == LOADED_ON
        assert "Fenwhistle" in cockpit.name
    engine.dispose()


def test_a_wiring_word_of_the_list_chooses_its_component(demo: Settings) -> None:
    engine = open_engine(demo.database_path)
    with open_session(engine) as session:
        chosen = dict(
            session.exec(
                select(Function.code, Component.code)
                .join(Candidate, col(Candidate.function_id) == Function.id)
                .join(Component, col(Component.id) == Candidate.component_id)
                .where(Candidate.state == "chosen")
            ).all()
        )
        positions = dict(session.exec(select(Function.code, Function.positions)).all())
    engine.dispose()
    # Scenario section 4: the wiring words of these rows.
    assert {code: chosen[code] for code in ("F001", "F003", "F004", "F014", "F026", "F047")} == {
        "F001": "gs4",
        "F003": "enc",
        "F004": "o32",
        "F014": "gsd",
        "F026": "px",
        "F047": "o64",
    }
    assert (chosen["F049"], positions["F049"]) == ("lad", 6)  # "lad n=6"
    assert len(chosen) == 168


def test_every_board_comes_with_its_pins_placed(demo: Settings) -> None:
    engine = open_engine(demo.database_path)
    with open_session(engine) as session:
        rows = session.exec(
            select(Board.code, func.count())
            .join(PinUse, col(PinUse.board_id) == Board.id)
            .group_by(Board.code)
        ).all()
        placed = dict(rows)
    engine.dispose()
    # Scenario section 2: "Total" of boards that fit, and no more than the 20 usable pins of the one that does not.
    assert placed["BD01"] == 39
    assert placed["BD05"] == 28
    assert placed["BD12"] == 6
    assert placed["BD06"] <= 20


def test_days_count_from_the_day_the_demo_is_loaded(demo: Settings) -> None:
    engine = open_engine(demo.database_path)
    with open_session(engine) as session:
        first, last = session.exec(select(func.min(Attempt.made_on), func.max(Attempt.made_on))).one()
    engine.dispose()
    assert (LOADED_ON - first).days == 78 * 7  # "78 weeks in"
    assert (LOADED_ON - last).days == 1


def test_a_demo_loaded_again_has_the_same_attempts_on_other_days(demo: Settings, tmp_path: Path) -> None:
    later = Settings(tmp_path)
    load_demo(later.data_dir, date(2027, 3, 1))

    def attempts(settings: Settings) -> list[tuple[object, ...]]:
        engine = open_engine(settings.database_path)
        with open_session(engine) as session:
            rows = session.exec(select(Attempt).order_by(col(Attempt.id))).all()
            first = min(row.made_on for row in rows)
            told: list[tuple[object, ...]] = [
                ((row.made_on - first).days, row.outcome, row.cause, row.hours) for row in rows
            ]
        engine.dispose()
        return told

    assert attempts(later) == attempts(demo)


def test_every_kept_file_lies_under_its_fingerprint(demo: Settings) -> None:
    engine = open_engine(demo.database_path)
    with Session(engine) as session:
        named = {
            *session.exec(select(FirmwareBuild.fingerprint)).all(),
            *session.exec(select(PrintFile.fingerprint)).all(),
        }
    engine.dispose()
    lying = {path.name for path in demo.files_dir.iterdir()}
    assert lying == named
    for path in demo.files_dir.iterdir():
        assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name


def test_the_demo_is_never_loaded_over_a_cockpit(tmp_path: Path) -> None:
    settings = Settings(tmp_path)
    begin(settings)
    before = settings.database_path.read_bytes()
    with pytest.raises(NotDemo, match="holds a cockpit already"):
        load_demo(tmp_path)
    assert settings.database_path.read_bytes() == before


def test_a_demo_half_loaded_is_taken_away_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_room(*_arguments: object, **_options: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(load, "_load_made_parts", no_room)
    with pytest.raises(OSError, match="No space left"):
        load_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == []
    monkeypatch.undo()
    load_demo(tmp_path)
    assert is_demo_dir(tmp_path)


@pytest.mark.parametrize("content", [None, b"", b"no database"], ids=["none", "empty", "other"])
def test_a_folder_without_a_cockpit_is_no_demo(tmp_path: Path, content: bytes | None) -> None:
    if content is not None:
        Settings(tmp_path).database_path.write_bytes(content)
    assert not is_demo_dir(tmp_path)
    with pytest.raises(NotDemo):
        clear_demo(tmp_path)


def test_the_builders_own_cockpit_is_no_demo_and_is_not_cleared(tmp_path: Path) -> None:
    settings = Settings(tmp_path)
    begin(settings)
    (settings.files_dir).mkdir()
    kept = settings.files_dir / ("0" * 64)
    kept.write_bytes(b"a build")
    assert not is_demo_dir(tmp_path)
    with pytest.raises(NotDemo, match="no demo"):
        clear_demo(tmp_path)
    assert kept.exists()
    assert settings.database_path.exists()


def test_clearing_the_demo_leaves_what_is_not_its_own(own_demo: Settings) -> None:
    letter = own_demo.data_dir / "letter.txt"
    photo = own_demo.files_dir / "photo.jpg"
    for path in (letter, photo):
        path.write_bytes(b"of the builder")
    clear_demo(own_demo.data_dir)
    assert sorted(path for path in own_demo.data_dir.rglob("*") if path.is_file()) == sorted([letter, photo])
    load_demo(own_demo.data_dir)
    assert is_demo_dir(own_demo.data_dir)
