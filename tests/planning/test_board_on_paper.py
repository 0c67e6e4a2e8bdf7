"""A board on paper against the demo's boards as worked out by hand."""

import pytest

from app.planning.board_on_paper import PaperChoice, TooManyOnPaper, board_on_paper
from app.planning.cockpit_result import CockpitResult


def choice(result: CockpitResult, code: str, count: int, positions: int | None = None) -> PaperChoice:
    id_ = next(c.id for c in result.plan.components.values() if c.code == code)
    return PaperChoice(id_ or 0, count, positions)


@pytest.mark.parametrize(
    ("board_code", "module", "total", "usable"),
    [
        # Scenario, section 2, columns Total and Usable.
        ("BD01", "T8L", 39, 70),
        ("BD02", "T32", 18, 26),
        ("BD03", "T8S", 5, 20),
        ("BD04", "T8S", 11, 20),
        ("BD05", "T8L", 28, 70),
        ("BD06", "T8S", 24, 20),
        ("BD07", "T32", 8, 26),
        ("BD08", "T8L", 17, 70),
        ("BD09", "T32", 14, 26),
        ("BD10", "T32", 17, 26),
        ("BD11", "T8S", 12, 20),
        ("BD12", "T32W", 6, 25),
    ],
)
def test_it_needs_the_pins_of_the_real_board(
    demo_result: CockpitResult, board_code: str, module: str, total: int, usable: int
) -> None:
    board = demo_result.boards[board_code].board
    choices = [
        PaperChoice(f.component_id or 0, 1, f.positions if f.kind == "selector" else None)
        for f in demo_result.plan.functions_by_board[board.id or 0]
    ]
    paper = board_on_paper(demo_result.plan, module, choices)
    assert paper is not None
    assert (paper.pins.demand.total, paper.pins.usable) == (total, usable)
    assert len(paper.terminals) == min(total, usable)


def test_a_board_that_is_short_names_what_is_left_out_and_the_remedy(demo_result: CockpitResult) -> None:
    paper = board_on_paper(
        demo_result.plan,
        "T8S",
        [
            choice(demo_result, "gs4", 3),
            choice(demo_result, "rot", 1, 4),
            choice(demo_result, "tg", 2),
            choice(demo_result, "led", 2),
            choice(demo_result, "o32", 1),
        ],
    )
    assert paper is not None
    # Scenario, section 9, fault 1: "24 pins needed, 20 usable: short by 4. Remedy shown: gauge driver
    # (12 -> 7) and ladder (4 -> 1): 16 needed, 4 left (20 %)".
    assert paper.pins.finding.verdict == "stop"
    assert "needs 24 pins and has 20 usable: short by 4" in paper.pins.finding.sentence
    assert "left out: rot-1 Selector" in paper.pins.finding.sentence
    (remedy,) = paper.pins.finding.remedies
    assert "(12 → 7)" in remedy
    assert "(4 → 1)" in remedy
    assert "16 needed, 4 left (20 %)" in remedy


def test_a_scarce_ability_is_fought_over_though_pins_are_left(demo_result: CockpitResult) -> None:
    paper = board_on_paper(demo_result.plan, "T8S", [choice(demo_result, "pot", 9)])
    assert paper is not None
    # The module brings out 6 analogue channels (scenario, section 2): 3 of 9 find none.
    assert paper.pins.contest.startswith("9 terminals compete for 6 analogue pins")
    assert len(paper.pins.left_out) == 3
    assert paper.pins.finding.verdict == "stop"


def test_a_selector_without_positions_cannot_be_counted(demo_result: CockpitResult) -> None:
    paper = board_on_paper(demo_result.plan, "T8S", [choice(demo_result, "rot", 1)])
    assert paper is not None
    assert paper.pins.finding.verdict == "cannot tell"
    assert "the number of positions is missing for rot-1" in paper.pins.finding.sentence


def test_contacts_make_the_smallest_matrix(demo_result: CockpitResult) -> None:
    paper = board_on_paper(demo_result.plan, "T8L", [choice(demo_result, "mx", 7)])
    assert paper is not None
    assert paper.pins.demand.matrix is not None
    assert (paper.pins.demand.matrix.rows, paper.pins.demand.matrix.columns) == (2, 4)  # scenario, section 2


def test_the_plan_itself_is_left_as_it_is(demo_result: CockpitResult) -> None:
    before = (len(demo_result.plan.functions), len(demo_result.plan.boards), len(demo_result.plan.pin_uses))
    board_on_paper(demo_result.plan, "T8S", [choice(demo_result, "gs4", 3)])
    plan = demo_result.plan
    assert (len(plan.functions), len(plan.boards), len(plan.pin_uses)) == before


def test_what_is_no_module_or_no_board_is_said(demo_result: CockpitResult) -> None:
    assert board_on_paper(demo_result.plan, "T99", []) is None
    with pytest.raises(TooManyOnPaper, match="201"):
        board_on_paper(demo_result.plan, "T8S", [choice(demo_result, "tg", 201)])
