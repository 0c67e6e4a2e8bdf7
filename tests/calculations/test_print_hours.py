import math
import random

import pytest

from app.calculations.print_hours import expected_print_hours, good_share_of, no_reprint_chance


def test_attempts_at_a_good_share_of_0_59() -> None:
    # needs.md H3: p 0.59 -> 1.7.
    attempts = expected_print_hours(1, 0.59).attempts
    assert attempts is not None
    assert round(attempts, 1) == 1.7


def test_twelve_hours_at_three_failures_in_a_hundred_hours() -> None:
    # needs.md H3: 12 h at 0.03 -> 14.4 h, 70 % chance of success.
    share = good_share_of(12, 0.03)
    assert round(share, 2) == 0.70
    hours = expected_print_hours(12, share).seen_at_once_h
    assert hours is not None
    assert round(hours, 1) == 14.4


# scenario.md section 9, fault 25: MP28 in one piece, 11.5 h at 25 %, 46 h seen at the end, 25 h seen at once;
# MP38 in two halves, 6 h at 67 % (2 of 3), 18 h or 15 h.
@pytest.mark.parametrize(
    ("print_h", "good_share", "pieces", "at_end_h", "at_once_h"),
    [(11.5, 0.25, 1, 46, 25), (6, 2 / 3, 2, 18, 15)],
)
def test_the_console_tray_whole_and_in_halves(
    print_h: float, good_share: float, pieces: int, at_end_h: int, at_once_h: int
) -> None:
    found = expected_print_hours(print_h, good_share, pieces)
    assert found.seen_at_end_h is not None
    assert found.seen_at_once_h is not None
    assert round(found.seen_at_end_h) == at_end_h
    assert round(found.seen_at_once_h) == at_once_h


# needs.md H6: at 0.03 per hour, 20 h whole 27.4 h expected, four 5 h pieces 21.6 h.
@pytest.mark.parametrize(("piece_h", "pieces", "expected_h"), [(20, 1, 27.4), (5, 4, 21.6)])
def test_a_long_print_split(piece_h: float, pieces: int, expected_h: float) -> None:
    hours = expected_print_hours(piece_h, good_share_of(piece_h, 0.03), pieces).seen_at_once_h
    assert hours is not None
    assert round(hours, 1) == expected_h


def test_thirty_parts_at_ninety_five_per_cent() -> None:
    # needs.md H3: a 21 % chance of no reprint.
    assert round(no_reprint_chance(0.95, 30) * 100) == 21


def test_hours_agree_with_printing_played_out_at_random() -> None:
    # An independent path to both figures: prints played out with exponential failure times.
    dice = random.Random(20)  # noqa: S311 - it plays out prints, it keeps no secret
    print_h, failures_per_h, runs = 8.0, 0.08, 20_000
    at_end = at_once = 0.0
    for _ in range(runs):
        while (failed_at := dice.expovariate(failures_per_h)) < print_h:
            at_end += print_h
            at_once += failed_at
        at_end += print_h
        at_once += print_h
    found = expected_print_hours(print_h, math.exp(-failures_per_h * print_h))
    assert found.seen_at_end_h == pytest.approx(at_end / runs, rel=0.02)
    assert found.seen_at_once_h == pytest.approx(at_once / runs, rel=0.02)


def test_prints_that_never_fail_take_their_own_time() -> None:
    found = expected_print_hours(3.5, 1, 2)
    assert (found.attempts, found.seen_at_end_h, found.seen_at_once_h) == (1, 7, 7)
    assert expected_print_hours(3.5, 1 - 1e-12).seen_at_once_h == pytest.approx(3.5)


def test_no_good_print_gives_no_number() -> None:
    # values.md S17.9: infinite must be reported, not a number.
    found = expected_print_hours(3.5, 0)
    assert (found.attempts, found.seen_at_end_h, found.seen_at_once_h) == (None, None, None)


def test_seeing_a_failure_at_once_never_costs_more() -> None:
    for hundredths in range(1, 101):
        found = expected_print_hours(4, hundredths / 100)
        assert found.seen_at_end_h is not None
        assert found.seen_at_once_h is not None
        assert 4 <= found.seen_at_once_h <= found.seen_at_end_h


@pytest.mark.parametrize(
    ("print_h", "good_share", "pieces"),
    [
        (0, 0.5, 1),
        (-1, 0.5, 1),
        (math.inf, 0.5, 1),
        (1, 1.01, 1),
        (1, -0.1, 1),
        (1, math.nan, 1),
        (1, 0.5, 0),
    ],
)
def test_inputs_out_of_range_are_errors(print_h: float, good_share: float, pieces: int) -> None:
    with pytest.raises(ValueError, match="good_share"):
        expected_print_hours(print_h, good_share, pieces)


def test_chances_out_of_range_are_errors() -> None:
    with pytest.raises(ValueError, match="must not be negative"):
        good_share_of(-1, 0.03)
    with pytest.raises(ValueError, match="parts -1"):
        no_reprint_chance(0.9, -1)
