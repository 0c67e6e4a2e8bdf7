"""The demo's boards: every planted fault of pins, buses, currents, memory, timing and identity, and quiet elsewhere.

What is expected, and its figures, stand in the scenario's sections 2, 9 and 10, printed before the program was
written; where those give a fact without an answer, the arithmetic stands beside the row.
"""

import pytest
from sqlmodel import Session, select

from app.planning.cockpit_result import CockpitResult
from app.planning.finding import Finding
from app.tables import Board, PinUse

# Board, verdict, functions named, words of the sentence, words of its remedies.
Planted = tuple[str, str, tuple[str, ...], tuple[str, ...], tuple[str, ...]]
PLANTED: list[Planted] = [
    # Fault 1, C1.
    (
        "BD06",
        "stop",
        ("F086",),
        ("24 pins", "20 usable", "short by 4"),
        ("12 → 7", "4 → 1", "16 needed", "20 %"),
    ),
    # Fault 2, D1.
    ("BD04", "stop", (), ("2,048 of 2,048 bytes", "100 %"), ("256 bytes",)),
    # Fault 3, C6: three displays, two addresses.
    ("BD10", "stop", ("F132", "F134", "F136"), ("0x3C, 0x3D", "1 too many"), ("2 buses",)),
    # Fault 4, C7.
    (
        "BD07",
        "stop",
        (),
        ("2.4 m", "280 pF", "3.33 kohm", "1.26 kohm", "too weak", "4.22 kohm"),
        ("100 kHz",),
    ),
    # Fault 6, D4: 17 x 30 us; 2 x 10 / 115,200. 38,400 is the fastest usual rate with 510 us or more: 521.
    (
        "BD03",
        "stop",
        ("F026", "F044"),
        ("17 pixels", "510 us", "115,200 baud", "174 us"),
        ("38,400", "5 pixels"),
    ),
    # Fault 7, C5.
    (
        "BD05",
        "stop",
        ("F063", "F079"),
        ("7 contacts", "4 are fitted", "3 missing at F073, F078, F079", "F063 seems closed when"),
        ("3 diodes",),
    ),
    # Section 10, C9: 0.7 x 5 V = 3.5 V against 3.3 V.
    ("BD10", "stop", ("F138", "F148"), ("3.3 V", "3.5 V", "0.2 V too low"), ("level shifter of 1 channel",)),
    # Section 10, D3 and C10: 512 bytes in 32 pieces of 16 with 2 bytes each before it are 576 bytes of 9 clocks at
    # 400 kHz: 12.96 ms, three of them 38.88; 5 x 24 x 4 = 480 changes a second, 1000 / 960 = 1.04 ms.
    (
        "BD10",
        "stop",
        ("F131", "F133", "F135"),
        ("38.88 ms", "3 redraws of 12.96 ms", "480 times a second", "1.04 ms"),
        ("960 times a second", "44 bytes"),
    ),
    # Section 10, B7: 5 V / 35 kohm = 0.143 mA, 5 V / 50 kohm ("Settled readings", B7) 0.1 mA.
    ("BD05", "caution", ("F065",), ("0.143 mA", "0.1 mA at its weakest", "10 mA"), ("505 ohm",)),
    # Section 10, B7: 3.3 V / 100 kohm = 0.033 mA.
    ("BD07", "caution", ("F103", "F105"), ("0.033 mA", "100 kohm", "10 mA"), ("331 ohm",)),
    # Section 10, J6: 19 x 8 x 60 = 9,120; 0.7 x 11,520 = 8,064; 9,120 / 11,520 = 79 %.
    (
        "BD05",
        "caution",
        (),
        ("9,120 bytes/s", "79 %", "8,064 bytes/s"),
        ("53 times a second", "230,400 baud"),
    ),
    # Section 10, C2.
    ("BD12", "stop", ("F167",), ("GPIO12", "must be low at reset"), ("Move it to",)),
    # Section 10, L2.
    ("BD03", "stop", (), ("BD03, BD04, BD06, BD11", "0001"), ("firmware",)),
]


