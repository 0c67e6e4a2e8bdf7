"""The demo cockpit against the tables worked out before the program: the scenario's sections 1, 2, 3 and 7.

The expected figures are the printed ones of the scenario, not the program's.
"""

from collections import Counter

import pytest
from sqlmodel import Session, func, select

from app.planning.cockpit_result import CockpitResult
from app.planning.cockpit_sheet import cockpit_sheet
from app.planning.finding import Finding, findings_about
from app.tables import Attempt, Function, MadePart, Panel

# Scenario section 2: board, functions, own pins, shared groups, link, matrix, total, usable, left, buffers, memory.
BOARDS = [
    ("BD01", 13, 35, {"i2c": 2}, 2, None, 39, 70, 31, 512, 8_192),
    ("BD02", 12, 12, {"gdrv": 1, "seg": 3, "i2c": 2}, 0, None, 18, 26, 8, 0, 270_336),
    ("BD03", 19, 2, {"px": 1}, 2, None, 5, 20, 15, 51, 2_048),
    ("BD04", 9, 7, {"i2c": 2}, 2, None, 11, 20, 9, 2_048, 2_048),
    ("BD05", 29, 14, {"seg": 3, "sro": 3}, 2, (2, 4, 7), 28, 70, 42, 0, 8_192),
    ("BD06", 9, 20, {"i2c": 2}, 2, None, 24, 20, -4, 512, 2_048),
    ("BD07", 19, 5, {"i2c": 2, "gdrv": 1}, 0, None, 8, 26, 18, 0, 270_336),
    ("BD08", 16, 8, {}, 2, (3, 4, 11), 17, 70, 53, 0, 8_192),
    ("BD09", 14, 8, {"seg": 3, "isr": 3}, 0, None, 14, 26, 12, 0, 270_336),
    ("BD10", 18, 9, {"i2c": 2, "px": 1}, 0, (2, 3, 6), 17, 26, 9, 1_554, 270_336),
    ("BD11", 5, 7, {"seg": 3}, 2, None, 12, 20, 8, 0, 2_048),
    ("BD12", 5, 4, {"i2c": 2}, 0, None, 6, 25, 19, 1_024, 327_680),
]

# Scenario section 3: rail, loads, typical A, all at peak A. The 12 V rail: 1 coil and 14 strips.
RAILS = [("5L", 57, 0.71, 2.25), ("5M", 28, 0.97, 2.65), ("6S", 13, 0.78, 9.10), ("12", 15, 0.51, 1.06)]

# Scenario section 3: supply, peak as a share of the rating in percent.
SUPPLIES = [("CP32", 49), ("CP33", 182), ("CP34", 21)]


@pytest.mark.parametrize("row", BOARDS, ids=lambda row: str(row[0]))
def test_every_board_needs_and_has_the_pins_and_buffers_of_the_table(
    demo_result: CockpitResult, row: tuple[object, ...]
) -> None:
    code, functions, own, shared, link, matrix, total, usable, left, buffers, memory = row
    board = demo_result.boards[str(code)]
    demand = board.pins.demand
    assert board.function_count == functions
    assert demand.own == own
    assert dict(demand.shared) == shared
    assert demand.link == link
    shape = demand.matrix
    assert (shape and (shape.rows, shape.columns, shape.contacts)) == matrix
    assert (demand.total, board.pins.usable, board.pins.left) == (total, usable, left)
    assert board.memory.buffer_bytes == buffers
    assert board.module.memory_bytes == memory


@pytest.mark.parametrize(("code", "loads", "typical_a", "peak_a"), RAILS)
def test_every_rail_carries_the_current_of_the_table(
    demo_result: CockpitResult, code: str, loads: int, typical_a: float, peak_a: float
) -> None:
    rail = next(r for supply in demo_result.supplies for r in supply.rails if r.rail.code == code)
    assert rail.load.count == loads
    assert round(rail.load.typical.draw_ma / 1000, 2) == typical_a
    assert round(rail.load.peak.draw_ma / 1000, 2) == peak_a


@pytest.mark.parametrize(("code", "percent"), SUPPLIES)
def test_every_supply_is_loaded_to_the_share_of_the_table(
    demo_result: CockpitResult, code: str, percent: int
) -> None:
    supply = next(s for s in demo_result.supplies if s.supply is not None and s.supply.code == code)
    assert supply.load.peak_share is not None
    assert round(100 * supply.load.peak_share) == percent


