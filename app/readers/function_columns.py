"""Which column of a function list holds what: by its heading, else by what stands in it."""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from app.readers.function_kind import is_kind_word
from app.readers.function_range import read_range
from app.units import unit_named

FIELDS: tuple[str, ...] = (
    "id",
    "panel",
    "board",
    "name",
    "kind",
    "range",
    "unit",
    "signal",
    "wiring",
    "n",
    "note",
)

# Headings in lower case, letters and figures only, one space between words.
HEADING_MAP: dict[str, str] = {
    **dict.fromkeys(("id", "function id", "code", "no", "nr", "number", "item", "ref", "reference"), "id"),
    **dict.fromkeys(("panel", "panel id", "panel code", "module"), "panel"),
    **dict.fromkeys(("board", "board id", "controller", "microcontroller", "mcu"), "board"),
    **dict.fromkeys(("function", "name", "function name", "description", "label", "legend", "title"), "name"),
    **dict.fromkeys(("kind", "type", "function kind", "function type", "category", "class"), "kind"),
    **dict.fromkeys(
        ("range", "range or colour", "range or color", "range colour", "range color", "scale", "travel"),
        "range",
    ),
    **dict.fromkeys(("colour", "color", "states", "marks", "values", "limits"), "range"),
    **dict.fromkeys(("unit", "units", "uom"), "unit"),
    **dict.fromkeys(("signal", "signal name", "variable", "data", "dataref", "simulator value"), "signal"),
    **dict.fromkeys(
        ("wiring", "wiring word", "wired as", "component", "part", "connection", "drive"), "wiring"
    ),
    **dict.fromkeys(("n", "positions", "position count", "number of positions", "count", "pos"), "n"),
    **dict.fromkeys(("note", "notes", "remark", "remarks", "comment", "comments"), "note"),
}

# The wiring words of the starter list.
WIRING_WORDS = frozenset(
    {
        "gs4",
        "gsd",
        "gsti",
        "svd",
        "sve",
        "led",
        "sr",
        "px",
        "o64",
        "o32",
        "seg",
        "tg",
        "tg3",
        "mx",
        "ex",
        "exo",
    }
    | {"lad", "rot", "enc", "encp", "bt", "pot", "hold", "isr"}
)


@dataclass(frozen=True, slots=True)
class ColumnTaken:
    """One column: its place from 0, its heading, the field it was taken for ("" where left out), and why."""

    index: int
    heading: str
    field: str
    reason: str


def field_of_heading(heading: str) -> str:
    """The field that a heading names, or "" where it is not known.

    Example:
        >>> field_of_heading("Range / colour")
        'range'
    """
    letters = "".join(letter if letter.isalnum() else " " for letter in heading.casefold())
    return HEADING_MAP.get(" ".join(letters.split()), "")


def looks_like_headings(cells: Sequence[str]) -> bool:
    """Whether a row is one of headings: it names two different fields, or is made of a known heading only.

    Example:
        >>> looks_like_headings(["Id", "Function", "Kind"]), looks_like_headings(["F001", "Airspeed", "gauge"])
        (True, False)
    """
    filled = [cell for cell in cells if cell.strip()]
    named = {field for cell in filled if (field := field_of_heading(cell))}
    return len(named) >= 2 or (len(named) == 1 and len(filled) == 1)


def split_wiring(text: str) -> tuple[str, int | None]:
    """The wiring word and the number of positions of a cell such as "lad n=6".

    Example:
        >>> split_wiring("lad n=6"), split_wiring("gs4")
        (('lad', 6), ('gs4', None))
    """
    match = re.fullmatch(r"(.*?)[ ,;(]*\bn ?= ?([0-9]{1,3})\)?", text.strip(), re.IGNORECASE)
    return (match[1].strip(), int(match[2])) if match else (text.strip(), None)


