"""The demo's attempts, spread as scenario section 7 has them."""

import json
from collections import Counter

from app.seed_demo.attempt_spread import spread_attempts
from app.settings import program_dir

PARTS = json.loads((program_dir() / "seed_demo" / "scenario.json").read_text("utf-8"))["made_parts"]
SPREAD = spread_attempts(PARTS)
EVERY = [attempt for attempts in SPREAD.values() for attempt in attempts]


def test_every_part_has_the_attempts_and_good_ones_of_its_row() -> None:
    for part in PARTS:
        attempts = SPREAD[part["id"]]
        assert len(attempts) == part["attempts"], part["id"]
        assert sum(a.outcome == "good" for a in attempts) == part["good"], part["id"]


def test_the_newest_revision_is_the_one_of_the_row_and_it_came_out_well() -> None:
    for part in PARTS:
        attempts = SPREAD[part["id"]]
        assert max(a.revision for a in attempts) == part["revision"], part["id"]
        assert attempts[-1].revision == part["revision"]
        # MP31's one good print is the installed r1; its r2 "fouls a rail bolt" (section 8).
        assert (attempts[-1].outcome == "good") == (part["id"] != "MP31")


def test_a_part_that_is_installed_was_made_well_in_that_revision() -> None:
    for part in PARTS:
        number = part["installed"].removeprefix("r")
        if number.isdigit():
            good = {a.revision for a in SPREAD[part["id"]] if a.outcome == "good"}
            assert int(number) in good, part["id"]


def test_causes_come_as_often_as_listed_and_only_with_what_failed() -> None:
    # "of 74 failed attempts: 25, 16, 11, 6, 5, 5, 4, 2"
    assert Counter(a.cause for a in EVERY if a.outcome != "good") == {
        "wrong size": 25,
        "design changed": 16,
        "bed or corner lift": 11,
        "split layers": 6,
        "supports": 5,
        "looks": 5,
        "power or filament ran out": 4,
        "unknown": 2,
    }
    assert {a.cause for a in EVERY if a.outcome == "good"} == {""}


def test_days_never_run_backwards_and_revisions_never_fall() -> None:
    for attempts in SPREAD.values():
        assert [a.day for a in attempts] == sorted(a.day for a in attempts)
        assert [a.revision for a in attempts] == sorted(a.revision for a in attempts)
    assert all(-546 <= a.day <= -1 for a in EVERY)  # 78 weeks, up to the day before
