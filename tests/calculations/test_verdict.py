import itertools

import pytest

from app.calculations.verdict import VERDICTS, verdict_of


@pytest.mark.parametrize(
    ("is_stop", "is_caution", "is_complete", "expected"),
    [
        # issue 2, item 8: a check whose known inputs already fail says stop, whatever else is missing.
        (True, True, False, "stop"),
        (False, True, False, "caution"),
        # needs.md, first of the three rules: a missing input says "cannot tell", never "pass".
        (False, False, False, "cannot tell"),
        (False, False, True, "fine"),
        (True, True, True, "stop"),
        (False, True, True, "caution"),
    ],
)
def test_the_verdict_of_a_known_part(
    is_stop: bool, is_caution: bool, is_complete: bool, expected: str
) -> None:
    assert verdict_of(is_stop=is_stop, is_caution=is_caution, is_complete=is_complete) == expected


def test_only_the_four_words_are_said_and_fine_never_with_a_missing_input() -> None:
    for is_stop, is_caution, is_complete in itertools.product([True, False], repeat=3):
        verdict = verdict_of(is_stop=is_stop, is_caution=is_caution, is_complete=is_complete)
        assert verdict in VERDICTS
        assert verdict != "fine" or is_complete