def finding_of(result: CockpitResult, kind: str, code: str, word: str) -> Finding:
    """The one finding about a thing whose sentence holds a word."""
    found = [
        f for f in findings_about(result.findings, kind, code) if f.about[0].id == code and word in f.sentence
    ]
    assert len(found) == 1, [f.sentence for f in findings_about(result.findings, kind, code)]
    return found[0]


def test_planted_fault_1_the_fuel_board_is_short_of_four_pins(demo_result: CockpitResult) -> None:
    finding = finding_of(demo_result, "board", "BD06", "usable")
    assert finding.verdict == "stop"
    assert "24 pins" in finding.sentence
    assert "20 usable" in finding.sentence
    assert "short by 4" in finding.sentence
    assert [(about.kind, about.id) for about in finding.about[:2]] == [("board", "BD06"), ("panel", "P07")]
    assert len(finding.remedies) == 1
    for figure in ("12 → 7", "4 → 1", "16 needed", "4 left", "20 %"):
        assert figure in finding.remedies[0]


def test_planted_fault_1_leaves_out_one_function_the_last_of_four_equals(demo_result: CockpitResult) -> None:
    """20 pins carry the link and eight of nine functions; of the four that take 4 pins each the first three stay."""
    pins = demo_result.boards["BD06"].pins
    assert [function.code for function in pins.left_out] == ["F086"]


def test_planted_fault_2_two_display_buffers_fill_the_memory(demo_result: CockpitResult) -> None:
    finding = finding_of(demo_result, "board", "BD04", "buffers")
    assert finding.verdict == "stop"
    assert "two buffers fill 2,048 of 2,048 bytes" in finding.sentence
    assert any("256 bytes" in remedy for remedy in finding.remedies)


def test_planted_fault_13_the_servo_supply_cannot_carry_all_servos_stalled(
    demo_result: CockpitResult,
) -> None:
    finding = finding_of(demo_result, "supply", "CP33", "peak")
    assert finding.verdict == "stop"
    assert "9.10 A" in finding.sentence
    assert "182" in finding.sentence
    four = next(remedy for remedy in finding.remedies if " 4 at a time" in remedy)
    assert "2.89 A" in four  # 4 x 0.7 A and 9 idle at 10 mA


@pytest.mark.parametrize("code", ["BD01", "BD02", "BD09", "BD11"])
def test_boards_in_order_have_neither_stop_nor_caution(demo_result: CockpitResult, code: str) -> None:
    own = [f for f in demo_result.findings if f.about[0].id == code]
    assert own
    assert {f.verdict for f in own} <= {"fine", "cannot tell"}


def test_the_cockpit_has_the_panels_and_functions_of_the_scenario(demo_session: Session) -> None:
    kinds = Counter(demo_session.exec(select(Function.kind)).all())
    # "51 light, 34 switch, 29 gauge, 15 display, 13 button, 9 encoder, 7 selector, 6 analogue, 3 slide, 1 holding";
    # one gauge, F007, is a drum.
    assert kinds == {
        "light": 51,
        "switch": 34,
        "needle": 28,
        "drum": 1,
        "display": 15,
        "button": 13,
        "encoder": 9,
        "selector": 7,
        "lever or knob": 6,
        "slide": 3,
        "holding switch": 1,
    }
    assert demo_session.exec(select(func.count()).select_from(Panel)).one() == 16
    # "165 signals" of 168 functions: three values are shown by two functions each, or set and shown.
    assert len(set(demo_session.exec(select(Function.signal)).all())) == 165


def test_the_log_holds_the_attempts_and_hours_of_the_scenario(
    demo_session: Session, demo_result: CockpitResult
) -> None:
    # "38 parts, 180 attempts, 106 good (59 %), 408 printer hours of which 229 went into scrap"
    assert demo_session.exec(select(func.count()).select_from(MadePart)).one() == 38
    sheet = cockpit_sheet(demo_session, demo_result)
    assert (sheet.attempts, sheet.good) == (180, 106)
    assert round(sheet.hours_spent) == 408
    assert round(sheet.hours_in_scrap) == 229
    causes = Counter(demo_session.exec(select(Attempt.cause).where(Attempt.outcome != "good")).all())
    # "of 74 failed attempts: 25, 16, 11, 6, 5, 5, 4, 2"
    assert sorted(causes.values(), reverse=True) == [25, 16, 11, 6, 5, 5, 4, 2]
