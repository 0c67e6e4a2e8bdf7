"""Time on a board: serial bytes lost while pixels are sent, the loop against its knobs, the load of the link."""

from typing import Any

import pytest
from sqlmodel import Session

from app.planning.board_timing import timing_findings
from app.tables import Board, BoardBus
from tests.planning.board_case import found, new_board, only, set_component, set_functions

LOOP = {"turns_a_s": 5.0, "read_by": "loop"}


def pixel_board(session: Session, number: int, module: str = "T8S", **values: Any) -> Board:
    return new_board(session, module, *[f"Light {k}\tlight\tpx" for k in range(number)], **values)


# 24 bits of 1.25 us are 30 us a pixel (data sheets of such pixels, from memory); the receiver of the ATmega328P
# holds two bytes (its data sheet, USART receive buffer); ten bits a byte (values.md S8.2). So
# 2 x 10 / baud: 174 us at 115,200, 347 us at 57,600, 2,083 us at 9,600: 5, 11 and 69 pixels.
@pytest.mark.parametrize(("baud", "most"), [(115_200, 5), (57_600, 11), (9_600, 69)])
def test_the_longest_chain_that_loses_no_byte_passes_and_one_pixel_more_stops(
    empty_session: Session, baud: int, most: int
) -> None:
    board = pixel_board(empty_session, most, baud=baud)
    assert only(empty_session, board, timing_findings, "pixel").verdict == "fine"
    longer = new_board(
        empty_session, "T8S", *[f"Lamp {k}\tlight\tpx" for k in range(most + 1)], code="B2", baud=baud
    )
    finding = only(empty_session, longer, timing_findings, "pixel")
    assert finding.verdict == "stop"
    assert any(f"{most} pixels at most" in remedy for remedy in finding.remedies)


def test_a_stop_names_a_slower_link_and_what_its_values_then_take(empty_session: Session) -> None:
    # 17 x 30 = 510 us; 2 x 10 / 38,400 = 521 us; 17 x 2 x 10 = 340 of 3,840 bytes/s are 9 %.
    board = pixel_board(
        empty_session, 17, baud=115_200, link_values=17, link_value_bytes=2, link_values_a_s=10.0
    )
    finding = only(empty_session, board, timing_findings, "pixels holds")
    assert "510 us" in finding.sentence
    assert "174 us" in finding.sentence
    assert any("38,400 baud" in remedy and "9 %" in remedy for remedy in finding.remedies)


def test_pixels_without_a_baud_rate_cannot_tell_and_name_it(empty_session: Session) -> None:
    finding = only(empty_session, pixel_board(empty_session, 2), timing_findings, "pixels holds")
    assert finding.verdict == "cannot tell"
    assert "not entered: the speed of the link" in finding.sentence


def test_pixels_of_unknown_sending_time_cannot_tell(empty_session: Session) -> None:
    board = pixel_board(empty_session, 2, baud=115_200)
    set_component(empty_session, "px", blocked_us=None)
    finding = only(empty_session, board, timing_findings, "pixels holds")
    assert finding.verdict == "cannot tell"
    assert "how long Addressable pixel cell is sent" in finding.sentence


@pytest.mark.parametrize("module", ["T32", "T32W"])
def test_a_board_without_a_port_chip_has_no_baud_rate_to_speak_of(
    empty_session: Session, module: str
) -> None:
    assert found(empty_session, pixel_board(empty_session, 40, module), timing_findings) == []