def board_findings(result: CockpitResult, *verdicts: str) -> list[Finding]:
    """The findings about boards of these verdicts."""
    return [f for f in result.findings if f.about[0].kind == "board" and f.verdict in verdicts]


@pytest.mark.parametrize("planted", PLANTED, ids=lambda row: f"{row[0]} {row[3][0]}")
def test_every_planted_fault_is_found_with_its_numbers(demo_result: CockpitResult, planted: Planted) -> None:
    board, verdict, functions, words, remedy_words = planted
    found = [
        f
        for f in board_findings(demo_result, verdict)
        if f.about[0].id == board and all(word in f.sentence for word in words)
    ]
    assert len(found) == 1, [f.sentence for f in board_findings(demo_result, verdict)]
    assert set(functions) <= {about.id for about in found[0].about if about.kind == "function"}
    for word in remedy_words:
        assert any(word in remedy for remedy in found[0].remedies), (word, found[0].remedies)
    assert found[0].source
    assert found[0].mend_at.startswith(f"/boards/{board}")


def test_nothing_but_what_is_planted_stops_or_cautions(demo_result: CockpitResult) -> None:
    bad = sorted((f.about[0].id, f.verdict) for f in board_findings(demo_result, "stop", "caution"))
    assert bad == sorted((board, verdict) for board, verdict, *_ in PLANTED)


def test_nothing_of_a_board_is_left_that_cannot_be_told(demo_result: CockpitResult) -> None:
    assert [f.sentence for f in board_findings(demo_result, "cannot tell")] == []


@pytest.mark.parametrize("code", ["BD01", "BD02", "BD09", "BD11"])
def test_boards_in_order_are_only_found_fine(demo_result: CockpitResult, code: str) -> None:
    own = [f for f in demo_result.findings if f.about[0].id == code]
    assert len(own) >= 5
    assert {f.verdict for f in own} == {"fine"}


def test_the_fourth_twin_is_named_by_the_finding_of_serial_numbers(demo_result: CockpitResult) -> None:
    (finding,) = [f for f in demo_result.findings if "serial number" in f.sentence]
    assert [a.id for a in finding.about if a.kind == "board"] == ["BD03", "BD04", "BD06", "BD11"]


def test_pixels_of_a_board_with_its_own_port_hold_up_no_link(demo_result: CockpitResult) -> None:
    assert not [f for f in demo_result.findings if f.about[0].id == "BD10" and "pixels holds" in f.sentence]


def test_the_gauges_driven_direct_are_within_every_limit(demo_result: CockpitResult) -> None:
    # Section 10: 280 ohm a coil at 5 V, 17.9 mA. BD06: six coils and two lamps of 15 mA, 137.4 of 200 mA.
    (finding,) = [f for f in demo_result.findings if f.about[0].id == "BD06" and "worst load" in f.sentence]
    assert finding.verdict == "fine"
    assert "17.9 mA" in finding.sentence
    assert "137.4 mA of 200 mA" in finding.sentence


def test_the_low_voltage_master_is_soldered_to_the_pin_of_the_scenario(demo_session: Session) -> None:
    board = demo_session.exec(select(Board).where(Board.code == "BD12")).one()
    (use,) = demo_session.exec(
        select(PinUse).where(PinUse.board_id == board.id, PinUse.pin_label == "GPIO12")
    ).all()
    assert (use.terminal, use.is_locked) == ("contact", True)


def test_every_finding_of_a_stop_or_caution_offers_a_remedy_with_a_number(demo_result: CockpitResult) -> None:
    for finding in board_findings(demo_result, "stop", "caution"):
        assert any(any(c.isdigit() for c in remedy) for remedy in finding.remedies) or "serial" in (
            finding.sentence
        ), finding.sentence
