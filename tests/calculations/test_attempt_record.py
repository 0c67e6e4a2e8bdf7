import pytest

from app.calculations.attempt_record import LoggedAttempt, attempt_record

# scenario.md section 7: part, hours each, grams, attempts, good. Every attempt is logged at the part's full
# hours and grams.
PARTS: list[tuple[str, float, float, int, int]] = [
    ("MP01", 3.5, 38, 9, 1),
    ("MP02", 4.2, 52, 5, 2),
    ("MP03", 2.1, 24, 2, 1),
    ("MP04", 1.6, 12, 4, 2),
    ("MP05", 0.5, 3, 6, 3),
    ("MP06", 3.1, 33, 3, 1),
    ("MP07", 6.8, 96, 6, 2),
    ("MP08", 1.9, 20, 2, 1),
    ("MP09", 2.4, 26, 4, 2),
    ("MP10", 0.3, 1, 8, 4),
    ("MP11", 1.2, 11, 3, 2),
    ("MP12", 1.8, 17, 4, 2),
    ("MP13", 2.8, 30, 5, 1),
    ("MP14", 2.2, 22, 3, 1),
    ("MP15", 3.3, 36, 2, 1),
    ("MP16", 4.6, 48, 3, 1),
    ("MP17", 3.9, 41, 4, 1),
    ("MP18", 0.8, 7, 12, 10),
    ("MP19", 2, 22, 9, 7),
    ("MP20", 1.9, 19, 3, 2),
    ("MP21", 2.6, 29, 2, 1),
    ("MP22", 1.4, 13, 3, 1),
    ("MP23", 5.2, 64, 2, 1),
    ("MP24", 1.7, 19, 2, 1),
    ("MP25", 3.2, 37, 1, 1),
    ("MP26", 3.4, 42, 2, 1),
    ("MP27", 4.4, 55, 5, 2),
    ("MP28", 11.5, 148, 4, 1),
    ("MP38", 6, 78, 3, 2),
    ("MP29", 6.2, 81, 2, 1),
    ("MP30", 6.2, 81, 1, 1),
    ("MP31", 2.9, 31, 3, 1),
    ("MP32", 1.1, 10, 7, 4),
    ("MP33", 0.8, 6, 4, 3),
    ("MP34", 0.9, 8, 9, 7),
    ("MP35", 0.4, 2, 4, 2),
    ("MP36", 0.2, 3, 7, 7),
    ("MP37", 0.3, 3, 22, 22),
]


def logged(parts: list[tuple[str, float, float, int, int]]) -> list[LoggedAttempt]:
    return [
        LoggedAttempt(place < good, hours, grams)
        for _, hours, grams, attempts, good in parts
        for place in range(attempts)
    ]


def test_the_demo_workshop_comes_to_its_printed_totals() -> None:
    # scenario.md section 7: 38 parts, 180 attempts, 106 good (59 %), 408 printer hours of which 229 went into
    # scrap, 4.7 kg used, 2.6 kg scrapped.
    found = attempt_record(logged(PARTS))
    assert len(PARTS) == 38
    assert (found.attempts, found.good) == (180, 106)
    assert found.good_share is not None
    assert round(found.good_share * 100) == 59
    assert round(found.hours_spent) == 408
    assert round(found.hours_in_scrap) == 229
    assert round(found.grams_used / 1000, 1) == 4.7
    assert round(found.grams_in_scrap / 1000, 1) == 2.6


def test_long_prints_fail_more_often() -> None:
    # scenario.md section 7: parts of 3 h or more 37 % good; shorter, without coupons and combs, 59 % good.
    long = attempt_record(logged([part for part in PARTS if part[1] >= 3]))
    short = attempt_record(
        logged([part for part in PARTS if part[1] < 3 and part[0] not in ("MP36", "MP37")])
    )
    assert long.good_share is not None
    assert short.good_share is not None
    assert (round(long.good_share * 100), round(short.good_share * 100)) == (37, 59)


def test_causes_are_shared_out_as_printed() -> None:
    # scenario.md section 7: of 74 failed attempts 25, 16, 11, 6, 5, 5, 4, 2 are 34, 22, 15, 8, 7, 7, 5, 3 %.
    causes = {
        "wrong size": 25,
        "design changed": 16,
        "bed or corner lift": 11,
        "split layers": 6,
        "supports": 5,
        "looks": 5,
        "power or filament ran out": 4,
        "": 2,
    }
    scrap = [LoggedAttempt(False, 1.5, cause=cause) for cause, count in causes.items() for _ in range(count)]
    found = attempt_record([*scrap, LoggedAttempt(True, 1.5)])
    assert [share.attempts for share in found.causes] == [25, 16, 11, 6, 5, 5, 4, 2]
    assert [round(share.share * 100) for share in found.causes] == [34, 22, 15, 8, 7, 7, 5, 3]
    assert [share.cause for share in found.causes][-1] == "unknown"
    assert found.causes[0].hours == pytest.approx(25 * 1.5)
    # of equal counts the names decide: looks before supports
    assert [share.cause for share in found.causes][4:6] == ["looks", "supports"]


def test_attempts_for_each_good_part() -> None:
    # needs.md H3: p 0.59 -> 1.7 attempts.
    found = attempt_record(logged(PARTS))
    assert found.attempts_per_good is not None
    assert round(found.attempts_per_good, 1) == 1.7


def test_nothing_logged_has_no_share() -> None:
    found = attempt_record([])
    assert (found.attempts, found.good_share, found.attempts_per_good, found.mark) == (0, None, None, None)
    assert found.causes == ()


def test_no_good_one_has_no_attempts_for_each() -> None:
    found = attempt_record([LoggedAttempt(False, 2, 10)])
    assert (found.good_share, found.attempts_per_good) == (0, None)


def test_attempts_without_hours_are_counted_as_missing_not_as_zero_work() -> None:
    found = attempt_record([LoggedAttempt(True, 2), LoggedAttempt(False), LoggedAttempt(False, None, 5)])
    assert (found.hours_spent, found.hours_missing) == (2, 2)
    assert (found.grams_used, found.grams_in_scrap, found.grams_missing) == (5, 5, 2)


def test_the_weakest_mark_is_kept() -> None:
    assert (
        attempt_record([LoggedAttempt(True, 2), LoggedAttempt(True, 2, hours_mark="assumed")]).mark
        == "assumed"
    )
    assert attempt_record([LoggedAttempt(True, None, hours_mark="assumed")]).mark is None


def test_negative_hours_are_an_error() -> None:
    with pytest.raises(ValueError, match="neither may be negative"):
        attempt_record([LoggedAttempt(True, -1)])
