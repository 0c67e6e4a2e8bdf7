"""What a person typed into a form: read field by field, kept as typed, with a message at each field refused."""

from collections.abc import AsyncIterator, Collection, Mapping
from typing import Annotated, Any

from fastapi import Depends, Request
from starlette.datastructures import FormData, UploadFile

from app import units
from app.settings import LARGEST_LIST_BYTES

LONGEST_NAME = 300
LONGEST_TEXT = 20_000
ADDRESS_WORDS = frozenset({"new", "log"})
CODE_CHARACTERS = "letters, figures, and - _ . in between"


class Typed:
    """A form's values as typed and the messages at its fields; templates read `value` and `error`."""

    def __init__(
        self, values: Mapping[str, str] | None = None, files: Mapping[str, UploadFile] | None = None
    ) -> None:
        self.values: dict[str, str] = dict(values or {})
        self.files: dict[str, UploadFile] = dict(files or {})
        self.lists: dict[str, list[str]] = {}
        self.errors: dict[str, str] = {}

    @classmethod
    def of_row(cls, row: Any, names: Collection[str]) -> "Typed":
        """A form filled from a row's columns, numbers without needless zeros."""
        return cls({name: typed_text(getattr(row, name)) for name in names})

    def value(self, name: str) -> str:
        """What stands in the field."""
        return self.values.get(name, "")

    def error(self, name: str) -> str | None:
        """The message at the field, if any."""
        return self.errors.get(name)

    def refuse(self, name: str, message: str) -> None:
        """Put a message at a field; the first one stays."""
        self.errors.setdefault(name, message)

    @property
    def is_fine(self) -> bool:
        """Whether no field was refused so far."""
        return not self.errors

    def text(self, name: str, label: str, *, required: bool = False, longest: int = LONGEST_NAME) -> str:
        """A line of text, trimmed; refused when it is missing or too long."""
        text = "".join(ch for ch in self.value(name) if ch.isspace() or ch >= " ")
        text = " ".join(text.split()) if longest <= LONGEST_NAME else text.strip()
        if required and not text:
            self.refuse(name, f"{label} is needed.")
        if len(text) > longest:
            self.refuse(name, f"{label} has {len(text)} characters; at most {longest} are kept.")
        return text

    def code(self, name: str, label: str = "Id") -> str:
        """The builder's own id: short, without spaces, so that it can stand in an address."""
        text = self.text(name, label, required=True, longest=24)
        if text and not all(ch.isalnum() or ch in "-_." for ch in text):
            self.refuse(name, f"{label} may hold {CODE_CHARACTERS}; {text!r} does not fit.")
        elif text and not (text[0].isalnum() and text[-1].isalnum()):
            self.refuse(name, f"{label} begins and ends with a letter or figure.")
        elif text in ADDRESS_WORDS:
            self.refuse(name, f"{label} cannot be {text!r}: that word stands for a form in an address.")
        return text

    def quantity(
        self,
        name: str,
        want: str,
        label: str,
        *,
        required: bool = False,
        allow_negative: bool | None = None,
        ask_if_over: float | None = None,
    ) -> float | None:
        """A number with or without a unit, in the unit of `want` (a key of units.WANTED); None when empty.

        What is possible but absurd is asked about once: the same figure sent again (field `sure-NAME`) is kept.
        """
        text = self.value(name).strip()
        if not text:
            if required:
                self.refuse(name, f"{label} is needed.")
            return None
        try:
            parsed = units.parse_quantity(
                text, want, name=label, allow_negative=allow_negative, ask_if_over=ask_if_over
            )
        except units.QuantityRefused as error:
            self.refuse(name, str(error))
            return None
        if parsed.is_absurd and self.value(f"sure-{name}").strip() != text:
            self.values[f"sure-{name}"] = text
            self.refuse(name, f"{parsed.absurd} Save again to keep it.")
        return parsed.value

    def whole(
        self, name: str, label: str, *, required: bool = False, least: int = 0, most: int = 10**9
    ) -> int | None:
        """A whole number; None when empty."""
        text = self.value(name).strip()
        if not text:
            if required:
                self.refuse(name, f"{label} is needed.")
            return None
        try:
            number = round(units.parse_quantity(text, "count", name=label).value)
        except units.QuantityRefused as error:
            self.refuse(name, str(error))
            return None
        if not least <= number <= most:
            self.refuse(name, f"{label} is a whole number from {least} to {most:,}; {text} is not.")
        return number

    def choice(self, name: str, label: str, options: Collection[str], *, required: bool = False) -> str:
        """One of the options; empty when none is taken."""
        text = self.value(name).strip()
        if not text:
            if required:
                self.refuse(name, f"{label} is needed.")
        elif text not in options:
            self.refuse(name, f"{label} is one of those offered; {text[:60]!r} is not.")
        return text

    def mark(self, name: str) -> str:
        """A source mark, assumed where none is given."""
        return self.choice(name, "Source mark", MARKS) or "assumed"

    def flag(self, name: str) -> bool:
        """Whether a box is ticked."""
        return bool(self.value(name))

    def seen_version(self) -> int:
        """The version of the row this form was opened on (field `version`)."""
        text = self.value("version")
        return int(text) if text.isdecimal() and len(text) < 10 else 0

    def file(self, name: str, label: str, *, required: bool = True) -> UploadFile | None:
        """The file that was sent; refused when there is none."""
        upload = self.files.get(name)
        if upload is None and required:
            self.refuse(name, f"{label}: choose a file.")
        return upload


MARKS = ("assumed", "copied", "listed", "measured")


def typed_text(value: Any) -> str:
    """A column's value as one would type it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "on" if value else ""
    if isinstance(value, float):
        return f"{value:.10g}"
    return str(value)


async def _typed_form(request: Request) -> AsyncIterator[Typed]:
    form: FormData = await request.form(max_files=20, max_fields=50_000, max_part_size=LARGEST_LIST_BYTES)
    values = {name: value for name, value in form.items() if isinstance(value, str)}
    files = {name: value for name, value in form.items() if isinstance(value, UploadFile) and value.filename}
    typed = Typed(values, files)
    typed.lists = {name: [v for v in form.getlist(name) if isinstance(v, str)] for name in values}
    try:
        yield typed
    finally:
        await form.close()


TypedForm = Annotated[Typed, Depends(_typed_form)]