def test_a_board_without_pixels_and_knobs_hears_of_its_link_only(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled")
    assert [f.sentence[:23] for f in found(empty_session, board, timing_findings)] == [
        "The load of B1's link c"
    ]


def knob_board(session: Session, *rows: str, module: str = "T32", clock_khz: float | None = 400.0) -> Board:
    board = new_board(session, module, "Knob\tencoder\tenc", *rows)
    if clock_khz is not None:
        session.add(BoardBus(board_id=board.id or 0, clock_khz=clock_khz, run_m=0.2, pull_up_ohm_each=4700))
        session.flush()
    return board


def test_a_display_redraw_longer_than_a_knob_may_wait_stops(empty_session: Session) -> None:
    # values.md S5.13: 1,024 bytes in pieces of 16 at 400 kHz take 25.92 ms. 5 x 24 x 4 = 480 changes a second
    # (needs C10) are looked at twice each: 1000 / 960 = 1.04 ms.
    board = knob_board(empty_session, "Display\tdisplay\to64")
    set_functions(empty_session, "encoder", **LOOP)
    finding = only(empty_session, board, timing_findings, "knob")
    assert finding.verdict == "stop"
    for words in ("25.92 ms", "480 times a second", "1.04 ms"):
        assert words in finding.sentence
    assert any("960 times a second" in remedy for remedy in finding.remedies)
    # 1.0417 ms x 400 kHz = 416 clocks = 46 bytes of 9, less address and control byte.
    assert any("44 bytes" in remedy for remedy in finding.remedies)


def test_a_knob_read_by_interrupt_does_not_wait_for_redraws(empty_session: Session) -> None:
    board = knob_board(empty_session, "Display\tdisplay\to64")
    set_functions(empty_session, "encoder", turns_a_s=5.0, read_by="interrupt")
    finding = only(empty_session, board, timing_findings, "knob")
    assert finding.verdict == "fine"
    assert "read by interrupt" in finding.sentence


def test_a_knob_read_by_interrupt_waits_for_pixels_sent_with_interrupts_off(empty_session: Session) -> None:
    # 35 x 30 us = 1.05 ms, over the 1.04 ms of 480 changes a second; 34 pixels are 1.02 ms.
    board = new_board(
        empty_session,
        "T8S",
        "Knob\tencoder\tenc",
        *[f"Light {k}\tlight\tpx" for k in range(35)],
        baud=9_600,
    )
    set_functions(empty_session, "encoder", turns_a_s=5.0, read_by="interrupt")
    assert only(empty_session, board, timing_findings, "loop").verdict == "stop"
    light = set_functions(empty_session, "light")[0]
    light.board_id = None
    empty_session.add(light)
    empty_session.flush()
    assert only(empty_session, board, timing_findings, "loop").verdict == "fine"


def test_a_knob_of_unknown_reading_stops_nothing_but_cannot_tell(empty_session: Session) -> None:
    board = knob_board(empty_session, "Display\tdisplay\to64")
    set_functions(empty_session, "encoder", turns_a_s=5.0)
    finding = only(empty_session, board, timing_findings, "loop is held")
    assert finding.verdict == "cannot tell"
    assert "in the loop or by interrupt" in finding.sentence


def test_a_knob_of_unknown_reading_passes_where_even_the_loop_is_quick(empty_session: Session) -> None:
    board = knob_board(empty_session)
    set_functions(empty_session, "encoder", turns_a_s=5.0)
    assert only(empty_session, board, timing_findings, "loop is held").verdict == "fine"


def test_a_knob_of_unknown_speed_cannot_tell(empty_session: Session) -> None:
    board = knob_board(empty_session)
    set_functions(empty_session, "encoder", read_by="loop")
    finding = only(empty_session, board, timing_findings, "loop is held")
    assert finding.verdict == "cannot tell"
    assert "turns a second of F001" in finding.sentence


def test_a_display_on_a_bus_of_unknown_clock_cannot_tell(empty_session: Session) -> None:
    board = knob_board(empty_session, "Display\tdisplay\to64", clock_khz=None)
    set_functions(empty_session, "encoder", **LOOP)
    finding = only(empty_session, board, timing_findings, "loop is held")
    assert finding.verdict == "cannot tell"
    assert "the clock of the bus" in finding.sentence


def test_a_display_of_unknown_redraw_cannot_tell(empty_session: Session) -> None:
    board = knob_board(empty_session, "Display\tdisplay\to64")
    set_functions(empty_session, "encoder", **LOOP)
    set_component(empty_session, "o64", redraw_bytes=None)
    finding = only(empty_session, board, timing_findings, "loop is held")
    assert finding.verdict == "cannot tell"
    assert "bytes of a redraw" in finding.sentence


def test_analogue_readings_count_a_tenth_of_a_millisecond_each(empty_session: Session) -> None:
    # 0.1 ms a reading (needs D3; ATmega328P data sheet: 13 clocks of 125 kHz = 0.104 ms). 6 are 0.6 of 1.04 ms.
    board = knob_board(
        empty_session, *[f"Lever {k}\tlever or knob\tpot" for k in range(6)], module="T8L", clock_khz=None
    )
    set_functions(empty_session, "encoder", **LOOP)
    finding = only(empty_session, board, timing_findings, "loop is held")
    assert finding.verdict == "fine"
    assert "0.60 ms" in finding.sentence


def link_board(session: Session, values: int, size: int, rate: float, baud: int | None = 115_200) -> Board:
    return new_board(
        session,
        "T8S",
        "Lamp\tlight\tled",
        baud=baud,
        link_values=values,
        link_value_bytes=size,
        link_values_a_s=rate,
    )


def test_sixty_values_of_six_bytes_thirty_times_a_second_are_nearly_all_of_a_line(
    empty_session: Session,
) -> None:
    # values.md S8.1: 115,200 baud 8N1 carries 11,520 bytes/s. 60 x 6 x 30 = 10,800: 94 % (needs J6).
    finding = only(empty_session, link_board(empty_session, 60, 6, 30.0), timing_findings)
    assert finding.verdict == "caution"
    assert "10,800 bytes/s" in finding.sentence
    assert "94 %" in finding.sentence
    assert "8,064 bytes/s" in finding.sentence


@pytest.mark.parametrize(
    ("rate", "verdict"), [(22.4, "fine"), (22.5, "caution"), (32.0, "caution"), (32.1, "stop")]
)
def test_a_line_may_be_used_to_seven_tenths_and_cannot_carry_more_than_all(
    empty_session: Session, rate: float, verdict: str
) -> None:
    # 60 x 6 x 22.4 = 8,064 bytes/s is 70 % exactly, x 32 = 11,520 all of it.
    assert only(empty_session, link_board(empty_session, 60, 6, rate), timing_findings).verdict == verdict


def test_every_remedy_of_a_link_is_within_what_may_be_used(empty_session: Session) -> None:
    finding = only(empty_session, link_board(empty_session, 19, 8, 60.0), timing_findings)
    # 19 x 8 x 53 = 8,056; 19 x 7 x 60 = 7,980; 0.7 x 23,040 = 16,128; 8,064 / 8 = 1,008.
    for figure in ("53 times a second: 8,056", "7 bytes each: 7,980", "230,400 baud: 16,128", "1,008 values"):
        assert any(figure in remedy for remedy in finding.remedies), (figure, finding.remedies)


def test_a_link_with_nothing_entered_cannot_tell_and_names_all_four(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Lamp\tlight\tled")
    finding = only(empty_session, board, timing_findings)
    assert finding.verdict == "cannot tell"
    for words in ("speed", "how many values", "bytes of a value", "how often"):
        assert words in finding.sentence


def test_a_link_that_takes_no_values_is_fine(empty_session: Session) -> None:
    board = new_board(empty_session, "T8S", "Button\tbutton\tbt", baud=57_600, link_values=0)
    assert only(empty_session, board, timing_findings).verdict == "fine"


def test_the_mark_of_a_finding_is_the_weakest_of_its_inputs(empty_session: Session) -> None:
    board = link_board(empty_session, 2, 2, 10.0)
    board.link_mark = "measured"
    empty_session.add(board)
    empty_session.flush()
    assert only(empty_session, board, timing_findings).source_mark == "measured"
