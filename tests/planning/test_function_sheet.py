"""One function's sheet: its candidates, scale, board, pins and findings, on the invented demo (scenario.md)."""

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.choose import set_candidate
from app.planning.cockpit_result import CockpitResult, compute_cockpit
from app.planning.function_sheet import FunctionSheet, function_sheet
from app.tables import Component, Function


def sheet_of(session: Session, code: str, result: CockpitResult) -> FunctionSheet:
    return function_sheet(session, session.exec(select(Function).where(Function.code == code)).one(), result)


def own_sheet(session: Session, row: str) -> FunctionSheet:
    """The sheet of one function of an otherwise empty cockpit: name, kind, wiring and positions."""
    keep_list(session, preview_list(session, f"Panel\tFunction\tKind\tWiring\tn\nP01\t{row}"))
    session.flush()
    return sheet_of(session, "F001", compute_cockpit(session))


def test_a_function_shows_its_panel_its_board_and_a_pin_for_each_terminal(
    demo_session: Session, demo_result: CockpitResult
) -> None:
    sheet = sheet_of(demo_session, "F083", demo_result)
    assert (sheet.panel.code, sheet.board.code if sheet.board else "") == ("P07", "BD06")
    # Section 4: gs4 is a gauge stepper on four pins, 20 mA typical and 40 mA peak from the 5 V logic rail.
    assert len(sheet.pins) == 4
    assert not sheet.is_left_out
    (line,) = sheet.candidates
    assert (line.component.code, line.state, line.own_pins, line.shared) == ("gs4", "chosen", 4, ())
    assert (line.component.typical_ma, line.component.peak_ma) == (20, 40)
    assert line.rail is not None
    assert line.rail.code == "5L"


def test_a_function_left_out_shows_no_pins_and_the_finding_that_names_it(
    demo_session: Session, demo_result: CockpitResult
) -> None:
    sheet = sheet_of(demo_session, "F086", demo_result)  # fault 1
    assert sheet.is_left_out
    assert len(sheet.pins) == 0
    assert [finding.verdict for finding in sheet.findings] == ["stop"]
    assert "left out: F086 Crossfeed" in sheet.findings[0].sentence


def test_the_points_of_its_scale_come_by_value(demo_session: Session, demo_result: CockpitResult) -> None:
    # Section 5: the dial of F012.
    points = [(p.value, p.angle_deg) for p in sheet_of(demo_session, "F012", demo_result).scale]
    assert (points[0], points[-1], len(points)) == ((0, 0), (500, 300), 8)


@pytest.mark.parametrize(
    ("row", "pins", "shared"),
    [
        # Section 2, "Counting rules": rot one a position; the bus 2 a board, no pin of a display's own.
        ("Mode\tselector\trot\t5", 5, ()),
        ("Mode\tselector\trot\t", None, ()),
        ("Window\tdisplay\to32\t", 0, ("i2c",)),
        ("Arm\tbutton\tmx\t", 0, ("matrix",)),
        ("Course\tencoder\tencp\t", 3, ()),
    ],
    ids=["a pin a position", "positions missing", "on the bus", "in the matrix", "encoder with push"],
)
def test_a_candidate_says_what_pins_it_would_take(
    empty_session: Session, row: str, pins: int | None, shared: tuple[str, ...]
) -> None:
    (line,) = own_sheet(empty_session, row).candidates
    assert (line.own_pins, line.shared) == (pins, shared)


def test_candidates_come_chosen_first_and_are_not_offered_again(empty_session: Session) -> None:
    own_sheet(empty_session, "Oil lamp\tlight\tled\t")
    oil = empty_session.exec(select(Function)).one()
    codes = {c.code: c.id or 0 for c in empty_session.exec(select(Component)).all()}
    set_candidate(empty_session, oil, codes["sr"], "rejected", "one more chip")
    set_candidate(empty_session, oil, codes["px"], "chosen", "any colour")
    sheet = sheet_of(empty_session, "F001", compute_cockpit(empty_session))
    assert [(c.component.code, c.state) for c in sheet.candidates] == [
        ("px", "chosen"),
        ("led", "rejected"),
        ("sr", "rejected"),
    ]
    assert [code for code, _ in sheet.held] == ["px", "led", "sr"]
    offered = {code for code, _ in (*sheet.suiting, *sheet.others)}
    assert offered == set(codes) - {"px", "led", "sr"}


@pytest.mark.parametrize(("kind", "suits"), [("light", "exo"), ("lever or knob", "pot"), ("button", "bt")])
def test_components_that_suit_the_kind_are_offered_first(
    empty_session: Session, kind: str, suits: str
) -> None:
    sheet = own_sheet(empty_session, f"Thing\t{kind}\t\t")
    assert suits in [code for code, _ in sheet.suiting]
    assert suits not in [code for code, _ in sheet.others]


def test_a_kind_of_the_builders_own_is_offered_every_component(empty_session: Session) -> None:
    sheet = own_sheet(empty_session, "Smoke\tsmoke maker\t\t")
    assert sheet.suiting == ()
    assert len(sheet.others) == len(empty_session.exec(select(Component)).all())


@pytest.mark.parametrize(
    ("wiring", "said"),
    [
        ("led", ""),
        ("", ""),
        ("magic", "The wiring as typed, 'magic', is no component of the list, none is chosen."),
    ],
)
def test_wiring_that_chose_nothing_is_said(empty_session: Session, wiring: str, said: str) -> None:
    assert own_sheet(empty_session, f"Oil lamp\tlight\t{wiring}\t").wiring_remark == said


def test_wiring_text_that_says_another_component_than_the_chosen_one_is_said(empty_session: Session) -> None:
    own_sheet(empty_session, "Oil lamp\tlight\tled\t")
    oil = empty_session.exec(select(Function)).one()
    px = empty_session.exec(select(Component).where(Component.code == "px")).one()
    set_candidate(empty_session, oil, px.id or 0, "chosen")
    sheet = sheet_of(empty_session, "F001", compute_cockpit(empty_session))
    assert sheet.wiring_remark == "The wiring as typed says led, px is chosen: the text changes no choice."


def test_a_function_added_since_the_plan_was_computed_has_a_sheet_all_the_same(
    empty_session: Session,
) -> None:
    before = compute_cockpit(empty_session)
    board = add_board(empty_session, "BD01", "T8S")
    keep_list(empty_session, preview_list(empty_session, "Panel\tFunction\tKind\nP01\tOil lamp\tlight"))
    oil = empty_session.exec(select(Function)).one()
    put_functions_on_board(empty_session, [oil.id or 0], board.id)
    sheet = function_sheet(empty_session, oil, before)
    assert (sheet.function.name, sheet.board, sheet.findings) == ("Oil lamp", None, ())
