"""How the computer tells each board from its twins (L2)."""

from collections import defaultdict

from app.planning.board_pins import about_board
from app.planning.finding import Finding
from app.planning.plan import Plan
from app.tables import Board

IDENTITIES = ("serial number", "message", "port path")
IDENTITY_SOURCE = (
    "port numbers shuffle on a restart, and cheap port chips share a serial number: common practice"
)


def identity_findings(plan: Plan) -> tuple[Finding, ...]:
    """Boards that the computer cannot tell apart, and boards of which nothing is said."""
    linked = [board for board in plan.boards.values() if plan.modules[board.module_id].link != "radio"]
    by_number: dict[str, list[Board]] = defaultdict(list)
    for board in linked:
        if board.serial_number and board.identity not in ("message", "port path"):
            by_number[board.serial_number.casefold()].append(board)
    findings = [
        Finding(
            verdict="stop",
            about=tuple(about for board in twins for about in about_board(plan, board)),
            sentence=f"{', '.join(board.code for board in twins)} all answer with the serial number "
            f"{twins[0].serial_number}: the computer cannot tell these {len(twins)} boards apart.",
            remedies=(
                "Let the firmware say the board's own name when asked: no part, a few bytes of program.",
                "Or name each by the socket its cable is in, and label the cable.",
            ),
            source_mark="assumed",
            source=IDENTITY_SOURCE,
            mend_at=f"/boards/{twins[0].code}/record",
            mend_word="Write down how it is told apart",
        )
        for twins in by_number.values()
        if len(twins) > 1
    ]
    unsaid = [board for board in linked if not board.serial_number and not board.identity]
    if unsaid and len(linked) > 1:
        findings.append(
            Finding(
                verdict="cannot tell",
                about=tuple(about for board in unsaid for about in about_board(plan, board)[:1]),
                sentence=f"Nothing is written down of how the computer tells {_named(unsaid)} from the others.",
                remedies=("Enter its serial number, or how else it is told apart.",),
                source_mark=None,
                source=IDENTITY_SOURCE,
                mend_at=f"/boards/{unsaid[0].code}/record",
                mend_word="Write it down",
            )
        )
    return tuple(findings)


def _named(boards: list[Board]) -> str:
    codes = [board.code for board in boards]
    return ", ".join(codes[:6]) + (f" and {len(codes) - 6} more" if len(codes) > 6 else "")
