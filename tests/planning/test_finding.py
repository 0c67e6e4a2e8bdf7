"""Findings: their order, their counts, and which of them name a thing."""

import random

import pytest

from app.planning.finding import (
    About,
    Finding,
    FindingCounts,
    Verdict,
    count_findings,
    findings_about,
    percent,
    worst_first,
)


def finding(verdict: Verdict, *about: tuple[str, str]) -> Finding:
    return Finding(
        verdict=verdict,
        about=tuple(About(kind, code, code) for kind, code in about),
        sentence=f"{verdict}.",
        remedies=(),
        source_mark="assumed",
        source="the test",
        mend_at="/",
        mend_word="See it",
    )


IN_ORDER = (
    finding("stop", ("board", "BD04"), ("panel", "P04")),
    finding("stop", ("board", "BD06"), ("panel", "P07")),
    finding("caution", ("board", "BD01"), ("panel", "P01")),
    finding("cannot tell", ("board", "BD02"), ("panel", "P02")),
    finding("cannot tell", ("supply", "PS01")),
    finding("fine", ("board", "BD03"), ("panel", "P04")),
)


def test_stops_come_first_and_what_cannot_be_told_before_what_is_fine() -> None:
    shuffled = list(IN_ORDER)
    random.Random(1).shuffle(shuffled)  # noqa: S311  # an order, no secret
    assert shuffled != list(IN_ORDER)
    assert worst_first(shuffled) == list(IN_ORDER)


def test_each_verdict_has_a_count_of_its_own() -> None:
    assert count_findings(IN_ORDER) == FindingCounts(stop=2, caution=1, cannot_tell=2, fine=1)
    assert count_findings([]) == FindingCounts(0, 0, 0, 0)


def test_findings_about_a_thing_are_those_that_name_it_with_its_kind() -> None:
    assert findings_about(IN_ORDER, "panel", "P04") == [IN_ORDER[0], IN_ORDER[5]]
    assert findings_about(IN_ORDER, "board", "P04") == []
    assert findings_about(IN_ORDER, "board", "BD0") == []


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.0, "0 %"), (0.0049, "under 1 %"), (0.0051, "1 %"), (0.8, "80 %"), (1.82, "182 %"), (-0.2, "-20 %")],
)
def test_a_share_is_said_in_whole_percent_and_never_as_nothing_where_there_is_something(
    share: float, said: str
) -> None:
    assert percent(share) == said
