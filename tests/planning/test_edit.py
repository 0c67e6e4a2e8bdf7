"""Plain edits: two tabs saving one row, ids that are free, and the next id in the usual form."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine
from sqlmodel import Session, select

from app.database import open_engine
from app.planning.edit import EditedMeanwhile, code_is_free, next_code, save_row
from app.tables import Panel


@pytest.fixture
def panel(empty_session: Session) -> Panel:
    panel = Panel(code="P07", name="Fuel panel", state="planned")
    empty_session.add(panel)
    empty_session.commit()
    empty_session.refresh(panel)
    return panel


@pytest.fixture
def engine(empty_session: Session) -> Iterator[Engine]:
    """A second way to the same file, as another tab has."""
    kept = empty_session.get_bind()
    assert isinstance(kept, Engine)
    assert kept.url.database is not None
    engine = open_engine(Path(kept.url.database))
    yield engine
    engine.dispose()


def test_a_save_over_the_version_seen_is_kept_and_counted(empty_session: Session, panel: Panel) -> None:
    save_row(empty_session, panel, 1, {"name": "Fuel"})
    assert (panel.name, panel.state, panel.version) == ("Fuel", "planned", 2)
    save_row(empty_session, panel, 2, {"state": "wiring"})
    empty_session.commit()
    assert (panel.name, panel.state, panel.version) == ("Fuel", "wiring", 3)


def test_the_second_of_two_tabs_is_told_and_sees_what_is_kept(
    empty_session: Session, panel: Panel, engine: Engine
) -> None:
    seen = panel.version
    with Session(engine) as first_tab, Session(engine) as second_tab:
        in_first = first_tab.exec(select(Panel)).one()
        in_second = second_tab.exec(select(Panel)).one()
        second_tab.rollback()
        save_row(first_tab, in_first, seen, {"name": "First", "state": "wiring"})
        first_tab.commit()
        with pytest.raises(EditedMeanwhile) as told:
            save_row(second_tab, in_second, seen, {"name": "Second", "state": "planned"})
        assert told.value.theirs == {"name": "First", "state": "wiring", "version": seen + 1}
        second_tab.rollback()
        # Having seen both, the builder saves again, now over the version that was shown.
        save_row(second_tab, in_second, seen + 1, {"name": "Second", "state": "wiring"})
        second_tab.commit()
    empty_session.expire_all()
    assert (panel.name, panel.state, panel.version) == ("Second", "wiring", seen + 2)


@pytest.mark.parametrize("seen", [0, 2, 999_999_999])
def test_a_version_that_was_never_shown_overwrites_nothing(
    empty_session: Session, panel: Panel, seen: int
) -> None:
    with pytest.raises(EditedMeanwhile):
        save_row(empty_session, panel, seen, {"name": "Lost"})
    assert (panel.name, panel.version) == ("Fuel panel", 1)


@pytest.mark.parametrize(
    ("code", "is_free"), [("P07", False), ("p07", False), ("P7", True), ("P070", True), ("P08", True)]
)
def test_an_id_is_taken_whatever_its_case(
    empty_session: Session, panel: Panel, code: str, is_free: bool
) -> None:
    assert code_is_free(empty_session, Panel, code) is is_free


def test_a_rows_own_id_is_free_for_itself(empty_session: Session, panel: Panel) -> None:
    assert code_is_free(empty_session, Panel, "p07", panel.id)


def test_an_id_in_letters_beyond_the_plain_ones_is_found_again(empty_session: Session) -> None:
    """SQLite lowers A to Z only; a column that is unique must not be filled twice all the same."""
    empty_session.add(Panel(code="ÄÖ1", name="Panel"))
    empty_session.flush()
    assert not code_is_free(empty_session, Panel, "ÄÖ1")


@pytest.mark.parametrize(
    ("there", "following"),
    [
        ([], "P01"),
        (["P01", "P16"], "P17"),
        (["P99"], "P100"),
        (["P9"], "P10"),
        (["P02", "PX7", "Pedestal", "Q40"], "P03"),
        (["P²"], "P01"),  # a raised two counts as a digit, but no number can be made of it
    ],
)
def test_the_next_id_follows_the_highest_of_the_usual_form(
    empty_session: Session, there: list[str], following: str
) -> None:
    empty_session.add_all(Panel(code=code, name="Panel") for code in there)
    empty_session.flush()
    assert next_code(empty_session, Panel, "P", 2) == following
