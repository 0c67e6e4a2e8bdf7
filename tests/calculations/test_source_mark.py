import pytest

from app.calculations.source_mark import MARKS, weakest


def test_marks_stand_weakest_first() -> None:
    # needs.md section 3, settled reading "Weakest source mark": assumed, copied, listed, measured.
    assert MARKS == ("assumed", "copied", "listed", "measured")


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        (["measured"], "measured"),
        (["measured", "listed"], "listed"),
        (["listed", "copied", "measured"], "copied"),
        (["copied", "assumed"], "assumed"),
    ],
)
def test_the_weakest_of_several_marks_is_told(marks: list[str], expected: str) -> None:
    assert weakest(marks) == expected


def test_no_figure_has_no_mark() -> None:
    assert weakest([]) is None


def test_an_unknown_mark_is_an_error() -> None:
    with pytest.raises(ValueError, match="guessed"):
        weakest(["measured", "guessed"])
