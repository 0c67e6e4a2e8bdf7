"""What the component sheets say of the starter list and of the demo."""

import pytest
from sqlalchemy import event
from sqlmodel import Session

from app.planning.cockpit_result import CockpitResult
from app.planning.component_sheet import component_kinds, component_lines, component_sheet


@pytest.mark.parametrize(
    ("code", "words"),
    [
        # Scenario, section 10, "Terminals by wiring word".
        ("gs4", "4 outputs"),
        ("gsd", "2 outputs; 1 output, shared as gdrv"),
        ("gsti", "4 outputs, 1 input"),
        ("svd", "1 output"),
        ("lad", "1 analogue input"),
        ("rot", "1 input a position"),
        ("tg3", "2 inputs"),
        ("encp", "3 inputs"),
        ("hold", "1 output, 1 input"),
        ("seg", "3 outputs, shared as seg"),
        ("isr", "2 outputs, 1 input, shared as isr"),
        ("px", "1 output, shared as px"),
        ("o64", "data and clock, shared bus i2c"),
        ("mx", "1 matrix contact a position"),
        ("strip", "none"),
    ],
)
def test_terminals_are_said_in_words(demo_result: CockpitResult, code: str, words: str) -> None:
    line = next(line for line in component_lines(demo_result.plan) if line.component.code == code)
    assert line.terminals == words


def test_uses_are_counted_from_the_functions_that_chose_it(demo_result: CockpitResult) -> None:
    lines = {line.component.code: line for line in component_lines(demo_result.plan)}
    # Scenario, section 4: gs4 in P01 (3) and P07 (3); section 6: 8 of the 13 servos are direct; 14 light strips.
    assert (lines["gs4"].uses, lines["svd"].uses, lines["sve"].uses) == (6, 8, 5)
    assert (lines["strip"].uses, lines["strip"].carried) == (0, 14)
    assert sum(line.uses for line in lines.values()) == 168


def test_a_kind_and_a_text_narrow_the_list(demo_result: CockpitResult) -> None:
    needles = {line.component.code for line in component_lines(demo_result.plan, kind="needle")}
    assert needles == {"gs4", "gsd", "gsti", "svd", "sve"}
    found = [line.component.code for line in component_lines(demo_result.plan, text="SERVO expander")]
    assert found == ["sve"]
    assert not component_lines(demo_result.plan, kind="kite")
    assert {"needle", "lever or knob", "holding switch"} <= set(component_kinds(demo_result.plan))


def test_the_same_with_less_is_named(demo_session: Session, demo_result: CockpitResult) -> None:
    stepper = component_sheet(demo_session, demo_result.plan, "gs4")
    display = component_sheet(demo_session, demo_result.plan, "o64")
    assert stepper is not None
    assert display is not None
    assert [line.component.code for line in stepper.fewer_pins] == ["gsd"]  # scenario, section 9, fault 1
    assert [line.component.code for line in display.fewer_bytes] == ["o64p"]  # scenario, section 9, fault 2
    assert [use.code for use in stepper.uses] == ["F001", "F005", "F012", "F083", "F084", "F085"]
    assert {use.board_code for use in stepper.uses} == {"BD01", "BD06"}


def test_an_unknown_component_has_no_sheet(demo_session: Session, demo_result: CockpitResult) -> None:
    assert component_sheet(demo_session, demo_result.plan, "gs9") is None


def test_a_sheet_takes_one_query_however_many_functions_there_are(
    demo_session: Session, demo_result: CockpitResult
) -> None:
    seen: list[str] = []
    bind = demo_session.get_bind()
    event.listen(bind, "before_cursor_execute", lambda *args: seen.append(args[2]))
    component_sheet(demo_session, demo_result.plan, "mx")
    assert len(seen) == 1
