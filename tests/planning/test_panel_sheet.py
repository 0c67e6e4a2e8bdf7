"""The fuel panel's sheet of the invented demo, against the scenario's own lists (scenario.md sections 2, 4 and 7)."""

import pytest
from sqlmodel import Session, select

from app.planning.cockpit_result import CockpitResult
from app.planning.finding import About, Finding, Verdict
from app.planning.panel_sheet import PanelSheet, panel_sheet, worst_by_function
from app.tables import Panel

# Section 4, P07: function, wiring word, and how many pins of its own that word takes; o32 shares the bus.
FUNCTIONS = [
    ("F083", "gs4", 4, ()),
    ("F084", "gs4", 4, ()),
    ("F085", "gs4", 4, ()),
    ("F086", "rot", 0, ()),  # left out: fault 1
    ("F087", "tg", 1, ()),
    ("F088", "tg", 1, ()),
    ("F089", "led", 1, ()),
    ("F090", "led", 1, ()),
    ("F091", "o32", 0, ("i2c",)),
]


@pytest.fixture
def fuel(demo_session: Session, demo_result: CockpitResult) -> PanelSheet:
    panel = demo_session.exec(select(Panel).where(Panel.code == "P07")).one()
    return panel_sheet(demo_session, panel, demo_result)


def test_functions_stand_in_list_order_with_component_pins_and_board(fuel: PanelSheet) -> None:
    found = [(f.code, f.component_code, len(f.pins), f.shares) for f in fuel.functions]
    assert found == FUNCTIONS
    assert [f.item for f in fuel.functions] == list(range(1, 10))
    assert {f.board_code for f in fuel.functions} == {"BD06"}


def test_no_pin_carries_two_functions(fuel: PanelSheet) -> None:
    pins = [pin for f in fuel.functions for pin in f.pins]
    assert len(pins) == len(set(pins)) == 16


def test_the_function_left_out_is_marked_by_the_finding_that_names_it(fuel: PanelSheet) -> None:
    assert [f.code for f in fuel.functions if f.is_left_out] == ["F086"]
    assert {f.code: f.verdict for f in fuel.functions if f.verdict} == {"F086": "stop"}


def test_the_panel_brings_its_boards_and_the_findings_about_it(fuel: PanelSheet) -> None:
    assert [board.board.code for board in fuel.boards] == ["BD06"]
    assert any("BD06 needs 24 pins and has 20 usable" in f.sentence for f in fuel.findings)
    assert all(any(a.kind == "panel" and a.id == "P07" for a in f.about) for f in fuel.findings)


def test_the_rails_carry_the_loads_of_this_panel_alone(fuel: PanelSheet) -> None:
    # The scenario's wiring styles: gs4 20 mA typical, 40 mA peak; led 2 and 15; o32 10 and 15; a strip 30 and 60.
    loads = {r.rail.code: (r.load.typical.draw_ma, r.load.peak.draw_ma) for r in fuel.rails}
    assert loads == {
        "5L": (3 * 20 + 2 * 2 + 10, 3 * 40 + 2 * 15 + 15),
        "12": (30, 60),
    }
    assert [(load.code, load.count) for load in fuel.loads] == [("strip", 1)]


def test_made_parts_stand_with_their_record(fuel: PanelSheet) -> None:
    # Section 7: MP21, 2.6 h a print, two attempts, one good, revision 2.
    (part,) = fuel.parts
    assert (part.code, part.attempts, part.good, part.newest) == ("MP21", 2, 1, 2)
    assert part.hours_spent == pytest.approx(5.2)
    assert (fuel.hours_spent, fuel.hours_in_scrap) == pytest.approx((5.2, 2.6))


def test_a_panel_that_holds_nothing_shows_nothing(empty_session: Session, demo_result: CockpitResult) -> None:
    panel = Panel(code="P99", name="Empty")
    empty_session.add(panel)
    empty_session.flush()
    sheet = panel_sheet(empty_session, panel, demo_result)
    assert (sheet.functions, sheet.parts, sheet.boards) == ((), (), ())


def finding(verdict: Verdict, *codes: str) -> Finding:
    about = tuple(About("function", code, code) for code in codes)
    return Finding(verdict, about, "", (), None, "", "", "")


def test_the_worst_verdict_of_a_function_wins() -> None:
    found = (finding("fine", "F1"), finding("caution", "F1", "F2"), finding("stop", "F1"))
    assert worst_by_function(found) == {"F1": "stop", "F2": "caution"}
    assert worst_by_function((finding("cannot tell", "F3"), finding("fine", "F3"))) == {"F3": "cannot tell"}
