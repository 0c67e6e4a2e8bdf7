"""Functions typed row by row, through the same door as a list."""

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board
from app.planning.function_edit import (
    FunctionRefused,
    add_function,
    positions_matter,
    range_entries,
    unit_word,
)
from app.planning.panel_edit import add_panel
from app.tables import Candidate, Function, PinUse

VALID = {
    "panel": "P01",
    "name": "Airspeed",
    "kind": "gauge",
    "range": "0-180 kt",
    "signal": "air.speed_kt",
    "wiring": "gs4",
}


@pytest.fixture(autouse=True)
def panel(empty_session: Session) -> None:
    add_panel(empty_session, "P01", "Flight")


def test_a_row_becomes_a_function_with_its_range_read_and_its_component_chosen(
    empty_session: Session,
) -> None:
    function, row = add_function(empty_session, VALID)
    assert (function.code, function.kind, function.range_text) == ("F001", "needle", "0-180 kt")
    assert (function.low, function.high, function.unit, function.signal) == (0, 180, "kt", "air.speed_kt")
    assert row.component_code == "gs4"
    assert empty_session.exec(select(Candidate.state)).all() == ["chosen"]


def test_rows_follow_one_another_in_the_panels_list(empty_session: Session) -> None:
    added = [add_function(empty_session, VALID | {"name": f"Lamp {n}"})[0] for n in (1, 2, 3)]
    assert [(f.code, f.place) for f in added] == [("F001", 0), ("F002", 1), ("F003", 2)]


def test_a_row_for_a_board_takes_its_pins_there(empty_session: Session) -> None:
    add_board(empty_session, "BD01", "T8S")
    function, _ = add_function(empty_session, VALID | {"board": "BD01"})
    # Scenario section 4: gs4 is a gauge stepper on four plain outputs.
    assert len(empty_session.exec(select(PinUse).where(PinUse.function_id == function.id)).all()) == 4


@pytest.mark.parametrize("name", ["FUEL", "Tab\tinside", 'The "quoted" one', '"Whole"', "a; b, c", "'"])
def test_a_name_is_kept_as_it_is_typed(empty_session: Session, name: str) -> None:
    function, _ = add_function(empty_session, VALID | {"name": name})
    assert function.name == name.replace("\t", " ")


def test_an_unknown_wiring_word_is_kept_and_remarked(empty_session: Session) -> None:
    function, row = add_function(empty_session, VALID | {"wiring": "magic"})
    assert function.wiring_text == "magic"
    assert row.remarks == (
        "'magic' is no component of the list: kept as text, the function has none chosen yet",
    )


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"name": ""}, "it has no name"),
        ({"name": "x" * 301}, "its name has 301 characters; at most 300 are kept"),
        ({"kind": ""}, "the kind is missing (needle, light, switch, …)"),
        ({"range": "2026-05-03"}, "its range is the date 2026-05-03: mark the cell as text"),
    ],
)
def test_a_row_that_a_list_would_refuse_is_refused_with_its_reason(
    empty_session: Session, cells: dict[str, str], reason: str
) -> None:
    with pytest.raises(FunctionRefused) as refused:
        add_function(empty_session, VALID | cells)
    assert reason in str(refused.value)
    assert empty_session.exec(select(Function)).all() == []


def test_nothing_typed_is_refused(empty_session: Session) -> None:
    with pytest.raises(FunctionRefused):
        add_function(empty_session, {})


def test_a_function_that_is_there_already_is_not_changed_from_here(empty_session: Session) -> None:
    add_function(empty_session, VALID)
    with pytest.raises(FunctionRefused, match="is on the panel already"):
        add_function(empty_session, VALID | {"name": "AIR SPEED", "range": "0-200 kt"})
    assert empty_session.exec(select(Function.high)).all() == [180]


def test_what_a_range_gives_is_read_anew() -> None:
    assert range_entries("endless, 1000 ft a turn", "gauge", "Height") == {
        "kind": "needle",
        "low": None,
        "high": None,
        "unit": "ft",
        "is_endless": True,
        "positions": None,
        "colour": "",
    }


@pytest.mark.parametrize(
    ("column", "value", "matters"),
    [("positions", 5, True), ("kind", "switch", True), ("name", "Other", False), ("low", 1.0, False)],
)
def test_only_kind_and_positions_change_what_a_board_must_give(
    column: str, value: object, matters: bool
) -> None:
    before = {"kind": "selector", "positions": 4, "name": "Mode", "low": 0.0}
    assert positions_matter(before, before | {column: value}) is matters


def test_a_unit_is_written_by_its_symbol_where_it_is_known() -> None:
    assert (unit_word("knots"), unit_word("slices")) == ("kt", "slices")
