"""What stands in a calculator's address: figures read field by field, nothing kept."""

from urllib.parse import urlencode

from fastapi import Request

from app import units
from app.pages.typed import Typed

LONGEST_FIELD = 100


class Asked(Typed):
    """A calculator's fields as they stand in the address, with messages; `notes` ask about absurd figures."""

    def __init__(self, request: Request) -> None:
        super().__init__({name: value[:LONGEST_FIELD] for name, value in request.query_params.items()})
        self.path = request.url.path
        self.is_fragment = request.headers.get("hx-request") == "true"
        self.notes: dict[str, str] = {}

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered yet."""
        return not any(value.strip() for value in self.values.values())

    @property
    def address(self) -> str:
        """The shortest address that holds what was entered."""
        entered = {name: value for name, value in self.values.items() if value.strip()}
        return f"{self.path}?{urlencode(entered)}" if entered else self.path

    @property
    def status(self) -> int:
        """422 for a whole sheet with a field refused; an htmx fragment is shown only under 200."""
        return 200 if self.is_fine or self.is_fragment else 422

    @property
    def headers(self) -> dict[str, str]:
        """Puts what was entered into the address bar, without a step in the browser's history."""
        return {"HX-Replace-Url": self.address} if self.is_fragment else {}

    def figure(
        self,
        name: str,
        want: str,
        label: str,
        *,
        least: float | None = None,
        ask_if_over: float | None = None,
    ) -> float | None:
        """A quantity in the unit of `want`; None where empty or refused. An absurd one is used and asked about."""
        text = self.value(name).strip()
        if not text:
            return None
        try:
            parsed = units.parse_quantity(text, want, name=label, ask_if_over=ask_if_over)
        except units.QuantityRefused as error:
            self.refuse(name, str(error))
            return None
        if least is not None and parsed.value < least:
            self.refuse(name, f"{label} is at least {units.show(least, parsed.unit)}; {text} is not.")
            return None
        if parsed.is_absurd:
            self.notes[name] = (
                f"{text} is far above what is usual for this. Is it meant? It is counted as typed."
            )
        return parsed.value

    def number(self, name: str, label: str, *, least: int = 0, most: int) -> int | None:
        """A whole number; None where empty or refused."""
        found = self.whole(name, label, least=least, most=most)
        return None if self.error(name) else found