def columns_taken(
    headings: Sequence[str] | None,
    rows: Sequence[Sequence[str]],
    chosen: Mapping[int, str],
    wiring_words: Collection[str],
) -> tuple[ColumnTaken, ...]:
    """Take each column for a field, each field once.

    What the builder chose wins, then what a heading names, then what the cells look like. With headings only a
    missing name is looked for by content: a column with an unknown heading is the builder's own and is left out.
    """
    width = max((len(row) for row in [headings or (), *rows]), default=0)
    taken: dict[int, ColumnTaken] = {}
    titles = [headings[index] if headings and index < len(headings) else "" for index in range(width)]
    for index, field in chosen.items():
        taken[index] = ColumnTaken(index, titles[index], field, "chosen by you")
    used = {column.field for column in taken.values() if column.field}
    for index, title in enumerate(titles):
        field = field_of_heading(title)
        if index in taken or not field:
            continue
        if field in used:
            reason = f"“{field}” is already taken from another column"
            taken[index] = ColumnTaken(index, title, "", reason)
        else:
            used.add(field)
            taken[index] = ColumnTaken(index, title, field, "its heading says so")
    contents = {
        index: filled
        for index in range(width)
        if index not in taken and (filled := [row[index] for row in rows if index < len(row) and row[index]])
    }
    for index, field, reason in _guessed(contents, used, wiring_words, is_name_only=headings is not None):
        taken[index] = ColumnTaken(index, titles[index], field, reason)
    for index in range(width):
        reason = "its heading is not known" if titles[index] else "nothing known stands in it"
        taken.setdefault(index, ColumnTaken(index, titles[index], "", reason))
    return tuple(taken[index] for index in range(width))


_CODE = re.compile(r"[A-Za-z]{1,4}[-_ ]?[0-9]{1,5}[A-Za-z]?")
_SIGNAL = re.compile(r"[A-Za-z_]\w*(?:[./:]\w+)+(?:\[[0-9]+\])?")


def _guessed(
    contents: dict[int, list[str]], used: set[str], wiring_words: Collection[str], *, is_name_only: bool
) -> list[tuple[int, str, str]]:
    """The column, field and reason of each guess, surest first; a column and a field are given away once."""
    left = dict(contents)
    words = {word.casefold() for word in wiring_words}
    found: list[tuple[int, str, str]] = []

    def take(field: str, fits: Callable[[str], bool], least: float, what: str) -> None:
        """Give the field to the column of which the largest share fits, the first of equals."""
        if field in used or not left:
            return
        shares = {index: sum(map(fits, cells)) / len(cells) for index, cells in left.items()}
        index = max(shares, key=lambda place: (shares[place], -place))
        if shares[index] >= least:
            fitting = sum(map(fits, left[index]))
            found.append((index, field, f"{fitting} of {len(left[index])} cells are {what}"))
            used.add(field)
            del left[index]

    if not is_name_only:
        take("wiring", lambda cell: split_wiring(cell)[0].casefold() in words, 0.6, "wiring words")
        take("kind", is_kind_word, 0.6, "kinds of functions")
        take("signal", lambda cell: bool(_SIGNAL.fullmatch(cell)), 0.6, "signal names")
        for index, field, reason in _guessed_codes(left, used):
            found.append((index, field, reason))
            used.add(field)
            del left[index]
        take("unit", lambda cell: unit_named(cell) is not None, 0.8, "units")
        take("n", lambda cell: bool(re.fullmatch(r"[0-9]{1,2}", cell)), 0.9, "small whole numbers")
        take("range", lambda cell: read_range(cell).is_read or cell == "momentary", 0.5, "ranges or colours")
    take("name", lambda cell: any(letter.isalpha() for letter in cell), 0.8, "words: the first such column")
    if not is_name_only:
        take("note", lambda cell: any(letter.isalpha() for letter in cell), 0.5, "words left over")
    return found


def _guessed_codes(left: dict[int, list[str]], used: set[str]) -> list[tuple[int, str, str]]:
    """Columns of short codes: unlike ones are ids; alike ones are panels (P07) or boards (BD06)."""
    found: list[tuple[int, str, str]] = []
    for index, cells in left.items():
        if sum(bool(_CODE.fullmatch(cell)) for cell in cells) < 0.8 * len(cells):
            continue
        initial = cells[0][0].upper()
        field = {"P": "panel", "B": "board"}.get(initial, "id")
        is_unlike = len(set(cells)) == len(cells)
        if field == "id" and not is_unlike:
            field = "panel"
        elif field != "id" and is_unlike and len(cells) > 1:
            field = "id"
        if field not in used and field not in {taken for _, taken, _ in found}:
            found.append(
                (index, field, f"short codes, {'no two alike' if field == 'id' else 'such as ' + cells[0]}")
            )
    return found
