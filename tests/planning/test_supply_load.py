"""Supplies and rails: the sum over a supply's rails, and what is said when something is missing."""

from sqlmodel import Session, select

from app.planning.bring_in import keep_list, preview_list
from app.planning.plan import read_plan
from app.planning.rail_edit import add_supply, feed_rail
from app.planning.supply_load import SupplySum, rail_loads, supply_sums, unpowered_findings
from app.tables import Component, Panel, Rail


def bring(session: Session, *rows: str) -> None:
    """Functions of panel P01: name, kind, wiring."""
    lines = ["panel\tname\tkind\twiring", *(f"P01\t{row}" for row in rows)]
    keep_list(session, preview_list(session, "\n".join(lines)))


def fed_by(session: Session, volts: float, rating_a: float | None, *rails: str) -> None:
    """A supply that feeds these rails."""
    supply = add_supply(session, "S1", "Supply", volts, rating_a, rating_mark="listed")
    for code in rails:
        feed_rail(session, session.exec(select(Rail).where(Rail.code == code)).one(), supply)


def only_sum(session: Session) -> SupplySum:
    """The one supply or rail that carries something."""
    sums = [s for s in supply_sums(read_plan(session)) if any(rail.loads for rail in s.rails)]
    assert len(sums) == 1
    return sums[0]


def test_a_rail_without_a_supply_cannot_tell_and_says_the_rating_it_needs(empty_session: Session) -> None:
    bring(empty_session, *[f"Servo {i}\tneedle\tsvd" for i in range(4)])
    finding = only_sum(empty_session).finding
    assert finding.verdict == "cannot tell"
    # 4 x 0.7 A stalled = 2.8 A; at 80 % of the rating 3.5 A.
    assert "2.80 A" in finding.sentence
    assert "3.5 A" in finding.remedies[0]


def test_a_supply_without_a_rating_cannot_tell(empty_session: Session) -> None:
    bring(empty_session, "Servo\tneedle\tsvd")
    fed_by(empty_session, 6.0, None, "6S")
    finding = only_sum(empty_session).finding
    assert finding.verdict == "cannot tell"
    assert "rating is not entered" in finding.sentence


def test_the_supply_sums_its_rails_and_eighty_in_a_hundred_is_the_line(empty_session: Session) -> None:
    bring(
        empty_session,
        *[f"Lamp {i}\tlight\tpx" for i in range(10)],
        *[f"Needle {i}\tneedle\tgs4" for i in range(5)],
    )
    # Pixels 10 x 60 mA on one rail, needles 5 x 40 mA on the other: 0.8 A of 1 A is just 80 %.
    fed_by(empty_session, 5.0, 1.0, "5L", "5M")
    total = only_sum(empty_session)
    assert total.load.peak.draw_ma == 800
    assert total.finding.verdict == "fine"


def test_over_eighty_in_a_hundred_is_a_caution_and_over_the_rating_a_stop(empty_session: Session) -> None:
    bring(empty_session, *[f"Servo {i}\tneedle\tsvd" for i in range(2)])
    fed_by(empty_session, 6.0, 1.5, "6S")
    assert only_sum(empty_session).finding.verdict == "caution"
    bring(empty_session, "Third servo\tneedle\tsvd")
    assert only_sum(empty_session).finding.verdict == "stop"


def test_a_function_without_a_component_keeps_a_supply_from_being_fine(empty_session: Session) -> None:
    bring(empty_session, "Lamp\tlight\tpx", "Drive\tneedle\tnot yet known")
    fed_by(empty_session, 5.0, 10.0, "5M")
    finding = only_sum(empty_session).finding
    assert finding.verdict == "cannot tell"
    assert "no component chosen" in finding.sentence


def test_a_missing_peak_is_named(empty_session: Session) -> None:
    component = empty_session.exec(select(Component).where(Component.code == "px")).one()
    component.peak_ma = None
    empty_session.add(component)
    bring(empty_session, "Lamp\tlight\tpx")
    fed_by(empty_session, 5.0, 10.0, "5M")
    finding = only_sum(empty_session).finding
    assert finding.verdict == "cannot tell"
    assert component.name in finding.sentence


def test_a_component_that_draws_but_names_no_rail_is_said_to_be_in_no_sum(empty_session: Session) -> None:
    component = empty_session.exec(select(Component).where(Component.code == "px")).one()
    component.rail_id = None
    empty_session.add(component)
    bring(empty_session, "Lamp\tlight\tpx")
    findings = unpowered_findings(read_plan(empty_session))
    assert [f.verdict for f in findings] == ["cannot tell"]


def test_the_loads_of_one_panel_are_only_its_own(demo_session: Session) -> None:
    plan = read_plan(demo_session)
    panel = demo_session.exec(select(Panel).where(Panel.code == "P04")).one()
    rails = {rail.id: rail.code for rail in demo_session.exec(select(Rail)).all()}
    loads = {rails[id_]: sum(load.count for load in rows) for id_, rows in rail_loads(plan, panel.id).items()}
    # P04 of the scenario: two servos; two displays and two lamps; one strip.
    assert loads == {"6S": 2, "5L": 4, "12": 1}
