"""Source marks: where a figure comes from, and which of several is the weakest."""

from collections.abc import Iterable

MARKS = ("assumed", "copied", "listed", "measured")


def weakest(marks: Iterable[str]) -> str | None:
    """The weakest mark among the inputs of a verdict.

    Args:
        marks: any of `MARKS`, which stand weakest first: assumed (the builder's guess), copied (from someone
            else's build), listed (from a listing or data sheet), measured (from the part in hand).

    Returns:
        The weakest of them, or None where no figure stood in the verdict.

    Raises:
        ValueError: a mark is not one of `MARKS`.

    Where it holds: for any verdict. The order is a settled reading of this project, not of a standard.

    Example:
        >>> weakest(["measured", "copied", "listed"])
        'copied'
    """
    found = set(marks)
    if unknown := found.difference(MARKS):
        raise ValueError(f"{', '.join(sorted(unknown))}: a source mark is one of {', '.join(MARKS)}")
    return next((mark for mark in MARKS if mark in found), None)
